"""Noise from frame to frame, told from what warms: by differences in time.

A difference of order m takes a polynomial of order m - 1 out, and leaves (1 - q)^m of an exponential that falls to q of
itself from one frame to the next, while independent noise of standard deviation s becomes s sqrt(C(2m, m)): von
Neumann, Kent, Bellinson and Hart, The Annals of Mathematical Statistics 12(2):153, 1941 (cited from memory), for the
first order; those above it by the sum of squared binomial coefficients. Where frames are few and far between, the
second order still holds the rise of a pin (q of 0.6 leaves 7 % of it), and the fourth hardly any (0.3 %).
"""

from __future__ import annotations

from math import comb

import numpy as np

from hotspot.physics.statistics import MAD_TO_SIGMA, median_absolute_deviation

_ORDERS = (2, 3, 4)
_CLEARLY = 0.8  # of the lower order's, for pins: alike in noise alone, whatever the order
_CLEARLY_MANY, _MANY = 0.95, 1000  # the same for pixels, of which so many differences are to be had
_FRAMES_OVER = 3  # differences of each pin at the least, in frames


def pixel_noise(values: np.ndarray) -> float:
    """Noise of a pixel [K] from `values` (frames, k) in time order; NaN from fewer than two frames.

    MAD of the second differences in time, less what is common to the picture, over sqrt(6): a temperature that
    climbs steadily leaves none. Of higher ones where these are clearly less. From two frames, of the first
    difference over sqrt(2).
    """
    highest = min(_ORDERS[-1], values.shape[0] - 1)
    if highest < 1:
        return float("nan")
    least = _spread(values, min(2, highest))
    for order in range(3, highest + 1):
        found = _spread(values, order) if values[order:].size >= _MANY else np.nan
        least = found if found < _CLEARLY_MANY * least else least
    return least


def _spread(values: np.ndarray, order: int) -> float:
    steps = np.diff(values, n=order, axis=0)
    if not np.isfinite(steps).any():
        return float("nan")
    middles = [np.median(line[np.isfinite(line)]) if np.isfinite(line).any() else 0.0 for line in steps]
    return MAD_TO_SIGMA * median_absolute_deviation((steps - np.array(middles)[:, None]).ravel()) / _gain(order)


def scatter(camera_c: np.ndarray) -> np.ndarray:
    """Scatter [K] of each pin's mean from frame to frame, `camera_c` (frames, n) -> (n,); 0 from fewer than five.

    MAD of the second differences over sqrt(6), of all pins' higher ones where these are clearly less together. Larger
    than the pixels' noise allows where that noise is alike in neighbouring pixels (compression, blur) or the picture
    shakes.
    """
    frames, pins = camera_c.shape
    if frames < 5:
        return np.zeros(pins)
    orders = [order for order in _ORDERS if order == 2 or frames - order >= _FRAMES_OVER]
    each = np.stack([_of_each(camera_c, order) for order in orders])
    known = np.isfinite(each).all(axis=0)
    if not known.any():
        return np.nan_to_num(each[0], nan=0.0)
    together = np.median(each[:, known], axis=1)
    return np.nan_to_num(each[int(np.argmax(together <= together.min() / _CLEARLY))], nan=0.0)


def _of_each(camera_c: np.ndarray, order: int) -> np.ndarray:
    """Scatter (n,) of each pin by differences of one order; NaN without any."""
    steps = np.abs(np.diff(camera_c, n=order, axis=0))
    found = np.full(camera_c.shape[1], np.nan)
    known = np.isfinite(steps).any(axis=0)
    if known.any():
        found[known] = MAD_TO_SIGMA * np.nanmedian(steps[:, known], axis=0) / _gain(order)
    return found


def _gain(order: int) -> float:
    """Standard deviation of differences of that order of independent noise of 1."""
    return float(np.sqrt(comb(2 * order, order)))
