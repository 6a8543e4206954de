"""The stages of the load laid on the session's time: which frame belongs to which."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

from hotspot.errors import InputError, Problem
from hotspot.read.moments import clock_time, nearest_to
from hotspot.read.session_faults import nearest
from hotspot.records import StageSpan, Stamp, Statement
from hotspot.session import Session, Stage

_DAY_S = 86400.0


@dataclass
class _Draft:
    """A stage on its way: its place in the file, its name in the results, its bounds [s]."""

    place: int
    name: str
    stage: Stage
    start: float | None
    end: float | None


def stage_spans(session: Session, stamps: Sequence[Stamp]) -> tuple[tuple[StageSpan, ...], list[Statement]]:
    """The stages in time order, each [start_s, end_s) with the numbers of its frames, and what to say of them.

    Bounds are seconds, clock times (on the day that brings them nearest to the frames) or names of frames. A
    stage without an end lasts to the start of the next one, or just past the last frame; one without a start
    begins where the one before it in the file ends, the first with the first frame. Where stages overlap, the
    one that starts later has the frames. An end may lie after the last frame: the planned end. Without stages
    the whole run is one, with an empty name. Two stages of one name get a number each in the results. A pin that
    a table of amps leaves out, but that is `return_of` others, carries their sum.

    Raises InputError for a bound that cannot be found, clock times without a clock, an end before its start.
    """
    if not stamps:
        raise InputError(Problem(_file(session), "frames.files", "there is no frame", "Check frames.files."))
    after_last = math.nextafter(stamps[-1].time_s, math.inf)
    if not session.stage:
        whole = tuple(stamp.index for stamp in stamps)
        return (StageSpan("", stamps[0].time_s, after_last, whole),), []
    drafts, said = _bounded(session, stamps)
    _fill_gaps(session, drafts, stamps[0].time_s, after_last)
    drafts.sort(key=lambda draft: (draft.start, draft.place))
    said += _overlaps(drafts, stamps)
    owner = _owners(drafts, stamps)
    spans = []
    for draft in drafts:
        frames = tuple(index for index, place in owner.items() if place == draft.place)
        spans.append(StageSpan(draft.name, draft.start, draft.end, frames, _with_returns(session, draft.stage)))
        if not frames:
            values = {"stage": draft.name, "start": draft.start, "end": draft.end}
            said.append(Statement("stage_without_frames", values))
    return tuple(spans), said


def _with_returns(session: Session, stage: Stage) -> Stage:
    """The stage with the current of each pin that carries the sum of others, where its table leaves that pin out.

    Raises InputError for pins that return each other's current in a circle.
    """
    if not isinstance(stage.amps, dict):
        return stage
    amps = dict(stage.amps)
    waiting = {pin.name: pin.return_of for pin in session.pin if pin.return_of and pin.name not in amps}
    while waiting:
        ready = [name for name, sources in waiting.items() if not waiting.keys() & set(sources)]
        if not ready:
            found = f"pins {', '.join(waiting)} return each other's current in a circle"
            raise InputError(Problem(_file(session), "pin: return_of", found, "Name the pins that feed the load."))
        amps.update({name: sum(amps.get(source, 0.0) for source in set(waiting.pop(name))) for name in ready})
    return stage.model_copy(update={"amps": amps})


def stage_names(stages: Sequence[Stage]) -> list[str]:
    """Names in the results: as given, but each its own. One nameless stage stays nameless if it is the only one."""
    taken: set[str] = {stage.name for stage in stages}
    names: list[str] = []
    for place, stage in enumerate(stages):
        name = stage.name
        if name in names or (not name and len(stages) > 1):
            count = place + 1 if not name else 2
            stem = name or "stage"
            while f"{stem} {count}" in taken:
                count += 1
            name = f"{stem} {count}"
            taken.add(name)
        names.append(name)
    return names


def _bounded(session: Session, stamps: Sequence[Stamp]) -> tuple[list[_Draft], list[Statement]]:
    """Every bound that is given, in seconds; all problems at once."""
    drafts, said, problems = [], [], []
    names = stage_names(session.stage)
    for place, stage in enumerate(session.stage):
        draft = _Draft(place, names[place], stage, stage.start_s, stage.end_s)
        for key, text in (("start", stage.start), ("end", stage.end)):
            if text is None:
                continue
            at = _seconds(text, stamps)
            if isinstance(at, float):
                setattr(draft, key, at)
            else:
                problems.append(Problem(_file(session), _key(session, place, key), *at))
        _past_midnight(draft, stamps)
        drafts.append(draft)
        if names[place] != stage.name:
            said.append(Statement("stage_renamed", {"count": place + 1, "name": names[place]}))
    if problems:
        raise InputError(problems)
    return drafts, said


def _seconds(text: str, stamps: Sequence[Stamp]) -> float | tuple[str, str]:
    """Session time [s] of a frame's name or a clock time, else (what was found, what would mend it)."""
    name = text.replace("\\", "/").rsplit("/", 1)[-1]
    for stamp in stamps:
        if stamp.file in (text, name):
            return stamp.time_s
    when = clock_time(text)
    if when is None:
        close = nearest(name, (stamp.file for stamp in stamps))
        mend = f'The nearest frame is "{close}".' if close else "Write hh:mm:ss, or the name of a frame."
        return f'found "{text}", neither a clock time nor the name of a frame', mend
    first, last = stamps[0], stamps[-1]
    if first.clock is None or last.clock is None:
        found = f"found the clock time {text}, but the clock time of the frames is not known"
        return found, "Use start_s and end_s, in seconds from the first frame, or the names of frames."
    return first.time_s + (nearest_to(when, first.clock, last.clock) - first.clock).total_seconds()


