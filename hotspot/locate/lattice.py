"""The regular grid of rows x columns, and the grids inside a face that its spots propose.

In each face every radius, pitch and place of the first pin is tried: a grid's score is what the evidence holds at
its places less what it holds between them, less for a grid that lies out of the middle of the face.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.locate.faces import Face
from hotspot.locate.spots import BLUR_PX, Patch, evidence, inside
from hotspot.locate.views import Views

RADII_PX = (1.2, 12.0)
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

MOST_OFF = 0.4
"""Share of a pitch by which a grid may lie out of the middle of its face."""

PER_FACE = 4


@dataclass(frozen=True, slots=True)
class Lattice:
    """A grid on the picture. `origin`, `along` (to the next column), `across` (to the next row): (x, y) px;
    `blur_px`: how soft the rims of its pins are: discs of another emissivity are sharp, heat through plastic is not."""

    origin: np.ndarray
    along: np.ndarray
    across: np.ndarray
    radius_px: float
    score: float
    face: Face
    blur_px: float = BLUR_PX

    def at(self, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """x and y (n,) of cells (n, 2): row, column."""
        points = self.origin + cells[:, 1:2] * self.along + cells[:, 0:1] * self.across
        return points[:, 0], points[:, 1]

    @property
    def pitch_px(self) -> float:
        """The shorter of the two distances of neighbours."""
        return float(min(np.hypot(*self.along), np.hypot(*self.across)))


def propose(seen: Views, found: list[Face], shape: tuple[int, int], cells: np.ndarray) -> list[Lattice]:
    """Grids of `shape` (rows, columns) over all faces, no two alike, best first. `cells` (n, 2) hold a pin."""
    clearest = max((face.clear for face in found), default=0.0)
    tried: list[Lattice] = []
    for face in found:
        tried += _in_face(inside(seen, face), face, shape, (cells, CLEAR_EDGES * (clearest - face.clear)))
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


def _in_face(patch: Patch, face: Face, shape: tuple[int, int], rest: tuple[np.ndarray, float]) -> list[Lattice]:
    """The best grids inside one face. `rest`: the cells that hold a pin, and what every score loses."""
    import cv2

    cells, less = rest
    beside = between(cells)
    points = np.concatenate([cells.astype(float), beside]) - (np.array(shape) - 1) / 2
    weights = np.concatenate([np.full(len(cells), 1.0 / len(cells)), np.full(len(beside), -BESIDE / len(beside))])
    size = np.array([face.height, face.width])
    steps = np.array(shape) - 1
    low = max(RADII_PX[0], float(np.max(size / (steps * PITCH_RADII[1] + MOST_RIM_RADII))))
    high = min(RADII_PX[1], float(np.min(size / (steps * PITCH_RADII[0] + PITCH_RADII[0]))))
    found: list[Lattice] = []
    if high < low:
        return found
    for radius in np.geomspace(low, high, max(2, int(np.ceil(np.log(high / low) / 0.2)))):
        tolerance = max(0.6, 0.25 * radius)
        spots = cv2.GaussianBlur(np.sqrt(evidence(patch, float(radius))), (0, 0), 0.7 * tolerance).astype(np.float32)
        for pitch in _pitches(float(radius), size, shape, tolerance):
            score, middle = _best_place(spots, (points * pitch, weights), pitch, tolerance)
            if score - less > 0.0:
                first = middle - steps / 2 * pitch
                origin = patch.back[:, :2] @ first[::-1] + patch.back[:, 2]
                along, across = face.axes[:, 0] * pitch[1], face.axes[:, 1] * pitch[0]
                found.append(Lattice(origin, along, across, float(radius), score - less, face))
    found.sort(key=lambda one: one.score, reverse=True)
    return found[:PER_FACE]


def _pitches(radius: float, size: np.ndarray, shape: tuple[int, int], tolerance: float) -> list[np.ndarray]:
    """Distances (of rows, of columns) that leave every pin inside the face."""
    rows, columns = shape
    most = [
        min(PITCH_RADII[1] * radius, (length - 2 * radius - 2) / max(n - 1, 1))
        for length, n in zip(size, shape, strict=True)
    ]
    least = PITCH_RADII[0] * radius
    step = max(0.25, 1.8 * tolerance / max(max(shape) - 1, 1))
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
    spots: np.ndarray, weighed: tuple[np.ndarray, np.ndarray], pitch: np.ndarray, tolerance: float
) -> tuple[float, np.ndarray]:
    """Best score over the places of the grid's middle about that of the patch, and that middle (row, column).

    `weighed`: points (n, 2) about the middle and their weights; points outside the patch find nothing there.
    """
    import cv2

    points, weights = weighed
    middle = (np.array(spots.shape) - 1) / 2
    reach = points.max(axis=0) - 0.5 * pitch
    room = np.clip(np.minimum(MOST_OFF * pitch, middle - reach), 0.0, None)
    down, right = (np.arange(-int(most / tolerance), int(most / tolerance) + 1) * tolerance for most in room)
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
