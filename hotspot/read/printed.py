"""What is printed on the pictures - digits, a cross, the clock, a logo - as one mask built from many frames.

Printed colours mostly lie far off the colour map. A small hot pin in a compressed picture lies off it as well,
by less: one frame cannot tell the two apart, and no pin is dropped for one frame's sake. A mark stands where it is, so
what lies far off in several frames spread over the test is one. Marks in the colour of an end of the map (white
on grey, black on most) are found as strokes of one or two pixels that stand out of their surroundings; the clipped
face of a pin is thicker than that.
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
_NEAR_END = (0.06, 0.12)  # of the scale: within this of an end of it
_STANDS_OUT = 0.1  # of the scale: more or less than the surroundings
_SHARE_AT_END = 0.08  # of a mark's strokes: thin letters are mostly in between
_STROKE, _LONG = 3, 6  # px: strokes are narrower, and marks at least as long


@dataclass(slots=True)
class _Counts:
    """In how many of `frames` each pixel is far off, off, beside a mark, part of a stroke, one at an end's colour."""

    frames: int
    far: np.ndarray
    off: np.ndarray
    rim: np.ndarray
    stroke: np.ndarray
    end: np.ndarray


def printed_mask(reading: Reading, images: Iterable[ColourImage]) -> np.ndarray | None:
    """Mask (rows, columns) of what is printed, from frames of one size; None from fewer than three, or unmarked."""
    counts: _Counts | None = None
    for image in images:
        if counts is None:
            counts = _Counts(0, *(np.zeros(image.shape, np.int32) for _ in range(5)))
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
    stroke, end = _strokes(place.reshape(image.shape), _NEAR_END[kind])
    counts.stroke += stroke
    counts.end += end


def _distance(curve: Curve, place: np.ndarray, colours: np.ndarray) -> np.ndarray:
    return np.sqrt(((colours - curve.colours_at(place)) ** 2).sum(axis=1))


def _strokes(place: np.ndarray, near_end: float) -> tuple[np.ndarray, np.ndarray]:
    """Pixels of narrow lines on other ground, and those of them that have the colour of an end of the scale."""
    import cv2

    square = np.ones((_STROKE, _STROKE), np.uint8)
    place = place.astype(np.float32)
    light = place - cv2.morphologyEx(place, cv2.MORPH_OPEN, square) > _STANDS_OUT
    dark = cv2.morphologyEx(place, cv2.MORPH_CLOSE, square) - place > _STANDS_OUT
    return light | dark, (light & (place > 1.0 - near_end)) | (dark & (place < near_end))


def _mask_of(counts: _Counts, kind: int) -> np.ndarray:
    import cv2

    often = min(counts.frames, max(2, math.ceil(_OFTEN * counts.frames)))
    mostly = max(often, math.ceil(_MOSTLY * counts.frames))
    mark = (counts.far >= often) | (counts.off >= mostly)
    beside = counts.rim >= often
    for _ in range(2):
        mark |= beside & cv2.dilate(mark.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    mark |= _marks_of(counts.stroke >= often, counts.end >= often)
    reach = 2 * _MARGIN[kind] + 1
    return cv2.dilate(mark.astype(np.uint8), np.ones((reach, reach), np.uint8)).astype(bool)


def _marks_of(strokes: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Strokes of which the connected ones are long in one direction at least, some of them in an end's colour."""
    import cv2

    joined = cv2.dilate(strokes.astype(np.uint8), np.ones((3, 3), np.uint8))
    pieces, label, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    long = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) >= _LONG + 2
    inside, at_end = (np.bincount(label[mask], minlength=pieces) for mask in (strokes, ends))
    printed = long & (at_end >= _SHARE_AT_END * inside) & (at_end >= 2)
    printed[0] = False
    return printed[label] & strokes
