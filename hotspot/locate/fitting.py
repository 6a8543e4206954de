"""A grid -> the same grid to a fraction of a pixel, with the radius of its pins and what each place shows.

Round each place the views are fitted by a paraboloid and a blurred disc whose middle obeys the grid; all places
share the radius. A place counts by the log of what its disc explains, so that one crossed by a wire spoils nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.faces import Face
from hotspot.locate.lattice import Lattice
from hotspot.locate.spots import NOISE_FLOOR, disc_profile, paraboloid
from hotspot.locate.views import Views

RIM_PX = 1.5
MOST_RADIUS_PITCHES = 0.3
"""Largest radius in pitches: beyond it the pins of a grid would all but touch."""

OTHER_STARTS = ((0.62, 0.0), (1.6, 0.0), (1.0, 0.45))
"""Shares of the radius from which the fit is begun again (a disc half as large is a best one of its own), and the
blur of its rim in radii."""

HELD, SKEW_RAD, OFF_PITCHES = 0.05, 0.02, 0.15
"""How firmly the face holds a grid whose places show little: what is lost at one such angle or offset. Ours."""

LEAN = 0.03
"""Share by which the outermost places are farther from the lens than the middle, at which `HELD` is lost."""

LEAN_GAIN = 0.3
"""By how much a grid seen in perspective must show more than one of equal steps to be taken for it. Ours."""

LEANED_PX = (1.5, 3.0)
"""By how much perspective moves the outermost place of a grid from which the fit is begun again. Ours."""

_ROUNDS = 5


@dataclass(frozen=True)
class Windows:
    """Pixels about n places: x, y (n, p), whether they count (n, p), their views without the paraboloid
    (n, p, k), the paraboloid's axes (n, p, 6), what is left of the views (n,) with the noise floor."""

    x: np.ndarray
    y: np.ndarray
    counts: np.ndarray
    views: np.ndarray
    axes: np.ndarray
    left: np.ndarray


def fit(grid: Lattice, seen: Views, cells: np.ndarray) -> Lattice:
    """The grid moved, stretched, turned, skewed and seen in perspective, and its radius, to where its places show
    most; no place by more than about half a radius."""
    best = nearest(grid, seen, cells)
    for share, softness in OTHER_STARTS:
        radius = float(np.clip(share * grid.radius_px, 1.2, MOST_RADIUS_PITCHES * grid.pitch_px))
        blur = max(grid.blur_px, softness * radius)
        other = nearest(replace(grid, radius_px=radius, blur_px=blur), seen, cells)
        wide = replace(best, radius_px=max(best.radius_px, other.radius_px))
        windows = windows_at(wide, seen, wide.at(cells))
        if _total(other, windows, cells) > _total(best, windows, cells):
            best = other
    return _leaned(best, seen, cells)


def nearest(grid: Lattice, seen: Views, cells: np.ndarray) -> Lattice:
    """The nearest best grid of equal steps, from one start."""
    windows = windows_at(grid, seen, grid.at(cells))
    return _climbed(grid, windows, cells, [(unit, 0.25 * grid.radius_px) for unit in _directions(grid, cells)])


def again(grid: Lattice, seen: Views, cells: np.ndarray) -> Lattice:
    """A fitted grid begun again from where it lies, twice, in perspective only if it is seen so already."""
    step = 0.25 * grid.radius_px
    ways = _leaning(grid, cells) if grid.lean != (0.0, 0.0) else []
    free = [(unit, step) for unit in (*_directions(grid, cells), *ways)]
    for _ in range(2):
        grid = _climbed(grid, windows_at(grid, seen, grid.at(cells)), cells, free)
    return grid


def _leaned(grid: Lattice, seen: Views, cells: np.ndarray) -> Lattice:
    """The grid in perspective, where that shows clearly more than equal steps."""
    ways = _leaning(grid, cells)
    if not ways:
        return grid
    windows = windows_at(grid, seen, grid.at(cells))
    step = 0.25 * grid.radius_px
    free = [(unit, step) for unit in ways] + [(unit, 0.5 * step) for unit in _directions(grid, cells)]
    leaned = _climbed(grid, windows, cells, free)
    gain = _total(leaned, windows, cells) - _total(grid, windows, cells)
    return leaned if gain > LEAN_GAIN else grid


