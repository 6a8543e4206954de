"""CSV: a matrix of numbers, one frame per file; or whole frames in one line each, with or without their times.

Commas with decimal points, semicolons or tabs with points or decimal commas. Lines of words on top (a title,
a heading, the time) are passed over; blank cells, inf and words among the numbers hold no value.
"""

from __future__ import annotations

import datetime
import io
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TextIO

import numpy as np

from hotspot.read.carrier import (
    MOST_PIXELS,
    Broken,
    CarrierTrouble,
    Contents,
    File,
    Options,
    Raw,
    check_size,
)
from hotspot.read.moments import clock_time, unrolled
from hotspot.read.text_grid import TextGrid, cells_of, value_of, width_of

_MOST_TOP_LINES = 50
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:[.,]\d+)?")
_TIME_WORD = re.compile(r"[#;\"'\s]*(?:time_?s?|timestamp|elapsed|t_?s?)\b(?!.*\bms\b)", re.IGNORECASE)


class NeedsSize(CarrierTrouble):
    """A frame in one line whose width and height nobody said."""


@dataclass(frozen=True, slots=True)
class _Shape:
    """How the file is written: `top` lines come before the numbers; a line has `width` cells, the frame's begin
    at `first`; with `in_lines` each line is a whole frame, its time in cell `time_column`.
    """

    separator: str
    top: int
    width: int
    in_lines: bool = False
    first: int = 0
    time_column: int | None = None
    time_s: float | None = None


def list_frames(file: File, options: Options) -> Contents:
    """One frame for a matrix; one per line where `options.size` says that a line holds a frame.

    Raises NeedsSize for whole frames in one line without a size, CarrierTrouble for a file without numbers.
    """
    with _lines(file) as lines:
        shape = _shape(lines, options)
    if not shape.in_lines:
        _check_height(file, shape)
        return Contents(1, None if shape.time_s is None else (shape.time_s,))
    with _lines(file) as lines:
        cells = [_time_cell(line, shape) for line in _body(lines, shape)]
    return Contents(len(cells), _times(cells), many=len(cells) > 1)


def decode(file: File, wanted: Sequence[int], options: Options) -> Iterator[tuple[int, Raw | Broken]]:
    """A TextGrid (rows, columns), NaN where a cell holds no number."""
    try:
        with _lines(file) as lines:
            shape = _shape(lines, options)
        with _lines(file) as lines:
            body = _body(lines, shape)
            if not shape.in_lines:
                yield from ((number, _matrix(body, shape)) for number in wanted[:1])
                return
            asked, last = set(wanted), -1
            for number, line in enumerate(body):
                if number in asked:
                    last = number
                    yield number, _frame_of_line(line, shape, options)
                if number >= wanted[-1]:
                    break
            yield from ((n, Broken("the file ends before this line")) for n in wanted if n > last)
    except CarrierTrouble as trouble:
        yield from ((number, Broken(str(trouble))) for number in wanted)


