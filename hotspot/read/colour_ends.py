"""Which pixels of a compressed picture are at an end of the scale, and which compression only put there.

A surface a little below the top of the scale is noisy in a compressed picture, and a few of its pixels come out in the
end's colour; a surface past the top is that colour nearly everywhere, but for its rim; a hot strand is a few pixels of
it on ground that is far below. So the pixels at the end are weighed against those about them that are nearly as warm:
few of many are noise, most of them are not, and where there are none nearly as warm, a few count. One pixel by itself
never does: a slip to another branch of the map makes such.

Where lightness hardly changes towards the end (`hot`: 1.8 levels over the last 1.5 % of the scale, and a JPEG's noise
at quality 75 is as large) a fifth to a half of a surface 3 % below the end comes out at it. There the mean of nine
pixels must lie at the end: it keeps a third of the noise of one, but is moved by the rim of a pin of four pixels, so
that one pin in six past such an end, the small ones, stays a doubt.

The numbers were settled on simulated pictures (twelve maps, JPEG 75 and 95, seeds 8110-8123 and 15200-15211): of 936
surfaces 3 % below the top none is marked at quality 75.
"""

from __future__ import annotations

import numpy as np

AT_END = 0.015  # of the scale: within this of the end a compressed pixel may be at it
NEAR_TOP = 0.03  # of the scale: so far below the top compression leaves a strand of few pixels that is past it
_NEARLY = 0.07  # of the scale: within this of the end a pixel is nearly as warm
_SHARE = 1.0 / 3.0  # of the pixels nearly as warm: surfaces 3 % below the top have 31 % at most, those past it more
_FLAT = 2.0  # levels of luma over AT_END: a map's end that changes by less is flat
_REACH = 4  # px about a pixel
_PATCH = 2  # px, itself and its eight neighbours


def _disc() -> np.ndarray:
    down, across = np.indices((2 * _REACH + 1, 2 * _REACH + 1)) - _REACH
    return (np.hypot(down, across) <= _REACH + 0.3).astype(np.float32)


def held_up(from_end: np.ndarray, levels: float) -> np.ndarray:
    """Which pixels (rows, columns) are at the end; `from_end` is how far from it each lies, shares of the scale, NaN
    where that is not known. `levels` is by how many levels of luma the map changes over the last AT_END.
    """
    import cv2

    def about(values: np.ndarray, kernel: np.ndarray) -> np.ndarray:
        return cv2.filter2D(values.astype(np.float32), -1, kernel, borderType=cv2.BORDER_CONSTANT)

    at = from_end < AT_END
    nine = np.ones((3, 3), np.float32)
    if levels < _FLAT:
        known = np.isfinite(from_end)
        total, count = about(np.where(known, from_end, 0.0), nine), about(known, nine)
        middles = total < AT_END * count
        return at & (about(middles & (count > _PATCH), nine) > 0.5)
    nearly = about(from_end < _NEARLY, _disc())
    patch = about(at, nine) > _PATCH - 0.5
    return at & patch & (about(at, _disc()) > _SHARE * nearly - 1e-3)


def deciding(rows: np.ndarray, columns: np.ndarray, shape: tuple[int, int]) -> tuple[tuple[int, int], np.ndarray]:
    """Which pixels of a picture of `shape` decide on n pixels: a mask of the part that holds them, and the row and the
    column where it begins.
    """
    import cv2

    (top, bottom), (left, right) = (
        (max(int(each.min()) - _REACH, 0), min(int(each.max()) + _REACH + 1, size))
        for each, size in zip((rows, columns), shape, strict=True)
    )
    mask = np.zeros((bottom - top, right - left), np.uint8)
    mask[rows - top, columns - left] = 1
    return (top, left), cv2.dilate(mask, _disc().astype(np.uint8)) > 0
