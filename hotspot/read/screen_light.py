"""What the light does to a photographed screen: a gain that varies over it, glare, stripes that move.

The gain (vignetting of the phone, the screen's own fall of brightness to the side) is told from the picture itself:
with it taken out, all colours must lie on the bar's. It is a second-order surface in x and y, with a Gaussian prior
so that a map in which brightness alone tells temperature (grey) leaves it as unknown as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.read.screen_bar import ScreenBar, nearest_place

_PRIOR = 0.05  # standard deviation of each coefficient, log of levels: 10 % less light in a corner are 5 % of a level
_SAMPLES = 1500
_ALIKE = 30.0  # neighbouring samples err alike: that many count as one
_FAR = 25.0  # levels off the bar's colours: printed, or no part of the scale
_ROUNDS = 4
_LEAST_OFF = 1.5  # levels
_TALL = 160  # rows of the copy in which stripes are looked for
_SATURATED = 250


@dataclass(frozen=True, slots=True)
class Gain:
    """log gain = terms(x, y) - terms(bar's middle), times `theta`; `covariance` of theta; `off` levels left over."""

    shape: tuple[int, int]
    middle: np.ndarray
    theta: np.ndarray
    covariance: np.ndarray
    off: float

    def terms(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(n, 5) at pixels of the screen."""
        return _terms(self.shape, x, y) - self.middle

    def at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Gain (n,), 1 at the bar's middle."""
        return np.exp(self.terms(x, y) @ self.theta)


def _terms(shape: tuple[int, int], x: np.ndarray, y: np.ndarray) -> np.ndarray:
    across, down = 2.0 * x / shape[1] - 1.0, 2.0 * y / shape[0] - 1.0
    return np.stack([across, down, across**2, down**2, across * down], axis=-1)


def gain_of(rgb: np.ndarray, bar: ScreenBar) -> Gain:
    """The gain over a straightened screen uint8 (rows, columns, 3), by Gauss-Newton with robust weights."""
    shape = rgb.shape[:2]
    step = max(int(np.sqrt(shape[0] * shape[1] / _SAMPLES)), 1)
    rows, columns = (each.ravel() for each in np.mgrid[step // 2 : shape[0] : step, step // 2 : shape[1] : step])
    colours = _averaged(rgb)[rows, columns]
    middle = _terms(shape, np.array([bar.x.mean()]), np.array([bar.y.mean()]))[0]
    seen = _terms(shape, columns, rows) - middle
    at_bar = _terms(shape, bar.x, bar.y) - middle
    theta, prior = np.zeros(5), np.eye(5) / _PRIOR**2
    covariance, off = np.linalg.inv(prior), _LEAST_OFF
    for _ in range(_ROUNDS):
        own = colours / np.exp(seen @ theta)[:, None]
        curve = bar.rgb / np.exp(at_bar @ theta)[:, None]
        place = nearest_place(own, curve, bar.places)
        node = np.clip(np.searchsorted(bar.places, place), 0, len(curve) - 1)
        point = np.stack([np.interp(place, bar.places, curve[:, k]) for k in range(3)], axis=1)
        way = np.gradient(curve, axis=0)[node]
        way /= np.maximum(np.linalg.norm(way, axis=1), 1e-6)[:, None]
        left = own - point
        distance = np.linalg.norm(left, axis=1)
        near = distance < _FAR
        if near.sum() < 50:
            break
        off = max(float(np.median(distance[near])) / 1.18, _LEAST_OFF)  # median of two normal deviates' distance
        weight = near / (1.0 + (distance / (3.0 * off)) ** 2) / off**2
        change = own[:, :, None] * seen[:, None, :] - point[:, :, None] * at_bar[node][:, None, :]
        change -= way[:, :, None] * (way[:, :, None] * change).sum(axis=1, keepdims=True)
        information = np.einsum("nci,ncj,n->ij", change, change, weight) / _ALIKE
        wanted = np.einsum("nci,nc,n->i", change, left, weight) / _ALIKE
        covariance = np.linalg.inv(information + prior)
        theta = theta + covariance @ (wanted - prior @ theta)
    return Gain(shape, middle, theta, covariance, off)


def _averaged(rgb: np.ndarray) -> np.ndarray:
    import cv2

    return cv2.blur(rgb, (5, 5)).astype(float)


def glare_in(rgb: np.ndarray, bar: ScreenBar) -> np.ndarray:
    """Mask (rows, columns) of saturated patches and a rim around them; none where the bar itself is as bright."""
    import cv2

    mask = (rgb.min(axis=2) >= _SATURATED).astype(np.uint8)
    if bar.rgb.min(axis=1).max() >= _SATURATED - 6 or not mask.any():
        return np.zeros(rgb.shape[:2], bool)
    rim = 2 * max(rgb.shape[0] // 20, 2) + 1
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    return cv2.dilate(mask, np.ones((rim, rim), np.uint8)).astype(bool)


def brightness(rgb: np.ndarray) -> np.ndarray:
    """Log of luma, float32, of a small copy, for `stripes`."""
    import cv2

    size = (max(round(rgb.shape[1] * _TALL / rgb.shape[0]), 1), _TALL)
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    return np.log(small @ np.float32([0.299, 0.587, 0.114]) + 4.0)


def stripes(now: np.ndarray, usual: np.ndarray) -> float:
    """How strong the bands are that `now` has and the `usual` picture has not: standard deviation of the share of
    the level. Bands run over the whole picture: what shows in all three thirds of it is one, a warming part is not.
    """
    change = now - usual
    return max(_banded(change), _banded(change.T))


def _banded(change: np.ndarray) -> float:
    thirds = np.array_split(change, 3, axis=1)
    run = np.linspace(-1.0, 1.0, change.shape[0])
    smooth = np.polynomial.legendre.legvander(run, 2)
    profiles = np.stack([np.median(third, axis=1) for third in thirds], axis=1)
    profiles = profiles - smooth @ np.linalg.lstsq(smooth, profiles, rcond=None)[0]
    together = profiles.T @ profiles / len(run)
    return float(np.sqrt(max(min(together[0, 1], together[0, 2], together[1, 2]), 0.0)))
