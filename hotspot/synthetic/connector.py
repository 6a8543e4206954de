"""A made connector under load: what every pin, wire and spot of its face would be, with nothing unknown.

The housing is two layers of 1 mm cells: the inside, with the pins as metal inclusions, and the face, which
the camera sees, joined by the resistance of the plastic between their middles (this makes the face late). The
face, the edges and the back lose heat to the air. Every pin has a wire of its own behind it, cut into 16 nodes,
heated by its own resistance and losing heat along its length; a warm body may sit on it (heat from up the
line). A contact makes I^2 R0 (1 + alpha (T - Tambient)).

The numbers of materials are textbook-typical values from memory, not measured on any connector.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from hotspot.synthetic.heat import Network, Stepper, settle

CELL_M = 1e-3
WIRE_NODES = 16
COPPER_K = 390.0  # W/(m K)
COPPER_CAPACITY = 3.45e6  # J/(m3 K)
COPPER_OHM_M = 1.724e-8  # at 20 degC; IEC 60028 (1/58 ohm mm2/m)
COPPER_ALPHA = 0.00393  # per K at 20 degC; IEC 60028
PIN_K = 120.0  # brass
PIN_CAPACITY = 3.3e6
PLASTIC_CAPACITY = 1.9e6
PLASTIC_EMISSIVITY = 0.93
UPSTREAM_TIME_S = 500.0  # how slowly a warm body up the line warms


@dataclass(frozen=True)
class ConnectorSpec:
    """A connector. Tuples have one value per pin, in rows from the top left."""

    rows: int
    columns: int
    contact_ohm: tuple[float, ...]  # R0 at ambient, contact only
    wire_mm2: tuple[float, ...]
    pitch_mm: int = 5
    pin_mm: int = 2
    margin_mm: int = 4  # from the outer pins' edges to the housing's edge
    inside_mm: float = 12.0
    face_mm: float = 2.5
    recess_mm: float = 2.0  # plastic (or still air) between the pins' ends and the face layer
    plastic_k: float = 0.3
    alpha: float = 0.003  # of the contact, per K
    natural: float = 3.6  # W/(m2 K^1.25) of the housing's free convection
    wire_m: float = 0.28
    wire_cooling: tuple[float, ...] = ()  # share of a wire's surface that the air reaches; default all 0.7
    upstream_k: tuple[float, ...] = ()  # rise of a warm body (splice, switch) on the wire at full load; 0 = none
    upstream_m: float = 0.12  # how far from the connector that body sits
    draught: float = 0.0  # W/(m2 K) that moving air adds on the left edge of the face, falling to a third on the right

    def __post_init__(self) -> None:
        n = self.rows * self.columns
        for name, default in (("contact_ohm", None), ("wire_mm2", None), ("wire_cooling", 0.7), ("upstream_k", 0.0)):
            values = tuple(float(value) for value in getattr(self, name))
            if not values and default is not None:
                values = (default,) * n
            if len(values) != n:
                raise ValueError(f"{name}: {len(values)} values for {n} pins")
            object.__setattr__(self, name, values)

    @property
    def pins(self) -> int:
        """Number of pins."""
        return self.rows * self.columns

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns) of the face in cells of 1 mm."""
        return tuple(
            (count - 1) * self.pitch_mm + self.pin_mm + 2 * self.margin_mm for count in (self.rows, self.columns)
        )

    @cached_property
    def pin_cells(self) -> np.ndarray:
        """(pins, pin_mm^2) flat numbers of the cells of each pin."""
        height, width = self.shape
        cells = np.arange(height * width).reshape(height, width)
        out = []
        for pin in range(self.pins):
            row, column = divmod(pin, self.columns)
            top, left = (self.margin_mm + self.pitch_mm * at for at in (row, column))
            out.append(cells[top : top + self.pin_mm, left : left + self.pin_mm].ravel())
        return np.array(out)

    @property
    def pin_centres_mm(self) -> np.ndarray:
        """(pins, 2) x and y of the pins' centres in mm from the face's top left corner."""
        pin = np.arange(self.pins)
        first = self.margin_mm + self.pin_mm / 2
        return np.stack(
            [first + self.pitch_mm * (pin % self.columns), first + self.pitch_mm * (pin // self.columns)], 1
        )


@dataclass(frozen=True)
class LoadStage:
    """One step of the load: `amps` per pin for `seconds`."""

    name: str
    seconds: float
    amps: tuple[float, ...]


@dataclass(frozen=True)
class Load:
    """The steps of a test, and the air: linear from `ambient_c` to `ambient_c + drift_k` over the test, then still."""

    stages: tuple[LoadStage, ...]
    ambient_c: float = 21.0
    drift_k: float = 0.0

    @property
    def seconds(self) -> float:
        """Length of the test."""
        return sum(stage.seconds for stage in self.stages)

    def ambient_at(self, time_s):
        """Air temperature in degC at `time_s` (scalar or array)."""
        share = np.clip(np.asarray(time_s) / self.seconds, 0.0, 1.0)
        return self.ambient_c + self.drift_k * share


@dataclass(frozen=True)
class Solution:
    """What happened, at every step. Index 0 is the moment before the first load."""

    spec: ConnectorSpec
    load: Load
    time_s: np.ndarray  # (t,)
    ambient_c: np.ndarray  # (t,)
    face_c: np.ndarray  # (t, rows, columns) float32, cells of 1 mm
    pin_c: np.ndarray  # (t, pins) contacts, inside
    wire_c: np.ndarray  # (t, pins, WIRE_NODES), from the connector outwards
    contact_w: np.ndarray  # (t, pins) heat made in the contacts
    wire_w: np.ndarray  # (t, pins) heat made in the whole of each wire
    nodes_c: np.ndarray = field(repr=False)  # (t, all nodes)

    @property
    def face_pin_c(self) -> np.ndarray:
        """(t, pins) mean face temperature over each pin."""
        flat = self.face_c.reshape(len(self.time_s), -1)
        return flat[:, self.spec.pin_cells].mean(axis=2).astype(float)


class Model:
    """The network of one connector: which node is what, and the heat made in each."""

    def __init__(self, spec: ConnectorSpec) -> None:
        self.spec = spec
        height, width = spec.shape
        cells = height * width
        self.inside = np.arange(cells).reshape(height, width)
        self.face = self.inside + cells
        self.wire = 2 * cells + np.arange(spec.pins * WIRE_NODES).reshape(spec.pins, WIRE_NODES)
        self.body_node = min(int(spec.upstream_m / spec.wire_m * WIRE_NODES), WIRE_NODES - 1)
        self.network = Network(2 * cells + spec.pins * WIRE_NODES)
        self._housing()
        self._wires()

    def _housing(self) -> None:
        spec, net = self.spec, self.network
        metal = np.zeros(spec.shape, bool)
        metal.ravel()[spec.pin_cells.ravel()] = True
        conductivity = np.where(metal, PIN_K, spec.plastic_k)
        inside_m, face_m = spec.inside_mm * 1e-3, spec.face_mm * 1e-3
        net.sheet(self.inside, conductivity, inside_m)
        net.sheet(self.face, np.full(spec.shape, spec.plastic_k), face_m)
        depth = inside_m / 2 / conductivity + (spec.recess_mm * 1e-3 + face_m / 2) / spec.plastic_k
        net.link(self.inside.ravel(), self.face.ravel(), (CELL_M**2 / depth).ravel())
        net.capacity[self.inside] = np.where(metal, PIN_CAPACITY, PLASTIC_CAPACITY) * CELL_M**2 * inside_m
        net.capacity[self.face] = PLASTIC_CAPACITY * CELL_M**2 * face_m
        edges = np.zeros(spec.shape)
        for side in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
            edges[side] += 1
        for layer, depth_m in ((self.inside, inside_m), (self.face, face_m)):
            area = CELL_M**2 + edges * CELL_M * depth_m  # back or face, and the edges
            net.natural[layer] = spec.natural * area
            net.radiant[layer] = PLASTIC_EMISSIVITY * area
        blown = self.spec.draught * np.linspace(1.0, 1.0 / 3.0, spec.shape[1])
        net.constant[self.face] = blown * (CELL_M**2 + edges * CELL_M * face_m)

    def _wires(self) -> None:
        spec, net = self.spec, self.network
        step_m = spec.wire_m / WIRE_NODES
        for pin, nodes in enumerate(self.wire):
            area = spec.wire_mm2[pin] * 1e-6
            outer_m = insulated_diameter_m(spec.wire_mm2[pin])
            along = COPPER_K * area / step_m
            net.rod(nodes, along)
            cells = self.inside.ravel()[spec.pin_cells[pin]]
            net.link(cells, np.full(len(cells), nodes[0]), 2 * along / len(cells))
            surface = np.pi * outer_m * step_m * spec.wire_cooling[pin]
            net.natural[nodes] = 1.32 / outer_m**0.25 * surface  # cylinder in air, McAdams (from memory)
            net.radiant[nodes] = PLASTIC_EMISSIVITY * surface
            net.constant[nodes] = spec.draught * surface
            insulation = np.pi / 4 * outer_m**2 - area
            net.capacity[nodes] = (COPPER_CAPACITY * area + PLASTIC_CAPACITY * insulation) * step_m
            if spec.upstream_k[pin] > 0:
                net.tied[nodes[self.body_node]] = 4 * along

    def contact_w(self, celsius: np.ndarray, amps: np.ndarray, ambient_c) -> np.ndarray:
        """Heat made in the contacts, W (..., pins)."""
        rise = self.pin_c(celsius) - np.asarray(ambient_c)[..., None]
        return amps**2 * np.array(self.spec.contact_ohm) * (1 + self.spec.alpha * rise)

    def wire_w(self, celsius: np.ndarray, amps: np.ndarray) -> np.ndarray:
        """Heat made in each node of each wire, W (..., pins, WIRE_NODES)."""
        area = np.array(self.spec.wire_mm2)[:, None] * 1e-6
        step_m = self.spec.wire_m / WIRE_NODES
        cold = COPPER_OHM_M * step_m / area
        return amps[..., None] ** 2 * cold * (1 + COPPER_ALPHA * (celsius[..., self.wire] - 20.0))

    def pin_c(self, celsius: np.ndarray) -> np.ndarray:
        """Contact temperatures (..., pins)."""
        return celsius[..., self.spec.pin_cells].mean(axis=-1)

    def heat(self, amps: np.ndarray, ambient_c: float):
        """The function of the nodes' temperatures that gives the heat made in each, W."""
        cells = self.spec.pin_cells

        def made(celsius: np.ndarray) -> np.ndarray:
            out = np.zeros(self.network.n)
            out[cells] = self.contact_w(celsius, amps, ambient_c)[:, None] / cells.shape[1]
            out[self.wire] = self.wire_w(celsius, amps)
            return out

        return made

    def bodies(self, rise_k: np.ndarray, ambient_c: float) -> np.ndarray:
        """Temperatures (n,) of what the wires are tied to, for warm bodies at `rise_k` (pins,) over ambient."""
        out = np.full(self.network.n, ambient_c)
        out[self.wire[:, self.body_node]] += rise_k
        return out


def insulated_diameter_m(mm2: float) -> float:
    """Outside of an insulated wire of that section: conductor with air between strands, and 0.6 mm of insulation."""
    return (1.13 * np.sqrt(4 * mm2 / np.pi) + 1.2) * 1e-3


def simulate(spec: ConnectorSpec, load: Load, dt: float = 2.0) -> Solution:
    """Run the test in steps of at most `dt` seconds; steps end where stages end.

    Raises ValueError where a stage has not one current per pin.
    """
    model = Model(spec)
    upstream = np.array(spec.upstream_k)
    top = max((max(stage.amps) for stage in load.stages), default=0.0) or 1.0
    celsius = np.full(model.network.n, float(load.ambient_c))
    body = np.zeros(spec.pins)
    times, states, currents = [0.0], [celsius], [np.zeros(spec.pins)]
    start = 0.0
    for stage in load.stages:
        if len(stage.amps) != spec.pins:
            raise ValueError(f"stage {stage.name!r}: {len(stage.amps)} currents for {spec.pins} pins")
        count = max(1, int(np.ceil(stage.seconds / dt - 1e-9)))
        step_s = stage.seconds / count
        stepper = Stepper(model.network, step_s, load.ambient_c)
        amps = np.array(stage.amps, float)
        target = upstream * (amps.max() / top) ** 2
        for k in range(1, count + 1):
            time_s = start + k * step_s
            ambient_c = float(load.ambient_at(time_s))
            body = target + (body - target) * np.exp(-step_s / UPSTREAM_TIME_S)
            air = (ambient_c, model.bodies(body, ambient_c))
            celsius = stepper.step(celsius, model.heat(amps, ambient_c), air)
            times.append(time_s)
            states.append(celsius)
            currents.append(amps)
        start += stage.seconds
    return _solution(model, load, np.array(times), (np.array(states), np.array(currents)))


def _solution(model: Model, load: Load, time_s: np.ndarray, run: tuple[np.ndarray, np.ndarray]) -> Solution:
    nodes_c, amps = run
    ambient_c = load.ambient_at(time_s)
    return Solution(
        spec=model.spec,
        load=load,
        time_s=time_s,
        ambient_c=ambient_c,
        face_c=nodes_c[:, model.face].astype(np.float32),
        pin_c=model.pin_c(nodes_c),
        wire_c=nodes_c[:, model.wire],
        contact_w=model.contact_w(nodes_c, amps, ambient_c),
        wire_w=model.wire_w(nodes_c, amps).sum(axis=2),
        nodes_c=nodes_c,
    )


def settled(spec: ConnectorSpec, amps: tuple[float, ...], ambient_c: float = 21.0) -> Solution:
    """The steady state under `amps` as a Solution of one moment (time infinity), warm bodies at their full rise.

    Raises ArithmeticError when there is none (thermal runaway).
    """
    model = Model(spec)
    currents = np.array(amps, float)
    nodes = settle(
        model.network, model.heat(currents, ambient_c), ambient_c, model.bodies(np.array(spec.upstream_k), ambient_c)
    )
    load = Load((LoadStage("settled", 1.0, tuple(amps)),), ambient_c)
    return _solution(model, load, np.array([np.inf]), (nodes[None], currents[None]))