def polished(grid: Lattice, seen: Views, cells: np.ndarray) -> Lattice:
    """A fitted grid begun again from other perspectives, where one of them shows clearly more.

    From equal steps the fit may stop short of a strong perspective. Each try is weighed in windows of its own.
    """
    step = 0.25 * grid.radius_px
    ways = _leaning(grid, cells)
    free = [(unit, step) for unit in ways] + [(unit, 0.5 * step) for unit in _directions(grid, cells)]

    def again(start: Lattice) -> tuple[float, Lattice]:
        for _ in range(2):
            start = _climbed(start, windows_at(start, seen, start.at(cells)), cells, free)
        return _total(start, windows_at(start, seen, start.at(cells)), cells), start

    best, most = grid, _total(grid, windows_at(grid, seen, grid.at(cells)), cells)
    for unit in ways:
        for size in (-LEANED_PX[1], -LEANED_PX[0], *LEANED_PX):
            total, tried = again(_moved(grid, unit * size))
            if total > most + LEAN_GAIN:
                best, most = tried, total
    return best


def _climbed(grid: Lattice, windows: Windows, cells: np.ndarray, free: list[tuple[np.ndarray, float]]) -> Lattice:
    """The grid changed to and fro in each direction while its places show more; steps halve. `free`: (9,), px."""
    best = _total(grid, windows, cells)
    for round_ in range(_ROUNDS):
        for direction, step in free:
            for way in (1.0, -1.0):
                for _again in range(4):
                    moved = _moved(grid, direction * way * step / 2**round_)
                    total = _total(moved, windows, cells)
                    if total <= best + 1e-9:
                        break
                    grid, best = moved, total
    return grid


def shows(grid: Lattice, seen: Views, points: np.ndarray) -> np.ndarray:
    """Evidence 0 to 1 (n,) of a pin at cells (n, 2) of a grid, whole or broken; 0 outside its face."""
    if not len(points):
        return np.zeros(0)
    x, y = grid.at(points)
    windows = windows_at(grid, seen, (x, y))
    return np.where(within(grid.face, x, y), _explained(grid, windows, points), 0.0)


def covered(grid: Lattice, seen: Views, points: np.ndarray) -> np.ndarray:
    """Whether (n,) something hides half of the pin, or more, at cells (n, 2) of a grid."""
    x, y = grid.at(points)
    rows, columns = seen.covered.shape
    ring = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False)
    right, down = np.r_[0.0, 0.7 * np.cos(ring)], np.r_[0.0, 0.7 * np.sin(ring)]
    radius = grid.radii_at(points)[:, None]
    px = np.clip(np.rint(x[:, None] + radius * right).astype(int), 0, columns - 1)
    py = np.clip(np.rint(y[:, None] + radius * down).astype(int), 0, rows - 1)
    return seen.covered[py, px].mean(axis=1) >= 0.5


