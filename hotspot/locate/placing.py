"""Frames -> PinMap: pins that the session places, else a grid that is found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hotspot.errors import refuse
from hotspot.locate.given import given, outside, radii
from hotspot.locate.numbering import WHERE, places
from hotspot.records import Frame, PinMap, Statement
from hotspot.session import Session

LEAST_CONFIDENCE = 0.6
"""A grid found with less confidence than this is not used. See `hotspot.locate.lattice` for what it is made of.

Ours. Of 60 connectors of `hotspot.synthetic.cases` filmed at random places, sizes and turns within 15° (24 looked at
while this was made, 36 not), the best grid was the right one in 36; 9 of those reach this bar and no wrong one does
(wrong ones reached 0.51). The others are asked to be placed."""


def place(session: Session, sample: Sequence[Frame]) -> PinMap:
    """Where the pins are. `sample`: the first good frame, then some spread over the test up to the last one.

    Raises InputError where pins are neither placed nor can be found, saying what to write.
    """
    if not sample:
        raise refuse(session.folder, "frames.files", "found no readable frame", "Check the files.")
    shape = sample[0].shape
    if session.pin and all(pin.x is not None for pin in session.pin):
        return given(session, shape)
    if session.connector.rows is None or session.connector.columns is None:
        missing = [pin.name for pin in session.pin if pin.x is None]
        told = f"pins {', '.join(missing)} have no x and y" if missing else "found neither a grid nor placed pins"
        raise refuse(
            WHERE,
            "connector.rows",
            told,
            "State connector.rows and columns (or --pins 1x6), or give name, x, y of every pin in [[pin]].",
        )
    return _found(session, sample)


def _found(session: Session, sample: Sequence[Frame]) -> PinMap:
    """The grid that the session states, found in the pictures."""
    from hotspot.locate.lattice import find
    from hotspot.locate.views import outline_of, turn_of, views

    wanted = places(session)
    rows, columns = session.connector.rows, session.connector.columns
    cells = np.array([(one.row, one.column) for one in wanted])
    lattice = find(views(sample, session.region), outline_of(sample), turn_of(sample), cells)
    confidence = lattice.confidence if lattice is not None else 0.0
    if lattice is None or confidence < LEAST_CONFIDENCE:
        raise refuse(
            WHERE,
            "pin",
            f"the {rows} x {columns} pins were not found in the frames (confidence {confidence:.2f}, "
            f"{LEAST_CONFIDENCE:g} is needed)",
            "Place them: give x, y (and radius) in pixels for every [[pin]], measured on the first good frame.",
        )
    names = tuple(one.name for one in wanted)
    x, y = lattice.at(cells)
    x, y = _own_places(session, names, x, y)
    own = [session.pin_named(name) for name in names]
    radius, _ = radii(session, names, x, y)
    stated = np.array([pin is not None and pin.radius is not None for pin in own])
    radius = np.where(stated, radius, lattice.radius_px)
    placed = tuple("given" if pin is not None and pin.x is not None else "found" for pin in own)
    values = {"rows": rows, "columns": columns, "confidence": confidence, "across": 2.0 * lattice.radius_px}
    said = (Statement("pins_found", values), *outside(session, names, (x, y), sample[0].shape))
    return PinMap(names, x, y, radius, placed, tuple(session.region), float(confidence), said)


def _own_places(
    session: Session, names: tuple[str, ...], x: np.ndarray, y: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """A pin that the session places stands where it says, also in a grid that was found."""
    x, y = x.copy(), y.copy()
    for k, name in enumerate(names):
        pin = session.pin_named(name)
        if pin is not None and pin.x is not None and pin.y is not None:
            x[k], y[k] = pin.x, pin.y
    return x, y
