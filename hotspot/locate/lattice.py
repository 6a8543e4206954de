"""The regular grid of rows x columns, and the grids inside a face that its spots propose.

In each face every radius, pitch and place of the first pin is tried: a grid's score is what the evidence holds at
its places less what it holds between them, less for a grid that lies out of the middle of the face.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.locate.faces import Face
from hotspot.locate.sheets import Sheets, tolerance, tried_radii
from hotspot.locate.spots import BLUR_PX

PITCH_RADII = (2.5, 9.0)
"""Distance of neighbours in radii of a pin: what is tried."""

MOST_RIM_RADII = 7.0
"""Width of both rims of a face together, in radii of a pin, at the most."""

STRETCHES = (0.8, 0.9, 1.0, 1.1, 1.25)
"""Distances of rows over that of columns that are tried."""

BESIDE = 0.6
"""Weight of what lies between the places."""

OFF_MIDDLE = 0.3
"""What a grid loses that lies a whole pitch out of the middle of its face; it goes with the square."""

CLEAR_EDGES = 0.15
"""What a grid loses for each unit by which its face's edges are less clear than the clearest."""

COMPARED = 0.25
"""Share of a face's area from which on another one is held against it in that: printed words are sharper than any
housing. Ours."""

MOST_OFF = 0.4
"""Share of a pitch by which a grid may lie out of the middle of its face."""

PER_FACE = 4


