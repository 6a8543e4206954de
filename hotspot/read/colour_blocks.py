"""Chroma that was halved, set right with the detail that luma shows.

A lossy picture keeps one chroma sample for 2x2 pixels (ITU-T T.81, T.871; the same in H.264's 4:2:0) and shows
it smeared over its neighbours. Luma keeps every pixel, so a first reading already knows how the chroma inside each
2x2 block runs; what averaging and smearing take from that reading is added to the chroma that was seen, and the
colour is read again. Two such passes are enough: more change nothing to speak of.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from hotspot.read.colour_curve import Curve
from hotspot.read.colour_image import Between, ColourImage

_PASSES = 2
_MOST_KEPT = 20_000  # pixels: the layouts of pins are kept from frame to frame, those of whole pictures are not


def sharpened(
    image: ColourImage, curve: Curve, rows: np.ndarray, columns: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For n pixels: place along the scale (n,), colour with its chroma set right (n, 3), and the luma step
    around the pixel in levels (n,). Reads no more of the picture than the blocks next to the pixels.
    """
    if not len(rows):
        return np.zeros(0), np.zeros((0, 3)), np.zeros(0)
    laid_out = _kept_layout if len(rows) <= _MOST_KEPT else _layout
    layout = laid_out(rows.astype(np.int32).tobytes(), columns.astype(np.int32).tobytes(), image.shape)
    seen = image.ycc_at(layout.rows, layout.columns)
    first = curve.colours_at(curve.place_of(seen))
    read = _Read(seen.astype(np.float32), first.astype(np.float32), _block_means(first).astype(np.float32))
    for ring in layout.rings:
        better = curve.colours_at(curve.place_of(read.set_right(ring)[0]))
        read.colours[ring.pixels] = better
        read.means[ring.blocks] = _block_means(better)
    right, activity = read.set_right(layout.asked)
    return curve.place_of(right), right, activity


@dataclass(frozen=True, slots=True)
class _Ring:
    """n pixels by their place in the layout; their whole blocks (none for single pixels); `corners` (4, n) the four
    blocks about each pixel, and their `weights`, four of (n, 1)."""

    pixels: np.ndarray
    blocks: np.ndarray
    corners: np.ndarray
    weights: tuple[np.ndarray, ...]


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where the blocks next to the asked pixels lie: all their pixels, four of a block after each other, and what is
    read again in each further pass, inwards. The same for every frame of a session."""

    rows: np.ndarray
    columns: np.ndarray
    rings: tuple[_Ring, ...]
    asked: _Ring


def _layout(rows_bytes: bytes, columns_bytes: bytes, shape: tuple[int, int]) -> _Layout:
    """The layout for pixels given as the bytes of int32 rows and columns."""
    rows, columns = (np.frombuffer(each, np.int32).astype(np.intp) for each in (rows_bytes, columns_bytes))
    small = (-(-shape[0] // 2), -(-shape[1] // 2))
    mask = np.zeros(small, dtype=bool)
    mask[rows // 2, columns // 2] = True
    reach = [_grown(mask)]
    for _ in range(_PASSES - 1):
        reach.append(_grown(reach[-1]))
    widest = reach.pop()
    numbers = np.zeros(small, dtype=np.intp)
    numbers[widest] = np.arange(np.count_nonzero(widest))
    rings = []
    for mask in reversed(reach):
        blocks = numbers[mask]
        pixels = (4 * blocks[:, None] + np.arange(4)).ravel()
        rings.append(_Ring(pixels, blocks, *_about(*_pixels_of(mask, shape), shape, numbers)))
    pixels = 4 * numbers[rows // 2, columns // 2] + 2 * (rows % 2) + columns % 2
    asked = _Ring(pixels, pixels[:0], *_about(rows, columns, shape, numbers))
    return _Layout(*_pixels_of(widest, shape), tuple(rings), asked)


_kept_layout = lru_cache(maxsize=4)(_layout)


def _pixels_of(mask: np.ndarray, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """All pixels of the masked blocks, four after each other; an odd last row or column stands for two."""
    rows, columns = np.nonzero(mask)
    down = np.minimum(2 * rows[:, None] + (0, 0, 1, 1), shape[0] - 1)
    across = np.minimum(2 * columns[:, None] + (0, 1, 0, 1), shape[1] - 1)
    return down.ravel(), across.ravel()


def _about(
    rows: np.ndarray, columns: np.ndarray, shape: tuple[int, int], numbers: np.ndarray
) -> tuple[np.ndarray, tuple[np.ndarray, ...]]:
    """Numbers of the four blocks about each pixel (4, n), and their weights."""
    between = Between.of(rows, columns, shape, numbers.shape)
    down, across = between.share_down[:, None], between.share_across[:, None]
    weights = ((1 - down) * (1 - across), (1 - down) * across, down * (1 - across), down * across)
    return between.corners(numbers), weights


def _block_means(colours: np.ndarray) -> np.ndarray:
    """Means (b, 3) over the four pixels of each block."""
    return (colours[::4] + colours[1::4] + colours[2::4] + colours[3::4]) / 4.0


@dataclass(slots=True)
class _Read:
    """Colours as seen and as last read, per pixel of the layout, and the means of the latter per block; float32."""

    seen: np.ndarray
    colours: np.ndarray
    means: np.ndarray

    def set_right(self, ring: _Ring) -> tuple[np.ndarray, np.ndarray]:
        """Seen colours (n, 3) with the chroma detail that was lost, and the luma step around each pixel (n,)."""
        right, own = self.seen.take(ring.pixels, axis=0), self.colours.take(ring.pixels, axis=0)
        corners = self.means.take(ring.corners, axis=0)
        chroma, luma = corners[..., 1:], corners[..., 0]
        right[:, 1:] += own[:, 1:] - sum(weight * corner for weight, corner in zip(ring.weights, chroma, strict=True))
        highest = np.maximum(np.maximum(luma[0], luma[1]), np.maximum(luma[2], luma[3]))
        lowest = np.minimum(np.minimum(luma[0], luma[1]), np.minimum(luma[2], luma[3]))
        return right, np.maximum(highest, own[:, 0]) - np.minimum(lowest, own[:, 0])


def _grown(mask: np.ndarray) -> np.ndarray:
    """A mask and its eight neighbours."""
    wide = np.pad(mask, 1)
    wide = wide[:-2] | wide[1:-1] | wide[2:]
    return wide[:, :-2] | wide[:, 1:-1] | wide[:, 2:]
