"""log.csv: volts, total current and ambient over time, beside the frames."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hotspot.errors import refuse
from hotspot.read.delimited import Delimited, Row, number, read_delimited
from hotspot.read.fingerprint import sha256_of
from hotspot.read.moments import clock_time, clock_times, nearest_to, unrolled
from hotspot.records import Statement
from hotspot.session import Session
from hotspot.units import to_celsius

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = {"volts": "volts", "amps": "amps", "ambient": "ambient_c"}
LISTED = 8


@dataclass(frozen=True)
class LogTable:
    """`table`: time_s [s], volts [V], amps [A, the supply's total], ambient_c [°C], sorted by time, NaN for none."""

    table: pd.DataFrame
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)

    def ambient(self) -> tuple[np.ndarray, np.ndarray] | None:
        """(times [s] (n,), ambient [°C] (n,)), or None where the log has none."""
        return self.series("ambient_c")

    def series(self, column: str) -> tuple[np.ndarray, np.ndarray] | None:
        """(times [s] (n,), values (n,)) of the rows that have a value; None where there is none."""
        known = self.table[["time_s", column]].dropna()
        return (known["time_s"].to_numpy(), known[column].to_numpy()) if len(known) else None


def read_log(session: Session, first_clock: datetime.datetime | None) -> LogTable | None:
    """`log.csv` of the session's folder on the session's time; None where there is no such file.

    `time_s` is session time; `time` holds clock times, to which clock.log_offset_s is added and which are laid
    against `first_clock`, that of the first frame. `ambient` is in the unit of session.toml. Broken lines are
    left out and reported. Raises InputError where there is no column of times; a log.csv that is the logger's
    table itself may do without: then it is no log.
    """
    path = session.folder / "log.csv"
    if not path.is_file():
        return None
    wanted = ("time_s", "time", *COLUMNS)
    table = read_delimited(path, wanted, lambda cell: math.isfinite(number(cell)) or clock_time(cell) is not None)
    column = table.place("time_s") if table.place("time_s") is not None else table.place("time")
    if column is None and session.frames.files == path.name:
        return None
    if column is None:
        found = f"there is no such column, found {', '.join(table.headings[:8]) or 'no headings'}"
        mend = "Head the times time_s (seconds of the session) or time (clock times)."
        raise refuse(path, "time_s", found, mend)
    inputs = {path.name: sha256_of(path)}
    places = {name: table.place(heading) for heading, name in COLUMNS.items()}
    rows, notices = _sound_rows(table, column, [place for place in places.values() if place is not None])
    times = _session_times(session, [row.cell(column) for row in rows], first_clock)
    if times is None:
        notices.append(Statement("log_without_clock", {"file": path.name}))
        rows, times = [], []
    if all(place is None for place in places.values()):
        notices.append(Statement("log_without_columns", {"file": path.name, "columns": list(COLUMNS)}))
    notices += _out_of_order(path, rows, times, session.frames.start_s)
    return LogTable(_framed(session, rows, times, places), notices, inputs)


def at_times(log: LogTable, column: str, times: np.ndarray) -> np.ndarray:
    """The column (`volts`, `amps`, `ambient_c`) at `times` [s] (n,), linear between its rows.

    NaN further outside the log than its usual step (the median). A log of one row holds for all times.
    """
    times = np.asarray(times, dtype=float)
    known = log.series(column)
    if known is None:
        return np.full(times.shape, np.nan)
    at, values = known
    found = np.interp(times, at, values)
    if len(at) > 1:
        step = float(np.median(np.diff(at)))
        found[(times < at[0] - step) | (times > at[-1] + step)] = np.nan
    return found


def _sound_rows(table: Delimited, column: int, places: Sequence[int]) -> tuple[list[Row], list[Statement]]:
    """Lines whose time and every filled cell can be read, and what to say of the others."""
    stamped = [_is_time(row.cell(column)) for row in table.rows]
    sound, broken = [], []
    for row, timed in zip(table.rows, stamped, strict=True):
        cells = [row.cell(place) for place in places]
        complete = len(row.cells) > max([column, *places])
        good = timed and complete and all(not cell or math.isfinite(number(cell)) for cell in cells)
        (sound if good else broken).append(row)
    if not broken:
        return sound, []
    values = {"file": table.path.name, "count": len(broken), "lines": line_numbers(broken)}
    return sound, [Statement("log_lines_broken", values)]


def line_numbers(rows: Sequence[Row]) -> list[str]:
    """Numbers of lines for a sentence: the first few, the rest counted."""
    numbers = [str(row.line) for row in rows]
    return numbers if len(numbers) <= LISTED else [*numbers[: LISTED - 1], f"{len(numbers) - LISTED + 1} more"]


def _is_time(cell: str) -> bool:
    return math.isfinite(number(cell)) or clock_time(cell) is not None or clock_time(cell, True) is not None


def _session_times(session: Session, cells: Sequence[str], first_clock: datetime.datetime | None) -> list[float] | None:
    """Session times [s] of cells that are all times; None for clock times without a clock of the frames."""
    numbers = [number(cell) for cell in cells]
    if all(map(math.isfinite, numbers)):
        return numbers
    if first_clock is None:
        return None
    moments = clock_times(cells)
    offset = datetime.timedelta(seconds=session.clock.log_offset_s)
    first = next(moment for moment in moments if moment is not None)
    day = (nearest_to(first, first_clock - offset, first_clock - offset)).date()
    midnight = datetime.datetime.combine(day, datetime.time())
    shift = (midnight + offset - first_clock).total_seconds() + session.frames.start_s
    return [seconds + shift for seconds in unrolled(moments, day)]


def _out_of_order(path: Path, rows: Sequence[Row], times: Sequence[float], first: float) -> list[Statement]:
    said = []
    back = [row for row, time, before in zip(rows[1:], times[1:], times, strict=False) if time < before]
    if back:
        said.append(Statement("log_backwards", {"file": path.name, "lines": line_numbers(back)}))
    if times and max(times) < first:
        values = {"file": path.name, "start": min(times), "end": max(times)}
        said.append(Statement("log_does_not_meet", values))
    return said


def _framed(
    session: Session, rows: Sequence[Row], times: Sequence[float], places: dict[str, int | None]
) -> pd.DataFrame:
    import pandas as pd

    columns = {"time_s": np.array(times, dtype=float)}
    for name, place in places.items():
        cells = [math.nan if place is None else number(row.cell(place)) for row in rows]
        columns[name] = np.array(cells, dtype=float)
    columns["ambient_c"] = to_celsius(columns["ambient_c"], session.beside_units)
    table = pd.DataFrame(columns)
    return table.sort_values("time_s", kind="stable").dropna(subset=["time_s"]).reset_index(drop=True)