@dataclass(frozen=True, slots=True)
class Lattice:
    """A grid on the picture. `origin`, `along` (to the next column), `across` (to the next row): (x, y) px;
    `blur_px`: how soft the rims of its pins are: discs of another emissivity are sharp, heat through plastic is not.

    `about` is its middle (row, column), empty places counted. `lean`: by what share a step to the next row, and to
    the next column, is farther from the lens than the middle: perspective; (0, 0) for a grid of equal steps.
    """

    origin: np.ndarray
    along: np.ndarray
    across: np.ndarray
    radius_px: float
    score: float
    face: Face
    about: tuple[float, float]
    blur_px: float = BLUR_PX
    lean: tuple[float, float] = (0.0, 0.0)

    def at(self, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """x and y (n,) of cells (n, 2): row, column."""
        rows, columns = cells[:, 0:1] - self.about[0], cells[:, 1:2] - self.about[1]
        points = self.middle + (columns * self.along + rows * self.across) / self._farther(cells)[:, None]
        return points[:, 0], points[:, 1]

    def radii_at(self, cells: np.ndarray) -> np.ndarray:
        """Radius [px] (n,) of pins at cells (n, 2): smaller where they are farther away."""
        return self.radius_px / self._farther(cells) ** 1.5

    def _farther(self, cells: np.ndarray) -> np.ndarray:
        return np.maximum(1.0 + (cells - self.about) @ np.array(self.lean), 0.3)

    @property
    def middle(self) -> np.ndarray:
        """x and y [px] of its middle."""
        return self.origin + self.about[0] * self.across + self.about[1] * self.along

    @property
    def face_middle(self) -> np.ndarray:
        """Where [px] the middle of its face is to be seen: half-way between the face's sides, which perspective moves
        off the grid's own middle."""
        found = self.middle
        if self.lean == (0.0, 0.0):
            return found
        for axis, step, side in ((0, self.across, self.face.height), (1, self.along, self.face.width)):
            out = np.zeros((2, 2))
            out[:, axis] = np.array([-0.5, 0.5]) * side / max(float(np.hypot(*step)), 1e-6)
            found = found + np.mean(self.at(out + self.about), axis=1) - self.middle
        return found

    @property
    def pitch_px(self) -> float:
        """The shorter of the two distances of neighbours."""
        return float(min(np.hypot(*self.along), np.hypot(*self.across)))


def propose(sheets: Sheets, found: list[Face], shape: tuple[int, int], cells: np.ndarray) -> list[Lattice]:
    """Grids of `shape` (rows, columns) over all faces, no two alike, best first. `cells` (n, 2) hold a pin."""
    tried: list[Lattice] = []
    for face in found:
        area = COMPARED * face.width * face.height
        clearest = max(other.clear for other in found if other.width * other.height >= area)
        tried += _in_face(sheets, face, shape, (cells, CLEAR_EDGES * (clearest - face.clear)))
    tried.sort(key=lambda one: one.score, reverse=True)
    kept: list[Lattice] = []
    for grid in tried:
        if all(not same(grid, one, cells) for one in kept):
            kept.append(grid)
    return kept


def same(one: Lattice, other: Lattice, cells: np.ndarray) -> bool:
    """Whether two grids put every place within 0.3 of the pitch of each other."""
    x, y = one.at(cells)
    other_x, other_y = other.at(cells)
    return bool(np.max(np.hypot(x - other_x, y - other_y)) <= 0.3 * other.pitch_px)


def between(cells: np.ndarray) -> np.ndarray:
    """Half steps between and beside the places, and the middles of four of them, (k, 2)."""
    taken = {(float(row), float(column)) for row, column in cells}
    last = cells.max(axis=0)
    beside = {
        (row + down, column + right)
        for row, column in taken
        for down, right in ((0.0, 0.5), (0.5, 0.0), (0.0, -0.5), (-0.5, 0.0))
    }
    beside |= {(row + 0.5, column + 0.5) for row, column in taken if row < last[0] and column < last[1]}
    return np.array(sorted(beside))


def _in_face(sheets: Sheets, face: Face, shape: tuple[int, int], rest: tuple[np.ndarray, float]) -> list[Lattice]:
    """The best grids inside one face. `rest`: the cells that hold a pin, and what every score loses."""
    cells, less = rest
    beside = between(cells)
    steps = np.array(shape) - 1
    points = np.concatenate([cells.astype(float), beside]) - steps / 2
    weights = np.concatenate([np.full(len(cells), 1.0 / len(cells)), np.full(len(beside), -BESIDE / len(beside))])
    size = np.array([face.height, face.width])
    low = float(np.max(size / (steps * PITCH_RADII[1] + MOST_RIM_RADII)))
    high = float(np.min(size / (steps * PITCH_RADII[0] + PITCH_RADII[0])))
    found: list[Lattice] = []
    for radius in tried_radii(low, high):
        spots, back = sheets.spots(face, radius), sheets.patch(face).back
        for pitch in _pitches(radius, size, shape, tolerance(radius)):
            score, middle = _best_place(spots, (points * pitch, weights), pitch, tolerance(radius))
            if score - less > 0.0:
                first = middle - steps / 2 * pitch
                origin = back[:, :2] @ first[::-1] + back[:, 2]
                along, across = face.axes[:, 0] * pitch[1], face.axes[:, 1] * pitch[0]
                found.append(Lattice(origin, along, across, radius, score - less, face, tuple(steps / 2)))
    found.sort(key=lambda one: one.score, reverse=True)
    return found[:PER_FACE]


def _pitches(radius: float, size: np.ndarray, shape: tuple[int, int], off_px: float) -> list[np.ndarray]:
    """Distances (of rows, of columns) that leave every pin inside the face."""
    rows, columns = shape
    most = [
        min(PITCH_RADII[1] * radius, (length - 2 * radius - 2) / max(n - 1, 1))
        for length, n in zip(size, shape, strict=True)
    ]
    least = PITCH_RADII[0] * radius
    step = max(0.25, 1.8 * off_px / max(max(shape) - 1, 1))
    if columns == 1:
        return (
            [np.array([pitch, pitch]) for pitch in np.arange(least, most[0] + 1e-6, step)]
            if rows > 1
            else [np.array([least, least])]
        )
    level = np.arange(least, most[1] + 1e-6, step)
    if rows == 1:
        return [np.array([pitch, pitch]) for pitch in level]
    pairs = (np.array([stretch * pitch, pitch]) for pitch in level for stretch in STRETCHES)
    return [pair for pair in pairs if least <= pair[0] <= most[0]]


def _best_place(
    spots: np.ndarray, weighed: tuple[np.ndarray, np.ndarray], pitch: np.ndarray, step: float
) -> tuple[float, np.ndarray]:
    """Best score over the places of the grid's middle about that of the patch, and that middle (row, column).

    `weighed`: points (n, 2) about the middle and their weights; points outside the patch find nothing there.
    """
    import cv2

    points, weights = weighed
    middle = (np.array(spots.shape) - 1) / 2
    reach = points.max(axis=0) - 0.5 * pitch
    room = np.clip(np.minimum(MOST_OFF * pitch, middle - reach), 0.0, None)
    down, right = (np.arange(-int(most / step), int(most / step) + 1) * step for most in room)
    count = len(down) * len(right)
    map_x = (points[:, 1, None, None] + (middle[1] + right)[None, None, :] + np.zeros((len(down), 1))).reshape(
        -1, count
    )
    map_y = (points[:, 0, None, None] + (middle[0] + down)[None, :, None] + np.zeros(len(right))).reshape(-1, count)
    flat = map_x.astype(np.float32), map_y.astype(np.float32)
    sampled = cv2.remap(spots, *flat, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    off = (down[:, None] / pitch[0]) ** 2 + (right[None, :] / pitch[1]) ** 2
    score = (weights @ sampled).reshape(len(down), len(right)) - OFF_MIDDLE * off
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    return float(score[row, column]), middle + np.array([down[row], right[column]])
