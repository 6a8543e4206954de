"""The sample of frames -> maps of how much each pixel looks like the middle of a small round spot.

A pin shows as a round spot, brighter or darker than what is around it: in the frames themselves where its
emissivity differs, in what they gained on the first one where it is heated. Wires and edges are long: they
curve in one direction only, so that the lesser of the two principal curvatures is near nought on them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.records import Frame
from hotspot.session import Region

SCALES_PX: tuple[float, ...] = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0)
"""Standard deviations of the smoothing. A disc of radius r answers most at r / sqrt(2) (Lindeberg, Int. J.
Computer Vision 30(2), 1998; from memory)."""


@dataclass(frozen=True)
class View:
    """One map, (rows, columns): `spots` 0 to 1 whatever the contrast, seen at `scale_px`."""

    spots: np.ndarray
    scale_px: float


def views(sample: Sequence[Frame], regions: Iterable[Region] = ()) -> list[View]:
    """A map per scale: the mean over the frames and over what they gained on the first, of the square root of the
    spots, so that a few plain ones do not stand for all."""
    stack = [_filled(frame.celsius()) for frame in sample if frame.shape == sample[0].shape]
    pictures = stack + [late - stack[0] for late in stack[1:]]
    blank = _blank(stack[0].shape, regions)
    found = []
    for scale in SCALES_PX:
        if 8.0 * scale > min(stack[0].shape):
            continue
        spots = np.mean([np.sqrt(_spots(picture, scale)) for picture in pictures], axis=0)
        found.append(View(np.where(blank, 0.0, spots), scale))
    return found


def outline_of(sample: Sequence[Frame]) -> np.ndarray:
    """Steepness of the mean picture, float32 (rows, columns), compressed so that faint edges count beside strong."""
    import cv2

    mean = np.mean([_filled(frame.celsius()) for frame in sample if frame.shape == sample[0].shape], axis=0)
    steep = np.hypot(*np.gradient(cv2.GaussianBlur(mean, (0, 0), 1.0)))
    return np.log1p(steep / (3.0 * np.median(steep) + 1e-9)).astype(np.float32)


def turn_of(sample: Sequence[Frame]) -> float:
    """Angle [rad], within +-45°, by which most edges of the pictures are turned from the picture's own.

    The direction of gradients times four, so that the four sides of a housing and its wires all say the same.
    """
    import cv2

    total = 0j
    for frame in sample:
        smooth = cv2.GaussianBlur(_filled(frame.celsius()), (0, 0), 1.5)
        down, right = np.gradient(smooth)
        steep = np.hypot(down, right)
        strong = steep > 3.0 * np.median(steep)
        total += np.sum(steep[strong] ** 2 * np.exp(4j * np.arctan2(down, right)[strong])) / (np.sum(steep**2) + 1e-12)
    return float(np.angle(total) / 4.0)


def _spots(picture: np.ndarray, scale: float) -> np.ndarray:
    """The lesser principal curvature over the steepest slope near by and the picture's own unrest.

    Next to an edge the slope drowns it; a spot of any contrast has about the same share. 0 on saddles.
    """
    import cv2

    smooth = cv2.GaussianBlur(picture, (0, 0), scale, borderType=cv2.BORDER_REPLICATE)
    padded = np.pad(smooth, 1, mode="edge")
    inner = padded[1:-1, 1:-1]
    down = padded[2:, 1:-1] - 2.0 * inner + padded[:-2, 1:-1]
    right = padded[1:-1, 2:] - 2.0 * inner + padded[1:-1, :-2]
    mixed = 0.25 * (padded[2:, 2:] - padded[2:, :-2] - padded[:-2, 2:] + padded[:-2, :-2])
    middle, half = 0.5 * (down + right), np.hypot(0.5 * (down - right), mixed)
    lesser = scale**2 * np.maximum(np.abs(middle) - half, 0.0)
    slope = scale * 0.5 * np.hypot(padded[2:, 1:-1] - padded[:-2, 1:-1], padded[1:-1, 2:] - padded[1:-1, :-2])
    reach = 2 * int(np.ceil(1.5 * scale)) + 1
    steepest = cv2.dilate(slope, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    unrest = scale**2 * float(np.median(np.abs(middle)))
    return np.minimum(lesser / (steepest + 4.0 * unrest + 1e-9), 1.0)


def _filled(celsius: np.ndarray) -> np.ndarray:
    """Pixels without a value take the median of the picture: flat, no spot."""
    there = np.isfinite(celsius)
    if there.all():
        return celsius
    return np.where(there, celsius, np.median(celsius[there]) if there.any() else 0.0)


def _blank(shape: tuple[int, int], regions: Iterable[Region]) -> np.ndarray:
    """Pixels (rows, columns) in which no pin is looked for: regions to ignore, and those of the ambient."""
    blank = np.zeros(shape, dtype=bool)
    for region in regions:
        if region.kind in {"ignore", "ambient"}:
            x, y, width, height = (round(value) for value in region.box)
            blank[max(y, 0) : max(y + height, 0), max(x, 0) : max(x + width, 0)] = True
    return blank
