"""The ends of the colour scale, frame by frame: fixed ones from the session, moving ones from a table."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hotspot.doubts import bits
from hotspot.errors import refuse
from hotspot.read.fingerprint import sha256_of
from hotspot.records import Statement
from hotspot.units import to_celsius

if TYPE_CHECKING:
    from hotspot.session import Session

DEFAULT_TABLE = "scale.csv"
HOW, READ, TYPED, DOUBTFUL = "how", "read", "typed", "doubtful"
_COLUMNS = ("file", "low", "high")
_SHOWN = 5


@dataclass(frozen=True, slots=True)
class Ends:
    """Temperatures [°C] of the first and the last colour of one frame, NaN where they are not known.

    An end that the camera moves from frame to frame is the frame's own extreme and clips nothing: then
    `low_clips` or `high_clips` is False. `doubts` are bits that hold for every pixel of the frame.
    """

    low: float
    high: float
    low_clips: bool = True
    high_clips: bool = True
    doubts: int = 0

    @property
    def span(self) -> float:
        """K from the first to the last colour."""
        return self.high - self.low


@dataclass(slots=True)
class Scale:
    """Where the ends of each frame come from."""

    fixed: Ends | None
    rows: dict[str, Ends] = field(default_factory=dict)
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)
    doubtful: frozenset[str] = frozenset()  # files whose row is to be confirmed first: those frames are set aside

    def of(self, file: str) -> Ends:
        """The ends of the frame called `file`: its row, else the session's fixed ends, else unknown."""
        if not self.rows and self.fixed is not None:
            return self.fixed
        row = self.rows.get(file)
        if row is not None:
            return row
        doubtful = bits(["scale_doubtful"])
        if self.fixed is None:
            return Ends(math.nan, math.nan, False, False, doubtful)
        return Ends(self.fixed.low, self.fixed.high, doubts=doubtful)

    def describe(self) -> dict[str, Any]:
        """For `settings`."""
        said: dict[str, Any] = {}
        if self.fixed is not None:
            said |= {"low_c": self.fixed.low, "high_c": self.fixed.high}
        if self.rows:
            said |= {"scale_table": next(iter(self.inputs)), "scale_rows": len(self.rows)}
        return said


def read_scale(session: Session, names: Sequence[str]) -> Scale:
    """The ends from `scale.table` (or a scale.csv beside the session), else `scale.low` and `scale.high`.

    `names` are the files of the frames in time order; those without a row are noticed. Raises InputError
    where no ends are given at all, only one of two, or the table is not there or has no usable row.
    """
    stated = session.scale
    fixed = None
    if stated.low is not None and stated.high is not None:
        if stated.low >= stated.high:
            raise refuse("session.toml", "scale.low", f"{stated.low:g} °C is not below scale.high", "Swap them.")
        fixed = Ends(stated.low, stated.high)
    name = stated.table or (DEFAULT_TABLE if (session.folder / DEFAULT_TABLE).is_file() else None)
    if name is not None:
        return _with_table(session, name, fixed, names)
    if fixed is None:
        missing = [key for key in ("low", "high") if getattr(stated, key) is None]
        raise refuse(
            "session.toml",
            f"scale.{missing[0]}",
            f"{' and '.join(missing)} of the colour scale not given",
            "State scale.low and scale.high as printed at the ends of the bar; where they differ from frame to frame, "
            "hotspot scale FOLDER reads them into scale.csv.",
        )
    return Scale(fixed)


def _with_table(session: Session, name: str, fixed: Ends | None, names: Sequence[str]) -> Scale:
    path = session.folder / name
    if not path.is_file():
        raise refuse(
            "session.toml", "scale.table", f"{name} is not there", "Put it beside session.toml, or correct the name."
        )
    found, broken, doubtful = _rows_of(path, name, session.beside_units)
    if not found and doubtful:
        found_out = f"all of its {len(doubtful)} rows are marked doubtful"
        raise refuse(name, "", found_out, "Look at results/scale-check.png and confirm them: hotspot scale --typed.")
    if not found:
        raise refuse(
            name,
            f"line {broken[0]}" if broken else "",
            "no row gives a file with a low below a high",
            "Write one row per frame: file,low,high.",
        )
    lows, highs = ({ends[side] for ends in found.values()} for side in (0, 1))
    rows = {
        file: Ends(low, high, low_clips=len(lows) == 1, high_clips=len(highs) == 1)
        for file, (low, high) in found.items()
    }
    scale = Scale(fixed, rows, inputs={name: sha256_of(path)}, doubtful=frozenset(doubtful & set(names)))
    scale.notices += _notices(name, broken, rows, fixed, [file if file not in doubtful else "" for file in names])
    if scale.doubtful:
        aside = [index for index, file in enumerate(names) if file in scale.doubtful]
        values = {"file": name, "count": len(aside), "names": [names[index] for index in aside[:_SHOWN]]}
        scale.notices.append(Statement("scale_rows_doubtful", values, tuple(aside)))
    return scale


