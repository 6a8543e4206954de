"""How far the heat made at one pin moved between two tests, with all that the data allow and not the best fit alone.

The prior of `heat_change` holds a pin to its peers and to its own past, with wide tails. Where a pin carries little of
the heat, the data may then fit two ways, as a sound pin that stayed or a faulty one that was mended, and the best fit
shows one of them. So for each pin the two ties are taken off, what the data alone say of the two resistances is worked
out (near enough normal in the resistances, for rises are straight in them), and the ties' densities are laid over that
again on a grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.reason.heat_balance import LIKE_NU

STEPS = 121
FARTHEST = 3.0
"""ln of the largest change and of the largest resistance against the peers that the grid holds: about x20."""


@dataclass(frozen=True)
class Spot:
    """Places in x of one pin's ln r before, of its move, and of the peers' middle; sd of both ties."""

    ln_r: int
    moved: int
    middle: int
    like_sd: float
    replug_sd: float


def moved_of(x: np.ndarray, jacobian: np.ndarray, ties: list[int], spot: Spot) -> np.ndarray:
    """ln of the pin's own move: the best fit's, kept within the middle half of what is likely, and the ends of the 95 %
    interval.

    `x` the best fit, `jacobian` (m, x.size) of what it makes small, `ties` the rows that hold this pin.
    """
    places = [spot.ln_r, spot.moved]
    free = np.delete(jacobian, ties, axis=0)
    spread = np.linalg.pinv(free.T @ free)
    held = jacobian[ties].T @ _pull(x, spot)  # what the ties pull with; without them the best fit lies further
    step = (spread @ held)[places]
    block = spread[np.ix_(places, places)] + 1e-6 * np.eye(2)
    # from steps in (ln r before, move) to steps in (ln r before, ln r after)
    turn = np.array([[1.0, 0.0], [1.0, 1.0]])
    middle, tight = turn @ step, np.linalg.inv(turn @ block @ turn.T)
    before, moved = np.meshgrid(_grid(x[spot.middle]), _grid(0.0), indexing="ij")
    apart = np.stack([before - x[spot.ln_r], before + moved - x[spot.ln_r] - x[spot.moved]])
    away = np.expm1(np.clip(apart, -8.0, 8.0)) - middle[:, None, None]
    cost = np.einsum("iab,ij,jab->ab", away, tight, away)
    for value, sd in ((before - x[spot.middle], spot.like_sd), (moved, spot.replug_sd)):
        cost += (LIKE_NU + 1.0) * np.log1p((value / sd) ** 2 / LIKE_NU)
    # the grid is finer in its middle: weigh by its steps
    weight = np.exp(-0.5 * (cost - cost.min())) * np.gradient(before[:, 0])[:, None] * np.gradient(moved[0])
    share = np.cumsum(weight.sum(axis=0))
    quarter, most, low, high = np.interp([0.25, 0.75, 0.025, 0.975], share / share[-1], moved[0])
    return np.array([np.clip(x[spot.moved], quarter, most), low, high])


def _pull(x: np.ndarray, spot: Spot) -> np.ndarray:
    """What is left of the two ties at x, as `heat_change` makes it small."""
    z = np.array([(x[spot.ln_r] - x[spot.middle]) / spot.like_sd, x[spot.moved] / spot.replug_sd])
    return np.sign(z) * np.sqrt((LIKE_NU + 1.0) * np.log1p(z**2 / LIKE_NU))


def _grid(middle: float) -> np.ndarray:
    """Values about `middle`, close together near it."""
    even = np.linspace(-1.0, 1.0, STEPS)
    return middle + FARTHEST * (0.1 * even + 0.9 * even**3)
