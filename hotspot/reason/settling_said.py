"""What is said of where a pin is heading: settled or not, when a rating is passed, and the published criteria."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.reason.settling import Settling
from hotspot.reason.settling_criteria import CRITERIA, Criterion, criterion_met, crossing
from hotspot.records import StageSpan, Statement, bounded

if TYPE_CHECKING:
    from hotspot.reason.stage_ends import Look
    from hotspot.session import Session

LEAST_CHANCE, MOST_CHANCE = 0.01, 0.99
"""No chance is told as surer: the tails of the forecast rest on the prior."""
WORTH_A_WORD = 0.05
CUT_SHORT_S = 30.0  # a stage planned to go on for longer than this after its last reading was cut short
EVENT_BEFORE_S, EVENT_AFTER_S = 120.0, 30.0
"""A step that is seen this long after a marked event, or a little before it (a hand on the clock), may be its doing."""
_RULES = (("yes", "met"), ("no", "not_met"), ("too short", "too_short"))


def with_event(settling: Any, pin: str, session: Session) -> Any:
    """The same answer; where it is refused for a step, with the marked event that lies nearest, if one does."""
    if not isinstance(settling, Settling) or settling.reason is None or settling.reason.code != "settling_step":
        return settling
    at_s = settling.reason.values["at_s"]
    near = [
        (abs(at_s - event.time_s), event)
        for event in session.event
        if event.pin in (None, pin) and -EVENT_AFTER_S <= at_s - event.time_s <= EVENT_BEFORE_S
    ]
    if not near:
        return settling
    event = min(near, key=lambda each: each[0])[1]
    told = {"at_s": at_s, "event_s": event.time_s, "what": event.what}
    return replace(settling, reason=Statement("settling_step_event", told))


def outlook(look: Look, settling: Settling | None, end_s: float, session: Session) -> tuple[Statement, ...]:
    """Reasons for one pin in one stage that is planned to end at `end_s` [session s]: whether it has settled, and
    its chance of passing each rating at this load. Nothing where nothing was predicted.
    """
    if not isinstance(settling, Settling) or settling.settled_c is None:
        return ()
    values = {
        "last": bounded(look.last_c, look.bound),
        "settled": settling.settled_c,
        "low": settling.low_c,
        "high": settling.high_c,
    }
    said = [Statement({"yes": "settled_yes", "no": "settled_no"}.get(settling.settled, "settled_open"), values)]
    below = float("inf")  # a rating that it stays below says the same of a higher one
    for key in ("rated", "wire_rated"):
        rated = getattr(session.connector, key)
        if rated is not None and rated < below and not look.last_c > rated and not look.bound:
            told = _reaching(key, rated, look, (settling, end_s))
            below = rated if any(one.code.startswith("stays_below_") for one in told) else below
            said += told
    return tuple(said)


def _reaching(key: str, rated: float, look: Look, heading: tuple[Settling, float]) -> list[Statement]:
    """The chance, and the time if it is more likely than not, of reaching one rating from the last reading on."""
    settling, end_s = heading
    found = crossing(settling, rated, end_s, look.last_s)
    if found is None:
        return []
    told = {"pin": look.pin, "rated": rated, "chance": _told(found.chance_settled)}
    if found.chance_settled < WORTH_A_WORD:
        return [Statement(f"stays_below_{key}", told)]
    if found.chance_settled <= 0.5:
        return [Statement(f"could_reach_{key}", told)]
    if found.time_s is None:
        return [Statement(f"would_reach_{key}_late", told)]
    told = {**told, "at_s": found.time_s}
    if found.time_s <= end_s and end_s - look.last_s > CUT_SHORT_S:
        return [
            Statement(f"would_reach_{key}_in_stage", {**told, "chance": _told(found.chance_at_end), "end_s": end_s})
        ]
    return [Statement(f"would_reach_{key}", told)]


def _told(chance: float) -> float:
    return float(np.clip(chance, LEAST_CHANCE, MOST_CHANCE))


def steady_notices(spans: tuple[StageSpan, ...], looks: dict[tuple[int, str], Look]) -> tuple[Statement, ...]:
    """Per loaded stage: which published criteria of a steady reading every pin meets at its end, which some pin
    fails, and which the stage is too short for.
    """
    said: list[Statement] = []
    for number, span in enumerate(spans):
        here = [look for (stage, _), look in looks.items() if stage == number and math.isfinite(look.last_s)]
        if here and _loaded(span, here):
            said += _stage_notices(span, here)
    return tuple(said)


def _loaded(span: StageSpan, here: list[Look]) -> bool:
    return span.stage is None or any(look.amps is None or look.amps > 0 for look in here)


def _stage_notices(span: StageSpan, here: list[Look]) -> list[Statement]:
    results = [(criterion, _judged(criterion, span, here)) for criterion in CRITERIA]
    lasted = max(look.last_s for look in here) - span.start_s
    said = []
    for result, word in _RULES:
        names = tuple(_name(criterion) for criterion, (found, _) in results if found == result)
        if not names:
            continue
        pins = tuple(dict.fromkeys(pin for _, (found, failing) in results if found == result for pin in failing))
        values = {"criteria": names, "pins": pins, "lasted_s": lasted, "stage": span.name}
        said.append(Statement(f"steady_{word}" + ("_in_stage" if span.name else ""), values))
    return said


def _judged(criterion: Criterion, span: StageSpan, here: list[Look]) -> tuple[str, tuple[str, ...]]:
    """The result over all pins of a stage: `no` if one fails (with those that do), else `too short`, else `yes`."""
    each = {look.pin: criterion_met(*_since(span, look), criterion) for look in here}
    failing = tuple(pin for pin, found in each.items() if found == "no")
    if failing:
        return "no", failing
    return ("too short" if "too short" in each.values() else "yes"), ()


def _since(span: StageSpan, look: Look) -> tuple[np.ndarray, np.ndarray]:
    """Times from the stage's start and readings, each the median of five: a single one decides nothing."""
    good = np.isfinite(look.celsius) & (look.times_s >= span.start_s)
    values = look.celsius[good]
    if len(values) >= 5:
        values = np.median(np.lib.stride_tricks.sliding_window_view(np.pad(values, 2, mode="edge"), 5), axis=1)
    return look.times_s[good] - span.start_s, values


def _name(criterion: Criterion) -> str:
    return f"{criterion.source.replace(',', '')} ({criterion.name})"
