"""A calibration file (TOML, `calibration/README.md`) -> a Calibration, and what it says about a session."""

from __future__ import annotations

import datetime
import math
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError

from hotspot.calibration import Calibration
from hotspot.errors import InputError, Problem, refuse
from hotspot.records import Statement
from hotspot.session import Part, Positive, Session

_MEND = "See calibration/README.md, or let `hotspot calibrate` write the file."
_MOST_C = 5000.0


def _as_date(value: Any) -> Any:
    """A date in quotes is taken for one; anything else is left to be refused."""
    try:
        return datetime.date.fromisoformat(value) if isinstance(value, str) else value
    except ValueError:
        return value


class _Range(Part):
    low: float
    high: float


class _Law(Part):
    gain: float | None = None
    offset: float | None = None
    A_um: Positive | None = None
    B_um_k: float | None = None
    C: float | None = None
    readings: list[float] | None = None
    celsius: list[float] | None = None


class _Trust(Part):
    level_k: Annotated[float, Field(ge=0)]
    slope: Annotated[float, Field(ge=0)] = 0.0
    pivot_c: float = 0.0
    shape_k: Annotated[float, Field(ge=0)] = 0.0


class _File(Part):
    kind: Literal["linear", "sakuma-hattori", "table"]
    camera: str = ""
    date: Annotated[datetime.date, BeforeValidator(_as_date)] | None = None
    valid_days: Annotated[int, Field(gt=0)] | None = None
    notes: str = ""
    range: _Range
    law: _Law
    uncertainty: _Trust


_NEEDED = {
    "linear": ("gain", "offset"),
    "sakuma-hattori": ("A_um", "B_um_k", "C"),
    "table": ("readings", "celsius"),
}


def read_calibration(path: Path) -> Calibration:
    """The calibration in `path`. Raises InputError with every fault of the file."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
        found = tomllib.loads(text)
    except FileNotFoundError:
        mend = "State frames.calibration relative to the session folder."
        raise refuse(path, "", "there is no such calibration file", mend) from None
    except OSError as error:
        raise refuse(path, "", f"cannot be read ({error.strerror})", _MEND) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise refuse(path, "", f"is no TOML ({error})", _MEND) from None
    try:
        sheet = _File.model_validate(found)
    except ValidationError as error:
        raise InputError(_problem(path, fault) for fault in error.errors()) from None
    return _made(path, sheet)


def _problem(path: Path, fault: Any) -> Problem:
    key = ".".join(str(part) for part in fault["loc"])
    found = "it is needed" if fault["type"] == "missing" else fault["msg"][:1].lower() + fault["msg"][1:]
    return Problem(str(path), key, found, _MEND)


def _made(path: Path, sheet: _File) -> Calibration:
    """The law of a sheet that is whole. Raises InputError for one that is no law."""
    law, needed = sheet.law, _NEEDED[sheet.kind]
    lacking = [name for name in needed if getattr(law, name) is None]
    other = [name for name in law.model_fields_set if name not in needed]
    if lacking or other:
        found = f"{sheet.kind} needs {', '.join(needed)}" + (f", and not {', '.join(other)}" if other else "")
        raise refuse(path, "law", found, _MEND)
    if sheet.range.low >= sheet.range.high:
        found = f"low {sheet.range.low:g} is not below high {sheet.range.high:g}"
        raise refuse(path, "range", found, "Give the lowest and highest reading that it was made with.")
    table = sheet.kind == "table"
    numbers = () if table else tuple(float(getattr(law, name)) for name in needed)
    points = _points(path, law) if table else ()
    if not table and 0.0 in (numbers[0], numbers[-1] if sheet.kind == "sakuma-hattori" else 1.0):
        raise refuse(path, f"law.{needed[0]}", "0 makes every reading the same temperature", _MEND)
    trust = sheet.uncertainty
    made = Calibration(
        sheet.kind,
        sheet.range.low,
        sheet.range.high,
        numbers,
        points,
        trust.level_k,
        trust.slope,
        trust.pivot_c,
        trust.shape_k,
        sheet.camera,
        sheet.date,
        sheet.valid_days,
        sheet.notes,
    )
    ends = made.span_c
    if not all(map(math.isfinite, ends)) or ends[0] < -273.15 or ends[1] > _MOST_C:
        raise refuse(path, "law", "it gives no temperature at the ends of its range", _MEND)
    return made


def _points(path: Path, law: _Law) -> tuple[tuple[float, float], ...]:
    readings, celsius = law.readings, law.celsius
    if len(readings) != len(celsius) or len(readings) < 2:
        found = f"{len(readings)} readings and {len(celsius)} temperatures"
        raise refuse(path, "law.readings", found, "Give as many of one as of the other, two at least.")
    pairs = sorted(zip(readings, celsius, strict=True))
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(pairs, pairs[1:], strict=False)]
    if any(step[0] == 0 for step in steps) or len({step[1] > 0 for step in steps}) > 1 or any(not s[1] for s in steps):
        found = "its temperatures neither rise nor fall all the way, or a reading is there twice"
        raise refuse(path, "law.celsius", found, "Take out the point that is out of line.")
    return tuple(pairs)


def about(session: Session, made: Calibration, tested: datetime.date | None) -> list[Statement]:
    """What a person must know of a calibration used for this session. `tested`: the day of the test, if known."""
    said = []
    name = session.camera.name
    if name and made.camera and name != made.camera:
        said.append(Statement("calibration_other_camera", {"camera": made.camera, "session": name}))
    if made.date is not None and made.valid_days is not None:
        if tested is None:
            values = {"date": made.date.isoformat(), "days": made.valid_days}
            said.append(Statement("calibration_age_unknown", values))
        elif over := made.overdue_days(tested):
            values = {"date": made.date.isoformat(), "days": made.valid_days, "over": over}
            said.append(Statement("calibration_out_of_date", values))
    elif made.date is None:
        said.append(Statement("calibration_without_date"))
    if not made.level_k:
        said.append(Statement("calibration_without_uncertainty"))
    return said


def day_of(session: Session, clock: datetime.datetime | None) -> datetime.date | None:
    """The day of the test: the frames' own clock, else job.date; None where neither tells."""
    if clock is not None:
        return clock.date()
    try:
        return datetime.date.fromisoformat(session.job.date[:10])
    except ValueError:
        return None
