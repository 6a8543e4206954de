"""Published criteria of a steady reading, held against what was recorded, and the crossing of a rating.

The criteria were written for other kinds of test, mostly hours long: a load test of minutes will seldom be long
enough for any, and then `too short` is the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.reason.settling import Settling
from hotspot.reason.settling_gp import normal_cdf


@dataclass(frozen=True, slots=True)
class Criterion:
    """At most `change_k` of change over `readings` readings that are `gap_s` apart (or `gap_share` of the time
    elapsed, if longer). `source` is the document. `only_rise`: a fall does not count as change.
    """

    name: str
    change_k: float
    readings: int
    gap_s: float
    gap_share: float
    only_rise: bool
    source: str


READABLE_K = 0.5  # "no change" is taken as less than this: half of what a shop thermometer resolves
CRITERIA: tuple[Criterion, ...] = (
    Criterion("2 K in 15 min", 2.0, 2, 900.0, 0.0, False, "IEEE 2780-2019, temperature-rise test"),
    Criterion("no change over 3 readings", READABLE_K, 3, 300.0, 0.1, False, "UL 1278, clause 39.1.8"),
    Criterion("no rise over 3 readings", READABLE_K, 3, 900.0, 0.0, True, "UL 1029, clause 21.1.6"),
    Criterion("1 K in an hour", 1.0, 2, 3600.0, 0.0, False, "IEC 60598-1, clause 12.4.1 f"),
)


def criterion_met(time_s: np.ndarray, celsius: np.ndarray, criterion: Criterion) -> str:
    """`yes`, `no` or `too short` at the end of a stage's readings (n,): seconds from its start, °C, no NaN.

    Readings between frames are interpolated. An empty series is `too short`.
    """
    time_s, celsius = np.asarray(time_s, dtype=float), np.asarray(celsius, dtype=float)
    if len(time_s) == 0:
        return "too short"
    end = float(time_s[-1])
    gap = max(criterion.gap_s, criterion.gap_share * end)
    at = end - gap * np.arange(criterion.readings)[::-1]
    if at[0] < time_s[0] - 1e-6:
        return "too short"
    readings = np.interp(at, time_s, celsius)
    change = float(np.max(np.diff(readings))) if criterion.only_rise else float(np.ptp(readings))
    return "yes" if change <= criterion.change_k else "no"


HORIZON_S = 7200.0
CROSSING_POINTS = 72
EXPONENTIAL_SPAN = 1.96  # the fall-back's interval in standard deviations


@dataclass(frozen=True, slots=True)
class Crossing:
    """Whether and when a level is passed at the present load: chances (0-1) at the planned end and when settled,
    and the session time [s] by which it is passed more likely than not (None: not within two hours, or not known).
    """

    chance_at_end: float
    chance_settled: float
    time_s: float | None


def crossing(settling: Settling, level_c: float, end_s: float, from_s: float | None = None) -> Crossing | None:
    """When the pin passes `level_c` [°C] upwards after `from_s` (default the stage's start); `end_s` is the stage's
    planned end [both session s].

    None where nothing was predicted. The exponential fall-back gives chances but no time.
    """
    found = settling.forecast
    if settling.settled_c is None:
        return None
    if found is None:
        chances = [_normal_chance(level_c, *span) for span in _spans(settling)]
        return Crossing(chances[1], chances[0], None)
    first = max(0.0 if from_s is None else from_s - settling.start_s, 0.0)
    times = np.concatenate([first + np.geomspace(1.0, HORIZON_S, CROSSING_POINTS), [end_s - settling.start_s, np.inf]])
    chance = found.above(times, level_c, settling.common_k)
    return Crossing(float(chance[-2]), float(chance[-1]), _passed(times[:-2], chance[:-2], settling.start_s))


def _passed(times: np.ndarray, chance: np.ndarray, start_s: float) -> float | None:
    """The first session time at which the chance is even."""
    later = np.flatnonzero(chance > 0.5)
    if not later.size:
        return None
    k = int(later[0])
    if k == 0:
        return float(times[0] + start_s)
    return float(np.interp(0.5, chance[k - 1 : k + 1], times[k - 1 : k + 1]) + start_s)


def _spans(settling: Settling) -> list[tuple[float | None, float | None, float | None]]:
    return [
        (settling.settled_c, settling.low_c, settling.high_c),
        (settling.end_c, settling.end_low_c, settling.end_high_c),
    ]


def _normal_chance(level_c: float, middle: float | None, low: float | None, high: float | None) -> float:
    if middle is None or low is None or high is None:
        return float("nan")
    sd = max((high - low) / (2 * EXPONENTIAL_SPAN), 1e-6)
    return float(normal_cdf(np.array([(middle - level_c) / sd]))[0])
