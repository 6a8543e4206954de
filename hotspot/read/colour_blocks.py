"""Chroma that was halved, set right with the detail that luma shows.

A lossy picture keeps one chroma sample for 2x2 pixels (ITU-T T.81, T.871; the same in H.264's 4:2:0) and shows
it smeared over its neighbours. Luma keeps every pixel, so a first reading already knows how the chroma inside each
2x2 block runs. Halved as the encoder halved it, that reading should give the sample that is there; what it misses is
added to the block's pixels, and the colour is read again.

Encoders differ in how they halve: the plain mean of the four, a softer one over the rows beside them (scaling
programs), or a sample that stands on the left pixels (the usual place in video: ITU-T H.273, chroma sample location
type 0). On the small hot pins that matter most the difference is a quarter of a per cent of the scale, so the picture
is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from hotspot.read.colour_curve import Curve
from hotspot.read.colour_image import LIMITED_CHROMA, ColourImage, rgb_to_ycc
from hotspot.read.colour_luma import step_around

_PASSES = 3
_MOST_KEPT = 20_000  # pixels: the layouts of pins are kept from frame to frame, those of whole pictures are not

Taps = tuple[float, float, float, float, float, float]
"""Weights of six pixels in a row, from two before a block's first to two after its second."""

MEAN: Taps = (0.0, 0.0, 0.5, 0.5, 0.0, 0.0)
_SOFT: Taps = (0.0, 0.125, 0.375, 0.375, 0.125, 0.0)
_FIRST: Taps = (0.0, 0.25, 0.5, 0.25, 0.0, 0.0)
# A plain mean that was spread by the triangle of 3/4 and 1/4 (libjpeg and its kin) and averaged again.
_SPREAD: Taps = (1 / 16, 1 / 16, 6 / 16, 6 / 16, 1 / 16, 1 / 16)
_CLEARLY = 0.95  # of the plain mean's misfit: another way must fit better than that
_UNEVEN = 8.0  # levels of luma within two pixels: where ways of halving differ
_FEWEST, _MOST = 100, 4_000  # pixels to look at
_FEWEST_LEVELS = 60.0  # of chroma from end to end of the map


@dataclass(frozen=True, slots=True)
class Halving:
    """How chroma became one sample for 2x2 pixels, down and across."""

    down: Taps = MEAN
    across: Taps = MEAN


_WAYS = (
    Halving(),
    Halving(_SOFT, MEAN),
    Halving(_SOFT, _SOFT),
    Halving(MEAN, _FIRST),
    Halving(_SOFT, _FIRST),
    Halving(_FIRST, _FIRST),
)

DECODED = Halving(_SPREAD, _SPREAD)
"""Of pictures that are at hand only as the RGB that a decoder made."""


