"""A logger's table: no pictures, a column of times and one of temperatures for each pin."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.doubts import joined
from hotspot.errors import InputError, Problem, refuse
from hotspot.read.clock import Clocked, stamp_frames
from hotspot.read.delimited import Delimited, number, read_delimited
from hotspot.read.fingerprint import sha256_of
from hotspot.read.log import line_numbers
from hotspot.read.moments import clock_time, clock_times, later, unrolled
from hotspot.read.session_faults import Where, nearest
from hotspot.read.session_names import references
from hotspot.records import Stamp, Statement
from hotspot.session import Session
from hotspot.units import to_celsius

if TYPE_CHECKING:
    import pandas as pd

TIME_COLUMN = "time column"
_NO_DAY = datetime.date(1970, 1, 1)
_OTHER_TABLES = frozenset({"log.csv", "frames.csv", "scale.csv"})
_NUMBERS = 'frames.time = "1" and frames.columns = { "1" = "2" } (numbers of columns, from 1)'


@dataclass(frozen=True)
class Logged:
    """A logger's readings: frame, file, time_s [s], pin, temperature_c [°C, NaN for an empty cell], quality."""

    readings: pd.DataFrame
    stamps: tuple[Stamp, ...]
    source: str
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)


def open_table(session: Session) -> Logged:
    """Read the one CSV of frames.files: a row per line and pin, in time order, the first row at frames.start_s.

    Times are in the column frames.time (seconds, clock times or date-times), or rows are frames.every_s apart.
    frames.columns says which column is which pin, and others are passed over; without it every other heading
    is a pin. A file without headings must be mapped by numbers of columns and its unit stated.
    Raises InputError for a heading, a pin or a unit that is not there.
    """
    path = _the_file(session)
    known = _headings_to_look_for(session)
    table = read_delimited(path, known, lambda cell: math.isfinite(number(cell)) or clock_time(cell) is not None)
    time_column = _time_column(session, table)
    columns, said = _pin_columns(session, table, time_column)
    _check_names(session, list(columns))
    clocked = _clocked(session, table, time_column)
    readings, said_of_cells = _readings(session, table, columns, clocked)
    source = TIME_COLUMN if clocked.source == "own time stamps" else clocked.source
    inputs = {str(path.relative_to(session.folder)): sha256_of(path)} if _inside(path, session.folder) else {}
    inputs = inputs or {path.name: sha256_of(path)}
    notices = [*clocked.notices, *said, *said_of_cells]
    return Logged(readings, clocked.stamps, source, notices, {**inputs, **clocked.inputs})


def _inside(path: Path, folder: Path) -> bool:
    return path.is_relative_to(folder)


def _the_file(session: Session) -> Path:
    """The one CSV that frames.files names; without the key the only CSV of the folder."""
    said = session.frames.files
    pattern = said or "*.csv"
    exact = session.folder / pattern
    if said and exact.is_file():
        return exact
    try:
        found = sorted(path for path in session.folder.glob(pattern) if path.is_file())
    except (ValueError, NotImplementedError):
        found = []
    found = [path for path in found if path.name.lower() not in _OTHER_TABLES]
    if len(found) == 1:
        return found[0]
    told = f"{len(found)} files fit {pattern}" if found else f"no file fits {pattern}"
    mend = "Name the one CSV that holds the table."
    raise refuse(session.folder / "session.toml", "frames.files", told, mend)


def _headings_to_look_for(session: Session) -> list[str]:
    """Headings that mark the line of headings; plain numbers could be values as well."""
    named = [session.frames.time, *(session.frames.columns or {}).values()]
    return [name for name in named if not name.isdigit()]


def _sheet(session: Session) -> str:
    return str(session.folder / "session.toml")


def _found(table: Delimited) -> str:
    return ", ".join(f'"{name}"' for name in table.headings[:8]) + (", ..." if len(table.headings) > 8 else "")


def _place(table: Delimited, heading: str) -> int | None:
    """Number of a column from 0: by its heading, or, in a file without headings, by its number from 1."""
    if table.headings:
        return table.place(heading)
    width = max(len(row.cells) for row in table.rows)
    return int(heading) - 1 if heading.isdigit() and 1 <= int(heading) <= width else None


