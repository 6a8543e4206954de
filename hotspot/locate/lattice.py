"""Maps of spots -> the regular grid of rows x columns that explains them, with how sure that is.

The maps are turned so that the connector's edges are level; then every pitch and every place of the first pin
are tried: a grid's score is what the map holds at its places less what it holds between and just beyond them.
The best ones are fitted to the spots nearest to their places, which may turn and skew them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.views import View

PITCH_SCALES = (3.4, 11.0)
"""Range of the distance between neighbours, in units of the smoothing at which the pins stand out."""

STRETCHES = (0.75, 0.87, 1.0, 1.15, 1.33)
"""Distances of rows over that of columns that are tried."""

BESIDE = 0.6
"""Weight of what lies between and beyond the places. Ours."""

MIDDLE_SHARE = 0.4
"""What a grid loses of its score that does not lie in the middle of an outline. Ours."""

NEAR = 0.22
"""A spot within this share of the pitch is at its place."""

SURE_RESIDUAL, SURE_MARGIN, SURE_LEVEL = 0.08, 0.15, 0.45
"""Straightness, lead and level that count as sure. Ours, set on made scenes."""


MANY_PLACES = 6
"""From so many places on, one of them may be invisible without harm. Ours."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """A grid on the picture. `origin`, `along` (to the next column), `across` (to the next row): (x, y) px."""

    origin: np.ndarray
    along: np.ndarray
    across: np.ndarray
    scale_px: float
    score: float
    confidence: float = 0.0

    def at(self, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """x and y (n,) of cells (n, 2): row, column."""
        points = self.origin + cells[:, 1:2] * self.along + cells[:, 0:1] * self.across
        return points[:, 0], points[:, 1]

    @property
    def radius_px(self) -> float:
        """Radius of the pins: the disc that answers most at this smoothing, at most 0.3 of the pitch."""
        return float(min(np.sqrt(2.0) * self.scale_px, 0.3 * np.hypot(*self.along)))


def find(maps: Sequence[View], outline: np.ndarray, turn: float, cells: np.ndarray) -> Lattice | None:
    """The best grid over all maps; None where no map shows one.

    `outline`: steepness of the picture (rows, columns); `turn`: angle [rad] of the connector's edges; `cells`
    (n, 2): row and column of the occupied places.
    """
    tried: list[tuple[Lattice, View]] = []
    for view in maps:
        tried += [(grid, view) for grid in _proposals(view, turn, cells)]
    tried.sort(key=lambda one: one[0].score, reverse=True)
    kept: list[Lattice] = []
    views: list[View] = []
    for grid, view in tried[:60]:
        fitted = _fitted(grid, view, cells)
        if all(not same(fitted, one, cells) for one in kept):
            kept.append(fitted)
            views.append(view)
    if not kept:
        return None
    middles = np.array([_middle(one, outline, cells) for one in kept])
    weighed = [
        replace(one, score=one.score * (1.0 - MIDDLE_SHARE * (1.0 - middle)))
        for one, middle in zip(kept, middles, strict=True)
    ]
    first = int(np.argmax([one.score for one in weighed]))
    sure = _confidence(weighed[first], weighed, views[first], cells) * middles[first]
    return replace(weighed[first], confidence=float(sure))


def _proposals(view: View, turn: float, cells: np.ndarray) -> list[Lattice]:
    """For each pitch and stretch the two best places of the first pin."""
    coarse = max(1.0, view.scale_px / 1.4)  # a smooth map needs no fine sheet
    level, back = _turned(view.spots, turn, coarse)
    rows, columns = cells.max(axis=0) + 1
    found = []
    for pitch in np.geomspace(*PITCH_SCALES, 22) * view.scale_px / coarse:
        for stretch in STRETCHES if rows > 1 and columns > 1 else (1.0,):
            step = np.array([stretch * pitch, pitch])
            score = _score_map(level, step, cells)
            for _ in range(2):
                top, left = np.unravel_index(int(np.argmax(score)), score.shape)
                best = float(score[top, left])
                if best <= 0:
                    break
                found.append(_unturned((left, top), step, back, (view.scale_px, best)))
                reach = int(np.ceil(0.4 * min(step)))
                score[max(top - reach, 0) : top + reach + 1, max(left - reach, 0) : left + reach + 1] = -1.0
    return found


def _turned(spots: np.ndarray, turn: float, coarse: float) -> tuple[np.ndarray, np.ndarray]:
    """The map with its edges level, on a sheet with pixels of `coarse` px that holds it whatever the turn, and
    the matrix (2, 3) from there back to the picture.
    """
    import cv2

    height, width = spots.shape
    side = int(np.ceil(np.hypot(height, width) / coarse)) + 2
    cos, sin = np.cos(turn), np.sin(turn)
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    back = coarse * np.array([[cos, -sin, 0.0], [sin, cos, 0.0]])
    back[:, 2] = centre - back[:, :2] @ np.full(2, (side - 1) / 2)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(spots.astype(np.float32), back, (side, side), flags=flags), back


def _unturned(place: tuple[int, int], step: np.ndarray, back: np.ndarray, rest: tuple[float, float]) -> Lattice:
    """A level grid -> the same on the picture."""
    origin = back[:, :2] @ np.array(place, dtype=float) + back[:, 2]
    return Lattice(origin, step[1] * back[:, 0], step[0] * back[:, 1], *rest)


def _score_map(level: np.ndarray, step: np.ndarray, cells: np.ndarray) -> np.ndarray:
    """Score of a level grid for every place of its first pin, (rows, columns); 0 where it leaves the sheet."""
    last = np.round(cells.max(axis=0) * step).astype(int)
    margin = np.ceil(step).astype(int) + 1  # the ring reaches one step beyond
    sheet = np.pad(level, ((margin[0], margin[0]), (margin[1], margin[1])))
    height, width = level.shape[0] - last[0], level.shape[1] - last[1]
    if height <= 0 or width <= 0:
        return np.zeros((1, 1), np.float32)

    def mean_over(points: np.ndarray) -> np.ndarray:
        total = np.zeros((height, width), np.float32)
        for down, right in np.round(points * step).astype(int) + margin:
            total += sheet[down : down + height, right : right + width]
        return total / len(points)

    return mean_over(cells.astype(float)) - BESIDE * mean_over(ring(cells))


def ring(cells: np.ndarray) -> np.ndarray:
    """Half steps between and beside the places, and whole steps beyond the first and last ones, (k, 2)."""
    taken = {(float(row), float(column)) for row, column in cells}
    last_row, last_column = cells.max(axis=0)
    beside = set()
    for row, column in taken:
        for down, right in ((0.0, 0.5), (0.5, 0.0), (0.0, -0.5), (-0.5, 0.0)):
            beside.add((row + down, column + right))
    if last_column:
        beside |= {(row, column) for row, _ in taken for column in (-1.0, last_column + 1.0)}
    if last_row:
        beside |= {(row, column) for _, column in taken for row in (-1.0, last_row + 1.0)}
    return np.array(sorted(beside))


def score_of(grid: Lattice, view: View, cells: np.ndarray) -> float:
    """Score of one grid on a map, by linear interpolation; nothing lies outside the picture."""
    return float(_sampled(grid, view, cells).mean() - BESIDE * _sampled(grid, view, ring(cells)).mean())


def _sampled(grid: Lattice, view: View, cells: np.ndarray) -> np.ndarray:
    """The map (n,) at cells (n, 2) of a grid; 0 outside the picture."""
    import cv2

    x, y = (axis.astype(np.float32)[None] for axis in grid.at(cells.astype(float)))
    return cv2.remap(view.spots.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)[0]


def _fitted(start: Lattice, view: View, cells: np.ndarray) -> Lattice:
    """Least squares of the grid to the spots at its places, three times over; the start where too few are near."""
    spots = peaks(view.spots)
    grid = start
    for _ in range(3):
        which, near = matched(grid, spots, cells)
        free = [0] + [k for k in (1, 2) if cells[:, 2 - k].any()]
        if near.sum() < len(free):
            break
        design = np.column_stack([np.ones(len(cells)), cells[:, 1], cells[:, 0]]).astype(float)[near][:, free]
        if np.linalg.matrix_rank(design) < len(free):
            break
        solved = np.linalg.lstsq(design, spots[which[near], :2], rcond=None)[0]
        steps = dict(zip(free, solved, strict=True))
        along = steps.get(1, grid.along)
        across = steps.get(2, np.array([-along[1], along[0]]) if 1 in steps else grid.across)
        grid = replace(grid, origin=steps[0], along=along, across=across)
    grid = replace(grid, score=score_of(grid, view, cells))
    return grid if grid.score >= start.score else replace(start, score=score_of(start, view, cells))


def peaks(spots: np.ndarray) -> np.ndarray:
    """Local maxima of a map: (n, 3) x, y (to a fraction of a pixel), height."""
    import cv2

    top = (spots >= cv2.dilate(spots, np.ones((3, 3), np.uint8))) & (spots > 0.02)
    top[[0, -1], :] = top[:, [0, -1]] = False
    rows, columns = np.nonzero(top)
    height = spots[rows, columns]
    shifts = []
    for down, right in ((1, 0), (0, 1)):
        before, after = spots[rows - down, columns - right], spots[rows + down, columns + right]
        curve = np.minimum(before - 2.0 * height + after, -1e-9)
        shifts.append(np.clip(0.5 * (before - after) / curve, -0.5, 0.5))
    return np.column_stack([columns + shifts[1], rows + shifts[0], height])


def matched(grid: Lattice, spots: np.ndarray, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Nearest spot of each place (n,), and whether it is near enough (n,)."""
    if not len(spots):
        return np.zeros(len(cells), dtype=int), np.zeros(len(cells), dtype=bool)
    x, y = grid.at(cells)
    away = np.hypot(spots[None, :, 0] - x[:, None], spots[None, :, 1] - y[:, None])
    which = away.argmin(axis=1)
    return which, away[np.arange(len(cells)), which] <= NEAR * np.hypot(*grid.along)


