"""The four corners of a lit screen in a photo: a bright four-sided patch, its sides laid on the steepest step.

Common practice of picture processing: threshold, outline, robust straight lines; no single source.
"""

from __future__ import annotations

import numpy as np

_LOOK = 480.0  # px: the longer side of the small copy in which the outline is looked for
_LEAST_AREA = 0.05  # of the photo
_BRIGHTNESS = (3, 6, 9, 12, 15, 18, 22, 27, 35, 50, 65)  # per cent of the photo that is darker
_REACH = 0.035  # of the screen's size: how far from the outline a side is looked for
_LEAST_REACH = 4.0  # px
_SAMPLES = 120  # places along a side
_LEAST_ON_LINE = 0.5  # of the places along every side
_LEAST_BRIGHTER = 0.8  # of the places along every side
_NEAR_LINE = 1.5  # px
_ROUNDS = 3
_LIGHT = 2.2  # power from levels to light: in levels a soft edge lies too far out
_FAINTEST = 0.15  # of 255 parts of light
_FAINT, _HIGHEST = 1.0, 12.0  # levels: the least mean step along a faint side, and the most that one place counts for
_CLEAR = 8.0  # times the standard error of that mean
_FAINT_OFFSETS = 37  # places of a line's end that are tried
_SURE = 10.0  # levels, mean step: a line that has it is looked for no further
_BETTER = 1.1  # times the other line's mean step
_TRIED = 150  # pairs of places that a line is laid through
_CORNER = 0.04  # of a side, left out at its ends: rounded corners
_SHARES = np.linspace(_CORNER, 1.0 - _CORNER, _SAMPLES)  # places along a side


def find_corners(rgb: np.ndarray) -> np.ndarray | None:
    """Corners (4, 2), x and y in pixels, clockwise from the top left, of the screen in a photo uint8 (rows,
    columns, 3): the largest patch that is brighter than what is around it along four straight sides; None where
    there is none.
    """
    bright = _light(rgb)
    for outline in sorted(_outlines(rgb.max(axis=2)), key=_area, reverse=True):
        found = _refined(bright, outline)
        if found is not None:
            return found
    return None


def corners_near(rgb: np.ndarray, corners: np.ndarray) -> np.ndarray | None:
    """As `find_corners`, for a border whose sides lie within some per cent of the screen's size of those of `corners`;
    None where there is none so near.
    """
    return _refined(_light(rgb), np.asarray(corners, float))


def _light(rgb: np.ndarray) -> np.ndarray:
    return 255.0 * (rgb.max(axis=2) / np.float32(255.0)) ** np.float32(_LIGHT)


