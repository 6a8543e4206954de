"""Where a pin starts and where it ends, from readings of which single ones may be wrong.

Loggers and cameras drop single readings tens of kelvin off (in real records 0.9 to 12 % of them); none of
those may decide a start, an end or a rise. The values are left in the table; they carry the doubt `outlier`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

WINDOW_S = 10.0
LEAST_JUMP_K = 3.0
_DENSE = 5
_SPARSE = 2


def outliers(times: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Which values jump away from the ones before and after and back: bool (n,).

    `times` [s] rising, `values` [°C], NaN where there is none. A value is out when it lies further from the
    running median (10 s, at least five readings, fewer at the ends) than 3 K, than 6 robust standard deviations
    of those distances, and than 3 typical steps of its surroundings, so that a peak of a quick curve stays in.
    At the very end, where nothing follows, a jump of 5 times the largest of the four steps before it is out.
    """
    values = np.asarray(values, dtype=float)
    out = np.zeros(values.shape, dtype=bool)
    where = np.flatnonzero(np.isfinite(values))
    if where.size < _DENSE:
        return out
    t, x = np.asarray(times, dtype=float)[where], values[where]
    half = _half_window(t)
    away = np.abs(x - _running_median(x, half))
    steps = np.abs(np.diff(x, prepend=x[0]))
    limit = np.maximum(LEAST_JUMP_K, 6.0 * 1.4826 * np.median(away))
    found = away > np.maximum(limit, 3.0 * _running_median(steps, max(half, _SPARSE)))
    kept = np.flatnonzero(~found[:-1])
    if half == _SPARSE and kept.size > _DENSE - 1:
        before = x[kept[-_DENSE:]]
        found[-1] |= abs(x[-1] - before[-1]) > max(LEAST_JUMP_K, 5.0 * np.max(np.abs(np.diff(before))))
    out[where] = found
    return out


def _half_window(times: np.ndarray) -> int:
    step = np.median(np.diff(times))
    count = WINDOW_S / step if step > 0 else 41.0
    return int(np.clip(round(count), 5, 41)) // 2


def _running_median(x: np.ndarray, half: int) -> np.ndarray:
    """Median of each value and `half` on both sides. At the ends the window is cut where readings are dense;
    where they are sparse it shrinks evenly, so that a steep curve does not look like a jump.
    """
    result = x.copy()
    if x.size > 2 * half:
        result[half : x.size - half] = np.median(np.lib.stride_tricks.sliding_window_view(x, 2 * half + 1), axis=1)
    for place in range(min(half, x.size)):
        for at in (place, x.size - 1 - place):
            reach = half if half > _SPARSE else min(at, x.size - 1 - at, half)
            result[at] = np.median(x[max(at - reach, 0) : at + reach + 1])
    return result


def end_value(times: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    """(temperature, time) at the end of good readings: the last one, or, where five or more lie in the last
    10 s, their median. (NaN, NaN) where there is none. `values` without outliers, NaN where there is none.
    """
    good = np.flatnonzero(np.isfinite(values))
    if not good.size:
        return float("nan"), float("nan")
    t, x = np.asarray(times, dtype=float)[good], np.asarray(values, dtype=float)[good]
    late = x[t > t[-1] - WINDOW_S]
    return float(np.median(late)) if late.size >= _DENSE else float(x[-1]), float(t[-1])


def start_value(times: np.ndarray, values: np.ndarray) -> float:
    """Temperature at the start of good readings: the first one, or the median of five or more in the first 10 s."""
    good = np.flatnonzero(np.isfinite(values))
    if not good.size:
        return float("nan")
    t, x = np.asarray(times, dtype=float)[good], np.asarray(values, dtype=float)[good]
    early = x[t < t[0] + WINDOW_S]
    return float(np.median(early)) if early.size >= _DENSE else float(x[0])


def value_at(times: np.ndarray, values: np.ndarray, time_s: float) -> float:
    """Temperature at `time_s` [s]: linear between good readings, or the median of five or more within 5 s.

    NaN where `time_s` lies outside the readings.
    """
    good = np.flatnonzero(np.isfinite(values))
    if not good.size:
        return float("nan")
    t, x = np.asarray(times, dtype=float)[good], np.asarray(values, dtype=float)[good]
    near = x[np.abs(t - time_s) <= WINDOW_S / 2.0]
    if near.size >= _DENSE:
        return float(np.median(near))
    return float(np.interp(time_s, t, x, left=np.nan, right=np.nan))


def marked(readings: pd.DataFrame) -> pd.DataFrame:
    """The readings (columns of columns.READINGS) with the doubt `outlier` added to `quality` where it holds.

    Nothing else is changed; the frame given stays as it is.
    """
    result = readings.copy()
    quality = result["quality"].to_numpy(dtype=object, copy=True)
    for rows in result.groupby("pin", sort=False).indices.values():
        part = result.iloc[rows]
        for row in rows[outliers(part["time_s"].to_numpy(float), part["temperature_c"].to_numpy(float))]:
            names = [name for name in str(quality[row] or "").split(";") if name]
            quality[row] = ";".join(dict.fromkeys([*names, "outlier"]))
    result["quality"] = quality
    return result
