"""The ambient beside the readings: stated, logged, seen in a region, or - where none of these is - estimated.

What is estimated says so (doubt `ambient_estimated`) and how unsure it is: the level of pins that are cold before the
load comes on, and after that what the surroundings in the picture moved by.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from hotspot.extract.cold import COLD_WINDOW_S, Cold, cold_frames, cold_start
from hotspot.extract.surroundings import Surroundings
from hotspot.records import StageSpan, Statement

UNSEEN_K_PER_S = 1.0 / 1500.0
"""Standard uncertainty by which an ambient that nothing follows moves off: 1 K in 25 minutes."""

WARM_K = 5.0
"""Pins that are warmer than the ambient by more before any load are told of: more than a camera and a thermometer
disagree by. Ours."""

TOLD_K = 0.5
"""Surroundings that move by less are not worth a word."""


@dataclass(frozen=True)
class Air:
    """`celsius` (frames,) the ambient, NaN where it is not known. `drift_k` (frames,) what moves air and camera and is
    still in the readings, NaN where nothing follows it. `origin`: number, log, region, cold start or not known.
    `unsure_k` standard uncertainty of an estimate at the end of the test; None for what was told or measured."""

    celsius: np.ndarray
    drift_k: np.ndarray
    origin: str
    unsure_k: float | None
    notices: tuple[Statement, ...]
    settings: Mapping[str, Any]

    @property
    def estimated(self) -> bool:
        """Whether the ambient is an estimate of ours."""
        return self.unsure_k is not None


@dataclass(frozen=True, slots=True)
class Told:
    """What was told or measured of the ambient: °C (frames,), NaN where nothing was; where it is from. `referred`: a
    region of reference took off what moved."""

    celsius: np.ndarray
    origin: str
    referred: bool = False


def air_of(
    times_s: np.ndarray,
    pins_c: np.ndarray,
    told: Told,
    stages: tuple[StageSpan, ...],
    around: Surroundings | None,
) -> Air:
    """The ambient of readings `pins_c` (frames, n) at `times_s` [s] (frames,), NaN where bounded or not read.

    `around`: what the surroundings moved by, where they were looked at.
    """
    around, notices = _trusted(around, pins_c)
    drift = np.full(times_s.shape, np.nan)
    if told.origin == "log":
        around = None  # what follows the air itself is better
    elif told.referred:
        drift = np.zeros(times_s.shape)
    elif around is not None:
        drift = around.moved_k
    settings: dict[str, Any] = {"origin": told.origin, "drift": _followed(told, around)}
    if around is not None:
        settings |= {"drift_k": [float(drift.min()), float(drift.max())], "drift_unsure_k": around.unsure_k}
    if told.origin != "not known":
        if told.origin == "number" and around is not None and around.reach_k > max(TOLD_K, 2 * around.unsure_k):
            low, high = settings["drift_k"]
            notices.append(Statement("ambient_moved", {"low": low, "high": high, "unsure": around.unsure_k}))
        notices += _warm_start(times_s, pins_c, told, stages)
        return Air(told.celsius, drift, told.origin, None, tuple(notices), settings)
    cold = cold_start(times_s, pins_c, stages, around)
    if cold is None:
        return Air(told.celsius, drift, told.origin, None, (*notices, Statement("ambient_unknown")), settings)
    moved = np.nan_to_num(drift, nan=0.0)
    moved = moved - float(np.interp(cold.time_s, times_s, moved))
    unsure, of_drift = _unsure(cold, float(np.max(times_s)), told, around)
    values = {"level": cold.celsius, "end": cold.celsius + float(moved[-1]), "unsure": unsure}
    said = "_followed" if around is not None or told.referred else ""
    notices.append(Statement(f"ambient_estimated{said}", values))
    settings |= {"origin": "cold start", "level_c": cold.celsius, "uncertainty_k": unsure, "because": cold.because}
    settings["drift_unsure_k"] = of_drift
    return Air(cold.celsius + moved, drift, "cold start", unsure, tuple(notices), settings)


def _warm_start(times_s: np.ndarray, pins_c: np.ndarray, told: Told, stages: tuple[StageSpan, ...]) -> list[Statement]:
    """Said where even the coolest pin stands clearly over the ambient before any load: one of the two is not right."""
    first = cold_frames(stages, dict(enumerate(times_s.tolist())), COLD_WINDOW_S)
    over = pins_c[first] - told.celsius[first][:, None]
    above = [float(np.median(pin[np.isfinite(pin)])) for pin in over.T if np.isfinite(pin).any()]
    if not above or min(above) <= WARM_K:
        return []
    air = told.celsius[first]
    return [Statement("pins_warm_at_start", {"above": min(above), "ambient": float(np.median(air[np.isfinite(air)]))})]


def _unsure(cold: Cold, end_s: float, told: Told, around: Surroundings | None) -> tuple[float, float]:
    """Standard uncertainty [K] of the ambient at the end of the test, and of what moved it since the cold start."""
    of_drift = UNSEEN_K_PER_S * (end_s - cold.time_s)
    if around is not None:
        of_drift = around.unsure_k
    elif told.referred:
        of_drift = 0.0
    return float(np.hypot(cold.unsure_k, of_drift)), of_drift


def _trusted(around: Surroundings | None, pins_c: np.ndarray) -> tuple[Surroundings | None, list[Statement]]:
    """The surroundings, unless what they moved by is warmth from the pins; that is told."""
    if around is None or not around.warmed(_moved(pins_c)):
        return around, []
    return None, [Statement("surroundings_move_far", {"by": around.reach_k})]


def _followed(told: Told, around: Surroundings | None) -> str:
    if told.origin == "log":
        return "log"
    if told.referred or around is not None:
        return "reference" if told.referred else "surroundings"
    return "region" if told.origin == "region" else "not followed"


def _moved(pins_c: np.ndarray) -> float:
    """How far the pin that moves most moves [K]."""
    reaches = [float(np.ptp(pin[np.isfinite(pin)])) for pin in pins_c.T if np.isfinite(pin).any()]
    return max(reaches, default=0.0)