def _notices(
    name: str, broken: list[int], rows: dict[str, Ends], fixed: Ends | None, names: Sequence[str]
) -> list[Statement]:
    said = []
    if broken:
        values = {"file": name, "lines": broken[:_SHOWN], "count": len(broken)}
        said.append(Statement("scale_rows_broken", values))
    missing = [index for index, file in enumerate(names) if file and file not in rows]
    if missing:
        code = "scale_rows_missing_fixed" if fixed is not None else "scale_rows_missing"
        values = {
            "file": name,
            "count": len(missing),
            "of": len(names),
            "names": [names[index] for index in missing[:_SHOWN]],
        }
        said.append(Statement(code, values, tuple(missing)))
    strangers = sorted(set(rows) - set(names))
    if strangers:
        values = {"file": name, "count": len(strangers), "names": strangers[:_SHOWN]}
        said.append(Statement("scale_rows_unused", values))
    return said


def _rows_of(path: Path, name: str, unit: str) -> tuple[dict[str, tuple[float, float]], list[int], set[str]]:
    """File -> (low, high) in °C, the numbers of the lines that cannot be used, and the files marked doubtful.

    A file that is named again with other ends cannot be trusted: none of its rows is used.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise refuse(name, "", "is not text in UTF-8", "Save it as CSV, UTF-8.") from error
    delimiter = ";" if lines and ";" in lines[0] else ","
    reader = csv.reader(lines, delimiter=delimiter)
    heading = [cell.strip().lower() for cell in next(reader, [])]
    lacking = [column for column in _COLUMNS if column not in heading]
    if lacking:
        raise refuse(name, "line 1", f"no column {' and no column '.join(lacking)}", "Head it file,low,high.")
    places = [heading.index(column) for column in _COLUMNS]
    how = heading.index(HOW) if HOW in heading else None
    doubtful: set[str] = set()
    rows: dict[str, tuple[float, float]] = {}
    seen: dict[str, int] = {}
    broken: list[int] = []
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        if how is not None and how < len(cells) and how_of(cells[how], name, reader.line_num) == DOUBTFUL:
            doubtful.add(cells[places[0]].strip())
            continue
        row = _row_of(cells, places, unit, decimal_comma=delimiter == ";")
        if row is None or (row[0] in seen and rows.get(row[0]) != row[1:]):
            broken.append(reader.line_num)
            if row is not None and rows.pop(row[0], None) is not None:
                broken.append(seen[row[0]])
            continue
        rows[row[0]] = row[1:]
        seen.setdefault(row[0], reader.line_num)
    return rows, sorted(broken), doubtful - set(rows)


def how_of(cell: str, table: object, line: int) -> str:
    """What the column `how` says of a row; a row without a word was typed by hand.

    Raises InputError for any other word: a misspelt `doubtful` would be taken for a reading.
    """
    word = cell.strip().lower() or TYPED
    if word not in (READ, TYPED, DOUBTFUL):
        found = f"how is {cell.strip()!r}, which is none of {READ}, {TYPED}, {DOUBTFUL}"
        mend = f"Write {TYPED} for ends that you checked, {DOUBTFUL} to leave the frame out."
        raise refuse(table, f"line {line}", found, mend)
    return word


def _row_of(cells: list[str], places: list[int], unit: str, *, decimal_comma: bool) -> tuple[str, float, float] | None:
    if len(cells) <= max(places):
        return None
    file, low, high = (cells[place].strip() for place in places)
    if decimal_comma:
        low, high = low.replace(",", "."), high.replace(",", ".")
    try:
        ends = tuple(to_celsius(float(text), unit) for text in (low, high))
    except ValueError:
        return None
    if not file or not all(map(math.isfinite, ends)) or ends[0] >= ends[1]:
        return None
    return file, *ends
