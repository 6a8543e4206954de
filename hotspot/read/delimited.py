"""Text tables as loggers write them: comma, semicolon or tab, decimal point or comma, titles above the headings."""

from __future__ import annotations

import csv
import re
import statistics
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from hotspot.errors import refuse

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_SEPARATORS = ("\t", ";", ",")
_TITLE_LINES = 40


@dataclass(frozen=True)
class Row:
    """One line of the file: its number, counted from 1, and its cells, stripped."""

    line: int
    cells: tuple[str, ...]

    def cell(self, place: int) -> str:
        """The cell at `place`, empty where the line is too short."""
        return self.cells[place] if place < len(self.cells) else ""


@dataclass(frozen=True)
class Delimited:
    """A text table. `headings` is empty where the first line that is a row already holds values."""

    path: Path
    headings: tuple[str, ...]
    rows: tuple[Row, ...]

    def place(self, heading: str) -> int | None:
        """Number of the column with this heading (spaces and upper case aside), from 0; None if there is none."""
        wanted = heading.strip().casefold()
        found = [k for k, name in enumerate(self.headings) if name.casefold() == wanted]
        exact = [k for k in found if self.headings[k] == heading.strip()]
        return (exact or found or [None])[0]


def number(text: str) -> float:
    """A cell as a number, with a decimal point or comma; NaN where it is none (blank, `OL`, `inf`, a word)."""
    text = text.strip()
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else float("nan")


def read_delimited(path: Path, wanted: Iterable[str], is_value: Callable[[str], bool]) -> Delimited:
    """Read a text table whose line of headings holds one of `wanted`, or else no cell that `is_value`, or a word
    in its first cell above a value.

    Lines above the headings are titles and are passed over; so are blank lines and those that begin with #.
    Raises InputError where the file cannot be read or holds nothing.
    """
    lines = [(n, line) for n, line in enumerate(_text(path).splitlines(), 1) if line.strip(" \t\r;,")]
    lines = [(n, line) for n, line in lines if not line.lstrip().startswith("#")]
    if not lines:
        raise refuse(path, "", "holds no rows", "Give a table with headings and values.")
    separator = _separator([line for _, line in lines])
    rows = [Row(n, _cells(line, separator)) for n, line in lines]
    heading = _heading(rows, {name.strip().casefold() for name in wanted}, is_value)
    if heading is None:
        return Delimited(path, (), tuple(rows))
    return Delimited(path, rows[heading].cells, tuple(rows[heading + 1 :]))


def _heading(rows: list[Row], wanted: set[str], is_value: Callable[[str], bool]) -> int | None:
    """Place of the line of headings, None if there is none."""
    for place, row in enumerate(rows[:_TITLE_LINES]):
        if wanted & {cell.casefold() for cell in row.cells}:
            return place
    width = statistics.mode(len(row.cells) for row in rows)
    for place, row in enumerate(rows[:_TITLE_LINES]):
        if len(row.cells) >= width:
            below = rows[place + 1].cell(0) if place + 1 < len(rows) else ""
            # pins are often headed by numbers: then the word above the times tells
            worded = bool(row.cell(0)) and not is_value(row.cell(0)) and is_value(below)
            return place if worded or not any(is_value(cell) for cell in row.cells) else None
    return None


def _separator(lines: list[str]) -> str:
    for candidate in _SEPARATORS:
        if statistics.median(line.count(candidate) for line in lines) >= 1:
            return candidate
    return ","


def _cells(line: str, separator: str) -> tuple[str, ...]:
    try:
        cells = next(csv.reader([line], delimiter=separator), [])
    except csv.Error:  # a cell beyond the csv module's limit, or a stray NUL: no quoting then
        cells = line.split(separator)
    return tuple(cell.strip() for cell in cells)


def _text(path: Path) -> str:
    """The file as text: UTF-16 where it says so, UTF-8, else the Windows code page (for a degree sign)."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise refuse(path, "", "there is no such file", "Check its name.") from None
    except OSError as error:
        what = error.strerror or str(error)
        raise refuse(path, "", f"cannot be read ({what})", "It must be a file that you may read.") from None
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    if b"\0" in content[:4096]:
        raise refuse(path, "", "is no text", "Give a table as text, with a separator between columns.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")
