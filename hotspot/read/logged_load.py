"""The currents of a stage, scaled by the supply's total that log.csv holds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from hotspot.read.log import LogTable
from hotspot.records import StageSpan, Statement
from hotspot.session import Session, Stage

# The stated currents are what somebody meant to set: a total further off than this was measured elsewhere, or
# is split otherwise than we think. Our own bounds; no source.
FITS, FITS_OTHERWISE = 1.67, 1.25
TOLD_FROM = 0.02  # a smaller correction is applied, and not worth a sentence
MOVED_FROM = 0.05


def follow_log(
    session: Session, spans: Sequence[StageSpan], log: LogTable | None, until_s: float
) -> tuple[tuple[StageSpan, ...], list[Statement]]:
    """The stages with their currents scaled in proportion to the logged total, and what to say of it.

    The total [A] of a stage is the root mean square over [start_s, end_s), up to `until_s` [s]: heat goes with the
    current squared. It is laid against the sum of the stated currents of the pins that are not returns; where no
    return is named, a circuit out and back through two pins, or one through all of them, is tried as well. Where
    none fits, the stated currents are kept.
    """
    if log is None or log.series("amps") is None:
        return tuple(spans), []
    done, said = [], []
    for span in spans:
        scaled, told = _one(session, span, log, until_s)
        done.append(scaled)
        said += told
    return tuple(done), said


def _one(session: Session, span: StageSpan, log: LogTable, until_s: float) -> tuple[StageSpan, list[Statement]]:
    known = log.series("amps")
    assert known is not None
    inside = (known[0] >= span.start_s) & (known[0] < span.end_s) & (known[0] <= until_s)
    if span.stage is None or not inside.any():
        return span, []
    times, total = known[0][inside], known[1][inside]
    logged = _rms(times, total)
    said = []
    if logged > 0 and np.ptp(total) > MOVED_FROM * logged:
        said.append(
            Statement("log_load_moved", {"stage": span.name, "low": float(total.min()), "high": float(total.max())})
        )
    totals = stated_totals(session, span.stage)
    if not totals or not logged:
        return span, said
    values = {"stage": span.name, "logged": logged, "stated": totals[0]}
    factor = _factor(logged, totals)
    if factor is None:
        return span, [*said, Statement("log_total_unlike", values)]
    if abs(factor - 1) > TOLD_FROM:
        said.append(Statement("log_scaled_amps", {**values, "stated": logged / factor, "factor": factor}))
    return replace(span, stage=_scaled(span.stage, factor)), said


def _rms(times: np.ndarray, values: np.ndarray) -> float:
    span = float(np.ptp(times))
    mean = float(np.trapezoid(values**2, times)) / span if span > 0 else float(np.mean(values**2))
    return mean**0.5


def stated_totals(session: Session, stage: Stage) -> list[float]:
    """What the supply would deliver [A] if the stated currents hold: the likeliest way first; empty if not known."""
    returns = {pin.name for pin in session.pin if pin.return_of}
    if isinstance(stage.amps, dict):
        feeds = [amps for pin, amps in stage.amps.items() if pin not in returns]
        return _ways(feeds, bool(returns))
    if isinstance(stage.amps, float | int):
        feeds = [float(stage.amps)] * (_pins(session) - len(returns))
        return _ways(feeds, bool(returns))
    return []


def _pins(session: Session) -> int:
    if session.pin:
        return len(session.pin)
    connector = session.connector
    return (connector.rows or 0) * (connector.columns or 0) - len(connector.empty or ())


def _ways(feeds: Iterable[float], returns_named: bool) -> list[float]:
    feeds = [amps for amps in feeds if amps > 0]
    total = sum(feeds)
    if not total:
        return []
    return [total] if returns_named or len(feeds) < 2 else [total, total / 2, max(feeds)]


def _factor(logged: float, totals: Sequence[float]) -> float | None:
    for place, total in enumerate(totals):
        bound = FITS_OTHERWISE if place else FITS
        if 1 / bound <= logged / total <= bound:
            return logged / total
    return None


def _scaled(stage: Stage, factor: float) -> Stage:
    amps = stage.amps
    scaled = {pin: value * factor for pin, value in amps.items()} if isinstance(amps, dict) else float(amps) * factor  # type: ignore[arg-type]
    return stage.model_copy(update={"amps": scaled})
