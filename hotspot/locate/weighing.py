"""A fitted grid -> what speaks for it and against it, number by number.

What a wrong grid has and the right one has not: spots between its places, further rows beyond them or room for
them, spots in its face that are none of its pins, a middle that is not the face's, places that touch the face's rim,
a face that is part of a larger one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.faces import Face, clearness
from hotspot.locate.fitting import covered, shows, within
from hotspot.locate.lattice import Lattice, between
from hotspot.locate.sheets import Sheets
from hotspot.locate.spots import evidence

LARGER, OFF_ITS_MIDDLE = 1.06, 0.3
"""A face is a larger one from this ratio of areas on, and holds a grid off its middle from so many pitches on."""

MOST_HIDDEN = 0.34
"""Share of a grid's places that may be hidden and still be taken for what the others are. Ours: a column of three."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A fitted grid and what speaks for and against it, each about 0 to 1.

    `shown`: the sum of the evidence at the places; `plain`: the mean of its root; `seen`: share of the places that
    show more than anything between them; `beside`: the root of the highest mean evidence of a set of places half-way
    between its own; `beyond`: the same of a row or column one or two steps outside; `further`: the same of one that
    lies whole in its face; `strangers`: evidence of spots in the face that are none of its places, over that of its
    places; `off`: how far its middle lies from the face's, in pitches; `uneven`: how much less clear the face becomes
    (0 to 5) that has the grid in its middle; `rim`: from the outer places to the face's nearest side, in radii;
    `room`: from the outer places to the face's side, in steps of the grid, the wider of both ways; `larger`: how
    clear, against its own face, a larger one is in which the grid would not lie in the middle: 0 for one edge less, 1
    for as clear; `unclear`: how much clearer (0 to 1) another face is that holds half of the places at least.
    """

    grid: Lattice
    shown: float
    plain: float
    seen: float
    beside: float
    beyond: float
    further: float
    strangers: float
    off: float
    uneven: float
    rim: float
    room: float
    larger: float
    unclear: float

    @property
    def worth(self) -> float:
        """What ranks it among others: what speaks for it less what speaks against. Weights are ours."""
        against = 0.6 * self.beside + 0.8 * self.beyond + 0.3 * min(self.strangers, 1.0) + 2.0 * self.off**2
        return self.plain + 0.3 * self.seen - against


def weigh(grid: Lattice, sheets: Sheets, cells: np.ndarray, found_faces: list[Face]) -> Weighed:
    """What speaks for and against a grid that is fitted already. `cells` (n, 2): its places that hold a pin."""
    own = _own(grid, sheets, cells)
    half = between(cells)
    groups = [
        half[(half[:, 0] % 1 == down) & (half[:, 1] % 1 == right)] for down, right in ((0, 0.5), (0.5, 0), (0.5, 0.5))
    ]
    beside = [float(shows(grid, sheets.seen, group).mean()) for group in groups if len(group)]
    lines = beyond(grid)
    further = [float(shows(_widened(grid), sheets.seen, line).mean()) for line in lines]
    whole = [float(shows(grid, sheets.seen, line).mean()) for line in lines if _lies_in(grid, line)]
    highest = float(np.percentile(shows(grid, sheets.seen, half), 90))
    rim, room = _margins(grid, cells)
    return Weighed(
        grid=grid,
        shown=float(own.sum()),
        plain=float(np.sqrt(own).mean()),
        seen=float(np.mean(own > max(1.2 * highest, 0.03))),
        beside=float(np.sqrt(max(beside, default=0.0))),
        beyond=float(np.sqrt(max(further))),
        further=float(np.sqrt(max(whole, default=0.0))),
        strangers=_strangers(grid, sheets, (cells, own)),
        off=float(np.hypot(*(grid.face_middle - [grid.face.x, grid.face.y]))) / grid.pitch_px,
        uneven=_uneven(grid, cells, sheets),
        rim=rim / grid.radius_px,
        room=room,
        larger=_in_a_larger(grid, cells, found_faces),
        unclear=_less_clear(grid, cells, found_faces),
    )


def _own(grid: Lattice, sheets: Sheets, cells: np.ndarray) -> np.ndarray:
    """Evidence (n,) at the places of a grid. Those that something hides count as the others do in the mean, unless
    they are more than `MOST_HIDDEN` of all."""
    own = shows(grid, sheets.seen, cells)
    hidden = covered(grid, sheets.seen, cells)
    if hidden.any() and hidden.mean() <= MOST_HIDDEN:
        own[hidden] = own[~hidden].mean()
    return own


def _lies_in(grid: Lattice, line: np.ndarray) -> bool:
    """Whether places lie in the grid's face with most of their discs."""
    less = 1.2 * grid.radius_px
    face = replace(grid.face, width=grid.face.width - less, height=grid.face.height - less)
    return bool(within(face, *grid.at(line)).all())


