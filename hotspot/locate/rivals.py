"""Grids of other rows and columns than the stated ones in the same face: a right grid shows more than any of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.locate.faces import Face
from hotspot.locate.fitting import nearest
from hotspot.locate.lattice import propose
from hotspot.locate.sheets import Sheets
from hotspot.locate.weighing import Weighed, holding, weigh

STEPS = ((0, -2), (0, -1), (0, 1), (0, 2), (-1, 0), (1, 0))
"""Differences of rows and of columns that are tried."""

PER_LAYOUT = 2

SHOWS_MORE = 1.15
"""So many times as much must a grid with more places show to refute one. Ours."""

LARGER_TRIED = 3
"""In so many larger faces grids with more places are looked for: the clearest is not always the whole one."""


@dataclass(frozen=True, slots=True)
class Rival:
    """The best grid of another layout (rows, columns)."""

    layout: tuple[int, int]
    best: Weighed


def rivals(
    first: Weighed, sheets: Sheets, places: tuple[tuple[int, int], np.ndarray], faces: list[Face]
) -> list[Rival]:
    """The best grid of each neighbouring layout in the face of `first`, and in the clearest larger ones that hold it:
    one, or `LARGER_TRIED` for grids with more places.

    `places`: the stated rows and columns, and the cells (n, 2) that hold a pin.
    """
    (rows, columns), cells = places
    larger = holding(first.grid, cells, faces)
    found = []
    for down, right in STEPS:
        layout = rows + down, columns + right
        if min(layout) < 1 or max(layout) < 2:
            continue
        more = layout[0] * layout[1] > rows * columns
        where = [first.grid.face, *larger[: LARGER_TRIED if more else 1]]
        every = np.array([(row, column) for row in range(layout[0]) for column in range(layout[1])])
        grids = [nearest(one, sheets.seen, every) for one in propose(sheets, where, layout, every)[:PER_LAYOUT]]
        if grids:
            best = max((weigh(one, sheets, every, faces) for one in grids), key=lambda one: one.worth)
            found.append(Rival(layout, best))
    return found


def with_more(first: Weighed, others: list[Rival]) -> Rival | None:
    """The best rival with more places, if it is worth more than a grid and shows clearly more in all. Of right grids
    with a confidence above the bar one had such a rival with a log of 0.06 of what it showed more, a wrong one 0.3."""
    places = round((2.0 * first.grid.about[0] + 1.0) * (2.0 * first.grid.about[1] + 1.0))
    better = [
        one
        for one in others
        if one.layout[0] * one.layout[1] > places
        and one.best.worth > first.worth
        and one.best.shown > SHOWS_MORE * first.shown
    ]
    return max(better, key=lambda one: one.best.worth, default=None)
