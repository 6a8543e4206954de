"""The grid that a session states, found in its frames, or an honest 'not found'."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hotspot.errors import PinsNotFound, Problem
from hotspot.locate.given import outside, radii
from hotspot.locate.numbering import WHERE, places
from hotspot.records import Frame, PinMap, Snapshot, Statement
from hotspot.session import Session

LEAST_CONFIDENCE = 0.6
"""A grid found with less confidence than this is not used. `hotspot.locate.certainty` says what it is made of and
how the figures were set."""

SOFTENED_PX = 0.9
"""Standard deviation of the blur with which pictures are tried again in which nothing was found. Ours."""


def found(session: Session, sample: Sequence[Frame]) -> PinMap:
    """Places and radii of the pins of a session that states rows and columns. `sample`: frames laid on the first.

    Raises PinsNotFound, with the frame to place the pins on, where no grid reaches `LEAST_CONFIDENCE`.
    """
    from hotspot.locate.certainty import confidence_of, weighed
    from hotspot.locate.faces import faces
    from hotspot.locate.lattice import propose
    from hotspot.locate.views import views

    wanted = places(session)
    rows, columns = session.connector.rows, session.connector.columns
    cells = np.array([(one.row, one.column) for one in wanted])
    for softened_px in (0.0, SOFTENED_PX):  # edges sharper than any lens makes them look like many thin ones
        seen = views(sample, session.region, softened_px)
        rectangles = faces(seen, rows, columns)
        best = weighed(propose(seen, rectangles, (rows, columns), cells), seen, cells, rectangles)
        confidence = confidence_of(best)
        if best and confidence >= LEAST_CONFIDENCE:
            break
    if not best or confidence < LEAST_CONFIDENCE:
        raise _not_found((rows, columns), confidence, sample)
    lattice = best[0].grid
    names = tuple(one.name for one in wanted)
    x, y = _own_places(session, names, lattice.at(cells))
    own = [session.pin_named(name) for name in names]
    radius, _ = radii(session, names, x, y)
    stated = np.array([pin is not None and pin.radius is not None for pin in own])
    radius = np.where(stated, radius, lattice.radius_px)
    placed = tuple("given" if pin is not None and pin.x is not None else "found" for pin in own)
    values = {"rows": rows, "columns": columns, "confidence": confidence, "across": 2.0 * lattice.radius_px}
    said = (Statement("pins_found", values), *outside(session, names, (x, y), sample[0].shape))
    return PinMap(names, x, y, radius, placed, tuple(session.region), float(confidence), said)


def _not_found(shape: tuple[int, int], confidence: float, sample: Sequence[Frame]) -> PinsNotFound:
    shown = clearest(sample)
    return PinsNotFound(
        Problem(
            WHERE,
            "pin",
            f"the {shape[0]} x {shape[1]} pins were not found in the frames (confidence {confidence:.2f}, "
            f"{LEAST_CONFIDENCE:g} is needed)",
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
