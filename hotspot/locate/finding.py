"""The grid that a session states, found in its frames, or an honest 'not found'."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from hotspot.errors import PinsNotFound, Problem
from hotspot.locate.given import outside, radii
from hotspot.locate.numbering import WHERE, places
from hotspot.records import Frame, PinMap, Snapshot, Statement
from hotspot.session import Region, Session

if TYPE_CHECKING:
    from hotspot.locate.faces import Face
    from hotspot.locate.lattice import Lattice
    from hotspot.locate.rivals import Rival
    from hotspot.locate.sheets import Sheets
    from hotspot.locate.views import Views
    from hotspot.locate.weighing import Weighed

LEAST_CONFIDENCE = 0.6
"""A grid found with less confidence than this is not used. `hotspot.locate.certainty` says what it is made of and
how the figures were set."""

CLEARLY_MORE = 0.15
"""By how much the worth of another layout must be above that of the stated one to be named. Ours."""

LEAST_SECOND = 0.1
"""From this confidence on in a grid elsewhere in the picture neither is taken. Ours, on the low side."""

HOPELESS = 0.1
"""Below it the grid may be one with rows and columns exchanged, which is tried for the message's sake. Ours."""

TWO_THINGS = (
    "two things were seen that it could be: take the other one out of view, "
    "or cover it with a [[region]] of kind ignore"
)
MOST_SPREAD = 0.25
"""In pitches: where a place moves by more once a single other one is left out, the grid is not taken. Ours; of 194
right grids one moved by more (0.31), of a wrong one, a place of which was 0.3 off, one moved by 0.31 too."""

MOST_LARGER = 0.8
"""From this clearness on of a larger face, against the grid's own, off whose middle the grid lies, it is not taken, see
`hotspot.locate.weighing`. Ours: of 116 right grids none was above 0.77, of two wrong ones both."""

A_PART = "its face seems to be a part of a larger one, with more pins than were stated, or with a wire across it"
RESTS_ON_ONE = "too few of its pins stand out: with one of them left out the others would lie elsewhere"
LEAST_PINS = 2
SOFTENED_PX = 0.9
"""Standard deviation of the blur with which pictures are tried again in which nothing was found. Ours."""


def found(session: Session, sample: Sequence[Frame]) -> PinMap:
    """Places and radii of the pins of a session that states rows and columns. `sample`: frames laid on the first.

    Raises PinsNotFound, with the frame to place the pins on, where no grid reaches `LEAST_CONFIDENCE`.
    """
    wanted = places(session)
    layout = session.connector.rows, session.connector.columns
    cells = np.array([(one.row, one.column) for one in wanted])
    best = _best_of(sample, session.region, (layout, cells))
    lattice, confidence = best.grid, best.confidence
    if lattice is None or confidence < LEAST_CONFIDENCE:
        raise _not_found(layout, best, sample)
    names = tuple(one.name for one in wanted)
    x, y = _own_places(session, names, lattice.at(cells))
    own = [session.pin_named(name) for name in names]
    radius, _ = radii(session, names, (x, y), sample[0].shape)
    stated = np.array([pin is not None and pin.radius is not None for pin in own])
    radius = np.where(stated, radius, lattice.radii_at(cells))
    placed = tuple("given" if pin is not None and pin.x is not None else "found" for pin in own)
    values = {"rows": layout[0], "columns": layout[1], "confidence": confidence, "across": 2.0 * lattice.radius_px}
    said = (Statement("pins_found", values), *outside(session, names, (x, y), sample[0].shape))
    under = tuple(names[k] for k in best.covered if placed[k] == "found")
    if under:
        said = (*said, Statement("pins_covered", {"pins": list(under)}))
    outline, regions = lattice.face.corners, tuple(session.region)
    hidden = best.hidden_px if under else None
    return PinMap(names, x, y, radius, placed, regions, float(confidence), said, outline, under, hidden)