def _confidence(best: Lattice, others: Sequence[Lattice], view: View, cells: np.ndarray) -> float:
    """0-1: the share of places with a spot, how straight they lie, how plain the spots are and how alike, how far
    the next best grid is behind, whether the grid is whole. Any one of them near nought leaves nothing.
    """
    spots = peaks(view.spots)
    which, near = matched(best, spots, cells)
    if best.score <= 0 or near.sum() < 2:
        return 0.0
    x, y = best.at(cells)
    away = np.hypot(spots[which, 0] - x, spots[which, 1] - y)[near]
    crooked = float(np.sqrt(np.mean(away**2))) / float(np.hypot(*best.along))
    rival = max((one.score for one in others if not same(one, best, cells)), default=0.0)
    ahead = np.clip((best.score - max(rival, 0.0)) / best.score / SURE_MARGIN, 0.0, 1.0)
    heights = np.sort(_sampled(best, view, cells))
    weakest = float(heights[1 if len(cells) >= MANY_PLACES else 0])
    plain = np.clip(float(np.median(heights)) / SURE_LEVEL, 0.0, 1.0) * weakest / float(np.median(heights))
    complete = float(near.mean()) ** 3
    straight = float(np.exp(-((crooked / SURE_RESIDUAL) ** 2)))
    return float(complete * straight * ahead * plain * _whole(best, view, cells))


