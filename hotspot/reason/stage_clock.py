"""Whether the stages lie on the frames where the load changed: the pins tell, for nothing warms before its load.

A camera's clock that is minutes off moves every stage given by clock time. That is noticed here and told with the
likely offset; nothing is moved.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hotspot.reason.turns import WINDOW_S, Turn, common_curve, turns
from hotspot.records import StageSpan, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    import pandas as pd

EARLY_S, LATE_S = 20.0, 75.0
"""A rise may seem to begin this much before and after its load: a face starts late, and frames are seconds apart."""
TOGETHER_S = 30.0
LEAST_STAGE_S = 60.0
LEAST_CHANGE = 0.4
"""Share of the larger I² by which two stages must differ for the pins to feel it surely. Ours, like the others."""
BEFORE_SHARE, BEFORE_K = 0.25, 3.0


def clock_notices(session: Session, spans: tuple[StageSpan, ...], readings: pd.DataFrame) -> tuple[Statement, ...]:
    """What to say where the common rise of the pins begins (or ends) at other times than the stages; often nothing.

    `readings` has the columns of columns.READINGS, all on the session's time.
    """
    changes = _changes(spans)
    times, rises = common_curve(readings)
    if not changes or not times.size or float(np.ptp(rises)) < BEFORE_K:
        return ()
    seen = turns(times, rises)
    slack = 2.0 * float(np.median(np.diff(times)))
    as_told = sum(_felt_at(change, seen, (times, rises), slack) for change in changes)
    clear = [turn for turn in seen if turn.time_s >= times[0] + LEAST_STAGE_S]  # a face that starts late bends upward
    shifts = [turn.time_s - at for at, sign, _ in changes for turn in clear if turn.bend_k_s * sign > 0]
    worth = [(_together(shift, changes, seen), -abs(shift), shift) for shift in shifts]
    wrong = [each for each in worth if not -EARLY_S - slack <= each[2] <= LATE_S + slack]
    if wrong and (max(wrong)[0] >= as_told + 2 or not as_told):
        return (_off(session, changes, max(wrong)),)
    return () if as_told else _underway(session, changes, times, rises)


def _changes(spans: tuple[StageSpan, ...]) -> list[tuple[float, int, str]]:
    """(time [s], +1 up or -1 down, name of the stage that starts or ends there) of each change that must be felt."""
    loads = [_load(span) for span in spans]
    found: list[tuple[float, int, str]] = []
    for place, (span, load) in enumerate(zip(spans, loads, strict=True)):
        follows = place > 0 and span.start_s - spans[place - 1].end_s < 1.0
        before = loads[place - 1] if follows else 0.0
        if span.stage is None:
            return []
        if load is None or before is None:
            first = load is None and not any(sign > 0 for _, sign, _ in found) and (not follows or before == 0)
            if first:
                found.append((span.start_s, 1, span.name))
        elif abs(load - before) > LEAST_CHANGE * max(load, before):
            found.append((span.start_s, 1 if load > before else -1, span.name))
        last = place + 1 == len(spans) or spans[place + 1].start_s - span.end_s >= 1.0
        if last and load:
            found.append((span.end_s, -1, span.name))
    return found


def _load(span: StageSpan) -> float | None:
    """The largest I² of a stage [A²]; None where no current is known."""
    amps = span.stage.amps if span.stage else None
    if isinstance(amps, dict):
        return max(amps.values(), default=0.0) ** 2
    return float(amps) ** 2 if isinstance(amps, float | int) else None


def _felt_at(
    change: tuple[float, int, str], seen: list[Turn], curve: tuple[np.ndarray, np.ndarray], slack: float
) -> bool:
    """Whether the pins turned near a change, or, close to the first frame, rise from the start."""
    at, sign, _ = change
    if any(t.bend_k_s * sign > 0 and -EARLY_S - slack <= t.time_s - at <= LATE_S + slack for t in seen):
        return True
    times, rises = curve
    if sign < 0 or at > times[0] + LATE_S + slack:
        return False
    window = max(WINDOW_S, 2.0 * slack)
    gains = np.interp(times + window, times, rises) - rises
    first = float(np.interp(max(at, times[0]) + window, times, rises) - rises[0])
    return first >= 0.35 * float(np.max(gains))


def _together(shift: float, changes: list[tuple[float, int, str]], seen: list[Turn]) -> int:
    """How many changes have a turn of their own sign if all of them are moved by `shift` [s]."""
    return sum(
        any(turn.bend_k_s * sign > 0 and abs(turn.time_s - at - shift) <= TOGETHER_S for turn in seen)
        for at, sign, _ in changes
    )


def _off(session: Session, changes: list[tuple[float, int, str]], best: tuple[int, float, float]) -> Statement:
    count, _, shift = best
    at, sign, name = changes[0]
    values = {
        "stage": name,
        "start": at,
        "felt": at + shift,
        "by": abs(shift),
        "count": count,
        "offset": round(session.clock.frames_offset_s - shift),
        "first": round(session.frames.start_s - shift),
    }
    return Statement("stage_clock_" + ("late" if shift > 0 else "early") + _how(session), values)


def _how(session: Session) -> str:
    """Stages by clock times are mended by the clock's offset, stages in seconds by the time of the first frame."""
    clocked = any(stage.start or stage.end for stage in session.stage) or not session.stage
    return "_clocked" if clocked else ""


def _underway(
    session: Session, changes: list[tuple[float, int, str]], times: np.ndarray, rises: np.ndarray
) -> tuple[Statement, ...]:
    """A rise that was under way before the first load is said to have come on."""
    at, sign, name = changes[0]
    before = rises[times < at - EARLY_S]
    if sign < 0 or not before.size:
        return ()
    risen = float(before[-1] - before.min())
    if risen < max(BEFORE_K, BEFORE_SHARE * float(np.ptp(rises))):
        return ()
    return (Statement("stage_clock_underway" + _how(session), {"stage": name, "start": at, "risen": risen}),)
