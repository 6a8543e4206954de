"""When each frame was taken: the first source that there is, in the order that the session file states."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from hotspot.doubts import bits
from hotspot.errors import refuse
from hotspot.read.delimited import number, read_delimited
from hotspot.read.exif_time import Taken, taken
from hotspot.read.fingerprint import sha256_of
from hotspot.read.moments import NAME_PATTERNS, before_moment, in_name, later
from hotspot.records import Stamp, Statement
from hotspot.session import Session

LISTED = 6
FILE_DATE = "file date"
_MEND = "State frames.every_s (or --every), or add frames.csv with the columns file and time_s."


@dataclass(frozen=True)
class Clocked:
    """Frames in time order: `stamps[i]` belongs to `names[order[i]]`. Frames without a time are in neither."""

    stamps: tuple[Stamp, ...]
    order: tuple[int, ...]
    source: str  # every_s, frames.csv, own time stamps, names, exif or file date
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)


@dataclass
class _Times:
    """What one source says: seconds on its own zero, in the order of `names`, NaN where it says nothing.

    `sequence` is the order in which the frames were taken by everything but the clock (None: not known).
    """

    source: str
    seconds: list[float]
    sequence: Sequence[int] | None = None
    clock: datetime.datetime | None = None  # of the first frame in time
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)


def stamp_frames(
    session: Session,
    names: Sequence[str],
    paths: Sequence[Path] | None,
    own_times: Sequence[float] | None,
) -> Clocked:
    """Put `names` on the session's time [s]; the first frame in time is at frames.start_s, however it is known.

    `paths` are the files of the frames, one each; None (or one path for all) for the frames of a container,
    whose order is as given. `own_times` [s] are the container's own time stamps, NaN where it has none.
    Sources, the first that exists: frames.every_s, frames.csv, own_times, a date-time in the names, EXIF, the
    files' dates (assumed). A source that only most of the frames have comes before the files' dates: the
    others are set aside and reported. Backward and doubled times are reported, sorted, and doubted.

    Raises InputError where nothing tells the frames' times.
    """
    if not names:
        raise refuse(session.folder, "frames.files", "there is no frame", "Check frames.files.")
    own_files = list(paths) if paths is not None and len(set(paths)) == len(names) else None
    times = _first_source(session, names, own_files, own_times)
    if times.clock is None and times.source in ("every_s", "frames.csv", "own time stamps"):
        times.clock = _clock_of_first(names, paths, times.seconds)
    return _laid(session, names, times)


def natural_order(names: Sequence[str]) -> list[int]:
    """Places of `names` in natural order: frame2 before frame10."""

    return sorted(range(len(names)), key=lambda place: (_natural(names[place]), names[place]))


def _natural(name: str) -> list[tuple[int, str]]:
    parts = re.split(r"(\d+)", name.casefold())
    return [(int(part), "") if k % 2 else (-1, part) for k, part in enumerate(parts)]


def listed(files: Iterable[str]) -> list[str]:
    """Names for a sentence: the first few, the rest counted."""
    files = list(files)
    return files if len(files) <= LISTED + 1 else [*files[:LISTED], f"{len(files) - LISTED} more"]


def _first_source(
    session: Session,
    names: Sequence[str],
    files: list[Path] | None,
    own_times: Sequence[float] | None,
) -> _Times:
    sequence = natural_order(names) if files is not None else list(range(len(names)))
    if session.frames.every_s is not None:
        seconds = [0.0] * len(names)
        for count, place in enumerate(sequence):
            seconds[place] = count * session.frames.every_s
        return _Times("every_s", seconds)
    if (session.folder / "frames.csv").is_file():
        return _listed_times(session.folder / "frames.csv", names)
    if own_times is not None and any(math.isfinite(time) for time in own_times):
        return _Times("own time stamps", [float(time) for time in own_times], sequence)
    if len(names) == 1 and files is None:
        return _Times("one frame", [0.0])
    if files is None:
        told = f"nothing says when each of the {len(names)} frames of {_container(names[0])} was taken"
        raise refuse(session.folder, "frames.every_s", told, _MEND)
    for share in (1.0, 0.5):
        found = _from_names(names, share) or _from_exif(files, sequence, share)
        if found is not None:
            return found
    return _from_dates(files, sequence)


def _listed_times(path: Path, names: Sequence[str]) -> _Times:
    """frames.csv: columns file and time_s, in any order of rows."""
    table = read_delimited(path, ("file", "time_s"), lambda cell: math.isfinite(number(cell)))
    file_column, time_column = table.place("file"), table.place("time_s")
    for column, heading in ((file_column, "file"), (time_column, "time_s")):
        if column is None:
            raise refuse(path, heading, "there is no such column", "Write the headings file,time_s.")
    known = {name: place for place, name in enumerate(names)}
    seconds = [math.nan] * len(names)
    sequence: list[int] = []
    unknown, twice = [], []
    for row in table.rows:
        name = row.cell(file_column).replace("\\", "/")
        place = known.get(name, known.get(name.rsplit("/", 1)[-1]))
        if place is None:
            unknown.append(name)
        elif place in sequence:
            twice.append(name)
        else:
            sequence.append(place)
            seconds[place] = number(row.cell(time_column))
    if not any(map(math.isfinite, seconds)):
        told = f"gives a time for none of the {len(names)} frames (such as {names[0]})"
        raise refuse(path, "file", told, "Write each file as it is called, and its time in seconds.")
    said = [("frames_csv_unknown", unknown), ("frames_csv_twice", twice)]
    notices = [Statement(code, {"count": len(which), "files": listed(which)}) for code, which in said if which]
    return _Times("frames.csv", seconds, sequence, None, notices, {path.name: sha256_of(path)})


def _from_names(names: Sequence[str], share: float) -> _Times | None:
    """The first pattern that fits all names, or, with a smaller `share`, the one that fits most."""
    fits = [[in_name(name, pattern) for name in names] for pattern in range(NAME_PATTERNS)]
    counts = [sum(moment is not None for moment in found) for found in fits]
    best = counts.index(max(counts))
    if not counts[best] or counts[best] < share * len(names):
        return None
    return _since_first("names", fits[best], _by_counter(names, fits[best], best))


def _by_counter(names: Sequence[str], moments: list[datetime.datetime | None], pattern: int) -> list[int] | None:
    """Order of a camera's own counter in front of the date-time; None where the names hold no counter."""
    dated = [place for place, moment in enumerate(moments) if moment is not None]
    before = {place: before_moment(names[place], pattern) for place in dated}
    if len({re.sub(r"\d+", "#", text) for text in before.values()}) > 1:
        return None
    return sorted(dated, key=lambda place: (_natural(before[place]), moments[place]))


