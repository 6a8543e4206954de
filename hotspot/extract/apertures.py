"""Which pixels a pin's face covers, and by how much: exact areas, so that a small shift is a small change.

Coordinates are pixels, (0, 0) the centre of the top left pixel: pixel (r, c) is the unit square about it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Aperture:
    """Pixels (n,) of one area and the share 0-1 of each that it covers. `area` counts also what lies outside."""

    rows: np.ndarray
    columns: np.ndarray
    weights: np.ndarray
    area: float


def disc(x: float, y: float, radius: float, shape: tuple[int, int]) -> Aperture:
    """The circle of `radius` about (x, y) on a picture of `shape` (rows, columns); its area is pi radius^2."""
    rows, columns = _block(y - radius, y + radius, shape[0]), _block(x - radius, x + radius, shape[1])
    weights = disc_cover(rows[:, None] - y, columns[None, :] - x, radius)
    return _kept(rows, columns, weights, float(np.pi * radius**2))


def box(rectangle: tuple[float, float, float, float] | list[float], shape: tuple[int, int]) -> Aperture:
    """The box x, y, width, height on a picture of `shape`: whole numbers mean whole pixels.

    Pixels are counted, as in `scale.bar`: x is the first column, width the number of columns, so that the box
    reaches from x - 0.5 to x - 0.5 + width. Fractions cover a part of the pixels at the rim.
    """
    x, y, width, height = rectangle
    rows = _block(y - 0.5, y - 0.5 + height, shape[0])
    columns = _block(x - 0.5, x - 0.5 + width, shape[1])
    weights = _overlap(rows, y - 0.5, height)[:, None] * _overlap(columns, x - 0.5, width)[None, :]
    return _kept(rows, columns, weights, float(width * height))


def disc_cover(down: np.ndarray, right: np.ndarray, radius: float) -> np.ndarray:
    """Area 0-1 of unit pixels inside a circle, their centres `down` and `right` of its own (arrays broadcast).

    Closed form: the pixel is the sum and difference of four quadrants, and the part of a circle left of and
    above a point is an elementary integral.
    """
    top, bottom, left, edge = down - 0.5, down + 0.5, right - 0.5, right + 0.5
    area = (
        _quadrant(edge, bottom, radius)
        - _quadrant(left, bottom, radius)
        - _quadrant(edge, top, radius)
        + _quadrant(left, top, radius)
    )
    return np.clip(area, 0.0, 1.0)


def _quadrant(a: np.ndarray, b: np.ndarray, radius: float) -> np.ndarray:
    """Area of the circle about (0, 0) where x < a and y < b."""
    a = np.clip(a, -radius, radius)
    b = np.clip(b, -radius, radius)
    chord = np.sqrt(np.maximum(radius**2 - b**2, 0.0))  # |x| where the line y = b leaves the circle
    inner = np.clip(a, -chord, chord)
    under = b * (inner + chord)  # between the line and the x axis, signed
    half = _half_disc(inner, radius) - _half_disc(-chord, radius)
    return np.where(b >= 0.0, 2.0 * _half_disc(a, radius) + under - half, under + half)


def _half_disc(x: np.ndarray, radius: float) -> np.ndarray:
    """Integral of sqrt(radius^2 - t^2) from -radius to x."""
    return 0.5 * (
        x * np.sqrt(np.maximum(radius**2 - x**2, 0.0))
        + radius**2 * (np.arcsin(np.clip(x / radius, -1.0, 1.0)) + np.pi / 2.0)
    )


def _block(low: float, high: float, length: int) -> np.ndarray:
    """Numbers of the pixels along one axis of `length` that the stretch low-high touches; may be none."""
    first, last = np.clip(np.round([low, high]), -1, length)
    return np.arange(max(int(first), 0), min(int(last), length - 1) + 1)


def _overlap(centres: np.ndarray, start: float, extent: float) -> np.ndarray:
    """Length 0-1 of each unit pixel inside the stretch that begins at `start`."""
    ends = np.minimum(centres + 0.5, start + extent)
    return np.clip(ends - np.maximum(centres - 0.5, start), 0.0, 1.0)


def _kept(rows: np.ndarray, columns: np.ndarray, weights: np.ndarray, area: float) -> Aperture:
    """The pixels of a block that are covered at all."""
    at_row, at_column = np.nonzero(weights > 1e-9)
    return Aperture(rows[at_row], columns[at_column], weights[at_row, at_column], area)
