"""What stored numbers mean: which reading the session's frames have, and the law from number to °C."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hotspot.errors import InputError, refuse
from hotspot.read.carrier import Raw
from hotspot.read.pixels import Law
from hotspot.session import Session
from hotspot.units import difference_to_kelvin, to_celsius

_SHEET = "session.toml"


def settle_reading(session: Session, first: Raw, path: Path) -> str:
    """`temperature`, `counts` or `colours`: as the session says, else as the first good frame tells.

    Raises InputError where the carrier cannot hold what the session says, or does not tell and must be asked.
    """
    stated = session.frames.reading
    kind = _kind(first)
    if stated == "table":
        raise refuse(path, "frames.reading", "table was asked for, and this file holds pictures", _ASK)
    if stated is not None:
        _check_fits(stated, kind, path)
        return stated
    if kind == "colour":
        return "colours"
    law = session.frames.gain is not None or session.frames.offset is not None or session.frames.calibration
    if kind == "float" and not law:
        return "temperature"
    if kind == "float":
        found = "the values are no whole numbers, and yet gain, offset or calibration are given"
        raise refuse(path, "frames.reading", found, 'Say reading = "temperature", or reading = "counts".')
    if law:
        return "counts"
    if kind == "grey8" and _has_scale(session):
        return "colours"
    raise refuse(path, "frames.reading", f"{first.dtype} values, and nobody said what they mean", _ASK)


_ASK = (
    'State frames.reading: "temperature", "counts" (with gain and offset), "colours" (with [scale]) or, for a '
    'logger\'s CSV, "table".'
)


def law_of(session: Session, reading: str, first: Raw) -> Law:
    """The law of `temperature` or `counts`. Raises InputError for counts without a whole law."""
    frames = session.frames
    whole = np.issubdtype(first.dtype, np.integer)
    if reading == "temperature":
        step = float(difference_to_kelvin(1.0, frames.unit)) if whole else 0.0
        return Law(lambda values: to_celsius(values, frames.unit), step)
    if frames.calibration is not None:
        return _calibrated(session, first)
    gain, offset = _gain_offset(session)
    step = abs(float(difference_to_kelvin(gain, frames.unit)))
    return Law(
        lambda counts: to_celsius(gain * counts + offset, frames.unit),
        step if whole or _all_whole(first) else 0.0,
        *_ends(first),
        falling=gain < 0,
    )


def _ends(first: Raw) -> tuple[float, float]:
    """The numbers at which the carrier itself ends; infinite where that says nothing of the camera."""
    if not np.issubdtype(first.dtype, np.integer) or first.dtype.itemsize > 2:
        return -np.inf, np.inf
    ends = np.iinfo(first.dtype)
    return float(ends.min), float(ends.max)


def _calibrated(session: Session, first: Raw) -> Law:
    """The law of frames.calibration. Raises InputError where the file cannot be used, or gain is given as well."""
    from hotspot.read.calibration_file import read_calibration

    frames = session.frames
    if frames.gain is not None or frames.offset is not None:
        found = "gain or offset is given as well"
        raise refuse(_SHEET, "frames.calibration", found, "Keep one of the two: the file, or gain and offset.")
    made = read_calibration(session.folder / frames.calibration)
    coldest, hottest = made.span_c
    step = abs(hottest - coldest) / (made.high - made.low)
    whole = np.issubdtype(first.dtype, np.integer) or _all_whole(first)
    return Law(made.celsius, step if whole else 0.0, *_ends(first), falling=made.falling, calibration=made)


def _gain_offset(session: Session) -> tuple[float, float]:
    gain, offset = session.frames.gain, session.frames.offset
    lacking = [name for name, value in (("gain", gain), ("offset", offset)) if value is None]
    if lacking:
        missing = " and ".join(f"frames.{name}" for name in lacking)
        mend = "State both: temperature = gain * count + offset, in frames.unit."
        raise refuse(_SHEET, missing, "not given, and the frames hold counts", mend)
    if gain == 0:
        raise refuse(_SHEET, "frames.gain", "0 makes every count the same temperature", "State the true gain.")
    return gain, offset


def _all_whole(first: np.ndarray) -> bool:
    good = first[np.isfinite(first)]
    return bool(good.size) and bool((good == np.round(good)).all())


def _kind(raw: Raw) -> str:
    if not isinstance(raw, np.ndarray):
        return "colour"
    if raw.dtype.kind == "f":
        return "float"
    return "grey8" if raw.dtype == np.uint8 else "whole"


def _has_scale(session: Session) -> bool:
    scale = session.scale
    return any(value is not None for value in (scale.low, scale.high, scale.map, scale.table, scale.bar))


def _check_fits(stated: str, kind: str, path: Path) -> None:
    refusal: InputError | None = None
    if stated == "colours" and kind not in ("colour", "grey8"):
        found = "colours were asked for, and its values are numbers of more than 8 bits"
        mend = 'Use reading = "temperature", or "counts" with gain and offset.'
        refusal = refuse(path, "frames.reading", found, mend)
    if stated != "colours" and kind == "colour":
        found = f"{stated} was asked for, and it is a coloured picture"
        refusal = refuse(path, "frames.reading", found, 'Use reading = "colours" with [scale].')
    if refusal is not None:
        raise refusal
