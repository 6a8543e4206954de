"""A pin against its like-loaded peers, by rise: does it stand out, by how much, beyond what is uncertain?

Until heat made per pin can be worked out, a rise is all there is; so this is careful where a rise misleads:
a pin next to a hotter one is warmed by it, and pins of different load are not peers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.physics.statistics import median_uncertainty


@dataclass(frozen=True, slots=True)
class Standing:
    """One pin among its peers. K throughout; `ratio` is None where rises are not known or too small to divide."""

    value_k: float
    peers_k: float  # median of the peers
    excess_k: float
    low_k: float  # 95 % interval of the excess
    high_k: float
    ratio: float | None
    peers: int
    level: str  # hot, watch or normal


def among(values: np.ndarray, uncertainties: np.ndarray, rises: bool) -> list[Standing | None]:
    """Each of n like-loaded pins against the others (itself left out).

    `values` (n,): rise [K], or temperature [°C] where `rises` is False; NaN is no value: None comes back for it
    and it is nobody's peer. `uncertainties` (n,): standard uncertainty [K] without what is common to all pins.
    None also where no peer is left.
    """
    values, uncertainties = np.asarray(values, float), np.asarray(uncertainties, float)
    known = np.isfinite(values)
    result: list[Standing | None] = []
    for place in range(values.size):
        others = known.copy()
        others[place] = False
        if not known[place] or not others.any():
            result.append(None)
            continue
        of_peers = median_uncertainty(float(np.median(uncertainties[others])), int(others.sum()))
        u = float(np.hypot(uncertainties[place], of_peers))
        result.append(_standing(values[place], values[others], u, rises))
    return result


def _score(value: float, others: np.ndarray, u: float) -> float:
    """Modified z of a pin against the cooler half of its peers, which a bad joint warms least; infinity with
    fewer than five like pins, whose spread means nothing. The MAD is never taken below the uncertainty.
    """
    if others.size + 1 < section("peers")["many"]:
        return math.inf
    middle = float(np.median(others))
    mad = float(np.median(middle - others[others <= middle]))
    return 0.6745 * (value - middle) / max(mad, 0.6745 * u)


def _standing(value: float, others: np.ndarray, u: float, rises: bool) -> Standing:
    numbers = section("peers")
    middle = float(np.median(others))
    excess = float(value - middle)
    ratio = float(value / middle) if rises and middle >= 0.5 else None
    beyond = excess > numbers["coverage"] * u and _score(value, others, u) > numbers["score"]
    level = "normal"
    if rises:
        grown = value > numbers["least_excess_k"] and excess > numbers["least_excess_k"]
        times = ratio if ratio is not None else np.inf
        if beyond and grown and times >= hot_ratio(others.size):
            level = "hot"
        elif beyond and grown and times >= numbers["watch_ratio"]:
            level = "watch"
    elif beyond and excess > numbers["least_excess_single_k"]:
        level = "hot"
    half = 1.96 * u
    return Standing(float(value), middle, excess, excess - half, excess + half, ratio, int(others.size), level)


def hot_ratio(peers: int) -> float:
    """The ratio of rises that makes a pin hot; the fewer `peers`, the larger."""
    numbers = section("peers")
    if peers == 1:
        return numbers["hot_ratio_twin"]
    return numbers["hot_ratio_few"] if peers == 2 else numbers["hot_ratio"]


def like(amps: float, other: float) -> bool:
    """Whether two currents [A] count as the same load."""
    return abs(other - amps) <= section("peers")["like_amps"] * max(amps, other)
