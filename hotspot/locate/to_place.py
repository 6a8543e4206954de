"""The frame on which a person places the pins, with what is given or found already laid on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hotspot.errors import InputError
from hotspot.locate.finding import clearest
from hotspot.locate.placing import place
from hotspot.locate.steady import Steady, steadying
from hotspot.locate.steady_use import laid_back
from hotspot.placing import Placing
from hotspot.poses import Pose
from hotspot.records import Frame, PinMap, Statement
from hotspot.session import Session


def laid_out(session: Session, frames: Sequence[Frame], on: str | None = None) -> Placing:
    """The frame called `on`, else the one with the widest spread of temperatures, and the pins and regions on it.

    `frames` are in time order and begin with the first good one; those that `on` and `connector.on` name are among
    them. Pins that the session places or that are found are carried over where the camera moved.
    """
    steady = steadying(frames)
    poses = _poses(steady, frames)
    laid = [frame for frame, pose in zip(frames, poses, strict=True) if pose is not None] or list(frames)
    shown = clearest([frame for frame in frames if frame.file == on] if on else laid)
    pins, said = _start(session, laid_back(steady, frames))
    known = {frame.file: pose for frame, pose in zip(frames, poses, strict=True)}
    first, there = poses[0], known[shown.file]
    measured = known.get(session.connector.on, first) if session.connector.on else first
    some_given = any(pin.x is not None for pin in session.pin)
    moved = tuple(
        region.model_copy(update={"box": _between(measured if some_given else first, there).box(region.box)})
        for region in session.region
    )
    if pins is not None:
        pins = _carried(pins, _between(measured, there), _between(first, there))
    if there is None or (some_given and measured is None):
        said = (*said, Statement("place_not_laid", {"file": shown.file}))
    return Placing(shown, pins, moved, said)


def _start(session: Session, laid: Sequence[Frame]) -> tuple[PinMap | None, tuple[Statement, ...]]:
    """What is placed or found already; None and why where it is neither."""
    try:
        pins = place(session, laid)
    except InputError as error:
        return None, (Statement("place_no_start", {"why": error.problems[0].found}),)
    if "found" in pins.placed:
        return pins, (Statement("place_start_found", {"confidence": pins.confidence}),)
    return pins, (Statement("place_start_given"),)


def _poses(steady: Steady, frames: Sequence[Frame]) -> list[Pose | None]:
    """Pose of each frame on the common layer; None where it cannot be laid on it, all alike where nothing moved."""
    if steady.sampled is None or steady.looks_still or len(steady.sampled.poses) != len(frames):
        return [Pose() for _ in frames]
    return list(steady.sampled.poses)


def _between(one: Pose | None, two: Pose | None) -> Pose:
    """From places in frame `one` to those in frame `two`; nothing is moved where either is not known."""
    return Pose() if one is None or two is None or one == two else two.after(one.inverse())


def _carried(pins: PinMap, given: Pose, found: Pose) -> PinMap:
    """Pins that were given moved by one pose, those found by the other."""
    own = np.array([placed == "given" for placed in pins.placed])
    (y, x), (down, right) = given.at(pins.y_px, pins.x_px), found.at(pins.y_px, pins.x_px)
    scale = np.where(own, given.scale, found.scale)
    return replace(pins, x_px=np.where(own, x, right), y_px=np.where(own, y, down), radius_px=pins.radius_px * scale)
