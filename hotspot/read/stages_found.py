"""Where nobody said when the stages start: the steps of the current or the voltage in log.csv."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from hotspot.read.log import LogTable
from hotspot.read.logged_load import follow_log
from hotspot.read.stages import stage_spans
from hotspot.records import StageSpan, Stamp, Statement
from hotspot.session import Session, Stage

WINDOW_S = 10.0
"""A level is the median of the rows of this long, three at least: what lasts less than half of it is no step."""
LEAST_STAGE_S = 20.0
LEAST_STEP = {"amps": 0.05, "volts": 0.01}
"""Share of the largest level by which a step must change it; a supply's voltage only sags. Ours, like the others."""
LEAST_SIGMA = 4.0
OFF_SHARE = 0.02
"""A total below this share of the largest level is no load: then nothing flows through any pin."""
LONGEST_GAP_S = 60.0
MOST_STAGES = 20
_ROWS = 3
_MAD_TO_SIGMA = 1.4826


class LaidStages(NamedTuple):
    """The stages of a session, where they are from (`stated`, `log.csv: amps`, `log.csv: volts` or `whole run`), and
    what to say of them."""

    spans: tuple[StageSpan, ...]
    origin: str
    notices: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class Level:
    """A stretch of the log: from `start_s` [s], at the median `value`; `gap_s` [s] to the row before its first."""

    start_s: float
    value: float
    gap_s: float


def lay_stages(session: Session, stamps: Sequence[Stamp], log: LogTable | None) -> LaidStages:
    """The stages that the session states, with the currents that the log scales; else those that the log shows; else
    the whole run as one. Raises InputError as stage_spans does."""
    spans, said = stage_spans(session, stamps)
    if session.stage:
        spans, told = follow_log(session, spans, log, stamps[-1].time_s)
        return LaidStages(spans, "stated", (*said, *told))
    found = None if log is None else _found(session, stamps, log, spans[0])
    return found or LaidStages(spans, "whole run", tuple(said))