def _whole(grid: Lattice, view: View, cells: np.ndarray) -> float:
    """1 where nothing goes on beyond the first and last places, nor half-way between them; 0 where what is there
    is as plain as the places: the grid is then a part of a larger one.
    """
    last_row, last_column = cells.max(axis=0)
    inside = float(_sampled(grid, view, cells).mean())
    sides = [[(row, column) for row in range(last_row + 1)] for column in (-1.0, last_column + 1.0) if last_column]
    sides += [[(row, column) for column in range(last_column + 1)] for row in (-1.0, last_row + 1.0)]
    if last_column:
        sides.append([(row, column + 0.5) for row in range(last_row + 1) for column in range(last_column)])
    if last_row:
        sides.append([(row + 0.5, column) for row in range(last_row) for column in range(last_column + 1)])
    most = max(float(_sampled(grid, view, np.array(side)).mean()) for side in sides)
    return float(np.clip((0.95 - most / inside) / 0.25, 0.0, 1.0))


def _middle(grid: Lattice, outline: np.ndarray, cells: np.ndarray) -> float:
    """1 where the outline about the grid is alike to the left and to the right of the grid's middle, and less so
    about the places half a column and a column beside it; down to 0 where one of those fits better.

    A row taken one place too far to the side looks as regular as the right one; the housing gives it away.
    """
    if not cells[:, 1].any():
        return 1.0
    alike = {shift: _likeness(grid, outline, cells, shift) for shift in (-1.0, -0.5, 0.0, 0.5, 1.0)}
    rival = max(value for shift, value in alike.items() if shift)
    return float(np.clip(0.5 + (alike[0.0] - rival) / 0.2, 0.0, 1.0))


def _likeness(grid: Lattice, outline: np.ndarray, cells: np.ndarray, shift: float) -> float:
    """Correlation of the outline with its mirror image about the grid's middle, moved by `shift` columns."""
    import cv2

    last_row, last_column = cells.max(axis=0)
    reach = 0.5 * last_column + 1.5
    right = np.arange(0.1, reach, 0.1)
    down = np.arange(-0.9, last_row + 0.95, 0.1)
    sides = []
    rows, columns = (axis.ravel() for axis in np.meshgrid(down, right, indexing="ij"))
    for way in (1.0, -1.0):
        patch = np.column_stack([rows, 0.5 * last_column + shift + way * columns])
        x, y = (axis.astype(np.float32)[None] for axis in grid.at(patch))
        sides.append(cv2.remap(outline, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)[0])
    if min(side.std() for side in sides) < 1e-9:
        return -1.0
    return float(np.corrcoef(sides)[0, 1])


def same(one: Lattice, other: Lattice, cells: np.ndarray) -> bool:
    """Whether two grids put every place within 0.3 of the pitch of each other."""
    x, y = one.at(cells)
    other_x, other_y = other.at(cells)
    return bool(np.max(np.hypot(x - other_x, y - other_y)) <= 0.3 * np.hypot(*other.along))
