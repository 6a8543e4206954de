"""A first look at a folder of frames: what can be seen without a session.toml, for `hotspot new`."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.errors import InputError, refuse
from hotspot.read.carrier import Broken, CarrierTrouble, Options, carrier_of, kind_of
from hotspot.read.delimited import number, read_delimited
from hotspot.read.moments import clock_time
from hotspot.read.recording import FILM_START, LOOKED_AT
from hotspot.records import Seen
from hotspot.session import Frames, Session

if TYPE_CHECKING:
    from hotspot.read.bar import Bar

BESIDE = {"log.csv", "frames.csv", "scale.csv"}
COMMONEST_OF = 40


def look(folder: Path) -> Seen:
    """Carrier, count, size, times and colour bar of the frames in `folder`/frames or `folder`.

    Raises InputError where there is no folder or no frame in it.
    """
    if not folder.is_dir():
        raise refuse(folder, "", "there is no such folder", "Give the folder that holds the frames.")
    table = _logged(folder)
    if table is not None:
        return table
    paths = _frame_files(folder)
    if not paths:
        raise refuse(folder, "", "no file in it holds frames", "Put the frames into it or into its folder `frames`.")
    first, contents, trouble = _first_readable(paths)
    names = [path.name for path in paths]
    if len(paths) == 1 and contents.many:
        names = [f"{paths[0].name}#{k}" for k in range(contents.count)]
    where = paths[0].relative_to(folder)
    grouped = where if len(paths) == 1 else where.with_name(f"*{where.suffix}")
    clock, times = _times(folder, names, paths, contents)
    bar = _bar(first)
    return Seen(
        files=grouped.as_posix(),
        kind=kind_of(paths[0]) or "",
        count=len(names),
        clock=clock,
        step_s=float(np.median(np.diff(times))) if len(times) > 1 else None,
        span_s=float(times[-1] - times[0]) if len(times) > 1 else 0.0,
        unreadable=trouble,
        **_content(first, bar),
        **_over_all(first, bar, paths, contents),
    )


def _logged(folder: Path) -> Seen | None:
    """A logger's table, where the only CSV of the folder is one: headings over times first, then over numbers."""
    paths = [path for path in sorted(folder.glob("*.csv")) if path.name.lower() not in BESIDE]
    others = [p for p in folder.iterdir() if p.is_file() and p.suffix.lower() != ".csv" and kind_of(p)]
    if len(paths) != 1 or others or (folder / "frames").is_dir():
        return None
    try:
        table = read_delimited(paths[0], (), _is_value)
    except InputError:
        return None
    body = [row.cells for row in table.rows]
    if len(table.headings) < 2 or not body:
        return None
    filled = [sum(_is_value(row[k]) for row in body if k < len(row)) / len(body) for k in range(len(table.headings))]
    pins = tuple(name for name, share in zip(table.headings[1:], filled[1:], strict=True) if share > 0.5 and name)
    if filled[0] < 0.9 or not pins:
        return None
    return Seen(
        files=paths[0].name,
        kind="table",
        count=len(body),
        rows=0,
        columns=len(pins),
        reading="table",
        clock="time column",
        step_s=None,
        span_s=0.0,
        headings=(table.headings[0], *pins),
    )


def _is_value(cell: str) -> bool:
    return math.isfinite(number(cell)) or clock_time(cell) is not None


def _frame_files(folder: Path) -> list[Path]:
    """The files of the commonest suffix that a carrier knows, in `frames` or else in the folder itself."""
    for place in (folder / "frames", folder):
        if not place.is_dir():
            continue
        files = [p for p in sorted(place.iterdir()) if p.is_file() and p.name not in BESIDE and p.suffix != ".toml"]
        files = [p for p in files if not p.name.startswith(".") and kind_of(p)]
        if files:
            suffix = Counter(p.suffix for p in files).most_common(1)[0][0]
            return [p for p in files if p.suffix == suffix]
    return []


