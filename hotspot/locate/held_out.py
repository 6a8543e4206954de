"""How much a grid rests on single places: where the others come to lie once one of them is left out.

The places of a right grid bear each other out. Where hardly any pin shows, one hot spot in the plastic can pull the
whole grid; the fit without it then ends elsewhere.
"""

from __future__ import annotations

import numpy as np

from hotspot.locate.fitting import again, fit, polished, shows
from hotspot.locate.lattice import Lattice
from hotspot.locate.views import Views

LEFT_OUT = 4
"""So many places, those that show most, are left out in turn: one that shows nothing pulls at nothing."""


AT_EASE = 0.1
"""A grid of which no place moves by more, in pitches, is not fitted once more. Ours."""


def steadiest(grid: Lattice, seen: Views, cells: np.ndarray) -> tuple[Lattice, float]:
    """A fitted grid with its perspective, and its spread; where that is large, the same fitted once more, if that is
    steadier: what a fit sees lies about where it began."""
    first = polished(grid, seen, cells)
    moves = spread(first, seen, cells)
    if moves <= AT_EASE:
        return first, moves
    second = polished(fit(grid, seen, cells), seen, cells)
    other = spread(second, seen, cells)
    return (second, other) if other < moves else (first, moves)


def spread(grid: Lattice, seen: Views, cells: np.ndarray) -> float:
    """By how many pitches the place at cells (n, 2) that moves most moves in fits that leave out one place each."""
    evidence = shows(grid, seen, cells)
    x, y = grid.at(cells)
    most = 0.0
    for place in np.argsort(evidence, kind="stable")[::-1][:LEFT_OUT]:
        rest = np.delete(cells, place, axis=0)
        if evidence[place] > 0.0 and len(rest):
            other_x, other_y = again(grid, seen, rest).at(cells)
            most = max(most, float(np.hypot(other_x - x, other_y - y).max()))
    return most / grid.pitch_px
