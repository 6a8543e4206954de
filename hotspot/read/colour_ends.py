"""Which pixels of a compressed picture are at an end of the scale, and which compression only put there.

A surface a little below the top of the scale is noisy in a compressed picture, and a few of its pixels come out in the
end's colour; a surface past the top is that colour nearly everywhere, but for its rim; a hot strand is a few pixels of
it on ground that is far below. So the pixels at the end are weighed against those about them that are nearly as warm:
few of many are noise, most of them are not, and where there are none nearly as warm, a few count. One pixel by itself
never does: a slip to another branch of the map makes such.

The numbers were settled on simulated pictures (twelve maps, JPEG 75-95, seeds 8110-8123): of surfaces 3 % below the top
all but one in 500 stay without a mark, of those past it none.
"""

from __future__ import annotations

import numpy as np

AT_END = 0.015  # of the scale: within this of the end a compressed pixel may be at it
NEAR_TOP = 0.03  # of the scale: so far below the top compression leaves a strand of few pixels that is past it
_NEARLY = 0.07  # of the scale: within this of the end a pixel is nearly as warm
_SHARE = 0.35  # of the pixels nearly as warm: surfaces 3 % below the top have 3-8 % at the end, those past it most
_REACH = 4  # px about a pixel
_PATCH = 2  # px, itself and its eight neighbours


def _disc() -> np.ndarray:
    down, across = np.indices((2 * _REACH + 1, 2 * _REACH + 1)) - _REACH
    return (np.hypot(down, across) <= _REACH + 0.3).astype(np.float32)


def held_up(from_end: np.ndarray) -> np.ndarray:
    """Which pixels (rows, columns) are at the end; `from_end` is how far from it each lies, shares of the scale, NaN
    where that is not known.
    """
    import cv2

    def about(mask: np.ndarray, kernel: np.ndarray) -> np.ndarray:
        return cv2.filter2D(mask.astype(np.float32), -1, kernel, borderType=cv2.BORDER_CONSTANT)

    at = from_end < AT_END
    nearly = about(from_end < _NEARLY, _disc())
    patch = about(at, np.ones((3, 3), np.float32)) > _PATCH - 0.5
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