def _from_exif(files: list[Path], sequence: list[int], share: float) -> _Times | None:
    read = [taken(path) for path in files]
    known = [one for one in read if one is not None]
    if not known or len(known) < share * len(files):
        return None
    zoned = all(one.offset is not None for one in known)
    moments = [None if one is None else (one.universal if zoned else one.local) for one in read]
    times = _since_first("exif", moments, sequence)
    first = min(known, key=_universal if zoned else _local)
    times.clock = first.local
    return times


def _universal(one: Taken) -> datetime.datetime:
    return one.universal


def _local(one: Taken) -> datetime.datetime:
    return one.local


def _from_dates(files: list[Path], sequence: list[int]) -> _Times:
    seconds = [path.stat().st_mtime for path in files]
    clock = datetime.datetime.fromtimestamp(min(seconds))
    times = _Times(FILE_DATE, seconds, sequence, clock)
    if len(files) > 1:
        times.notices.append(Statement("clock_file_date", {"count": len(files)}))
    return times


def _since_first(source: str, moments: Sequence[datetime.datetime | None], sequence: Sequence[int] | None) -> _Times:
    first = min(moment for moment in moments if moment is not None)
    seconds = [math.nan if moment is None else (moment - first).total_seconds() for moment in moments]
    return _Times(source, seconds, sequence, first)


def _clock_of_first(
    names: Sequence[str], paths: Sequence[Path] | None, seconds: list[float]
) -> datetime.datetime | None:
    """The clock time of the first frame by its own (or its container's) name or EXIF; None if neither has one."""
    first = min((time, place) for place, time in enumerate(seconds) if math.isfinite(time))[1]
    name = _container(names[first])
    for pattern in range(NAME_PATTERNS):
        if moment := in_name(name, pattern):
            return moment
    if not paths:
        return None
    exif = taken(paths[first] if len(paths) == len(names) else paths[0])
    return exif.local if exif else None


def _container(name: str) -> str:
    return re.sub(r"#\d+$", "", name)


def _laid(session: Session, names: Sequence[str], times: _Times) -> Clocked:
    """Sort by time, count from 0, move the first frame to start_s, say what was not in order."""
    with_time = [place for place, time in enumerate(times.seconds) if math.isfinite(time)]
    if not with_time:
        told = f"no frame has a time by its {times.source}"
        raise refuse(session.folder, "frames.every_s", told, _MEND)
    usual = {place: count for count, place in enumerate(natural_order(names))}
    if times.sequence is not None:
        usual.update({place: count for count, place in enumerate(times.sequence)})
    order = sorted(with_time, key=lambda place: (times.seconds[place], usual[place], place))
    backward = _backward(times)
    doubled = _doubled([times.seconds[place] for place in order])
    assumed = times.source == FILE_DATE and len(names) > 1
    zero = times.seconds[order[0]]
    stamps = []
    for index, place in enumerate(order):
        since = times.seconds[place] - zero
        doubts = (["clock_assumed"] if assumed else []) + (
            ["clock_mended"] if place in backward or index in doubled else []
        )
        clock = later(times.clock, since + session.clock.frames_offset_s)
        stamps.append(Stamp(index, names[place], session.frames.start_s + since, clock, bits(doubts)))
    notices = times.notices + _said(names, times, stamps, order, backward, doubled)
    return Clocked(tuple(stamps), tuple(order), times.source, notices, times.inputs)


def _backward(times: _Times) -> set[int]:
    """Places of the frames whose time lies before that of a frame taken earlier."""
    latest, found = -math.inf, set()
    for place in times.sequence or ():
        time = times.seconds[place]
        if time < latest:
            found.add(place)
        elif math.isfinite(time):
            latest = time
    return found


def _doubled(ordered: list[float]) -> set[int]:
    """Numbers of the frames, in time order, that share their time with another."""
    pairs = [k for k in range(1, len(ordered)) if ordered[k] == ordered[k - 1]]
    return {number for k in pairs for number in (k - 1, k)}


def _said(
    names: Sequence[str],
    times: _Times,
    stamps: list[Stamp],
    order: list[int],
    backward: set[int],
    doubled: set[int],
) -> list[Statement]:
    back = tuple(index for index, place in enumerate(order) if place in backward)
    twice = tuple(sorted(doubled))
    said = []
    for code, frames in (("clock_backwards", back), ("clock_doubled", twice)):
        if frames:
            files = listed(stamps[index].file for index in frames)
            values = {"source": times.source, "count": len(frames), "files": files}
            said.append(Statement(code, values, frames))
    without = [name for place, name in enumerate(names) if not math.isfinite(times.seconds[place])]
    if without:
        values = {"source": times.source, "count": len(without), "files": listed(without)}
        said.append(Statement("frames_without_time", values))
    return said
