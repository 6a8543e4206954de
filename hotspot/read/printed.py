"""What is printed on the pictures - digits, a cross, the clock, a logo - as one mask built from many frames.

Printed colours mostly lie far off the colour map. A small hot pin in a compressed picture lies off it as well,
by less: one frame cannot tell the two apart, and no pin is dropped for one frame's sake. A mark stands where it is, so
what lies far off in several frames spread over the test is one. Marks in the colour of an end of the map (white
on grey, black on most) are found as narrow strokes that stand out of their surroundings; the clipped face of a pin is
thicker than that. A narrow gap between warm blades is as dark as ink and as narrow, but it runs out into wide ground of
its own colour, which no letter does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from hotspot.read.colour_curve import Curve
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_pixels import OFF_EXACT, Reading, read_lossy

_FEWEST = 3  # frames: fewer do not tell a mark from a hot pin
_OFTEN, _MOSTLY = 0.15, 0.8  # share of the frames in which a mark shows: the clock's digits change, the rest stays
# Distances to the map in levels, for exact and for lossy pictures (there with chroma detail set right): what is off
# in a frame, what may stay off, and what belongs to a mark beside it. In simulated pictures (12 maps, JPEG 50-95,
# H.264) 99 in 100 pixels of pins lie under 25, the farthest at 42, and a tenth of each mark's at 38-67.
_FAR = (OFF_EXACT, 36.0)
_STEADY = (OFF_EXACT, 28.0)
_RIM = (2.0, 20.0)
_MARGIN = (1, 3)  # px around a mark that its soft edges and the compression spoil
_NOISE = 0.015  # of the scale: ground that is by less lighter than what counts as an end's colour is ground too
_WIDE = 8  # px: what holds a square of so many in an end's colour is ground, and what runs out into it no mark


@dataclass(frozen=True, slots=True)
class _Strokes:
    """Strokes in the colour of an end: `narrower` than so many px, standing out by more than `step` of the scale, of
    which at least `share` lie `within` so much of the end (thin letters are mostly in between), `long` px at least.

    `by_luma`: shares of black to white in place of the scale's. Black ink in a compressed picture is whole in luma and
    a blur in the halved chroma, and a map that begins in blue (gnuplot2) hardly lightens over its first tenth."""

    dark: bool
    narrower: int
    step: float
    within: float
    share: float
    long: int
    by_luma: bool = False


# For exact and for lossy pictures, settled on simulated ones (six maps, letters of 9-16 px, seeds 9400-9402; bare pins
# and blades 9450-9451). The fainter kinds are for black ink on dark ground only: faint light strokes may be hot ones.
_KINDS = (
    (
        _Strokes(dark=True, narrower=3, step=0.1, within=0.06, share=0.08, long=6),
        _Strokes(dark=False, narrower=3, step=0.1, within=0.06, share=0.08, long=6),
        _Strokes(dark=True, narrower=5, step=0.03, within=0.03, share=0.3, long=10),
    ),
    (
        _Strokes(dark=True, narrower=3, step=0.1, within=0.12, share=0.3, long=8),
        _Strokes(dark=False, narrower=3, step=0.1, within=0.12, share=0.08, long=6),
        _Strokes(dark=True, narrower=5, step=0.05, within=0.08, share=0.4, long=10),
        _Strokes(dark=True, narrower=5, step=0.04, within=0.02, share=0.3, long=10, by_luma=True),
    ),
)


@dataclass(slots=True)
class _Counts:
    """In how many of `frames` each pixel is far off, off, beside a mark; and for each kind of strokes part of one, of
    one at the end's colour, of wide ground in that colour (kinds, rows, columns)."""

    frames: int
    far: np.ndarray
    off: np.ndarray
    rim: np.ndarray
    stroke: np.ndarray
    end: np.ndarray
    ground: np.ndarray

    @classmethod
    def none(cls, shape: tuple[int, int], many: int) -> _Counts:
        """Of no frame, for so many kinds of strokes."""
        kinds = (many, *shape)
        return cls(0, *(np.zeros(shape, np.int32) for _ in range(3)), *(np.zeros(kinds, np.int32) for _ in range(3)))


