"""Which of the proposed grids it is, and how sure that is.

What a wrong grid has and the right one has not: spots between its places, further rows beyond them, spots in its face
that are none of its pins, a middle that is not the face's, a face that is part of a larger one, a rival as good.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.faces import Face
from hotspot.locate.fitting import fit, shows, within
from hotspot.locate.lattice import Lattice, between, same
from hotspot.locate.spots import evidence, inside
from hotspot.locate.views import Views

CANDIDATES = 3

AT_NOUGHT = 0.49
WEIGHTS = {
    "beside": -0.28,
    "beyond": -0.92,
    "strangers": -3.09,
    "off": -6.19,
    "score": 4.26,
    "within": -2.60,
    "rival": -3.12,
}
"""A logistic regression on 66 made sessions: 31 asked for the grid that is there (all found first), 35 for another one
or in a part of the picture without a connector. Weights were held to their sense. See docs/decisions."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A fitted grid and what speaks for and against it, each about 0 to 1.

    `plain`: mean root of the evidence at the places; `seen`: share of the places that show more than anything
    between them; `beside`: the root of the highest mean evidence of a set of places half-way between its own;
    `beyond`: the same of a row or column one or two steps outside; `strangers`: evidence of spots in the face that
    are none of its places, over that of its places; `off`: how far its middle lies from the face's, in pitches;
    `within`: how clear, against its own face, a larger one is in which the grid would not lie in the middle: 0 for
    one edge less, 1 for as clear.
    """

    grid: Lattice
    plain: float
    seen: float
    beside: float
    beyond: float
    strangers: float
    off: float
    within: float

    @property
    def worth(self) -> float:
        """What ranks it among others: what speaks for it less what speaks against. Weights are ours."""
        against = 0.6 * self.beside + 0.8 * self.beyond + 0.3 * min(self.strangers, 1.0) + 2.0 * self.off**2
        return self.plain + 0.3 * self.seen - against


def weighed(proposed: list[Lattice], seen: Views, cells: np.ndarray, found_faces: list[Face]) -> list[Weighed]:
    """The best few proposals fitted and weighed, the best first."""
    found: list[Weighed] = []
    for grid in proposed[:CANDIDATES]:
        fitted = fit(grid, seen, cells)
        if all(not same(fitted, one.grid, cells) for one in found):
            found.append(_weigh(fitted, seen, cells, found_faces))
    return sorted(found, key=lambda one: one.worth, reverse=True)


def _weigh(grid: Lattice, seen: Views, cells: np.ndarray, found_faces: list[Face]) -> Weighed:
    own = shows(grid, seen, cells)
    half = between(cells)
    groups = [
        half[(half[:, 0] % 1 == down) & (half[:, 1] % 1 == right)] for down, right in ((0, 0.5), (0.5, 0), (0.5, 0.5))
    ]
    beside = [float(shows(grid, seen, group).mean()) for group in groups if len(group)]
    further = [float(shows(_widened(grid), seen, group).mean()) for group in beyond(cells)]
    highest = float(np.percentile(shows(grid, seen, half), 90))
    lies = np.mean(grid.at(cells), axis=1) - [grid.face.x, grid.face.y]
    return Weighed(
        grid=grid,
        plain=float(np.sqrt(own).mean()),
        seen=float(np.mean(own > max(1.2 * highest, 0.03))),
        beside=float(np.sqrt(max(beside, default=0.0))),
        beyond=float(np.sqrt(max(further))),
        strangers=_strangers(grid, seen, (cells, own)),
        off=float(np.hypot(*lies)) / grid.pitch_px,
        within=_in_a_larger(grid, cells, found_faces),
    )


def _in_a_larger(grid: Lattice, cells: np.ndarray, found_faces: list[Face]) -> float:
    """Of the other faces that hold all places, off their middle: the clearest, 1 for as clear as the grid's own."""
    x, y = grid.at(cells)
    most = 0.0
    for face in found_faces:
        larger = face.width * face.height > 1.2 * grid.face.width * grid.face.height
        if larger and within(face, x, y).all():
            lies = face.axes.T @ np.array([x.mean() - face.x, y.mean() - face.y])
            if np.hypot(*lies) > 0.4 * grid.pitch_px:
                most = max(most, 1.0 + face.clear - grid.face.clear)
    return float(np.clip(most, 0.0, 1.5))


def _widened(grid: Lattice) -> Lattice:
    """The grid in a face that reaches beyond the next two places on every side: the true face may be larger."""
    more = 4.6 * float(max(np.hypot(*grid.along), np.hypot(*grid.across)))
    return replace(grid, face=replace(grid.face, width=grid.face.width + more, height=grid.face.height + more))


def beyond(cells: np.ndarray) -> list[np.ndarray]:
    """The sets of places one and two steps outside a grid, a side at a time."""
    rows, columns = cells.max(axis=0) + 1
    upright = [np.array([(row, column) for row in range(rows)]) for column in (-2, -1, columns, columns + 1)]
    level = [np.array([(row, column) for column in range(columns)]) for row in (-2, -1, rows, rows + 1)]
    return upright + level


def _strangers(grid: Lattice, seen: Views, places: tuple[np.ndarray, np.ndarray]) -> float:
    """Evidence of spots of the grid's radius within its face and off its places, over the sum of the places'."""
    import cv2

    cells, own = places
    patch = inside(seen, grid.face)
    spots = evidence(patch, grid.radius_px)
    top = (spots >= cv2.dilate(spots, np.ones((3, 3), np.uint8))) & (spots > 0.5 * np.median(own)) & (spots > 0.1)
    rows, columns = np.nonzero(top)
    at = patch.back[:, :2] @ np.array([columns, rows], dtype=float) + patch.back[:, 2:]
    x, y = grid.at(cells)
    away = np.hypot(at[0][:, None] - x, at[1][:, None] - y).min(axis=1, initial=np.inf)
    counts = (away > max(1.5 * grid.radius_px, 2.0)) & within(grid.face, *at)
    return float(spots[rows, columns][counts].sum() / max(own.sum(), 1e-6))


def confidence_of(found: list[Weighed]) -> float:
    """How sure the first of the weighed grids is, 0 to 1; 0 where there is none."""
    if not found:
        return 0.0
    first = found[0]
    plain = max(first.plain, 0.05)
    rival = max((one.worth for one in found[1:]), default=0.0)
    terms = {
        "beside": _against(first.beside / plain, 0.5),
        "beyond": _against(first.beyond / plain, 0.7),
        "strangers": _against(first.strangers, 0.4),
        "off": _against(first.off, 0.2),
        "score": float(np.sqrt(max(first.grid.score, 0.0))),
        "within": first.within,
        "rival": _against(max(rival, 0.0), 0.5),
    }
    logit = AT_NOUGHT + sum(WEIGHTS[name] * value for name, value in terms.items())
    return float(1.0 / (1.0 + np.exp(-logit)))


def _against(value: float, scale: float) -> float:
    return min(value / scale, 2.0) ** 2
