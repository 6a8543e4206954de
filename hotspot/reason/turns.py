"""Where a curve of temperatures turns onto another course: a load that came on, went up, went down or off.

Heat that changes at once makes the slope change within seconds, while the course of a constant load bends slowly. A
turn is therefore looked for as a corner (a change of slope at one time) beside a parabola, in a window that slides
over the record; two-phase regression with a continuous joint (D. J. Hudson, Journal of the American Statistical
Association 61(316):1097, 1966; cited from memory), with a parabola on either side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.physics.statistics import MAD_TO_SIGMA

if TYPE_CHECKING:
    import pandas as pd

WINDOW_S = 90.0
"""Looked at on either side of a corner, or four readings where those are sparse. Ours, like every bound here."""
LEAST_EACH_SIDE = 4
LEAST_APART_S = 60.0
LEAST_T, LEAST_SHARE, LEAST_BEND_K = 8.0, 0.35, 1.0
"""A corner counts where the slope changes by 8 standard uncertainties, by 0.35 of the steepest slope of the record, and
by enough to make 1 K over the window."""

_MOST_POINTS = 900
_LEAST_STEP_S = 2.0


@dataclass(frozen=True, slots=True)
class Turn:
    """A corner at `time_s` [s]: the slope changes by `bend_k_s` [K/s]."""

    time_s: float
    bend_k_s: float


def common_curve(readings: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """(times [s] (n,), K over the first reading (n,)): the mean of the pins that move at least half as far as the one
    that moves furthest, on even steps. Readings that are clipped or outliers are left out; both empty where fewer than
    ten steps are left.
    """
    good = readings["temperature_c"].notna() & ~readings["quality"].astype(str).str.contains("outlier")
    good &= readings["clipped"].fillna("") == ""
    curves = {}
    for pin, part in readings[good].sort_values("time_s", kind="stable").groupby("pin", sort=False):
        if len(part) > 2 * LEAST_EACH_SIDE:
            curves[pin] = (part["time_s"].to_numpy(float), part["temperature_c"].to_numpy(float))
    if not curves:
        return np.zeros(0), np.zeros(0)
    far = {pin: float(np.subtract(*np.percentile(x, [97.5, 2.5]))) for pin, (_, x) in curves.items()}
    moving = [curves[pin] for pin in curves if far[pin] >= 0.5 * max(far.values())]
    first, last = max(t[0] for t, _ in moving), min(t[-1] for t, _ in moving)
    usual = float(np.median(np.concatenate([np.diff(t) for t, _ in moving])))
    step = max(usual, _LEAST_STEP_S, (last - first) / _MOST_POINTS)
    if not last - first >= 10 * step:
        return np.zeros(0), np.zeros(0)
    edges = np.arange(first - step / 2, last + step, step)
    binned = np.array([_binned(t, x, edges) for t, x in moving])
    whole = np.isfinite(binned).all(axis=0)
    rises = binned[:, whole] - binned[:, whole][:, :1]
    return ((edges[:-1] + edges[1:]) / 2)[whole], rises.mean(axis=0)


def turns(times: np.ndarray, celsius: np.ndarray) -> list[Turn]:
    """The corners of one curve in time order, at least LEAST_APART_S apart. `times` [s] (n,) rising, no NaN."""
    if times.size < 3 * LEAST_EACH_SIDE:
        return []
    half = max(WINDOW_S, (LEAST_EACH_SIDE + 0.5) * float(np.median(np.diff(times))))
    noise = max(1e-3, MAD_TO_SIGMA * float(np.median(np.abs(np.diff(celsius, 2)))) / np.sqrt(6.0))
    found = [_corner(times, celsius, at, half) for at in times]
    bends, unsure, slopes = (np.array(column) for column in zip(*found, strict=True))
    least = max(LEAST_SHARE * float(np.nanmax(np.abs(slopes), initial=0.0)), LEAST_BEND_K / half)
    strong = (np.abs(bends) >= least) & (np.abs(bends) >= LEAST_T * noise * unsure)
    weight = np.where(strong, np.abs(bends), 0.0)
    kept: list[Turn] = []
    while weight.any():
        peak = int(np.argmax(weight))
        turn = Turn(_onset(times, celsius, float(times[peak]), half), float(bends[peak]))
        if all(abs(turn.time_s - other.time_s) >= LEAST_APART_S for other in kept):
            kept.append(turn)
        weight[np.abs(times - times[peak]) < max(half, LEAST_APART_S)] = 0.0
    return sorted(kept, key=lambda turn: turn.time_s)


def _binned(times: np.ndarray, values: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Means of the values between the edges, NaN where there is none."""
    count = np.histogram(times, edges)[0]
    total = np.histogram(times, edges, weights=values)[0]
    return np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)


def _corner(times: np.ndarray, celsius: np.ndarray, at: float, half: float) -> tuple[float, float, float]:
    """(change of slope [K/s], its standard uncertainty per K of noise [1/s], mean slope [K/s]) at a time; 0 and 1
    where there are too few readings on a side."""
    near = np.abs(times - at) <= half
    t = times[near] - at
    if min((t < 0).sum(), (t > 0).sum()) < LEAST_EACH_SIDE:
        return 0.0, 1.0, 0.0
    u = t / half
    design = np.column_stack([np.ones(u.size), u, u**2, np.maximum(u, 0.0)])
    inverse = np.linalg.pinv(design.T @ design)
    fit = inverse @ design.T @ celsius[near]
    return float(fit[3] / half), float(np.sqrt(inverse[3, 3]) / half), float(np.polyfit(t, celsius[near], 1)[0])


def _onset(times: np.ndarray, celsius: np.ndarray, peak: float, half: float) -> float:
    """The time near `peak` from which a parabola that starts there explains best what left the line before it."""
    near = np.abs(times - peak) <= half
    t, x = times[near], celsius[near]
    best, at = np.inf, peak
    for corner in t[(t > t[0] + 2) & (t < peak + half / 3)]:
        after = np.maximum(t - corner, 0.0) / half
        design = np.column_stack([np.ones(t.size), (t - peak) / half, after, after**2])
        left = float(np.sum((x - design @ np.linalg.lstsq(design, x, rcond=None)[0]) ** 2))
        if left < best:
            best, at = left, float(corner)
    return at
