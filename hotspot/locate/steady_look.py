"""A frame made ready for laying on others: only what its edges look like, whatever their contrast.

The smooth part of a frame is taken out and the rest divided by its own strength near by: the outline of a housing looks
the same when it stands out by 2 K or by 40 K, on the side that is warm and on the one that is cold. Where there is only
noise it stays small. This is local normalisation of mean and strength, common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SMOOTHING_PX = 0.8
"""Standard deviation of the first smoothing. Ours: less leaves steps between pixels, more leaves less to hold on to."""

FINE_PX, WIDE_PX = (2.0, 4.0), (6.0, 12.0)
"""Smoothing that is taken out, and how far `near by` is; for frames that lie within a pixel or two, and for others.
Ours, tried on two made scenes: 2 and 4 px left half the error of 5 and 10."""

FLOOR = 4.0
"""Strength below which what is left counts as flat, in units of the noise. Ours."""

_WIDE_SMOOTHING_PX = 2.5
LEAST_NOISE_K = 0.003


@dataclass(frozen=True)
class Look:
    """One frame. `picture` float32 (rows, columns) has about unit strength at edges; `noise` is that of its pixels;
    `usable` uint8 is 1 where it may be looked at; `base` is the frame in K, little smoothed, gaps filled."""

    picture: np.ndarray
    noise: np.ndarray
    usable: np.ndarray
    base: np.ndarray
    noise_k: float

    @classmethod
    def of(cls, grey: np.ndarray, marks: np.ndarray, noise_k: float) -> Look:
        """From a frame in °C (rows, columns), NaN where there is none. `marks` uint8 is 0 where nothing must be seen;
        `noise_k` is the noise of a pixel."""
        there = np.isfinite(grey)
        usable = marks if there.all() else marks * there.astype(np.uint8)
        base = grey
        if not usable.all():
            known = grey[usable > 0]
            base = np.where(usable > 0, grey, np.median(known) if known.size else 0.0)
        base = _smooth(base.astype(np.float32, copy=False), usable, SMOOTHING_PX)
        noise = max(noise_k, LEAST_NOISE_K) / (2.0 * np.sqrt(np.pi) * SMOOTHING_PX)
        return cls.of_base(base, usable, noise)

    @classmethod
    def of_base(cls, base: np.ndarray, usable: np.ndarray, noise_k: float) -> Look:
        """From a frame that is smoothed already, in K; `noise_k` is that of a smoothed pixel."""
        return cls(*_normalised(base, usable, noise_k, FINE_PX), usable, base, noise_k)

    def wide(self) -> Look:
        """The same with the fine things gone."""
        base = _smooth(self.base, self.usable, _WIDE_SMOOTHING_PX)
        noise = self.noise_k * SMOOTHING_PX / _WIDE_SMOOTHING_PX
        return Look(*_normalised(base, self.usable, noise, WIDE_PX), self.usable, base, noise)


def _smooth(picture: np.ndarray, usable: np.ndarray, width_px: float) -> np.ndarray:
    """Gaussian smoothing that leaves out what must not be looked at."""
    import cv2

    if usable.all():
        return cv2.GaussianBlur(picture, (0, 0), width_px)
    middle = np.float32(np.median(picture[::3, ::3]))
    weight = cv2.GaussianBlur(usable.astype(np.float32), (0, 0), width_px)
    return cv2.GaussianBlur((picture - middle) * usable, (0, 0), width_px) / np.maximum(weight, 0.02) + middle


def _normalised(
    base: np.ndarray, usable: np.ndarray, noise: float, widths: tuple[float, float]
) -> tuple[np.ndarray, np.ndarray]:
    """The edges at about unit strength, and the noise in the same units."""
    import cv2

    rest = (base - _smooth(base, usable, widths[0])) * usable
    side = 2 * round(1.2 * widths[1]) + 1  # two boxes in a row are nearly a Gaussian of that width
    strength = cv2.blur(cv2.blur(rest * rest, (side, side)), (side, side))
    gain = 1.0 / np.sqrt(strength + np.float32((FLOOR * noise) ** 2))
    return rest * gain, np.float32(noise) * gain


def noise_of(grey: np.ndarray) -> float:
    """Noise of a pixel from what a frame holds beyond a curved surface: MAD of a twice taken second difference
    (Immerkær, Computer Vision and Image Understanding 64(2):300, 1996; cited from memory; MAD in place of the mean);
    at least that of the steps in which it is stored, step / sqrt(12) (JCGM 100:2008, F.2.2.1).
    """
    across = grey[:, :-2] - 2.0 * grey[:, 1:-1] + grey[:, 2:]
    both = across[:-2] - 2.0 * across[1:-1] + across[2:]
    both = both[np.isfinite(both)]
    steps = np.diff(np.unique(grey[np.isfinite(grey)][::3]))
    stored = float(np.median(steps)) / np.sqrt(12.0) if steps.size else 0.0
    return max(stored, 1.4826 * float(np.median(np.abs(both))) / 6.0 if both.size else 0.0)