@dataclass(frozen=True, slots=True)
class Best:
    """The best grid, if any, how sure it is, what is known of why it is not surer, in words, whether nothing else in
    the picture speaks against it, whether edges are sharper than a lens makes them, which of the places something
    lies over, and all that it covers (rows, columns)."""

    grid: Lattice | None
    confidence: float
    why: str = ""
    unrefuted: bool = True
    sharp: bool = False
    covered: tuple[int, ...] = ()
    hidden_px: np.ndarray | None = None


def _best_of(sample: Sequence[Frame], regions: Sequence[Region], wanted: tuple[tuple[int, int], np.ndarray]) -> Best:
    """The best grid in the pictures as they are, else in softened ones; where none will do, also whether rows and
    columns are exchanged."""
    layout, cells = wanted
    if len(cells) < LEAST_PINS:
        return Best(None, 0.0, "one pin alone is not looked for")
    first = best = best_grid(sample, regions, wanted)
    if best.sharp and best.unrefuted and best.confidence < LEAST_CONFIDENCE:  # such edges look like many thin ones
        best = best_grid(sample, regions, wanted, SOFTENED_PX)
    if max(best.confidence, first.confidence) >= HOPELESS or layout[0] == layout[1]:
        return best if best.confidence >= first.confidence else first
    turned = layout[1], layout[0]
    every = np.array([(row, column) for row in range(turned[0]) for column in range(turned[1])])
    if best_grid(sample, regions, (turned, every)).confidence >= LEAST_CONFIDENCE:
        return replace(first, why=f"{turned[0]} x {turned[1]} fits: rows and columns seem exchanged")
    return first


def best_grid(
    sample: Sequence[Frame],
    regions: Sequence[Region],
    wanted: tuple[tuple[int, int], np.ndarray],
    softened_px: float = 0.0,
) -> Best:
    """The best grid of (rows, columns) with its cells (n, 2) that hold a pin, in pictures softened or not."""
    from hotspot.locate.stripes import without_stripes
    from hotspot.locate.views import sharper_than_a_lens, views

    seen = views(sample, regions, softened_px)
    return replace(_best_in(without_stripes(seen), wanted), sharp=sharper_than_a_lens(seen))


def _best_in(seen: Views, wanted: tuple[tuple[int, int], np.ndarray]) -> Best:
    from hotspot.locate.certainty import confidence_of, weighed
    from hotspot.locate.faces import faces
    from hotspot.locate.lattice import propose
    from hotspot.locate.rivals import Rival
    from hotspot.locate.sheets import Sheets

    layout, cells = wanted
    sheets = Sheets(seen)
    rectangles = faces((sheets.right, sheets.down), *layout)
    if not rectangles:
        return Best(None, 0.0, "nothing with four straight edges was seen that could be its face")
    proposed = propose(sheets, rectangles, layout, cells)
    found = weighed(proposed, sheets, cells, rectangles)
    if not found:
        return Best(None, 0.0, "no face was seen that such a grid fits into")
    first, others, confidence = _surer(found, sheets, wanted, rectangles)
    if confidence >= LEAST_CONFIDENCE:
        return _unless_refuted((first, others, confidence), sheets, wanted)
    above = max(others, key=lambda one: one.best.worth, default=None)
    if above and above.best.worth > first.worth + CLEARLY_MORE:
        convincing = confidence_of(above.best, [Rival(layout, first)])  # in noise many fit, and none of them well
        if convincing >= LEAST_CONFIDENCE:
            return Best(first.grid, confidence, f"{above.layout[0]} x {above.layout[1]} would fit better", False)
        return Best(first.grid, confidence, _stand_out(first.seen, len(cells)), False)
    return Best(first.grid, confidence, _stand_out(first.seen, len(cells)))


