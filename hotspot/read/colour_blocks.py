"""Chroma that was halved, set right with the detail that luma shows.

A lossy picture keeps one chroma sample for 2x2 pixels (ITU-T T.81, T.871; the same in H.264's 4:2:0) and shows
it smeared over its neighbours. Luma keeps every pixel, so a first reading already knows how the chroma inside each
2x2 block runs; what averaging and smearing take from that reading is added to the chroma that was seen, and the
colour is read again. Two such passes are enough: more change nothing to speak of.
"""

from __future__ import annotations

import numpy as np

from hotspot.read.colour_curve import Curve
from hotspot.read.colour_image import Between, ColourImage

_PASSES = 2


def sharpened(
    image: ColourImage, curve: Curve, rows: np.ndarray, columns: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For n pixels: place along the scale (n,), colour with its chroma set right (n, 3), and the luma step
    around the pixel in levels (n,). Reads no more of the picture than the blocks next to the pixels.
    """
    if not len(rows):
        return np.zeros(0), np.zeros((0, 3)), np.zeros(0)
    blocks = _Blocks(image)
    reach = [blocks.around(rows, columns)]
    for _ in range(_PASSES - 1):
        reach.append(_grown(reach[-1]))
    here = blocks.pixels_of(reach.pop())
    seen = image.ycc_at(*here)
    blocks.seen[here] = seen
    blocks.take(here, curve.colours_at(curve.place_of(seen)))
    while reach:
        here = blocks.pixels_of(reach.pop())
        blocks.take(here, curve.colours_at(curve.place_of(blocks.set_right(here)[0])))
    right, activity = blocks.set_right((rows, columns))
    return curve.place_of(right), right, activity


class _Blocks:
    """Colours as seen and as last read, per pixel, and the means of the latter over 2x2 blocks."""

    def __init__(self, image: ColourImage) -> None:
        self.shape = image.shape
        self.small = (-(-self.shape[0] // 2), -(-self.shape[1] // 2))
        self.seen = np.empty((*self.shape, 3), np.float32)
        self.colours = np.empty((*self.shape, 3), np.float32)
        self.means = np.zeros((*self.small, 3), np.float32)

    def around(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Mask of the blocks that hold these pixels or touch those that do."""
        mask = np.zeros(self.small, dtype=bool)
        mask[rows // 2, columns // 2] = True
        return _grown(mask)

    def pixels_of(self, mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """All pixels of the masked blocks, four after each other; an odd last row or column stands for two."""
        rows, columns = np.nonzero(mask)
        down = np.minimum(2 * rows[:, None] + (0, 0, 1, 1), self.shape[0] - 1)
        across = np.minimum(2 * columns[:, None] + (0, 1, 0, 1), self.shape[1] - 1)
        return down.ravel(), across.ravel()

    def take(self, where: tuple[np.ndarray, np.ndarray], colours: np.ndarray) -> None:
        """Keep colours (n, 3) read at the pixels of whole blocks."""
        rows, columns = where
        self.colours[rows, columns] = colours
        mean = (colours[::4] + colours[1::4] + colours[2::4] + colours[3::4]) / 4.0
        self.means[rows[::4] // 2, columns[::4] // 2] = mean

    def set_right(self, where: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
        """Seen colours (n, 3) with the chroma detail that was lost, and the luma step around each pixel (n,)."""
        between = Between.of(*where, self.shape, self.small)
        own = self.colours[where]
        corners = between.corners(self.means)
        right = self.seen[where]
        right[:, 1:] += (own - between.mixed(corners))[:, 1:]
        luma = corners[..., 0]
        highest = np.maximum(np.maximum(luma[0], luma[1]), np.maximum(luma[2], luma[3]))
        lowest = np.minimum(np.minimum(luma[0], luma[1]), np.minimum(luma[2], luma[3]))
        return right, np.maximum(highest, own[:, 0]) - np.minimum(lowest, own[:, 0])


def _grown(mask: np.ndarray) -> np.ndarray:
    """A mask and its eight neighbours."""
    wide = np.pad(mask, 1)
    wide = wide[:-2] | wide[1:-1] | wide[2:]
    return wide[:, :-2] | wide[:, 1:-1] | wide[:, 2:]