def printed_mask(reading: Reading, images: Iterable[ColourImage]) -> np.ndarray | None:
    """Mask (rows, columns) of what is printed, from frames of one size; None from fewer than three, or unmarked."""
    counts: _Counts | None = None
    for image in images:
        if counts is None:
            counts = _Counts.none(image.shape, len(_KINDS[0 if reading.carrier.exact else 1]))
        _look(reading, image, counts)
    if counts is None or counts.frames < _FEWEST:
        return None
    mask = _mask_of(counts, 0 if reading.carrier.exact else 1)
    return mask if mask.any() else None


def _look(reading: Reading, image: ColourImage, counts: _Counts) -> None:
    """Add one frame."""
    exact = reading.carrier.exact
    kind = 0 if exact else 1
    rows, columns = (each.ravel() for each in np.indices(image.shape))
    colours = image.as_rgb()[rows, columns].astype(float) if exact else image.ycc_at(rows, columns)
    curve = reading.curve(image)
    place = curve.place_of(colours)
    off = _distance(curve, place, colours)
    counts.frames += 1
    counts.rim += (off > _RIM[kind]).reshape(image.shape)
    if not exact:
        doubtful = np.flatnonzero(off > _RIM[kind])
        better, right, _ = read_lossy(image, reading, rows[doubtful], columns[doubtful])
        off[doubtful] = _distance(curve, better, right)
    off = off.reshape(image.shape)
    counts.far += off > _FAR[kind]
    counts.off += off > _STEADY[kind]
    for k, strokes in enumerate(_KINDS[kind]):
        along = colours[:, 0] / 255.0 if strokes.by_luma else place
        stroke, end, ground = _strokes(along.reshape(image.shape), strokes)
        counts.stroke[k] += stroke
        counts.end[k] += end
        counts.ground[k] += ground


def _distance(curve: Curve, place: np.ndarray, colours: np.ndarray) -> np.ndarray:
    return np.sqrt(((colours - curve.colours_at(place)) ** 2).sum(axis=1))


def _strokes(place: np.ndarray, kind: _Strokes) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pixels of narrow lines on other ground, those of them that have the end's colour, and wide ground of it."""
    import cv2

    from_end = (place if kind.dark else 1.0 - place).astype(np.float32)
    square = np.ones((kind.narrower, kind.narrower), np.uint8)
    line = cv2.morphologyEx(from_end, cv2.MORPH_CLOSE, square) - from_end > kind.step
    near = from_end < kind.within + _NOISE
    ground = _holding(near, cv2.erode(near.astype(np.uint8), np.ones((_WIDE, _WIDE), np.uint8)) > 0)
    return line, line & (from_end < kind.within) & ~ground, ground


def _holding(mask: np.ndarray, some: np.ndarray) -> np.ndarray:
    """The connected parts of `mask` (rows, columns) that hold a pixel of `some`."""
    import cv2

    pieces, label = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
    held = np.zeros(pieces, dtype=bool)
    held[np.unique(label[some])] = True
    return held[label] & mask


def _mask_of(counts: _Counts, kind: int) -> np.ndarray:
    import cv2

    often = min(counts.frames, max(2, math.ceil(_OFTEN * counts.frames)))
    mostly = max(often, math.ceil(_MOSTLY * counts.frames))
    mark = (counts.far >= often) | (counts.off >= mostly)
    beside = counts.rim >= often
    for _ in range(2):
        mark |= beside & cv2.dilate(mark.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    for stroke, end, ground, strokes in zip(counts.stroke, counts.end, counts.ground, _KINDS[kind], strict=True):
        mark |= _marks_of(stroke >= often, end >= often, ground >= often, strokes)
    reach = 2 * _MARGIN[kind] + 1
    return cv2.dilate(mark.astype(np.uint8), np.ones((reach, reach), np.uint8)).astype(bool)


def _marks_of(strokes: np.ndarray, ends: np.ndarray, ground: np.ndarray, kind: _Strokes) -> np.ndarray:
    """Strokes of which the connected ones are long in one direction at least, enough of them in an end's colour, and
    none runs out into ground of that colour."""
    import cv2

    joined = cv2.dilate(strokes.astype(np.uint8), np.ones((3, 3), np.uint8))
    pieces, label, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    long = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) >= kind.long + 2
    inside, at_end, in_ground = (np.bincount(label[mask], minlength=pieces) for mask in (strokes, ends, ground))
    printed = long & (at_end >= kind.share * inside) & (at_end >= 2) & (in_ground == 0)
    printed[0] = False
    return printed[label] & strokes