def _check_height(file: File, shape: _Shape) -> None:
    """Raises NeedsSize for a wide file of few lines: each of them may well be a whole frame."""
    if shape.width < 64:
        return
    with _lines(file) as lines:
        few = sum(1 for _ in zip(_body(lines, shape), range(shape.width // 8), strict=False))
    if few * 8 < shape.width - 7:
        raise NeedsSize(
            f"it holds {few} lines of {shape.width} numbers, maybe a whole frame each, "
            "and nobody said its width and height"
        )


@contextmanager
def _lines(file: File) -> Iterator[TextIO]:
    """The file as text: UTF-8, UTF-16 with its mark, else Latin-1 (old instruments' degree sign)."""
    raw = file if isinstance(file, io.BytesIO) else file.open("rb")
    try:
        raw.seek(0)
        head = raw.read(65536)
        raw.seek(0)
        encoding = "utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
        if encoding == "utf-8-sig":
            if b"\0" in head:
                raise CarrierTrouble("it is no text")
            try:
                head[:-4].decode("utf-8") if len(head) == 65536 else head.decode("utf-8")
            except UnicodeDecodeError:
                encoding = "latin-1"
        text = io.TextIOWrapper(raw, encoding, errors="replace", newline=None)
        try:
            yield text
        finally:
            text.detach()
    finally:
        if raw is not file:
            raw.close()


def _separator(line: str) -> str:
    return next((mark for mark in (";", "\t", ",") if mark in line), " ")


def _is_data(cells: Sequence[str]) -> bool:
    """More numbers than words; a line of several cells without any value counts as well."""
    try:
        good = sum(map(math.isfinite, map(float, cells)))
    except ValueError:
        numbers = [value_of(cell) for cell in cells]
        words = sum(value is None for value in numbers)
        good = sum(value is not None and value == value for value in numbers)
        return words < good or (words == 0 and len(cells) > 1)
    return good > 0 or len(cells) > 1


def _shape(lines: TextIO, options: Options) -> _Shape:
    """From the top of the file. Raises NeedsSize or CarrierTrouble."""
    tops: list[list[str]] = []
    data: list[tuple[int, str, list[str]]] = []
    times: list[float] = []
    for number, line in enumerate(lines):
        if not line.strip():
            continue
        separator = _separator(line)
        cells = cells_of(line, separator)
        time_s = None if data else _said_time(line, cells)
        blank = bool(tops) and not any(cell.strip() for cell in cells)
        if data or (time_s is None and not blank and _is_data(cells)):
            data.append((number, separator, cells))
        else:
            tops.append(cells if time_s is None else [])
            times += [] if time_s is None else [time_s]
        if len(data) == 4 or number > _MOST_TOP_LINES:
            break
    while len(data) > 1 and _is_heading(data[0][2], data[1][2]):
        tops.append(data.pop(0)[2])
    if not data:
        raise CarrierTrouble("no numbers were found in it")
    top, separator, _ = data[0]
    rows = [cells for _, _, cells in data]
    if all(len(row) > 1 and not row[-1].strip() for row in rows):
        rows = [row[:-1] for row in rows]
    shape = _Shape(separator, top, len(rows[0]), time_s=times[0] if len(times) == 1 else None)
    return _laid_out(shape, tops[-1] if tops else [], rows, options)


def _is_heading(cells: Sequence[str], below: Sequence[str]) -> bool:
    """A lone number or a size on top, or the numbers of the columns."""
    return len(cells) < min(4, len(below)) or (len(cells) > 2 and _counts_up(cells))


def _laid_out(shape: _Shape, top: Sequence[str], data: list[list[str]], options: Options) -> _Shape:
    """The shape with what its heading and its widths tell of where the frame is. Raises NeedsSize."""
    width = shape.width
    heading = [cell.strip() for cell in top]
    heading = heading[:width] if len(heading) in (width, width + 1) and width > 1 else []
    pixels = [k for k, cell in enumerate(heading) if re.fullmatch(r"[Pp][A-Za-z_ ]*\d+", cell)]
    clock = next((k for k, cell in enumerate(heading) if cell.lower().startswith("time")), None)
    held = len(pixels) or width
    if options.size is not None:
        need = options.size[0] * options.size[1]
        check_size(options.size[1], options.size[0])
        if len(pixels) == need and pixels[-1] - pixels[0] == need - 1:
            return replace(shape, in_lines=True, first=pixels[0], time_column=clock)
        if width == need or (clock is not None and clock < width - need):
            return replace(shape, in_lines=True, first=width - need, time_column=clock)
        if len(data) == 1 or clock is not None:
            raise NeedsSize(f"a line holds {held} numbers, frames.size asks for {need}")
    elif len(data) == 1 or clock is not None:
        raise NeedsSize(f"a line holds {held} numbers, maybe a whole frame, and nobody said its width and height")
    index = bool(heading) and _counts_up([row[0] for row in data]) and (not heading[0] or _counts_up(heading))
    return replace(shape, first=int(index))


def _counts_up(cells: Sequence[str]) -> bool:
    """0, 1, 2, ... or 1, 2, 3, ...: numbers of columns or rows, the first of which may be blank or a word."""
    texts = [cell.strip() for cell in cells]
    if texts and not texts[0].isdigit():
        texts = texts[1:]
    start = texts[0] if texts else ""
    return start in ("0", "1") and texts == [str(int(start) + k) for k in range(len(texts))]


def _said_time(line: str, cells: Sequence[str]) -> float | None:
    """Seconds of a time line above a matrix: `time_s;12.5`, `Time: 12.5 s` or a date and a clock time."""
    if sum(bool(cell.strip()) for cell in cells) > 3:
        return None
    moment = _MOMENT.search(line)
    if moment:
        text = moment.group().replace(",", ".").replace(" ", "T")
        # Only differences count; the zone falls out of them.
        return datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.UTC).timestamp()
    if not _TIME_WORD.match(line):
        return None
    numbers = _NUMBER.findall(re.sub(r"(\d),(\d)", r"\1.\2", line))
    return float(numbers[0]) if len(numbers) == 1 else None


def _body(lines: TextIO, shape: _Shape) -> Iterator[str]:
    """The lines of numbers; blank lines are passed over."""
    for number, line in enumerate(lines):
        if number >= shape.top and line.strip():
            yield line


def _time_cell(line: str, shape: _Shape) -> str:
    if shape.time_column is None:
        return ""
    cells = cells_of(line, shape.separator)
    return cells[shape.time_column].strip() if len(cells) > shape.time_column else ""


def _times(cells: Sequence[str]) -> tuple[float, ...] | None:
    """Seconds, or clock times as seconds; NaN for a cell that is neither; None where no cell is either."""
    seconds = [float("nan") if (value := value_of(cell)) is None else value for cell in cells]
    if not np.isfinite(seconds).any():
        seconds = unrolled([clock_time(cell) for cell in cells], datetime.date(2000, 1, 1))
    return tuple(seconds) if np.isfinite(seconds).any() else None


def _frame_of_line(line: str, shape: _Shape, options: Options) -> Raw | Broken:
    width, height = options.size
    cells = cells_of(line, shape.separator)
    if len(cells) < shape.first + width * height:
        return Broken(f"the line holds {len(cells) - shape.first} numbers of {width * height}")

    def row(place: int) -> list[str]:
        start = shape.first + place * width
        return cells[start : start + width]

    return TextGrid(row, (height, width))


def _matrix(body: Iterator[str], shape: _Shape) -> Raw | Broken:
    lines: list[str] = []
    for line in body:
        width = width_of(line, shape.separator, shape.width)
        if width != shape.width:
            return Broken(f"row {len(lines) + 1} holds {width} numbers, the first one {shape.width}")
        lines.append(line)
        if len(lines) * shape.width > MOST_PIXELS:
            return Broken("it holds more numbers than a frame can")

    def row(place: int) -> list[str]:
        return cells_of(lines[place], shape.separator)[shape.first : shape.width]

    return TextGrid(row, (len(lines), shape.width - shape.first))
