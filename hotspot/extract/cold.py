"""Which readings are of a connector without load, and at what level: the ambient, where pins that are cold tell it.

Cold pins are alike before the load comes on, and either as warm as the picture's surroundings or at rest. A body that
is warmer than the air by dT cools at dT / tau (lumped capacitance: Incropera and DeWitt, Fundamentals of Heat and Mass
Transfer, section 5.1; cited from memory), so that what stands still for minutes is nearly at ambient.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.extract.surroundings import Surroundings
from hotspot.handbook.criteria import section
from hotspot.physics.statistics import rectangular
from hotspot.records import StageSpan

COLD_WINDOW_S = 60.0
COLD_LATEST_S = 3.0
"""A first frame this soon after the load came on is still cold: a face starts late."""

AGREE_K = 2.0
"""Pins and surroundings of a cold start lie no further apart."""

REST_S, REST_READINGS, SLOWEST_S, REST_K = 60.0, 4, 600.0, 1.5
"""At rest: over a minute and four readings at least, no faster than something whose time constant is 600 s (twice the
usual one of connectors) moves when it is 1.5 K from the air."""

ROSE_K = 5.0
"""A pin must rise this far over the level later on: a picture in which all is as warm and stays so may be a hot one."""

LIMITS_K = 1.0
"""Limits (rectangular) of any ambient, stated ones too. Like the other bounds here: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Cold:
    """Pins before any load: level [°C], its standard uncertainty [K], session time [s], and what bears it out."""

    celsius: float
    unsure_k: float
    time_s: float
    because: str  # surroundings, rest or both


def loaded(span: StageSpan) -> bool:
    """Whether current flows in a stage, or may flow."""
    if span.stage is None or span.stage.amps is None:
        return True
    amps = span.stage.amps
    return any(amps.values()) if isinstance(amps, dict) else amps != 0


def cold_frames(stages: Sequence[StageSpan], times: Mapping[int, float], window_s: float) -> list[int]:
    """Frames (numbers in `times` [s]) of the last `window_s` before the first load; else the first one, if it came at
    once."""
    starts = [span.start_s for span in stages if loaded(span)]
    if not starts or not times:
        return []
    on = min(starts)
    before = [index for index, time_s in times.items() if on - window_s <= time_s <= on]
    if before:
        return before
    first = min(times, key=lambda index: times[index])
    return [first] if times[first] <= on + COLD_LATEST_S else []


def start_frames(times_s: np.ndarray, stages: tuple[StageSpan, ...]) -> list[int]:
    """Places of the cold frames; of the first frame where there are none."""
    cold = cold_frames(stages, dict(enumerate(times_s.tolist())), COLD_WINDOW_S)
    return cold or ([0] if len(times_s) else [])


def cold_start(
    times_s: np.ndarray, pins_c: np.ndarray, stages: tuple[StageSpan, ...], around: Surroundings | None
) -> Cold | None:
    """The level of pins that are cold before the first load, as in the head of this module; None where they are not,
    or where nothing bears it out."""
    times = dict(enumerate(times_s.tolist()))
    last = cold_frames(stages, times, COLD_WINDOW_S)
    if not last:
        return None
    levels = np.array([np.median(pin[np.isfinite(pin)]) for pin in pins_c[last].T if np.isfinite(pin).any()])
    if not levels.size or np.ptp(levels) > section("compare")["cold_alike_k"]:
        return None
    level = float(np.median(levels))
    if not _rose(pins_c, level):
        return None
    witnesses = {}
    if around is not None and abs(level - around.level_c) <= AGREE_K:
        witnesses["surroundings"] = max(abs(level - around.level_c), around.level_k)
    rest = _from_rest(times_s, pins_c, cold_frames(stages, times, 5 * COLD_WINDOW_S))
    if rest is not None:
        witnesses["rest"] = rest
    if not witnesses:
        return None
    unsure = float(np.hypot(rectangular(LIMITS_K), rectangular(min(witnesses.values()))))
    because = "both" if len(witnesses) > 1 else next(iter(witnesses))
    return Cold(level, unsure, float(np.mean(times_s[last])), because)


def _rose(pins_c: np.ndarray, level_c: float) -> bool:
    """Whether some pin was warmer later on, by more than single wrong readings could make it."""
    known = (pin[np.isfinite(pin)] for pin in pins_c.T)
    return any(np.percentile(pin, 90) - level_c >= ROSE_K for pin in known if pin.size)


def _from_rest(times_s: np.ndarray, pins_c: np.ndarray, before: list[int]) -> float | None:
    """How far pins that hardly move may be from the air [K]; None where they move, or were not watched for long."""
    seen = np.isfinite(pins_c[before])
    rows = np.where(seen, pins_c[before], np.nan)[:, seen.mean(axis=0) >= 0.8]
    curve = np.array([np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in rows])
    t, good = times_s[before], np.isfinite(curve)
    if good.sum() < REST_READINGS or np.ptp(t[good]) < REST_S - 1e-6:
        return None
    line, covariance = np.polyfit(t[good] - t[good][0], curve[good], 1, cov="unscaled")
    spread = float(np.std(curve[good] - np.polyval(line, t[good] - t[good][0]), ddof=2))
    away = SLOWEST_S * (abs(float(line[0])) + 2.0 * spread * float(np.sqrt(covariance[0, 0])))
    return away if away <= REST_K else None
