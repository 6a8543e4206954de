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
    """The grid moved, stretched, turned and skewed, and its radius, to where its places show most; no place by
    more than about half a radius."""
    best = _fitted(grid, seen, cells)
    for share, softness in OTHER_STARTS:
        radius = float(np.clip(share * grid.radius_px, 1.2, MOST_RADIUS_PITCHES * grid.pitch_px))
        blur = max(grid.blur_px, softness * radius)
        other = _fitted(replace(grid, radius_px=radius, blur_px=blur), seen, cells)
        wide = replace(best, radius_px=max(best.radius_px, other.radius_px))
        windows = windows_at(wide, seen, wide.at(cells))
        if _total(other, windows, cells) > _total(best, windows, cells):
            best = other
    return best


def _fitted(grid: Lattice, seen: Views, cells: np.ndarray) -> Lattice:
    """The nearest best grid, by steps in each direction that halve."""
    windows = windows_at(grid, seen, grid.at(cells))
    best = _total(grid, windows, cells)
    step = np.array([0.25 * grid.radius_px] * 6 + [0.12 * grid.radius_px])
    directions = _directions(cells)
    for _ in range(_ROUNDS):
        for which, direction in enumerate(directions):
            for way in (1.0, -1.0):
                for _again in range(4):
                    moved = _moved(grid, direction * way * step[which])
                    total = _total(moved, windows, cells)
                    if total <= best + 1e-9:
                        break
                    grid, best = moved, total
        step = step / 2.0
    return grid


def shows(grid: Lattice, seen: Views, points: np.ndarray) -> np.ndarray:
    """Evidence 0 to 1 (n,) of a pin at cells (n, 2) of a grid, whole or broken; 0 outside its face."""
    if not len(points):
        return np.zeros(0)
    x, y = grid.at(points)
    windows = windows_at(grid, seen, (x, y))
    return np.where(within(grid.face, x, y), _explained(grid, windows, x, y), 0.0)


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
    values = seen.all[:, np.clip(py, 0, rows - 1), np.clip(px, 0, columns - 1)].transpose(1, 2, 0)
    weight = counts[:, :, None].astype(float)
    basis = paraboloid((px - x[:, None]) / reach, (py - y[:, None]) / reach) * weight
    axes, _ = np.linalg.qr(basis + 1e-9 * np.eye(basis.shape[1], 6)[None])
    axes = axes * weight
    middle = (values * weight).sum(axis=1, keepdims=True) / np.maximum(weight.sum(axis=1, keepdims=True), 1.0)
    values = (values - middle) * weight
    values = (values - axes @ (axes.transpose(0, 2, 1) @ values)) * weight
    floor = NOISE_FLOOR * counts.sum(axis=1) * seen.noise_k**2
    return Windows(px.astype(float), py.astype(float), counts, values, axes, (values**2).sum(axis=(1, 2)) + floor)


def _explained(grid: Lattice, windows: Windows, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Share (n,) of what is left in each window that a disc about (x, y) explains."""
    disc = (
        disc_profile(np.hypot(windows.x - x[:, None], windows.y - y[:, None]), grid.radius_px, grid.blur_px)
        * windows.counts
    )
    disc = disc - (windows.axes @ (windows.axes.transpose(0, 2, 1) @ disc[:, :, None]))[:, :, 0]
    size = (disc**2).sum(axis=1)
    gain = ((disc[:, :, None] * windows.views).sum(axis=1) ** 2).sum(axis=1) / np.maximum(size, 1e-12)
    share = np.clip(gain / np.maximum(windows.left, 1e-300), 0.0, 1.0 - 1e-9)
    return np.where(size > 1e-6, share, 0.0)


def _total(grid: Lattice, windows: Windows, cells: np.ndarray) -> float:
    """What all places show, less for a grid that is skew to its face or out of its middle."""
    turns = [np.arctan2(*(grid.face.axes.T @ axis)[::-1]) for axis in (grid.along, grid.across)]
    skew = [turns[0], turns[1] - np.pi / 2]
    lies = grid.face.axes.T @ (np.mean(grid.at(cells), axis=1) - [grid.face.x, grid.face.y]) / grid.pitch_px
    less = sum((angle / SKEW_RAD) ** 2 for angle in skew) + float(np.sum((lies / OFF_PITCHES) ** 2))
    return float(-np.log1p(-_explained(grid, windows, *grid.at(cells))).sum()) - HELD * less


def _directions(cells: np.ndarray) -> list[np.ndarray]:
    """Unit changes (7,): origin x, y, along x, y, across x, y, radius. A step of a pitch is shared by the places, so
    that the farthest moves by one; where there is one row only its own direction stays."""
    last = np.maximum(cells.max(axis=0), 1)
    unit = np.eye(7)
    found = [unit[0], unit[1], unit[6]]
    middle = cells.mean(axis=0)
    for first, axis in ((2, 1), (4, 0)):
        if cells[:, axis].any():
            for k in (0, 1):
                share = 2.0 / last[axis]
                found.append(share * (unit[first + k] - middle[axis] * unit[k]))
    return found


def _moved(grid: Lattice, change: np.ndarray) -> Lattice:
    """The grid after a change of its seven numbers."""
    radius = float(np.clip(grid.radius_px + change[6], 1.0, MOST_RADIUS_PITCHES * grid.pitch_px))
    return replace(
        grid,
        origin=grid.origin + change[:2],
        along=grid.along + change[2:4],
        across=grid.across + change[4:6],
        radius_px=radius,
    )