def _past_midnight(draft: _Draft, stamps: Sequence[Stamp]) -> None:
    """An end at a time of day that came out before its start lies on the next day, if frames reach that far."""
    text = draft.stage.end
    if draft.start is None or draft.end is None or text is None or draft.end > draft.start:
        return
    if isinstance(clock_time(text), datetime.time) and draft.end + _DAY_S <= stamps[-1].time_s + _DAY_S / 2:
        draft.end += _DAY_S


def _fill_gaps(session: Session, drafts: list[_Draft], first: float, after_last: float) -> None:
    """Starts and ends that were left out; all problems at once."""
    problems = []
    for place, draft in enumerate(drafts):
        if draft.start is None and place == 0:
            draft.start = first
        elif draft.start is None and drafts[place - 1].end is not None:
            draft.start = drafts[place - 1].end
        elif draft.start is None:
            found = "is missing, and the stage before has no end"
            mend = "Give this stage a start_s, or the one before an end_s."
            problems.append(Problem(_file(session), _key(session, place, "start_s"), found, mend))
    if problems:
        raise InputError(problems)
    for draft in drafts:
        if draft.end is None:
            later = [other.start for other in drafts if other.start > draft.start]
            draft.end = min(later, default=max(after_last, draft.start))
        elif draft.end <= draft.start:
            key = "end" if draft.stage.end is not None else "end_s"
            found = f"ends at {draft.end:g} s, before or when it starts ({draft.start:g} s)"
            mend = "Give an end after the start."
            problems.append(Problem(_file(session), _key(session, draft.place, key), found, mend))
    if problems:
        raise InputError(problems)


def _overlaps(drafts: list[_Draft], stamps: Sequence[Stamp]) -> list[Statement]:
    """Say where a stage runs into the next, and end it there unless it goes on behind it."""
    said = []
    for place, early in enumerate(drafts):
        for late in drafts[place + 1 :]:
            if late.start >= early.end:
                break
            until = min(early.end, late.end)
            frames = tuple(stamp.index for stamp in stamps if late.start <= stamp.time_s < until)
            values = {"earlier": early.name, "later": late.name, "start": late.start, "end": early.end}
            said.append(Statement("stages_overlap", values, frames))
            if early.end <= late.end and late.start > early.start:
                early.end = late.start
                break
    return said


def _owners(drafts: list[_Draft], stamps: Sequence[Stamp]) -> dict[int, int]:
    """Number of each frame in a stage -> place of that stage; drafts in time order, so that the later one wins."""
    owner: dict[int, int] = {}
    for draft in drafts:
        for stamp in stamps:
            if draft.start <= stamp.time_s < draft.end:
                owner[stamp.index] = draft.place
    return dict(sorted(owner.items()))


def _file(session: Session) -> str:
    return str(session.folder / "session.toml")


def _key(session: Session, place: int, key: str) -> str:
    name = session.stage[place].name
    return f"stage {place + 1}{f' {chr(34)}{name}{chr(34)}' if name else ''}: {key}"