def sharpened(
    image: ColourImage, curve: Curve, halving: Halving, rows: np.ndarray, columns: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For n pixels: place along the scale (n,), colour with its chroma set right (n, 3), and the luma step
    around the pixel in levels (n,). Reads no more of the picture than the blocks next to the pixels.
    """
    if not len(rows):
        return np.zeros(0), np.zeros((0, 3)), np.zeros(0)
    activity = step_around(image.luma(), rows, columns)
    if not _halved(image):
        seen = image.ycc_at(rows, columns)
        return curve.place_of(seen), seen, activity
    laid_out = _kept_layout if len(rows) <= _MOST_KEPT else _layout
    layout = laid_out(rows.astype(np.int32).tobytes(), columns.astype(np.int32).tobytes(), image.shape)
    place, right, _ = _set_right(image, curve, halving, layout)
    return place[layout.asked], right[layout.asked].astype(np.float64), activity


def _set_right(
    image: ColourImage, curve: Curve, halving: Halving, layout: _Layout
) -> tuple[np.ndarray, np.ndarray, float]:
    """Places (4 b,) and colours (4 b, 3) of a layout's pixels, true for the innermost ring; and by how many levels the
    reading before the last still missed the samples there, on average.
    """
    right = image.ycc_at(layout.rows, layout.columns).astype(np.float32)
    samples = layout.samples(image, right)
    place, missed = curve.place_of(right), samples
    for blocks in layout.rings:
        chroma = curve.colours_at(place)[:, 1:]
        missed = samples[blocks] - layout.halved(chroma, halving, blocks)
        pixels = (4 * blocks[:, None] + np.arange(4)).ravel()
        right[pixels, 1:] = chroma[pixels] + np.repeat(missed, 4, axis=0)
        place[pixels] = curve.place_of(right[pixels])
    return place, right, float(np.abs(missed).mean())


def halving_of(image: ColourImage, curve: Curve) -> tuple[Halving, float | None]:
    """The way of halving by which a video's luma explains its chroma best, and by how many levels it misses it; the
    plain mean unless another is clearly better. None where there is too little to tell. `curve` must be led by luma.
    """
    if image.planes is None:
        return DECODED, None
    if not _halved(image) or np.ptp(curve.points[:, 1:]) < _FEWEST_LEVELS:
        return Halving(), None
    rows, columns = (each.ravel() for each in np.indices(image.shape))
    uneven = step_around(image.luma(), rows, columns) > _UNEVEN
    rows, columns = rows[uneven], columns[uneven]
    if len(rows) < _FEWEST:
        return Halving(), None
    spread = slice(None, None, -(-len(rows) // _MOST))
    layout = _layout(rows[spread].astype(np.int32).tobytes(), columns[spread].astype(np.int32).tobytes(), image.shape)
    misfits = [_set_right(image, curve, way, layout)[2] for way in _WAYS]
    best = int(np.argmin(misfits))
    best = best if misfits[best] < _CLEARLY * misfits[0] else 0
    return _WAYS[best], misfits[best]


def chroma_step_around(image: ColourImage, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Difference of the highest and the lowest chroma within two pixels of each of n, in levels (n,)."""
    if image.planes is not None:
        down, across = (-(-size // count) for size, count in zip(image.shape, image.planes[1].shape, strict=True))
        steps = [step_around(plane, rows // down, columns // across, 2 // down) for plane in image.planes[1:]]
        return np.hypot(*steps) * (LIMITED_CHROMA if image.limited_range else 1.0)
    whole = rgb_to_ycc(image.rgb, image.matrix) if image.ycc is None else image.ycc
    return np.hypot(*(step_around(whole[..., k], rows, columns) for k in (1, 2)))


def _halved(image: ColourImage) -> bool:
    """Whether chroma is at hand, or was once, for 2x2 pixels: RGB says nothing, so most likely it was."""
    return image.planes is None or image.planes[1].shape == tuple(-(-size // 2) for size in image.shape)


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where the blocks next to the asked pixels lie: all their pixels, four of a block after each other; the blocks
    that are read again in each pass, inwards; the numbers of the blocks above, below, left and right of each (its own
    where there is none); and where the asked pixels are. The same for every frame of a session."""

    rows: np.ndarray
    columns: np.ndarray
    rings: tuple[np.ndarray, ...]
    beside: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]
    asked: np.ndarray

    def samples(self, image: ColourImage, seen: np.ndarray) -> np.ndarray:
        """Chroma samples (b, 2) of the blocks; of RGB the means of what is `seen` (4 b, 3)."""
        if image.planes is None:
            return (seen[::4, 1:] + seen[1::4, 1:] + seen[2::4, 1:] + seen[3::4, 1:]) / 4.0
        rows, columns = self.rows[::4] // 2, self.columns[::4] // 2
        codes = np.stack([np.zeros(len(rows)), *(plane[rows, columns] for plane in image.planes[1:])], axis=1)
        return image.full_range(codes)[:, 1:].astype(np.float32)

    def halved(self, chroma: np.ndarray, halving: Halving, blocks: np.ndarray) -> np.ndarray:
        """The samples (k, 2) that the chroma of all pixels (4 b, 2) would give for some of the blocks."""
        pixels = chroma.reshape(-1, 2, 2, 2)  # block, row, column, Cb and Cr
        above, below, left, right = self.beside
        lines = _tapped(halving.down, pixels[:, 0], pixels[:, 1], (above, np.arange(len(pixels)), below))
        return _tapped(halving.across, lines[:, 0], lines[:, 1], (left[blocks], blocks, right[blocks]))


def _tapped(taps: Taps, first: np.ndarray, second: np.ndarray, blocks: tuple[np.ndarray, ...]) -> np.ndarray:
    """Weighted sum over the first and second pixels of the blocks before, of the blocks and of those after."""
    weighted = zip(taps, [(values, at) for at in blocks for values in (first, second)], strict=True)
    return sum(np.float32(tap) * values[at] for tap, (values, at) in weighted if tap)


def _layout(rows_bytes: bytes, columns_bytes: bytes, shape: tuple[int, int]) -> _Layout:
    """The layout for pixels given as the bytes of int32 rows and columns."""
    rows, columns = (np.frombuffer(each, np.int32).astype(np.intp) for each in (rows_bytes, columns_bytes))
    mask = np.zeros((-(-shape[0] // 2), -(-shape[1] // 2)), dtype=bool)
    mask[rows // 2, columns // 2] = True
    reach = [mask]
    for _ in range(_PASSES):
        reach.append(_grown(reach[-1]))
    widest = reach.pop()
    numbers = np.full(np.add(mask.shape, 2), -1, dtype=np.intp)
    inner = numbers[1:-1, 1:-1]
    inner[widest] = np.arange(np.count_nonzero(widest))
    beside = []
    for down, across in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        near = np.roll(numbers, (-down, -across), axis=(0, 1))[1:-1, 1:-1][widest]
        beside.append(np.where(near < 0, inner[widest], near))
    rings = tuple(inner[mask] for mask in reversed(reach))
    asked = 4 * inner[rows // 2, columns // 2] + 2 * (rows % 2) + columns % 2
    return _Layout(*_pixels_of(widest, shape), rings, tuple(beside), asked)


_kept_layout = lru_cache(maxsize=4)(_layout)


def _pixels_of(mask: np.ndarray, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """All pixels of the masked blocks, four after each other; an odd last row or column stands for two."""
    rows, columns = np.nonzero(mask)
    down = np.minimum(2 * rows[:, None] + (0, 0, 1, 1), shape[0] - 1)
    across = np.minimum(2 * columns[:, None] + (0, 1, 0, 1), shape[1] - 1)
    return down.ravel(), across.ravel()


def _grown(mask: np.ndarray) -> np.ndarray:
    """A mask and its eight neighbours."""
    wide = np.pad(mask, 1)
    wide = wide[:-2] | wide[1:-1] | wide[2:]
    return wide[:, :-2] | wide[:, 1:-1] | wide[:, 2:]
