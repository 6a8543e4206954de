"""What all pins of a stage share between two tests: the cooling of the day, told from a change of the pins.

Moving air, the room and a common error of the clamp change every rise of a stage by the same share, some 7 % (one
standard deviation) between simulated tests, where what is left beside it is 3 %. A repair does not look like that: it
changes one pin most, its neighbours less. So what the pins' own changes do to the rises, by the balance of heat, is
taken out first, and what is left is taken for the day's only where it is small, at least three pins show it, and all
agree.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.physics.statistics import root_sum_squares
from hotspot.reason.footing import Footing
from hotspot.records import Statement

LEAST_PINS = 3


def of_the_day(footings: Sequence[Footing], effects: Sequence[float]) -> list[Footing]:
    """The footings of one stage with the day's share carried over, where it can be told; with the day's uncertainty
    where it cannot. `effects`: ln of what the pins' own changes do to each rise, as the balance of heat has it."""
    numbers = section("compare")
    day = _share(footings, effects)
    if day is None:
        return [_widened(footing, numbers["day"]) for footing in footings]
    share, left = day
    said = Statement("basis_day_more" if share > 1.0 else "basis_day_less", {"size": abs(share - 1.0)})
    more = (said,) if abs(share - 1.0) >= 0.01 else ()
    return [
        _widened(replace(f, expected_k=share * f.expected_k, basis=(*f.basis, *more)), left)
        if f.refused is None and f.load_known else _widened(f, numbers["day"])
        for f in footings
    ]  # fmt: skip


def _tells(footing: Footing) -> bool:
    return (
        footing.refused is None
        and footing.load_known
        and min(footing.expected_k, footing.after_k) > section("compare")["day_least_k"]
    )


def _share(footings: Sequence[Footing], effects: Sequence[float]) -> tuple[float, float] | None:
    """(rise after / expected that the pins agree on, standard uncertainty of its ln); None where they do not, are too
    few, or it is no day's."""
    numbers = section("compare")
    told = [(footing, effect) for footing, effect in zip(footings, effects, strict=True) if _tells(footing)]
    if len(told) < LEAST_PINS or max(abs(effect) for effect in effects) > numbers["effect_most"]:
        return None
    away = np.array([math.log(f.after_k / f.expected_k) - effect for f, effect in told])
    own = np.array([math.hypot(f.uncertainty_k / f.expected_k, numbers["effect_share"] * effect) for f, effect in told])
    keep = np.ones(len(told), bool)
    while True:
        weights = np.where(keep, own**-2.0, 0.0)
        middle, left = float(np.average(away, weights=weights)), float(weights.sum() ** -0.5)
        apart = np.where(keep, np.abs(away - middle) / own, 0.0)
        if not (apart > numbers["day_agree"]).any():
            break
        keep[apart.argmax()] = False
        if keep.sum() < max(LEAST_PINS, len(told) / 2.0):
            return None
    if not keep.all():  # beside a pin that changed, what the rest share may be its doing: nothing is carried over
        return (1.0, math.hypot(left, middle)) if abs(middle) <= numbers["day"] else None
    return (math.exp(middle), left) if abs(middle) <= numbers["day_most"] else None


def _widened(footing: Footing, share: float) -> Footing:
    """With the uncertainty of the day; where the load is not known, the comparison credits nobody, day or no day."""
    more = share * footing.expected_k if footing.load_known else 0.0
    return replace(footing, uncertainty_k=root_sum_squares(footing.uncertainty_k, more))