def within(face: Face, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Whether points (n,) lie inside a face, off its rim."""
    over, under = face.axes.T @ np.array([x - face.x, y - face.y])
    return (np.abs(over) <= face.width / 2 - RIM_PX) & (np.abs(under) <= face.height / 2 - RIM_PX)


def windows_at(grid: Lattice, seen: Views, at: tuple[np.ndarray, np.ndarray]) -> Windows:
    """What is needed about each place; pixels at or beyond the face's rim, and nearer to a neighbour, do not count."""
    x, y = at
    rows, columns = seen.mean.shape
    reach = min(1.6 * grid.radius_px + 2.0, max(grid.pitch_px - grid.radius_px - 0.5, 1.3 * grid.radius_px + 1.0))
    side = int(np.ceil(reach + 0.5))
    down, right = (axis.ravel() for axis in np.mgrid[-side : side + 1, -side : side + 1])
    px = np.rint(x).astype(int)[:, None] + right
    py = np.rint(y).astype(int)[:, None] + down
    in_face = within(grid.face, px.ravel(), py.ravel()).reshape(px.shape)
    counts = (np.hypot(px - x[:, None], py - y[:, None]) <= reach) & in_face
    counts &= (px >= 0) & (py >= 0) & (px < columns) & (py < rows)
    px, py = np.clip(px, 0, columns - 1), np.clip(py, 0, rows - 1)
    counts &= ~seen.covered[py, px]
    values = seen.all[:, py, px].transpose(1, 2, 0)
    weight = counts[:, :, None].astype(float)
    basis = paraboloid((px - x[:, None]) / reach, (py - y[:, None]) / reach) * weight
    axes, _ = np.linalg.qr(basis + 1e-9 * np.eye(basis.shape[1], 6)[None])
    axes = axes * weight
    middle = (values * weight).sum(axis=1, keepdims=True) / np.maximum(weight.sum(axis=1, keepdims=True), 1.0)
    values = (values - middle) * weight
    values = (values - axes @ (axes.transpose(0, 2, 1) @ values)) * weight
    floor = NOISE_FLOOR * counts.sum(axis=1) * seen.noise_k**2
    return Windows(px.astype(float), py.astype(float), counts, values, axes, (values**2).sum(axis=(1, 2)) + floor)


def _explained(grid: Lattice, windows: Windows, cells: np.ndarray) -> np.ndarray:
    """Share (n,) of what is left in each window that a disc at its cell (n, 2) explains."""
    x, y = grid.at(cells)
    away = np.hypot(windows.x - x[:, None], windows.y - y[:, None])
    disc = disc_profile(away, grid.radii_at(cells)[:, None], grid.blur_px) * windows.counts
    disc = disc - (windows.axes @ (windows.axes.transpose(0, 2, 1) @ disc[:, :, None]))[:, :, 0]
    size = (disc**2).sum(axis=1)
    gain = ((disc[:, :, None] * windows.views).sum(axis=1) ** 2).sum(axis=1) / np.maximum(size, 1e-12)
    share = np.clip(gain / np.maximum(windows.left, 1e-300), 0.0, 1.0 - 1e-9)
    return np.where(size > 1e-6, share, 0.0)


def _total(grid: Lattice, windows: Windows, cells: np.ndarray) -> float:
    """What all places show, less for a grid that is skew to its face, out of its middle, or seen in perspective."""
    turns = [np.arctan2(*(grid.face.axes.T @ axis)[::-1]) for axis in (grid.along, grid.across)]
    skew = [turns[0], turns[1] - np.pi / 2]
    lies = grid.face.axes.T @ (grid.face_middle - [grid.face.x, grid.face.y]) / grid.pitch_px
    less = sum((angle / SKEW_RAD) ** 2 for angle in skew) + float(np.sum((lies / OFF_PITCHES) ** 2))
    less += float(np.sum((np.array(grid.lean) * grid.about / LEAN) ** 2))
    return float(-np.log1p(-_explained(grid, windows, cells)).sum()) - HELD * less


def _directions(grid: Lattice, cells: np.ndarray) -> list[np.ndarray]:
    """Unit changes (9,): origin x, y, along x, y, across x, y, radius, lean row, column. Each moves the farthest
    place by a pixel; where there is one row only its own direction stays. The radius goes by half as much, last."""
    unit = np.eye(9)
    found = [unit[0], unit[1]]
    for first, axis in ((2, 1), (4, 0)):
        if cells[:, axis].any():
            last = max(2.0 * grid.about[axis], 1.0)
            for k in (0, 1):
                found.append(2.0 / last * (unit[first + k] - grid.about[axis] * unit[k]))
    return [*found, 0.5 * unit[6]]


def _leaning(grid: Lattice, cells: np.ndarray) -> list[np.ndarray]:
    """Unit changes of the lean that can be told from other changes: those of a direction with three places at least,
    or across another row."""
    found = []
    off = cells - grid.about
    length = np.hypot(*(off[:, 1:2] * grid.along + off[:, 0:1] * grid.across).T)
    counts = [len(set(cells[:, axis])) for axis in (0, 1)]
    for axis in (0, 1):
        if counts[axis] > 2 or (counts[axis] == 2 and counts[1 - axis] > 1):
            found.append(np.eye(9)[7 + axis] / float(np.max(np.abs(off[:, axis]) * length)))
    return found


def _moved(grid: Lattice, change: np.ndarray) -> Lattice:
    """The grid after a change of its nine numbers."""
    radius = float(np.clip(grid.radius_px + change[6], 1.0, MOST_RADIUS_PITCHES * grid.pitch_px))
    return replace(
        grid,
        origin=grid.origin + change[:2],
        along=grid.along + change[2:4],
        across=grid.across + change[4:6],
        radius_px=radius,
        lean=(grid.lean[0] + float(change[7]), grid.lean[1] + float(change[8])),
    )