def in_order(corners: np.ndarray) -> np.ndarray:
    """The same four corners clockwise (y down) from the one nearest to the top left."""
    around = corners - corners.mean(axis=0)
    turned = corners[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    return np.roll(turned, -int(np.argmin(turned.sum(axis=1))), axis=0)


def _outlines(bright: np.ndarray) -> list[np.ndarray]:
    """Rough four-sided outlines of large patches, at several levels of brightness."""
    import cv2

    shrink = min(_LOOK / max(bright.shape), 1.0)
    size = tuple(max(round(side * shrink), 1) for side in bright.shape[::-1])
    small = cv2.GaussianBlur(cv2.resize(bright, size, interpolation=cv2.INTER_AREA), (0, 0), 1.0)
    otsu, _ = cv2.threshold(small, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    levels = sorted({round(level) for level in (*np.percentile(small, _BRIGHTNESS), otsu, otsu / 2)})
    found = [quad for level in levels for lit in (small > level, small <= level) for quad in _quads(lit)]
    back = np.array(bright.shape[::-1]) / np.array(size)
    apart: list[np.ndarray] = []
    for quad in found:
        if all(np.abs(quad - other).max() > 3.0 for other in apart):
            apart.append(quad)
    return [(quad + 0.5) * back - 0.5 for quad in apart]


def _quads(lit: np.ndarray) -> list[np.ndarray]:
    import cv2

    closed = cv2.morphologyEx(lit.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    contours, _ = cv2.findContours(closed, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    quads = []
    for contour in sorted(contours, key=cv2.contourArea, reverse=True)[:4]:
        hull = cv2.convexHull(contour)
        if not _LEAST_AREA * lit.size < cv2.contourArea(hull) < 0.98 * lit.size:
            continue
        for share in (0.02, 0.04, 0.07):
            quad = cv2.approxPolyDP(hull, share * cv2.arcLength(hull, True), True)
            if len(quad) == 4:
                quads.append(in_order(quad[:, 0].astype(float)))
                break
    return quads


def _refined(bright: np.ndarray, corners: np.ndarray) -> np.ndarray | None:
    """Corners on the steepest steps near the sides of an outline; None where a side is no line."""
    reach = max(_REACH * float(np.sqrt(max(_area(corners), 0.0))), _LEAST_REACH)
    for _ in range(_ROUNDS):
        lines = []
        for k in range(4):
            ends = corners[k], corners[(k + 1) % 4]
            line = _side(bright, *ends, reach)
            if line is None or _step_along(bright, ends, line) < _SURE:
                line = _nearer(bright, ends, line, _faint_side(bright, *ends, reach))
            if line is None:
                return None
            lines.append(line)
        corners = np.array([_crossing(lines[k - 1], lines[k]) for k in range(4)])
        if not np.isfinite(corners).all() or _area(corners) <= 0:
            return None
        reach = max(reach / 2.0, _LEAST_REACH)
    rows, columns = bright.shape
    inside = (corners > -1.0).all() and (corners < (columns, rows)).all()
    if not inside or _area(corners) < _LEAST_AREA * bright.size:
        return None
    lit = all(_brighter_inside(bright, corners[k], corners[(k + 1) % 4]) for k in range(4))
    return corners if lit else None


def _brighter_inside(bright: np.ndarray, start: np.ndarray, stop: np.ndarray) -> bool:
    """Whether most places along a side are brighter just inside of it than just outside: in noise every other is."""
    along = stop - start
    inward = np.array([-along[1], along[0]]) / np.hypot(*along)
    base = start + _SHARES[:, None, None] * along
    away = np.arange(1.5, 5.0, 0.5)[None, :, None] * inward
    more = _taken(bright, base + away).mean(axis=1) - _taken(bright, base - away).mean(axis=1)
    return bool((more > 0).mean() > _LEAST_BRIGHTER)


def _area(corners: np.ndarray) -> float:
    x, y = corners.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _side(bright: np.ndarray, start: np.ndarray, stop: np.ndarray, reach: float):
    """The line ((2,) point, (2,) direction) near a side; None where the steps there lie on none."""
    along = stop - start
    length = float(np.hypot(*along))
    if length < 20.0:
        return None
    inward = np.array([-along[1], along[0]]) / length
    offset = np.arange(-reach, reach + 0.25, 0.5)
    points = start + _SHARES[:, None, None] * along + offset[None, :, None] * inward
    levels = _taken(bright, points)
    step = levels[:, 4:] - levels[:, :-4]  # over two pixels, brighter inwards
    at, height = _first_step(step)
    places = (start + _SHARES[:, None] * along) + (offset[at][:, None] + 1.0) * inward
    usable = np.flatnonzero(height > _FAINTEST)
    return _line(places[usable]) if len(usable) >= _LEAST_ON_LINE * _SAMPLES else None


def _faint_side(bright: np.ndarray, start: np.ndarray, stop: np.ndarray, reach: float):
    """As `_side`, for a side that is hardly lighter than what is around it: the straight line with the highest mean
    step across it, where that stands far enough out of the steps' own scatter.
    """
    along = stop - start
    length = float(np.hypot(*along))
    if length < 20.0:
        return None
    inward = np.array([-along[1], along[0]]) / length
    offset = np.linspace(-reach, reach, _FAINT_OFFSETS)
    step = _steps_across(bright, start, along, offset)
    first, last = (each.ravel() for each in np.meshgrid(np.arange(len(offset)), np.arange(len(offset))))
    places = np.rint(first + (last - first) * _SHARES[:, None]).astype(int)
    steps = step[np.arange(_SAMPLES)[:, None], places]
    mean = steps.mean(axis=0)
    best = int(mean.argmax())
    if mean[best] < max(_FAINT, _CLEAR * float(steps[:, best].std()) / np.sqrt(_SAMPLES)):
        return None
    ends = [start + end * along + offset[at] * inward for end, at in ((0.0, first[best]), (1.0, last[best]))]
    return (ends[0] + ends[1]) / 2.0, (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))


def _nearer(bright: np.ndarray, ends: tuple[np.ndarray, np.ndarray], sharp, faint):
    """Of two lines near a side, either may be None, the one with the clearly higher mean step; else the sharp one."""
    if sharp is None or faint is None:
        return faint if sharp is None else sharp
    better = _step_along(bright, ends, faint) > _BETTER * _step_along(bright, ends, sharp)
    return faint if better else sharp


def _step_along(bright: np.ndarray, ends: tuple[np.ndarray, np.ndarray], line) -> float:
    """The mean step across a line between the two corners."""
    middle, way = line
    start, stop = (middle + way * ((end - middle) @ way) for end in ends)
    return float(_steps_across(bright, start, stop - start, np.zeros(1)).mean())


def _steps_across(bright: np.ndarray, start: np.ndarray, along: np.ndarray, offset: np.ndarray) -> np.ndarray:
    """How much lighter it is just inside than just outside, (samples along a side, offsets inward in px). In levels,
    for in light a dark screen is nothing; and a high step counts for no more than a faint one, so that a panel at one
    end does not turn a line.
    """
    inward = np.array([-along[1], along[0]]) / np.hypot(*along)
    beside = np.arange(1.0, 4.5, 0.5)
    away = np.concatenate([offset[:, None] + beside, offset[:, None] - beside], axis=1).ravel()
    light = _taken(bright, start + _SHARES[:, None, None] * along + away[None, :, None] * inward)
    levels = 255.0 * (light / 255.0) ** (1.0 / _LIGHT)
    levels = levels.reshape(_SAMPLES, len(offset), 2, len(beside)).mean(axis=3)
    return np.clip(levels[..., 0] - levels[..., 1], -_HIGHEST, _HIGHEST)


def _first_step(step: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each row's outermost step is that is half as high as its highest, to half a sample, and how high."""
    high = step.max(axis=1)
    enough = step >= 0.5 * np.maximum(high, _FAINTEST)[:, None]
    first = enough.argmax(axis=1)
    columns = np.arange(step.shape[1])
    window = (columns >= first[:, None]) & (columns < first[:, None] + 8)
    at = np.where(window, step, -np.inf).argmax(axis=1)
    return at, np.where(np.isfinite(high), step[np.arange(len(step)), at], 0.0)


def _line(places: np.ndarray):
    """A straight line through most of the places: the pair of them that most others agree with, then refitted."""
    rng = np.random.default_rng(len(places))
    first, second = rng.integers(0, len(places), (2, _TRIED))
    way = places[second] - places[first]
    length = np.hypot(*way.T)
    first, way = first[length > 10.0], way[length > 10.0] / length[length > 10.0, None]
    if not len(first):
        return None
    off = places[None] - places[first][:, None]
    near = np.abs(off[..., 1] * way[:, None, 0] - off[..., 0] * way[:, None, 1]) < _NEAR_LINE
    chosen = places[near[near.sum(axis=1).argmax()]]
    if len(chosen) < _LEAST_ON_LINE * _SAMPLES:
        return None
    middle = chosen.mean(axis=0)
    return middle, np.linalg.svd(chosen - middle)[2][0]


def _crossing(one, other) -> np.ndarray:
    (a, u), (b, v) = one, other
    across = u[0] * v[1] - u[1] * v[0]
    if abs(across) < 1e-6:
        return np.array([np.nan, np.nan])
    return a + u * ((b - a)[0] * v[1] - (b - a)[1] * v[0]) / across


def _taken(bright: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Levels at points (..., 2), between pixels; beyond the rim those of the rim."""
    import cv2

    x, y = np.moveaxis(points.astype(np.float32), -1, 0)
    return cv2.remap(bright, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
