"""Printed numbers: strokes out of a line of print, grouped into characters, and each character as a small picture.

The line is enlarged, set between its ground (0) and its ink (1), and cut at a level. Connected strokes that lie over
each other are one character. Points, dashes and rings are told by where they stand and how large they are; tall ones
are compared as pictures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

ENLARGED = 3  # times before the cut
CELLS = 20  # of a character's picture over the height of the line
_MARGIN = 3  # cells above and below
HIGH, WIDE = CELLS + 2 * _MARGIN, 28
_ACROSS, _DOWN = (-2, -1, 0, 1, 2), (-1, 0, 1)  # cells that one picture is moved against another
_WIDEST_GAP = 1.0  # of the height, inside a number and before its unit
_HALF, _SPLIT = 0.42, 0.12  # of the height: width of half a digit, and the gap between two halves
_POINT_GAP, _FOOT, _FAINT = 0.45, 0.72, 0.2  # of the height: a gap for a point, its foot; ink of a faint point
TALL, POINT, DASH, RING, SCRAP = "tall", "point", "dash", "ring", "scrap"


@dataclass(frozen=True, slots=True)
class Line:
    """Where a number is printed in its zone: `top` and `bottom` of its digits [px], ink and ground [levels of luma],
    the share of ink at which strokes are cut, and the point (x, y) that it is printed next to.
    """

    top: float
    bottom: float
    ink: float
    ground: float
    cut: float
    beside: tuple[float, float]

    @property
    def height(self) -> float:
        """Height of a digit, px."""
        return self.bottom - self.top


@dataclass(frozen=True, slots=True)
class Character:
    """One character: its kind, left and right [px of the zone], and its picture, 0-1 (cells,)."""

    kind: str
    left: float
    right: float
    picture: np.ndarray = field(repr=False)


def inked(zone: np.ndarray, ink: float, ground: float) -> np.ndarray:
    """Luma of a zone (rows, columns), enlarged: 0 where there is ground, 1 where there is ink, float32."""
    import cv2

    rows, columns = zone.shape
    size = (columns * ENLARGED, rows * ENLARGED)
    large = cv2.resize(zone.astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    return np.clip((large - ground) / (ink - ground), 0.0, 1.0)


def strokes(share: np.ndarray, cut: float) -> tuple[np.ndarray, np.ndarray]:
    """Connected strokes of an enlarged zone: labels, and left, top, right, bottom, area of each (first: the ground)."""
    import cv2

    _, label, stats, _ = cv2.connectedComponentsWithStats((share > cut).astype(np.uint8), connectivity=8)
    boxes = stats.astype(int)
    boxes[:, 2:4] += boxes[:, :2]
    return label, boxes


def characters(zone: np.ndarray, line: Line) -> list[Character]:
    """The characters of the line in this zone, from left to right; none where nothing is printed there."""
    share = inked(zone, line.ink, line.ground)
    label, boxes = strokes(share, line.cut)
    groups = _nearest_run(_grouped(boxes, line), boxes, line)
    run = [_character(share, np.isin(label, group), boxes[group], line) for group in groups]
    run = _with_faint_points(run, share, line)
    while run and run[0].kind in (POINT, RING, SCRAP) and not _half_as_high(run[0]):
        run.pop(0)  # a speck of the scene: no number begins with one; what is higher is a broken digit
    while run and run[-1].kind in (POINT, SCRAP):
        run.pop()
    return run


def _half_as_high(one: Character) -> bool:
    """Whether its ink reaches over half the height of the line, as a digit does whose strokes broke."""
    rows = np.flatnonzero((one.picture.reshape(HIGH, WIDE) > _FAINT).any(axis=1))
    return bool(len(rows)) and rows[-1] - rows[0] + 1 > CELLS / 2


def _with_faint_points(run: list[Character], share: np.ndarray, line: Line) -> list[Character]:
    """The characters, and between two with a wide gap a point that is too small to reach the cut: ink in the gap on
    the foot of the line, and hardly any above.
    """
    out = run[:1]
    for one in run[1:]:
        before = out[-1]
        if before.kind == TALL == one.kind and one.left - before.right > _POINT_GAP * line.height:
            left, right = (round(x * ENLARGED) for x in (before.right + 1.0, one.left - 1.0))
            top, foot, bottom = (
                max(round((line.top + part * line.height) * ENLARGED), 0) for part in (0.0, _FOOT, 1.1)
            )
            low, above = share[foot:bottom, left:right], share[top:foot, left:right]
            foot_ink = low.max(axis=0) if low.size else np.zeros(1)
            beside = max(foot_ink[0], foot_ink[-1])  # the soft feet of two 1s
            if above.size and foot_ink.max() > max(_FAINT, 3.0 * above.max(), 2.0 * beside):
                middle = (left + int(foot_ink.argmax()) + 0.5) / ENLARGED
                out.append(Character(POINT, middle - 0.5, middle + 0.5, np.zeros(HIGH * WIDE, np.float32)))
        out.append(one)
    return out


def parted(zone: np.ndarray, line: Line, character: Character) -> list[tuple[Character, Character]]:
    """A character cut into a left and a right one, at every place where both could be something."""
    share = inked(zone, line.ink, line.ground)
    left, right = round(character.left * ENLARGED), round(character.right * ENLARGED)
    strong = share > line.cut
    out = []
    for at in range(left + ENLARGED, right - ENLARGED + 1):
        both = [_between(share, strong, ends, line) for ends in ((left, at), (at, right))]
        if both[0] is not None and both[1] is not None:
            out.append((both[0], both[1]))
    return out


def _between(share: np.ndarray, strong: np.ndarray, ends: tuple[int, int], line: Line) -> Character | None:
    """What stands between two columns of the enlarged zone, as one character."""
    first, last = (round((y + k) * ENLARGED) for y, k in ((line.top, -2), (line.bottom, 3)))
    own = np.zeros_like(strong)
    rows = slice(max(first, 0), max(last, 0))
    own[rows, ends[0] : ends[1]] = strong[rows, ends[0] : ends[1]]
    ys, xs = np.nonzero(own)
    if len(xs) < 5:
        return None
    box = np.array([[xs.min(), ys.min(), xs.max() + 1, ys.max() + 1, len(xs)]])
    return _character(share, own, box, line, within=ends)


def _grouped(boxes: np.ndarray, line: Line) -> list[list[int]]:
    """Strokes of the line, those over each other together, from left to right."""
    top, bottom, height = line.top * ENLARGED, line.bottom * ENLARGED, line.height * ENLARGED
    slack = max(0.15 * height, ENLARGED)
    left, up, right, down, area = boxes.T
    inside = (up > top - slack) & (down < bottom + slack + 0.1 * height) & (area >= 5) & (right - left < 3 * height)
    inside[0] = False
    order = sorted(np.flatnonzero(inside), key=lambda k: left[k] + right[k])
    groups: list[list[int]] = []
    for k in order:
        if groups:
            start, stop = min(left[groups[-1]]), max(right[groups[-1]])
            if min(stop, right[k]) - max(start, left[k]) > 0.5 * min(stop - start, right[k] - left[k]):
                groups[-1].append(k)
                continue
        groups.append([k])
    return _halves_joined(groups, boxes, line)


def _halves_joined(groups: list[list[int]], boxes: np.ndarray, line: Line) -> list[list[int]]:
    """A round digit whose top and bottom are too thin to be seen stands as two narrow halves with hardly a gap; two
    digits never stand so near, narrow as a 1 may be.
    """
    height = line.height * ENLARGED
    out: list[list[int]] = []
    for group in groups:
        if out and _kind(boxes[group], line) == TALL == _kind(boxes[out[-1]], line):
            both = (out[-1], group)
            wide = [boxes[one, 2].max() - boxes[one, 0].min() for one in both]
            gap = boxes[group, 0].min() - boxes[out[-1], 2].max()
            if max(wide) <= _HALF * height and gap <= _SPLIT * height and sum(wide) + gap <= 2 * _HALF * height:
                out[-1] = [*out[-1], *group]
                continue
        out.append(group)
    return out


def _nearest_run(groups: list[list[int]], boxes: np.ndarray, line: Line) -> list[list[int]]:
    """Of the groups with no wide gap between them, those nearest to what the line is printed next to."""
    runs: list[list[list[int]]] = []
    last = -np.inf
    for group in groups:
        if boxes[group, 0].min() - last > _WIDEST_GAP * line.height * ENLARGED:
            runs.append([])
        runs[-1].append(group)
        last = boxes[group, 2].max()
    tall = [run for run in runs if any(_kind(boxes[group], line) == TALL for group in run)]
    if not tall:
        return []
    x = line.beside[0] * ENLARGED

    def away(run: list[list[int]]) -> float:
        left, right = boxes[run[0], 0].min(), boxes[run[-1], 2].max()
        return max(left - x, x - right, 0.0)

    return min(tall, key=away)


def _kind(boxes: np.ndarray, line: Line) -> str:
    """Told by place and size; `boxes` are those of a character's strokes. A scrap is none of the kinds."""
    height = line.height * ENLARGED
    up, down = (boxes[:, 1].min() / ENLARGED - line.top), (boxes[:, 3].max() / ENLARGED - line.top)
    up, down = up / line.height, down / line.height
    wide, high = (boxes[:, 2].max() - boxes[:, 0].min()) / height, down - up
    if up < 0.25 and down > 0.8 and wide > 0.06:
        return TALL
    if high < 0.35 and wide > 0.18 and wide > 1.25 * high and up > 0.2 and down < 0.92:
        return DASH
    if high < 0.4 and wide < 0.45 and up > 0.55:
        return POINT
    if 0.15 < high < 0.65 and wide > 0.15 and down < 0.72:
        return RING
    return SCRAP