def levels(times: np.ndarray, values: np.ndarray, least_share: float) -> list[Level]:
    """The levels between the sudden steps of a series, in time order; one where there is no step.

    `times` [s] (n,) rising, `values` (n,) without NaN. A step counts where the medians of WINDOW_S before and after
    differ by `least_share` of the largest level and by 4 standard deviations of the rows' own noise, and where both
    levels last 20 s: a slow drift is none, nor is a spike. It lies at the first row past the middle between the two.
    """
    n = times.size
    if n < 2 * _ROWS:
        return [Level(float(times[0]), float(np.median(values)), 0.0)]
    rows = int(np.clip(round(WINDOW_S / max(float(np.median(np.diff(times))), 1e-9)), _ROWS, n // 2))
    noise = _MAD_TO_SIGMA * float(np.median(np.abs(np.diff(values)))) / np.sqrt(2.0)
    least = max(least_share * float(np.percentile(np.abs(values), 98)), LEAST_SIGMA * noise, 1e-9)
    medians = np.median(np.lib.stride_tricks.sliding_window_view(values, rows), axis=1)
    step = np.abs(medians[rows:] - medians[:-rows])  # at row k + rows
    bounds = [0]
    weight = np.where(step >= least, step, 0.0)
    while weight.any():
        peak = int(np.argmax(weight))
        flat = np.flatnonzero(weight >= weight[peak] * (1 - 1e-9))
        peak = int(flat[flat < peak + 2 * rows].mean())
        bounds.append(_crossing(values, peak + rows, rows))
        weight[max(0, peak - rows) : peak + rows + 1] = 0.0
    return _merged(times, values, sorted(set(bounds)), least)


def _crossing(values: np.ndarray, row: int, rows: int) -> int:
    """The first row past the middle between the levels before and after `row`."""
    low, high = max(0, row - 2 * rows), min(values.size, row + 2 * rows)
    before, after = np.median(values[max(low, row - rows) : row]), np.median(values[row : row + rows])
    past = (values[low:high] - (before + after) / 2) * np.sign(after - before) > 0
    # the cut that puts the fewest rows on the wrong side
    wrong = np.cumsum(past) + (past.size - np.arange(1, past.size + 1) - (past.sum() - np.cumsum(past)))
    return low + int(np.argmin(wrong)) + 1


def _merged(times: np.ndarray, values: np.ndarray, bounds: list[int], least: float) -> list[Level]:
    """Levels that last long enough and differ from the one before."""
    while True:
        ends = [*bounds[1:], times.size]
        found = [float(np.median(values[a:b])) for a, b in zip(bounds, ends, strict=True)]
        lasts = [float(times[min(b, times.size - 1)] - times[a]) for a, b in zip(bounds, ends, strict=True)]
        short = [k for k in range(len(bounds)) if lasts[k] < LEAST_STAGE_S and len(bounds) > 1]
        alike = [k for k in range(1, len(bounds)) if abs(found[k] - found[k - 1]) < least]
        if short:
            k = short[0]
            nearer_next = k + 1 < len(bounds) and (
                k == 0 or abs(found[k] - found[k + 1]) < abs(found[k] - found[k - 1])
            )
            del bounds[k + 1 if nearer_next else k]
        elif alike:
            del bounds[alike[0]]
        else:
            gaps = [float(times[a] - times[a - 1]) if a else 0.0 for a in bounds]
            return [Level(float(times[a]), v, gap) for a, v, gap in zip(bounds, found, gaps, strict=True)]


def _found(session: Session, stamps: Sequence[Stamp], log: LogTable, whole: StageSpan) -> LaidStages | None:
    """Stages `step 1`, `step 2` ... from the first of the columns amps and volts that has steps; None without one."""
    for column in ("amps", "volts"):
        known = log.series(column)
        if known is None:
            continue
        steps = _within(levels(*known, LEAST_STEP[column]), whole)
        if len(steps) > MOST_STAGES:
            said = Statement("log_steps_too_many", {"column": column, "count": len(steps)})
            return LaidStages((whole,), "whole run", (said,))
        if max((step.gap_s for step in steps[1:]), default=0.0) > LONGEST_GAP_S:
            said = Statement("log_steps_sparse", {"column": column, "gap": max(step.gap_s for step in steps[1:])})
            return LaidStages((whole,), "whole run", (said,))
        if len(steps) > 1:
            return _laid(session, stamps, (column, steps), whole)
    return None


def _within(steps: list[Level], whole: StageSpan) -> list[Level]:
    """The levels that hold between the first and the last frame."""
    ends = [*(step.start_s for step in steps[1:]), np.inf]
    return [step for step, end in zip(steps, ends, strict=True) if end > whole.start_s and step.start_s < whole.end_s]


def _laid(session: Session, stamps: Sequence[Stamp], seen: tuple[str, list[Level]], whole: StageSpan) -> LaidStages:
    column, steps = seen
    starts = [whole.start_s, *(step.start_s for step in steps[1:])]
    largest = max(abs(step.value) for step in steps)
    spans, told = [], []
    for place, (start, end) in enumerate(zip(starts, [*starts[1:], whole.end_s], strict=True)):
        value, name = steps[place].value, f"step {place + 1}"
        frames = tuple(stamp.index for stamp in stamps if start <= stamp.time_s < end)
        spans.append(StageSpan(name, start, end, frames, Stage(name=name, amps=_amps(session, column, value, largest))))
        told.append(f"{name} at {_clock(start)} ({value:.3g} {'A in all' if column == 'amps' else 'V'})")
    gap = max(step.gap_s for step in steps[1:])
    said = [Statement("stages_from_log", {"column": column, "stages": told, "gap": gap})]
    said += [
        Statement("stage_without_frames", {"stage": span.name, "start": span.start_s, "end": span.end_s})
        for span in spans
        if not span.frames
    ]
    if any(span.stage is not None and span.stage.amps is None for span in spans):
        said.append(Statement("log_total_not_per_pin" if column == "amps" else "log_volts_not_amps"))
    return LaidStages(tuple(spans), f"log.csv: {column}", tuple(said))


def _amps(session: Session, column: str, value: float, largest: float) -> float | None:
    """The current through every pin [A] where the total tells it: none flows, or there is only one pin."""
    if abs(value) < OFF_SHARE * largest:
        return 0.0
    grid = (session.connector.rows or 0) * (session.connector.columns or 0) - len(session.connector.empty)
    alone = (len(session.pin) or grid) == 1
    return abs(value) if alone and column == "amps" else None


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