def _time_column(session: Session, table: Delimited) -> int | None:
    place = _place(table, session.frames.time)
    if place is not None or session.frames.every_s is not None:
        return place
    if not table.headings:
        found = f"{table.path.name} has no headings"
        raise refuse(_sheet(session), "frames.time", found, f"Say which column is which: {_NUMBERS}.")
    close = nearest(session.frames.time, table.headings)
    mend = f'The nearest heading is "{close}".' if close else "Name the heading of the times, or state every_s."
    found = f'no column of {table.path.name} is headed "{session.frames.time}", found {_found(table)}'
    raise refuse(_sheet(session), "frames.time", found, mend)


def _pin_columns(session: Session, table: Delimited, time_column: int | None) -> tuple[dict[str, int], list[Statement]]:
    """Pin -> number of its column, in the order of the mapping, else of the session, else of the file."""
    if session.frames.columns is not None:
        columns = _mapped(session, table, session.frames.columns)
    elif not table.headings:
        found = f"{table.path.name} has no headings"
        raise refuse(_sheet(session), "frames.columns", found, f"Say which column is which: {_NUMBERS}.")
    else:
        columns = _headed(session, table, time_column)
    if not table.headings and "unit" not in session.frames.model_fields_set:
        found = f"{table.path.name} has no headings, and nothing states the unit of its values"
        raise refuse(_sheet(session), "frames.unit", found, 'Write unit = "C", "F" or "K".')
    without = [pin.name for pin in session.pin if pin.name not in columns]
    empty = [name for place, name in enumerate(table.headings) if name and _empty(table, place) and name not in columns]
    said = [Statement("table_columns_empty", {"file": table.path.name, "columns": empty})] if empty else []
    without = [name for name in without if name not in empty]
    if without:
        said.append(Statement("table_pin_without_column", {"file": table.path.name, "pins": without}))
    return columns, said


def _empty(table: Delimited, place: int) -> bool:
    """Whether a column holds nothing: no cell, or only words for a missing number."""
    return all(row.cell(place).strip().lower() in ("", "nan", "na", "n/a", "-", "--") for row in table.rows)


def _mapped(session: Session, table: Delimited, mapping: Mapping[str, str]) -> dict[str, int]:
    problems: list[Problem] = []
    columns: dict[str, int] = {}
    for pin, heading in mapping.items():
        place = _place(table, heading)
        if place is None:
            close = nearest(heading, table.headings)
            found = f'no column of {table.path.name} is "{heading}"'
            mend = f'The nearest heading is "{close}".' if close else f"Headings: {_found(table) or 'none'}."
            problems.append(Problem(_sheet(session), f"frames.columns.{pin}", found, mend))
        elif place in columns.values():
            other = next(name for name, taken in columns.items() if taken == place)
            found = f'the column "{heading}" is already that of pin "{other}"'
            problems.append(
                Problem(_sheet(session), f"frames.columns.{pin}", found, "Give every pin a column of its own.")
            )
        else:
            columns[pin] = place
    if problems:
        raise InputError(problems)
    return columns


def _headed(session: Session, table: Delimited, time_column: int | None) -> dict[str, int]:
    """Every heading but that of the times is a pin, as long as its column holds a number."""
    headed: dict[str, int] = {}
    for place, name in enumerate(table.headings):
        holds = any(math.isfinite(number(row.cell(place))) for row in table.rows)
        if place == time_column or not name or not holds:
            continue
        if name in headed:
            mend = "Give every column a heading of its own."
            raise refuse(table.path, name, "two columns have this heading", mend)
        headed[name] = place
    declared = [pin.name for pin in session.pin]
    if not headed or (declared and not set(declared) & set(headed)):
        wanted = f"none is headed as a pin of the session ({', '.join(declared[:8])})" if declared else "no values"
        found = f"{table.path.name} has the columns {_found(table)}: {wanted}"
        mend = 'Say which column is which pin: columns = { "1" = "heading" }.'
        raise refuse(_sheet(session), "frames.columns", found, mend)
    order = [name for name in declared if name in headed] + [name for name in headed if name not in declared]
    return {name: headed[name] for name in order}


