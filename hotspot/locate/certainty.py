"""How sure it is that the best of the proposed grids is the one that was stated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from hotspot.locate.faces import Face, faces
from hotspot.locate.fitting import fit, within
from hotspot.locate.lattice import Lattice, propose, same
from hotspot.locate.rivals import Rival, rivals
from hotspot.locate.sheets import Sheets
from hotspot.locate.weighing import Weighed, holding, weigh

CANDIDATES = 3
CLEARER = 0.2
"""By how much (of 5) a larger face must be clearer than the one that proposed a grid, to be taken for its own. Ours."""

SECONDS, AROUND_PX = 4, 8.0
"""How many grids elsewhere are held against the best one, whose face is widened by so much [px] to leave it out."""

SECOND_CLEAR, MOST_WIDER, MOST_LONGER = 4.4, 2.2, 1.8
"""How clear the outline of another connector must be, how many times wider or narrower than the first it may be, and
how much more drawn out or less. Ours."""

ALIKE_CLEAR, ALIKE_WIDER, ALIKE_LONGER, ALIKE = 4.5, 1.5, 1.28, 0.5
"""A face that is as clear, at the most so many times wider or narrower than the first one and as much more drawn out or
less is another such connector with this confidence, however little its pins show. Ours."""

AT_NOUGHT = -1.17
WEIGHTS = {
    "beyond": -0.96,
    "further": -5.22,
    "off": -5.72,
    "uneven": -1.01,
    "rim": 0.98,
    "room": -2.58,
    "larger": -1.58,
    "part": -3.37,
    "unclear": -1.66,
    "score": 10.39,
    "fewer_as_good": -5.53,
    "more_better": -5.84,
    "fewer_show_more": -6.07,
    "more_show_more": -3.27,
    "beaten": -2.42,
    "lead": 1.58,
}
"""A logistic regression, each weight held to its sense, each term at unit spread with a normal prior of spread 1, on
made sessions whose best grid was known: see docs/decisions/finding_the_pins.md."""


def weighed(proposed: list[Lattice], sheets: Sheets, cells: np.ndarray, rectangles: list[Face]) -> list[Weighed]:
    """The best few proposals fitted and weighed, the best first."""
    found: list[Weighed] = []
    for grid in proposed[:CANDIDATES]:
        fitted = fit(grid, sheets.seen, cells)
        if all(not same(fitted, one.grid, cells) for one in found):
            moved = _in_its_face(weigh(fitted, sheets, cells, rectangles), sheets, cells, rectangles)
            if all(not same(moved.grid, one.grid, cells) for one in found):  # what the face itself proposed comes first
                found.append(moved)
    return sorted(found, key=lambda one: one.worth, reverse=True)


def _in_its_face(first: Weighed, sheets: Sheets, cells: np.ndarray, rectangles: list[Face]) -> Weighed:
    """The grid in the clearest larger face that holds it, where that is the clearer one and has the grid nearer to its
    middle: faces whose rim is wider than is tried propose no grid themselves."""
    for face in holding(first.grid, cells, rectangles)[:1]:
        if face.clear > first.grid.face.clear + CLEARER:
            other = weigh(fit(replace(first.grid, face=face), sheets.seen, cells), sheets, cells, rectangles)
            if other.off < first.off and other.worth > first.worth:
                return other
    return first


def elsewhere(first: Weighed, sheets: Sheets, wanted: tuple[tuple[int, int], np.ndarray]) -> float:
    """Confidence in the best grid apart from the face of `first`: another connector in the picture.

    It is looked for with that face left out, so that no edge of it stands before the other's. `wanted`: rows and
    columns, and the cells (n, 2) that hold a pin.
    """
    layout, cells = wanted
    wide = replace(first.grid.face, width=first.grid.face.width + AROUND_PX, height=first.grid.face.height + AROUND_PX)
    down, right = np.indices(sheets.right.shape, dtype=float)
    own = within(wide, right.ravel(), down.ravel()).reshape(right.shape)
    found = faces((np.where(own, 0.0, sheets.right), np.where(own, 0.0, sheets.down)), *layout)
    found = [face for face in found if _like_another(face, first.grid.face)]
    surest = ALIKE if any(_alike(face, first.grid.face) for face in found) else 0.0
    for start in propose(sheets, found, layout, cells)[:SECONDS]:
        other = weigh(fit(start, sheets.seen, cells), sheets, cells, [start.face])
        surest = max(surest, confidence_of(other, rivals(other, sheets, wanted, [start.face])))
    return surest


def _like_another(face: Face, first: Face) -> bool:
    """Whether a face is outlined and shaped as that of another connector of the same rows and columns would be, and
    lies apart from the first one: not its wires, nor print."""
    wider, longer = _unlike(face, first)
    alike = face.clear >= SECOND_CLEAR and wider <= np.log(MOST_WIDER) and longer <= np.log(MOST_LONGER)
    return bool(alike) and not _overlap(face, first)


def _alike(face: Face, first: Face) -> bool:
    """Whether a face apart from the first one has its size and shape, nearly, and as clear an outline."""
    wider, longer = _unlike(face, first)
    return bool(face.clear >= ALIKE_CLEAR and wider <= np.log(ALIKE_WIDER) and longer <= np.log(ALIKE_LONGER))


def _unlike(face: Face, first: Face) -> tuple[float, float]:
    """Logs of how many times wider one of two faces is, and how many times more drawn out one is."""
    longer = face.width / face.height * first.height / first.width
    return abs(float(np.log(face.width / first.width))), abs(float(np.log(longer)))


def _overlap(one: Face, other: Face) -> bool:
    """Whether the middle of one face lies in the other."""
    middles = np.array([[one.x, other.x], [one.y, other.y]])
    return bool(within(one, *middles)[1] or within(other, *middles)[0])


def terms(first: Weighed, others: Sequence[Rival]) -> Mapping[str, float]:
    """What the confidence in a grid is made of: the grid itself, and what grids of other layouts show."""
    places = (2.0 * first.grid.about[0] + 1.0) * (2.0 * first.grid.about[1] + 1.0)
    fewer = [one.best for one in others if one.layout[0] * one.layout[1] < places]
    more = [one.best for one in others if one.layout[0] * one.layout[1] > places]
    lead = first.worth - max((one.best.worth for one in others), default=-1.0)
    return {
        "beyond": first.beyond,
        "further": first.further,
        "off": min(first.off, 0.5),
        "uneven": min(first.uneven, 2.0),
        "rim": min(first.rim, 3.0),
        "room": min(first.room, 2.0),
        "larger": first.larger,
        "part": float(np.clip(first.larger - 0.8, 0.0, 0.7)),
        "unclear": first.unclear,
        "score": first.grid.score,
        "fewer_as_good": max((_better(first, one, 10.0, 1.0) for one in fewer), default=0.0),
        "more_better": max((_better(first, one, 5.0, 0.0) for one in more), default=0.0),
        "fewer_show_more": min(_shown_above(first, fewer), 0.3),
        "more_show_more": min(_shown_above(first, more), 0.4),
        "beaten": float(np.clip(-lead, 0.0, 0.5)),
        "lead": float(np.clip(lead, -0.5, 0.3)),
    }


def _better(first: Weighed, other: Weighed, steep: float, at_even: float) -> float:
    """By how much another grid's worth is above the first one's, up to 0.3, as far as it also shows as much in all: 1
    where it does by far, `at_even` where it shows just as much."""
    shows_too = at_even + steep * float(np.log(max(other.shown, 1e-3) / max(first.shown, 1e-3)))
    return float(np.clip(other.worth - first.worth, 0.0, 0.3) * np.clip(shows_too, 0.0, 1.0))


def _shown_above(first: Weighed, others: Sequence[Weighed]) -> float:
    """Log of what the best of some others shows at all its places together over what the first one shows, or 0."""
    most = max((one.shown for one in others), default=0.0)
    return float(np.log(max(most, first.shown, 1e-3) / max(first.shown, 1e-3)))


def confidence_of(first: Weighed, others: Sequence[Rival]) -> float:
    """How sure a weighed grid is, 0 to 1. `others`: the best of the layouts beside the stated one."""
    logit = AT_NOUGHT + sum(WEIGHTS[name] * value for name, value in terms(first, others).items())
    return float(1.0 / (1.0 + np.exp(-logit)))
