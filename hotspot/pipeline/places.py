"""Pins placed by hand: what to place them on, and the places that come back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hotspot.pipeline.of_table import is_table
from hotspot.pipeline.sample import Sample
from hotspot.records import PinMap, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    from hotspot.placing import Placing


def to_place(session: Session, on: str | None = None) -> Placing:
    """The frame to place pins on (`on`, a frame's name or path; None: the clearest) and what there is to start from.

    Raises InputError for a logger's table and for a frame that the session does not have.
    """
    from hotspot import locate
    from hotspot.errors import refuse
    from hotspot.read import open_recording

    if is_table(session):
        raise refuse(session.folder, "frames.reading", "a logger's table has no picture", "Name its pins in columns.")
    recording = open_recording(session)
    by_name = {stamp.file: stamp.index for stamp in recording.stamps}
    wanted = on if on is None or on in by_name else Path(on).name
    if wanted is not None and wanted not in by_name:
        names = list(by_name)
        mend = f"Name one of its {len(names)} frames, {names[0]} to {names[-1]}."
        raise refuse("command line", "--on", f"no frame is called {on!r}", mend)
    sample = {frame.index: frame for frame in Sample(recording)}
    missing = {by_name[name] for name in (wanted, session.connector.on) if name in by_name} - sample.keys()
    sample |= {frame.index: frame for frame in recording.frames(sorted(missing))} if missing else {}
    if wanted is not None and by_name[wanted] not in sample:
        raise refuse("command line", "--on", f"{wanted} cannot be read", "Name another frame.")
    return locate.laid_out(session, [sample[index] for index in sorted(sample)], wanted)


def _with_small_ones_told(pin_map: PinMap) -> PinMap:
    """The same with the notice that a run gives of pins of too few pixels, while they can still be placed anew."""
    from hotspot.extract.faces import SHAPE_ONLY_PX

    across = 2.0 * np.asarray(pin_map.radius_px, dtype=float)
    few = [name for name, px in zip(pin_map.names, across, strict=True) if px < SHAPE_ONLY_PX]
    if not few:
        return pin_map
    said = Statement("pins_shape_only", {"pins": few, "across": float(across.min())})
    return replace(pin_map, notices=(*pin_map.notices, said))


def placed_by(folder: Path, places: Path) -> tuple[Session, PinMap]:
    """The session of `folder` with the file `places` in place of its pins.toml, and its pins on `connector.on`.

    Raises InputError where the file does not fit the session: a pin without a place or larger than the picture, a
    frame that is not there.
    """
    from hotspot import locate
    from hotspot.errors import refuse
    from hotspot.read import open_recording
    from hotspot.read.session_file import load_with, parsed

    session = load_with(folder, places)
    without = [pin.name for pin in session.pin if pin.x is None]
    if without or not (parsed(places) or {}).get("pin"):
        found = f"pins without x and y: {', '.join(without)}" if without else "holds no [[pin]]"
        raise refuse(places, "pin", found, "Place every pin on the page and save it again.")
    recording, on = open_recording(session), session.connector.on
    numbers = {stamp.file: stamp.index for stamp in recording.stamps}
    if on is not None and on not in numbers:
        mend = "Save it from the page of this session, or name one of its frames."
        raise refuse(places, "connector.on", f"the session has no frame called {on!r}", mend)
    frame = next(iter(recording.frames(None if on is None else [numbers[on]])), None)
    if frame is None:
        raise refuse(places, "connector.on", f"{on} cannot be read", "Place the pins on another frame.")
    large = [pin.name for pin in session.pin if pin.radius is not None and 2.0 * pin.radius > min(frame.shape)]
    if large:
        found = f"larger than the picture of {frame.shape[1]} x {frame.shape[0]} pixels: {', '.join(large)}"
        raise refuse(places, "pin.radius", found, "Give half of the pixels that lie across the pin's face.")
    pin_map = _with_small_ones_told(locate.place(session, [frame]))
    beyond = [said for said in pin_map.notices if said.code == "pins_beyond_picture"]
    if beyond:
        names = ", ".join(beyond[0].values["pins"])
        found = f"outside the picture of {frame.shape[1]} x {frame.shape[0]} pixels: {names}"
        raise refuse(places, "pin", found, "Place them on the page and save it again.")
    return session, pin_map