def _character(
    share: np.ndarray, own: np.ndarray, boxes: np.ndarray, line: Line, within: tuple[int, int] | None = None
) -> Character:
    """The character of the strokes `own` (mask) with their `boxes`; soft edges count `within` these columns."""
    import cv2

    left, right = int(boxes[:, 0].min()), int(boxes[:, 2].max())
    own = cv2.dilate(own.astype(np.uint8), np.ones((ENLARGED, ENLARGED), np.uint8))
    if within is not None:
        own[:, : within[0]] = 0
        own[:, within[1] :] = 0
    cell = line.height * ENLARGED / CELLS
    middle = ((left + right) / 2.0, (line.top + line.bottom) / 2.0 * ENLARGED)
    # The picture's cell (r, c) shows the enlarged zone at middle + (c - centre) * cell.
    move = np.array(
        [[cell, 0.0, middle[0] - 0.5 - cell * (WIDE - 1) / 2], [0.0, cell, middle[1] - 0.5 - cell * (HIGH - 1) / 2]]
    )
    smooth = cv2.blur(share * own, (2, 2)) if cell > 1.5 else share * own
    picture = cv2.warpAffine(smooth, move, (WIDE, HIGH), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    return Character(_kind(boxes, line), left / ENLARGED, right / ENLARGED, picture.ravel())


def unlikeness(pictures: np.ndarray, models: np.ndarray) -> np.ndarray:
    """How unlike pictures (n, cells) are to models (m, cells), (n, m): the squared difference over the mean square of
    the two, at the best of a few shifts. 0 alike, 2 nothing in common.
    """
    best = np.full((len(pictures), len(models)), 2.0)
    if not best.size:
        return best
    own, theirs = (pictures**2).sum(axis=1), (models**2).sum(axis=1)
    whole = models.reshape(-1, HIGH, WIDE)
    for down in _DOWN:
        for across in _ACROSS:
            moved = np.roll(whole, (down, across), (1, 2)).reshape(len(models), -1)
            shared = pictures @ moved.T
            best = np.minimum(best, 2.0 - 4.0 * shared / np.maximum(own[:, None] + theirs[None], 1e-9))
    return best


def alike_groups(pictures: np.ndarray, most: float) -> tuple[np.ndarray, np.ndarray]:
    """Pictures (n, cells) sorted into groups whose members differ by `most` at most from their mean: the group of
    each (n,), and the means (m, cells), largest group first.
    """
    group = np.full(len(pictures), -1)
    means: list[np.ndarray] = []
    while (left := np.flatnonzero(group < 0)).size:
        mean = pictures[left[0]]
        for _ in range(2):
            near = left[unlikeness(pictures[left], mean[None])[:, 0] < most]
            mean = pictures[near].mean(axis=0) if near.size else mean
        near = near if near.size else left[:1]
        group[near] = len(means)
        means.append(mean)
    if not means:
        return group, np.empty((0, HIGH * WIDE), np.float32)
    # Once more, each to its nearest.
    table = np.stack(means)
    group = unlikeness(pictures, table).argmin(axis=1)
    order = np.argsort(-np.bincount(group, minlength=len(table)), kind="stable")
    place = np.empty(len(order), int)
    place[order] = np.arange(len(order))
    return place[group], table[order]


def pictures_of(found: Sequence[Character]) -> np.ndarray:
    """(n, cells) of characters."""
    return np.stack([one.picture for one in found]) if found else np.empty((0, HIGH * WIDE), np.float32)
