"""Frames -> PinMap: pins that the session places, else a grid that is found."""

from __future__ import annotations

from collections.abc import Sequence

from hotspot.errors import refuse
from hotspot.locate.given import given
from hotspot.locate.numbering import WHERE
from hotspot.records import Frame, PinMap
from hotspot.session import Session


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
    from hotspot.locate.finding import found

    return found(session, sample)
