"""Heat conduction in a network of nodes: the equations under the made connectors.

A node has a heat capacity, links to other nodes, a loss to the air and, where it is tied to one, a link to a
body whose temperature is given. Nodes come from cutting sheets and rods into cells (finite volumes). The loss
of a node at temperature T in air at Ta is

    constant (T - Ta) + natural |T - Ta|^0.25 (T - Ta) + radiant sigma (T^4 - Ta^4),

the second term being free convection (power 1.25 of the difference: laminar free convection in air, the
simplified equations of W. H. McAdams, Heat Transmission, 3rd ed., 1954, as far as remembered). Steps are implicit
(backward Euler) with one sparse LU per run of equal steps; the non-linear part of the loss is taken from the
last iterate. Everything is SI; temperatures are °C.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018
ZERO_C = 273.15
_REFERENCE_RISE_K = 40.0  # where the implicit part of the loss is taken; any value converges, this one quickly
_STEADY_STEP_S = 1e9
Heat = Callable[[np.ndarray], np.ndarray]
Air = tuple[float, np.ndarray | float]  # ambient in degC, and the temperature of each node's tied body


@dataclass
class Network:
    """Nodes and links. Arrays of `n` nodes are filled in by whoever builds it; links are added in batches."""

    n: int
    capacity: np.ndarray = field(init=False)  # J/K
    constant: np.ndarray = field(init=False)  # W/K
    natural: np.ndarray = field(init=False)  # W/K^1.25
    radiant: np.ndarray = field(init=False)  # m2, already times emissivity
    tied: np.ndarray = field(init=False)  # W/K to the body given for the node
    links: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = field(default_factory=list)

    def __post_init__(self) -> None:
        for name in ("capacity", "constant", "natural", "radiant", "tied"):
            setattr(self, name, np.zeros(self.n))

    def link(self, first: np.ndarray, second: np.ndarray, conductance: np.ndarray | float) -> None:
        """Join nodes `first[k]` and `second[k]` by `conductance[k]` W/K."""
        first, second = np.atleast_1d(first), np.atleast_1d(second)
        self.links.append((first, second, np.broadcast_to(conductance, first.shape).astype(float)))

    def sheet(self, nodes: np.ndarray, conductivity: np.ndarray, thickness_m: float) -> None:
        """Link the square cells of a sheet to their neighbours; the side of a cell drops out.

        `nodes` and `conductivity` [W/(m K)] are (rows, columns); the conductance between two cells is that of
        two half cells in series, so a change of material between them is met exactly in one dimension.
        """
        for a, b in ((np.s_[:-1, :], np.s_[1:, :]), (np.s_[:, :-1], np.s_[:, 1:])):
            mean = 2.0 * conductivity[a] * conductivity[b] / (conductivity[a] + conductivity[b])
            self.link(nodes[a].ravel(), nodes[b].ravel(), (mean * thickness_m).ravel())

    def rod(self, nodes: np.ndarray, conductance: float) -> None:
        """Link a row of nodes to their next ones by `conductance` = k A / dx [W/K]."""
        self.link(nodes[:-1], nodes[1:], conductance)

    def matrix(self):
        """The sparse conductance matrix (n, n) of the links and ties, W/K, without the loss to the air."""
        from scipy.sparse import coo_array

        first = np.concatenate([link[0] for link in self.links]) if self.links else np.zeros(0, int)
        second = np.concatenate([link[1] for link in self.links]) if self.links else np.zeros(0, int)
        value = np.concatenate([link[2] for link in self.links]) if self.links else np.zeros(0)
        every = np.arange(self.n)
        rows = np.concatenate([first, second, first, second, every])
        columns = np.concatenate([second, first, first, second, every])
        values = np.concatenate([-value, -value, value, value, self.tied])
        return coo_array((values, (rows, columns)), shape=(self.n, self.n)).tocsc()

    def loss_w(self, celsius: np.ndarray, ambient_c: float) -> np.ndarray:
        """Heat lost to the air by each node, W, at temperatures `celsius` (..., n)."""
        rise = celsius - ambient_c
        kelvin, around = celsius + ZERO_C, ambient_c + ZERO_C
        radiated = STEFAN_BOLTZMANN * (kelvin**4 - around**4)
        return (self.constant + self.natural * np.abs(rise) ** 0.25) * rise + self.radiant * radiated

    def reference_loss(self, ambient_c: float) -> np.ndarray:
        """Loss per kelvin (n,) at a middling rise: the part of the loss that the steps take implicitly."""
        at = np.full(self.n, ambient_c + _REFERENCE_RISE_K)
        return self.loss_w(at, ambient_c) / _REFERENCE_RISE_K


class Stepper:
    """Implicit steps of one length for one network. Raises ValueError for a step that is not above 0."""

    def __init__(self, network: Network, step_s: float, ambient_c: float) -> None:
        from scipy.sparse import diags_array
        from scipy.sparse.linalg import splu

        if not step_s > 0:
            raise ValueError(f"step_s {step_s!r} is not above 0")
        self.network = network
        self.store = network.capacity / step_s
        self.reference = network.reference_loss(ambient_c)
        system = network.matrix() + diags_array(self.store + self.reference)
        self._solve = splu(system.tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve

    def step(
        self, celsius: np.ndarray, heat: Heat, air: tuple[float, np.ndarray | float], rounds: int = 2
    ) -> np.ndarray:
        """Temperatures (n,) one step later.

        `heat(celsius)` gives W per node; `air` is (ambient_c, temperature of each node's tied body), both at the
        end of the step; `rounds` is how often the non-linear parts are taken anew.
        """
        ambient_c, body_c = air
        known = self.store * celsius + self.network.tied * body_c
        guess = celsius
        for _ in range(rounds):
            beyond = self.reference * guess - self.network.loss_w(guess, ambient_c)
            guess = self._solve(known + heat(guess) + beyond)
        return guess


def settle(network: Network, heat: Heat, ambient_c: float, body_c: np.ndarray | float = 0.0) -> np.ndarray:
    """Steady temperatures (n,): what the network is heading for under `heat`, to within 1e-6 K.

    Raises ArithmeticError when it does not settle (resistance that grows faster than the loss).
    """
    stepper = Stepper(network, _STEADY_STEP_S, ambient_c)
    celsius = np.full(network.n, ambient_c)
    for _ in range(500):
        new = stepper.step(celsius, heat, (ambient_c, body_c), rounds=1)
        if np.abs(new - celsius).max() < 1e-7:
            return new
        celsius = new
    raise ArithmeticError("the network does not settle: its heat grows faster than its loss")