def _margins(grid: Lattice, cells: np.ndarray) -> tuple[float, float]:
    """From the outer places to the nearest side of the face [px], and in steps of the grid where that is most."""
    x, y = grid.at(cells)
    over, under = np.abs(grid.face.axes.T @ np.array([x - grid.face.x, y - grid.face.y]))
    beside, above = grid.face.width / 2 - over.max(), grid.face.height / 2 - under.max()
    steps = [
        margin / np.hypot(*step)
        for margin, step, middle in ((above, grid.across, grid.about[0]), (beside, grid.along, grid.about[1]))
        if middle > 0
    ]
    return float(min(beside, above)), float(max(steps, default=0.0))


def _uneven(grid: Lattice, cells: np.ndarray, sheets: Sheets) -> float:
    """What clearness the grid's face loses where it is moved to have the grid in its middle; its size is free."""
    face, edges = grid.face, (sheets.right, sheets.down)
    middle, (x, y) = grid.face_middle, grid.at(cells)
    over, under = np.abs(face.axes.T @ np.array([x - middle[0], y - middle[1]]))
    least = 2.0 * np.array([over.max(), under.max()]) + 2.0 * grid.radius_px
    lies = np.abs(face.axes.T @ (middle - [face.x, face.y]))
    starts = [
        np.maximum([face.width + wider * lies[0], face.height + taller * lies[1]], least)
        for wider in (-2.0, 0.0, 2.0)
        for taller in (-2.0, 0.0, 2.0)
    ]
    tried = [np.array([*middle, *size, face.turn]) for size in starts]
    values = [clearness(place, *edges) for place in tried]
    place, best = tried[int(np.argmax(values))], max(values)
    step = np.array([1.5, 1.5, np.radians(1.0)])
    for _ in range(5):
        for which in (2, 3, 4):
            for way in (1.0, -1.0):
                moved = place.copy()
                moved[which] += way * step[which - 2]
                value = clearness(moved, *edges)
                if value > best and (moved[2:4] >= least).all():
                    place, best = moved, value
        step = step / 1.6
    return float(np.clip(face.clear - best, 0.0, 5.0))


def _in_a_larger(grid: Lattice, cells: np.ndarray, found_faces: list[Face]) -> float:
    """Of the other faces that hold all places, off their middle: the clearest, 1 for as clear as the grid's own."""
    most = 0.0
    for face in holding(grid, cells, found_faces):
        lies = face.axes.T @ (grid.face_middle - [face.x, face.y])
        if np.hypot(*lies) > OFF_ITS_MIDDLE * grid.pitch_px:
            most = max(most, 1.0 + face.clear - grid.face.clear)
    return float(np.clip(most, 0.0, 1.5))


def _less_clear(grid: Lattice, cells: np.ndarray, found_faces: list[Face]) -> float:
    x, y = grid.at(cells)
    others = [face.clear for face in found_faces if 2 * within(face, x, y).sum() >= len(x)]
    return float(np.clip(max(others, default=0.0) - grid.face.clear, 0.0, 1.0))


def holding(grid: Lattice, cells: np.ndarray, found_faces: list[Face]) -> list[Face]:
    """The larger faces in which all places of a grid lie too, the clearest first."""
    x, y = grid.at(cells)
    area = grid.face.width * grid.face.height
    larger = [face for face in found_faces if face.width * face.height > LARGER * area and within(face, x, y).all()]
    return sorted(larger, key=lambda face: face.clear, reverse=True)


def _widened(grid: Lattice) -> Lattice:
    """The grid in a face that reaches beyond the next two places on every side: the true face may be larger."""
    more = 4.6 * float(max(np.hypot(*grid.along), np.hypot(*grid.across)))
    return replace(grid, face=replace(grid.face, width=grid.face.width + more, height=grid.face.height + more))


def beyond(grid: Lattice) -> list[np.ndarray]:
    """The sets of places one and two steps outside a grid, a side at a time."""
    rows, columns = (round(2.0 * middle) + 1 for middle in grid.about)
    upright = [np.array([(row, column) for row in range(rows)]) for column in (-2, -1, columns, columns + 1)]
    level = [np.array([(row, column) for column in range(columns)]) for row in (-2, -1, rows, rows + 1)]
    return upright + level


def _strangers(grid: Lattice, sheets: Sheets, places: tuple[np.ndarray, np.ndarray]) -> float:
    """Evidence of spots of the grid's radius within its face and off its places, over the sum of the places'."""
    import cv2

    cells, own = places
    patch = sheets.patch(grid.face)
    spots = evidence(patch, grid.radius_px)
    top = (spots >= cv2.dilate(spots, np.ones((3, 3), np.uint8))) & (spots > 0.5 * np.median(own)) & (spots > 0.1)
    rows, columns = np.nonzero(top)
    at = patch.back[:, :2] @ np.array([columns, rows], dtype=float) + patch.back[:, 2:]
    x, y = grid.at(cells)
    away = np.hypot(at[0][:, None] - x, at[1][:, None] - y).min(axis=1, initial=np.inf)
    counts = (away > max(1.5 * grid.radius_px, 2.0)) & within(grid.face, *at)
    return float(spots[rows, columns][counts].sum() / max(own.sum(), 1e-6))