def _surer(
    found: list[Weighed], sheets: Sheets, wanted: tuple[tuple[int, int], np.ndarray], rectangles: list[Face]
) -> tuple[Weighed, list[Rival], float]:
    """The grid that is worth most, its rivals and its confidence; where its face is a part of a larger one, rather the
    next in such a whole face, if that one is sure: a piece of a face between two warm wires shows spots at any
    pitch."""
    from hotspot.locate.certainty import confidence_of
    from hotspot.locate.fitting import within
    from hotspot.locate.rivals import rivals

    first = found[0]
    others = rivals(first, sheets, wanted, rectangles)
    confidence = confidence_of(first, others)
    if first.larger <= MOST_LARGER:
        return first, others, confidence
    middle = np.array([first.grid.face.x]), np.array([first.grid.face.y])
    for whole in found[1:]:
        face = whole.grid.face
        wider = face.width * face.height > first.grid.face.width * first.grid.face.height
        if wider and whole.larger <= MOST_LARGER and within(face, *middle)[0]:
            about = rivals(whole, sheets, wanted, rectangles)
            if (sure := confidence_of(whole, about)) >= LEAST_CONFIDENCE:
                return whole, about, sure
    return first, others, confidence


def _unless_refuted(
    sure: tuple[Weighed, list[Rival], float], sheets: Sheets, wanted: tuple[tuple[int, int], np.ndarray]
) -> Best:
    """A grid that `_surer` gave with confidence enough, fitted in full, unless one of the vetoes speaks against it."""
    from hotspot.locate.certainty import elsewhere
    from hotspot.locate.fitting import covered
    from hotspot.locate.held_out import steadiest
    from hotspot.locate.rivals import with_more

    (first, others, confidence), seen, cells = sure, sheets.seen, wanted[1]
    if first.larger > MOST_LARGER:
        return Best(first.grid, 0.5, A_PART, False)
    if (wider := with_more(first, others)) is not None:
        return Best(first.grid, 0.5, f"{wider.layout[0]} x {wider.layout[1]} would fit better", False)
    second = elsewhere(first, sheets, wanted)
    if second >= LEAST_SECOND:
        return Best(first.grid, min(1.0 - second, 0.5), TWO_THINGS, False)
    grid, moves = steadiest(first.grid, seen, cells)
    if moves > MOST_SPREAD:
        return Best(grid, 0.5, RESTS_ON_ONE, False)
    under = np.flatnonzero(covered(grid, seen, cells))
    return Best(grid, confidence, covered=tuple(int(one) for one in under), hidden_px=seen.covered)


def _stand_out(share: float, pins: int) -> str:
    return f"at its likeliest place {round(share * pins)} of {pins} pins stand out"


def _not_found(shape: tuple[int, int], best: Best, sample: Sequence[Frame]) -> PinsNotFound:
    shown = clearest(sample)
    return PinsNotFound(
        Problem(
            WHERE,
            "pin",
            f"the {shape[0]} x {shape[1]} pins were not found in the frames (confidence {best.confidence:.2f}, "
            f"{LEAST_CONFIDENCE:g} is needed)" + (f"; {best.why}" if best.why else ""),
            f"Place them: give x, y (and radius) in pixels for every [[pin]], measured on {shown.file} "
            "(set connector.on to it). If rows x columns is not what the picture shows, correct that first.",
        ),
        shown,
    )


def clearest(sample: Sequence[Frame]) -> Snapshot:
    """The frame of the sample with the widest spread of temperatures: the best one to point at pins on."""
    spread = []
    for frame in sample:
        celsius = frame.celsius()
        there = celsius[np.isfinite(celsius)]
        spread.append(float(np.ptp(np.percentile(there, (2.0, 98.0)))) if there.size else 0.0)
    best = sample[int(np.argmax(spread))]
    picture = best.pixels.picture()
    return Snapshot(best.index, best.file, best.time_s, "", best.celsius().astype(np.float32), picture)


def _own_places(
    session: Session, names: tuple[str, ...], at: tuple[np.ndarray, np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """A pin that the session places stands where it says, also in a grid that was found."""
    x, y = at[0].copy(), at[1].copy()
    for k, name in enumerate(names):
        pin = session.pin_named(name)
        if pin is not None and pin.x is not None and pin.y is not None:
            x[k], y[k] = pin.x, pin.y
    return x, y