def _first_readable(paths: list[Path]):
    """The first frame that can be read, the contents of its file, and how many files before it could not be."""
    why = ""
    for place, path in enumerate(paths[:COMMONEST_OF]):
        options = Options(path.name)
        try:
            carrier = carrier_of(path)
            contents = carrier.list_frames(path, options)
            _, raw = next(iter(carrier.decode(path, [0], options)))
        except CarrierTrouble as trouble:
            why = str(trouble)
            continue
        if isinstance(raw, Broken):
            why = raw.why
            continue
        return raw, contents, place
    raise refuse(paths[0], "", f"no frame can be read: {why}", "Check that the files are whole.")


def _times(folder: Path, names: list[str], paths: list[Path], contents) -> tuple[str, list[float]]:
    from hotspot.read.clock import stamp_frames

    session = Session(folder=folder, frames=Frames(files="*"))
    of_files = paths if len(paths) == len(names) else None
    try:
        clocked = stamp_frames(session, names, of_files, contents.times_s)
    except InputError:  # nothing at all says when the frames of a stack were taken
        return "none", []
    return clocked.source, [stamp.time_s for stamp in clocked.stamps]


def _bar(first) -> Bar | None:
    from hotspot.read.bar import find_bar
    from hotspot.read.colour_image import ColourImage

    return find_bar(first) if isinstance(first, ColourImage) else None


def _over_all(first, bar: Bar | None, paths: list[Path], contents) -> dict:
    """What frames spread over the test say: whether there are other sizes, and whether the ends of the bar move."""
    from hotspot.read.scale_moves import EndsWatch

    sizes: set[tuple[int, int]] = set()

    def measured() -> Iterator[Any]:
        for raw in _spread(paths, contents):
            sizes.add((raw.shape[1], raw.shape[0]))
            yield raw

    watch = None if bar is None else EndsWatch(bar, first.shape)
    for _ in measured() if watch is None else watch.over(measured()):
        pass
    others = sorted(sizes - {(first.shape[1], first.shape[0])})
    return {"other_sizes": tuple(others), "ends_move": watch is not None and watch.moves() == "clearly"}


def _spread(paths: list[Path], contents) -> Iterator[Any]:
    """Frames spread over the test (over the start of a film)."""
    film = len(paths) == 1 and contents.many
    count = min(contents.count, FILM_START) if film else len(paths)
    wanted = sorted({round(k * (count - 1) / (LOOKED_AT - 1)) for k in range(LOOKED_AT)})
    for path, numbers in [(paths[0], wanted)] if film else [(paths[k], [0]) for k in wanted]:
        try:
            options = Options(path.name)
            for _, raw in carrier_of(path).decode(path, numbers, options):
                if not isinstance(raw, Broken):
                    yield raw
        except (CarrierTrouble, OSError):
            continue


def _content(raw, bar: Bar | None) -> dict:
    """What the first frame says: its size, reading, values, whether it is a photo of a screen, or where its bar is."""
    from hotspot.read.colour_image import ColourImage
    from hotspot.read.screen_told import is_photo_of_screen

    rows, columns = raw.shape[:2]
    if isinstance(raw, ColourImage):
        found: dict[str, Any] = {} if bar is None else {"bar_box": tuple(bar.box), "bar_map": bar.known}
        if is_photo_of_screen(raw, bar):  # a bar that the picture seems to have as it stands is the screen's, askew
            found = {"filmed": True}
        return {"rows": rows, "columns": columns, "reading": "colours", **found}
    raw = np.asarray(raw)
    reading = "counts" if np.issubdtype(raw.dtype, np.integer) else "temperature"
    finite = raw[np.isfinite(raw)] if reading == "temperature" else raw
    ends = (float(finite.min()), float(finite.max())) if finite.size else None
    return {"rows": rows, "columns": columns, "reading": reading, "values": ends}