def _check_names(session: Session, pins: Sequence[str]) -> None:
    """What could not be checked before the headings were known. Raises InputError with every unknown pin."""
    known = [*pins, *(pin.name for pin in session.pin if pin.name not in pins)]
    raw: dict[str, Any] = session.model_dump()
    where = Where(raw, lambda _: _sheet(session))
    problems = []
    for path, name in references(raw):
        if name not in known:
            close = nearest(name, known)
            mend = f'The nearest name is "{close}".' if close else f"Known: {', '.join(known[:8])}."
            problems.append(where.problem(path, f'no pin is called "{name}"', mend))
    if problems:
        raise InputError(problems)


def _clocked(session: Session, table: Delimited, time_column: int | None) -> Clocked:
    """Stamps of the rows, `name#k`, with k the row's place in the file from 0."""
    names = [f"{table.path.name}#{k}" for k in range(len(table.rows))]
    if time_column is None:
        return stamp_frames(session, names, None, None)
    cells = [row.cell(time_column) for row in table.rows]
    seconds = [number(cell) for cell in cells]
    first_clock = None
    if sum(map(math.isfinite, seconds)) * 2 < len(seconds):
        seconds, first_clock = _by_clock(session, cells)
    if not any(map(math.isfinite, seconds)) and session.frames.every_s is None:
        some = next((cell for cell in cells if cell), "")
        found = f'the column of times of {table.path.name} holds no time, such as "{some}"'
        mend = "Write seconds, hh:mm:ss, or year-month-day hh:mm:ss."
        raise refuse(_sheet(session), "frames.time", found, mend)
    clocked = stamp_frames(session, names, None, seconds)
    if first_clock is None or not clocked.stamps:
        return clocked
    zero = clocked.stamps[0].time_s
    first_clock = later(first_clock, session.clock.frames_offset_s)
    stamps = tuple(replace(stamp, clock=later(first_clock, stamp.time_s - zero)) for stamp in clocked.stamps)
    return replace(clocked, stamps=stamps)


def _by_clock(session: Session, cells: Sequence[str]) -> tuple[list[float], datetime.datetime | None]:
    """Seconds since the midnight before the first row, and the clock time of the earliest row."""
    moments = clock_times(cells)
    dated = next((moment for moment in moments if isinstance(moment, datetime.datetime)), None)
    day = dated.date() if dated else _job_day(session)
    seconds = unrolled(moments, day)
    known = [second for second in seconds if math.isfinite(second)]
    if not known:
        return seconds, None
    midnight = datetime.datetime.combine(day, datetime.time())
    return seconds, midnight + datetime.timedelta(seconds=min(known))


def _job_day(session: Session) -> datetime.date:
    """The day of the job; times of day without any date are laid on one fixed day, as only they are compared."""
    try:
        return datetime.date.fromisoformat(session.job.date[:10])
    except ValueError:
        return _NO_DAY


def _readings(
    session: Session, table: Delimited, columns: Mapping[str, int], clocked: Clocked
) -> tuple[pd.DataFrame, list[Statement]]:
    import pandas as pd

    said: list[Statement] = []
    for pin, place in columns.items():
        cells = [(row, row.cell(place)) for row in table.rows]
        broken = [row for row, cell in cells if cell and not math.isfinite(number(cell))]
        if broken:
            values = {"pin": pin, "count": len(broken), "lines": line_numbers(broken)}
            said.append(Statement("table_cells_broken", values))
    rows = [table.rows[place] for place in clocked.order]
    values = np.array([[number(row.cell(place)) for place in columns.values()] for row in rows], dtype=float)
    if not np.isfinite(values).any():
        raise refuse(table.path, "", "holds no temperature", "Check frames.columns.")
    count = len(columns)
    repeated = {
        "frame": [stamp.index for stamp in clocked.stamps],
        "file": [stamp.file for stamp in clocked.stamps],
        "time_s": [stamp.time_s for stamp in clocked.stamps],
        "quality": [joined(stamp.doubts) for stamp in clocked.stamps],
    }
    frame = pd.DataFrame({name: np.repeat(np.array(cells), count) for name, cells in repeated.items()})
    frame["pin"] = list(columns) * len(rows)
    frame["temperature_c"] = to_celsius(values.ravel(), session.frames.unit)
    return frame[["frame", "file", "time_s", "pin", "temperature_c", "quality"]], said
