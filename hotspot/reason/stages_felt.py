"""Stages from the pins' own course, where nobody said when the load changed: inferred, and told as that."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from hotspot.reason.turns import Turn, common_curve, turns
from hotspot.records import StageSpan, Statement
from hotspot.session import Stage

if TYPE_CHECKING:
    import pandas as pd

LEAST_STAGE_S = 60.0
STILL_SHARE, STILL_K, STARTS_S = 0.03, 0.5, 240.0
"""A turn in the first four minutes is a load that came on only where the pins stood still before it: a face starts
late, so a load that was on from the first frame bends upward too. Ours."""
LEAST_MOVE_K = 5.0
LEFT_SHARE = 0.02
"""What polynomials of the fifth degree may leave of the curve between the turns, as a share of its range: more, and
the load changed oftener than was found. Ours."""


def felt(readings: pd.DataFrame, whole: StageSpan) -> tuple[tuple[StageSpan, ...], Statement] | None:
    """Stages `step 1`, `step 2` ... in place of the one nameless stage `whole`; None where no turn is sure.

    Each starts where the pins turned onto another course, which is some seconds after the load changed: the face of
    a pin starts late. Currents are not known. With them comes what to say of it. `readings`: columns of READINGS.
    """
    times, rises = common_curve(readings)
    if not times.size or float(np.ptp(rises)) < LEAST_MOVE_K:
        return None
    sure = [turn for turn in turns(times, rises) if _sure(turn, times, rises)]
    if not sure or not _accounted(times, rises, [turn.time_s for turn in sure]):
        return None
    stamps = readings[["frame", "time_s"]].drop_duplicates().sort_values("time_s", kind="stable")
    at = stamps["time_s"].to_numpy(float)
    bounds = [whole.start_s, *(turn.time_s for turn in sure), whole.end_s]
    spans = []
    for place, (start, end) in enumerate(zip(bounds[:-1], bounds[1:], strict=True)):
        frames = stamps["frame"].to_numpy(int)[(at >= start) & (at < end)]
        name = f"step {place + 1}"
        spans.append(StageSpan(name, start, end, tuple(int(n) for n in frames), Stage(name=name)))
    begun = [f"{span.name} at {_clock(span.start_s)}" for span in spans]
    return tuple(spans), Statement("stages_inferred", {"stages": begun, "count": len(spans)})


def _sure(turn: Turn, times: np.ndarray, rises: np.ndarray) -> bool:
    since, left = turn.time_s - times[0], times[-1] - turn.time_s
    if min(since, left) < LEAST_STAGE_S:
        return False
    before = rises[times < turn.time_s]
    still = float(np.ptp(before)) <= max(STILL_K, STILL_SHARE * float(np.ptp(rises)))
    return since > STARTS_S or still


def _accounted(times: np.ndarray, rises: np.ndarray, corners: list[float]) -> bool:
    """Whether the course between the corners is smooth."""
    left = np.zeros_like(rises)
    for start, end in zip([-math.inf, *corners], [*corners, math.inf], strict=True):
        inside = (times >= start) & (times < end)
        if inside.sum() > 6:
            t = times[inside]
            u = 2.0 * (t - t[0]) / (t[-1] - t[0]) - 1.0
            left[inside] = rises[inside] - np.polynomial.Polynomial.fit(u, rises[inside], 5)(u)
    return float(np.sqrt(np.mean(left**2))) <= max(0.3, LEFT_SHARE * float(np.ptp(rises)))


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
