"""A stage's readings made ready for a fit: wrong single readings set aside, long series averaged, noise measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

MOST_POINTS = 48  # longer series are averaged to this many
LEAST_JUMP_K = 1.5  # a single reading that jumps by less is left in
MAD_TO_SD = 1.4826  # 1 / Phi^-1(3/4)
LEAST_NOISE_K = 0.05
AIR_LAG_S = 250.0  # how late a connector follows the air: about its own time constant (common practice, no source)
AIR_POINTS = 200
STILL_K = 1e-6  # a series of one number repeated was not followed
_SPAN_S = 60.0  # widest window of the running median


@dataclass(frozen=True, slots=True)
class Series:
    """Points (n,) of one stage: seconds from its start, °C, standard deviation of independent error [K].

    `noise_k` is the scatter of a single reading, `quantum_k` the step of its scale (0: none seen).
    `high` and `low` are (m, 2): times and bounds of clipped readings. `before` is the rate at the start
    [K/s] and its sd, from readings before the stage; None without them. `wrong` counts what was set aside.
    """

    time_s: np.ndarray
    celsius: np.ndarray
    white_k: np.ndarray
    noise_k: float
    quantum_k: float
    high: np.ndarray
    low: np.ndarray
    before: tuple[float, float] | None
    wrong: int


@dataclass(frozen=True, slots=True)
class Ambient:
    """`last_c` the last ambient [°C] or None, whether it was `followed`, and what following it moved the readings by
    against that last value [K]: (n,) or 0. `unsure_k` is the standard uncertainty of the level because of it.
    """

    last_c: float | None
    followed: bool
    moved_k: np.ndarray | float
    unsure_k: float = 0.0


def seen_with_the_camera(last_c: float | None, drift_k: np.ndarray, time_s: np.ndarray) -> Ambient:
    """The ambient where the camera saw the surroundings move by `drift_k` (n,) at `time_s` [s] (n,), air and its own
    error together.

    The camera's error comes at once in the readings, the air's drift with the connector's lag; what climbs steadily may
    be either, so that it is taken with half of the lag, and the other half counts as its limits (rectangular).
    """
    last = float(drift_k[-1])  # a step of the camera at the very end counts
    into = time_s - time_s[0]
    if len(into) < 3 or not into[-1] > 0:
        return Ambient(last_c, True, drift_k - last)
    slope, lag_s = float(np.polyfit(into, drift_k, 1)[0]), 0.5 * AIR_LAG_S
    late = slope * lag_s * -np.expm1(-into / lag_s)  # by how much a first-order lag trails a ramp
    return Ambient(last_c, True, drift_k - late - last, abs(slope) * lag_s / np.sqrt(3.0))


def ambient_of(time_s: np.ndarray, ambient_c: float | np.ndarray | Ambient | None, end_s: float) -> Ambient:
    """One number, a series (n,) with NaN, or None -> Ambient, as seen up to `end_s`; an Ambient stays as it is.

    A connector follows the air as a first-order lag of 250 s, which also smooths the thermometer.
    """
    if isinstance(ambient_c, Ambient):
        return ambient_c
    if ambient_c is None or np.ndim(ambient_c) == 0:
        return Ambient(None if ambient_c is None else float(ambient_c), False, 0.0)
    time_s, air = np.asarray(time_s, dtype=float), np.asarray(ambient_c, dtype=float)
    good = np.isfinite(time_s) & np.isfinite(air) & (time_s <= end_s)
    if not good.any():
        return Ambient(None, False, 0.0)
    order = np.argsort(time_s[good], kind="stable")
    t, air = time_s[good][order], air[good][order]
    last = float(np.median(air[-5:]))
    if np.ptp(air) < STILL_K or t[-1] <= t[0]:
        return Ambient(last, False, 0.0)
    even = np.linspace(t[0], t[-1], AIR_POINTS)
    kept = np.exp(-(even[1] - even[0]) / AIR_LAG_S)
    late = np.interp(even, t, air)
    late[0] = np.median(air[:5])
    for k in range(1, AIR_POINTS):
        late[k] = kept * late[k - 1] + (1 - kept) * late[k]
    return Ambient(last, True, np.interp(time_s, even, late) - last)


def series(time_s: np.ndarray, celsius: np.ndarray, clipped: np.ndarray | None, start_s: float, end_s: float) -> Series:
    """Readings (n,) with NaN, jumps, gaps and `clipped` (low, high or empty) -> at most 48 points in [start, end]."""
    time_s, celsius = np.asarray(time_s, dtype=float), np.asarray(celsius, dtype=float)
    sides = np.array(["" if clipped is None else str(side) for side in (time_s if clipped is None else clipped)])
    order = np.argsort(time_s, kind="stable")
    order = order[np.isfinite(time_s[order]) & np.isfinite(celsius[order]) & (time_s[order] <= end_s)]
    t, y, sides = time_s[order] - start_s, celsius[order], sides[order]
    bounds = [np.column_stack([t, y])[(sides == side) & (t >= 0)] for side in ("high", "low")]
    free = ~np.isin(sides, ("high", "low"))
    t, y = t[free], y[free]
    good = ~jumps(t, y)
    wrong = int(np.sum(~good & (t >= 0)))
    before = _rate_before(t[good & (t < 0)], y[good & (t < 0)])
    t, y = t[good & (t >= 0)], y[good & (t >= 0)]
    noise, quantum = _noise(t, y), _quantum(y)
    points = _averaged(t, y)
    white = np.hypot(max(noise, 0.29 * quantum) * np.sqrt(np.minimum(1.0, 2.0 / points[:, 2])), 0.03)
    return Series(points[:, 0], points[:, 1], white, noise, quantum, *bounds, before, wrong)


def jumps(time_s: np.ndarray, celsius: np.ndarray) -> np.ndarray:
    """Which readings (n,) jump away from those around them and back (running median, Hampel's rule at 5 sd).

    Hampel, J. Am. Stat. Assoc. 69 (1974) 383, for the rule; a monotone series has no jumps by construction.
    """
    n = len(celsius)
    if n < 5:
        return np.zeros(n, dtype=bool)
    step = max(float(np.median(np.diff(time_s))), 1e-6)
    half = int(np.clip(_SPAN_S / step / 2, 2, 20))
    half = min(half, (n - 1) // 2)
    windows = np.lib.stride_tricks.sliding_window_view(celsius, 2 * half + 1)
    middle = np.median(windows, axis=1)
    middle = np.concatenate([_end(celsius, half), middle, _end(celsius[::-1], half)[::-1]])
    off = np.abs(celsius - middle)
    sd = MAD_TO_SD * float(np.median(np.abs(off - np.median(off)))) if n >= 10 else 0.0
    limit = np.full(n, max(LEAST_JUMP_K, 5 * sd))
    edge = np.r_[0:half, n - half : n]
    steep = np.abs(np.diff(middle, prepend=middle[0]))
    limit[edge] += 3 * half * float(np.median(steep[max(0, half - 1) : n - half + 1])) + 2 * float(np.median(steep))
    return off > limit


def _end(celsius: np.ndarray, half: int) -> np.ndarray:
    """What the first `half` readings should be: a robust line (median of slopes) through the first 2 half + 3."""
    part = celsius[: 2 * half + 3]
    place = np.arange(len(part))
    first, second = np.triu_indices(len(part), 1)
    slope = np.median((part[second] - part[first]) / (second - first))
    level = np.median(part - slope * place)
    return (level + slope * place)[:half]


def _noise(time_s: np.ndarray, celsius: np.ndarray) -> float:
    """Scatter of one reading [K]: what every other one leaves against the line through its neighbours."""
    if len(celsius) < 8:
        return 0.1
    gap = 2 if np.mean(celsius[1:] == celsius[:-1]) > 0.4 and len(celsius) > 50 else 1  # each value twice
    t, y = time_s[::gap], celsius[::gap]
    share = (t[1:-1] - t[:-2]) / np.maximum(t[2:] - t[:-2], 1e-9)
    left = y[1:-1] - (y[:-2] + share * (y[2:] - y[:-2]))
    return max(MAD_TO_SD * float(np.median(np.abs(left))) / np.sqrt(1.5), LEAST_NOISE_K)


def _quantum(celsius: np.ndarray) -> float:
    """Step of a coarse scale [K]: the smallest difference that occurs, where few values occur often."""
    values = np.unique(np.round(celsius, 4))
    if len(celsius) < 20 or not 2 <= len(values) <= len(celsius) / 4:
        return 0.0
    return float(np.min(np.diff(values)))


def _averaged(time_s: np.ndarray, celsius: np.ndarray) -> np.ndarray:
    """(points, 3): mean time, mean reading, how many."""
    if len(time_s) <= MOST_POINTS:
        return np.column_stack([time_s, celsius, np.ones(len(time_s))])
    span = np.linspace(time_s[0], time_s[-1], MOST_POINTS + 1)
    place = np.clip(np.searchsorted(span, time_s, side="right") - 1, 0, MOST_POINTS - 1)
    many = np.bincount(place, minlength=MOST_POINTS)
    used = many > 0
    mean = [np.bincount(place, v, minlength=MOST_POINTS)[used] / many[used] for v in (time_s, celsius)]
    return np.column_stack([*mean, many[used]])


def _rate_before(time_s: np.ndarray, celsius: np.ndarray) -> tuple[float, float] | None:
    """Rate [K/s] and its sd over the last four minutes before the stage."""
    near = time_s > -240.0
    t, y = time_s[near], celsius[near]
    if len(t) < 4 or t[-1] - t[0] < 30:
        return None
    line, cov = np.polyfit(t, y, 1, cov="unscaled")
    spread = max(float(np.std(y - np.polyval(line, t))), LEAST_NOISE_K)
    return float(line[0]), float(np.hypot(spread * np.sqrt(cov[0, 0]), 0.25 * abs(line[0]) + 2e-4))
