"""Before and after a repair: is the pin's rise better, the same or worse, beyond what the two tests can tell?

A rise shows less than half of a change of resistance, and the neighbours of a mended pin cool although nobody
touched them; so a rise alone never makes a test `fixed` nor a pin `repaired`. That is for the heat made at the pin
(hotspot.reason.heat_change) and for drops measured by hand (hotspot.reason.repair); where there is neither, the best
answer is `better`, with the word on whether the pin is like its peers now.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from hotspot.columns import COMPARE, column_names
from hotspot.reason.aligned import overlays
from hotspot.reason.compare_answer import Outcome, answered
from hotspot.reason.equivalence import interval, matters, verdict
from hotspot.reason.footing import Footing, on_one_footing, side_of
from hotspot.reason.footing_day import of_the_day
from hotspot.reason.pairing import Pairing, paired, session_of
from hotspot.reason.repair import Effects, Mend, mends
from hotspot.records import Comparison, Results, Statement, bounded
from hotspot.session import Session
from hotspot.version import __version__

MOSTLY_SHARED = 0.6
"""Two tests that share a smaller part of all their pins look at different connectors. Ours."""


def compare(before: Results, after: Results, match: Mapping[str, str] | None = None) -> Comparison:
    """The comparison of two tests of one connector. `match`: pin before -> pin after, where names differ.

    Raises InputError where `match` names unknown pins or the two connectors have nothing in common. Everything
    else that stands in the way is said row by row.
    """
    import pandas as pd

    pairing = paired(before, after, match)
    sessions = (session_of(before), session_of(after))
    mended, rests_on, effects = mends((before, after), sessions, pairing)
    outcomes = _with_what_was_said(_outcomes(before, after, pairing, (sessions, mended, effects)))
    table = pd.DataFrame([_line(outcome) for outcome in outcomes], columns=column_names(COMPARE))
    numbers = [column.name for column in COMPARE if column.kind == "float"]
    table[numbers] = table[numbers].astype(float)
    same = _same_inputs(before, after)
    answer, sentence = answered(outcomes, (before, after), same)
    both = sum(old is not None and new is not None for old, new in pairing.pins)
    if both < MOSTLY_SHARED * len(pairing.pins):
        answer, sentence = "cannot tell", Statement("compare_unlike", {"both": both, "pins": len(pairing.pins)})
    absent = () if any(mend.heat for mend in mended.values()) else (Statement("heat_change_absent"),)
    halves = [outcome.half_k for outcome in outcomes if math.isfinite(outcome.half_k)]
    return Comparison(
        before=before,
        after=after,
        table=table,
        answer=answer,
        sentence=sentence,
        smallest_change_k=max(halves) if halves else None,
        basis=tuple(
            _once(
                [
                    *pairing.by,
                    *rests_on,
                    *_orders(outcomes),
                    *(statement for outcome in outcomes for statement in outcome.basis),
                ]
            )
        ),
        notices=(*absent, *_warnings(before, after, sessions, same), *pairing.notices),
        inputs={
            **{f"before/{name}": digest for name, digest in _digests(before).items()},
            **{f"after/{name}": digest for name, digest in _digests(after).items()},
        },
        version=__version__,
        overlays=overlays(before, after, pairing),
    )


def _outcomes(
    before: Results, after: Results, pairing: Pairing, told: tuple[tuple[Session, Session], Mapping[str, Mend], Effects]
) -> list[Outcome]:
    outcomes = []
    for old_stage, new_stage in pairing.stages:
        name = _stage_name(before, old_stage) if new_stage is None else _stage_name(after, new_stage)
        if old_stage is None or new_stage is None:
            lone = Statement("refused_no_stage")
            outcomes += [Outcome.refused(name, new or old or "", old, lone) for old, new in pairing.pins]
            continue
        both = [(old, new) for old, new in pairing.pins if old is not None and new is not None]
        here = _stage_outcomes((before, after), (name, old_stage, new_stage), both, told)
        for old, new in pairing.pins:
            alone = Outcome.refused(name, new or old or "", old, _alone(new))
            outcomes.append(here.get((old, new), alone))
    return outcomes


def _alone(new: str | None) -> Statement:
    """Why a pin that is in one test only is not compared."""
    return Statement("refused_no_pin_after" if new is None else "refused_no_pin_before")


def _stage_outcomes(
    pair: tuple[Results, Results],
    stage: tuple[str, int, int],
    pins: list[tuple[str, str]],
    told: tuple[tuple[Session, Session], Mapping[str, Mend], Effects],
) -> dict[tuple[str, str], Outcome]:
    """The rows of one stage. `stage`: its name, its numbers before and after."""
    name, *numbers = stage
    sessions, mended, effects = told
    sides = [[side_of(*each) for each in zip(pair, sessions, numbers, both, strict=True)] for both in pins]
    expected = [effects.get((numbers[1], new), 0.0) for _, new in pins]
    footings = of_the_day([on_one_footing(first, second) for first, second in sides], expected)
    found = {}
    for (old, new), (first, second), footing in zip(pins, sides, footings, strict=True):
        outcome = _outcome((name, new, old), footing, sessions[1], (first.over_k, second.over_k))
        loaded = first.amps != 0.0 and second.amps != 0.0
        found[old, new] = replace(outcome, mend=mended[new]) if loaded else outcome
    return found


def _stage_name(results: Results, number: int | None) -> str:
    return "" if number is None else str(results.findings["stages"][number]["name"])


def _outcome(names: tuple[str, str, str], footing: Footing, later: Session, over: tuple[float, float]) -> Outcome:
    change = footing.after_k - footing.expected_k
    low, high = interval(change, footing.uncertainty_k)
    limit = matters(footing.expected_k, later.compare.matters_k)
    said = verdict(low, high, limit)
    basis = footing.basis
    if footing.refused is not None:
        said, change, low, high = "not comparable", math.nan, math.nan, math.nan
        basis = (footing.refused, *(statement for statement in basis if statement != footing.refused))
    elif said == "not comparable":
        values = {"low": low, "high": high, "matters": limit}
        basis = (Statement("refused_wide", values), *basis)
    return Outcome(
        stage=names[0], pin=names[1], before_pin=names[2], verdict=said, basis=basis,
        before_k=footing.before_k, after_k=bounded(footing.after_k, footing.clipped[1]),
        expected_k=bounded(footing.expected_k, footing.clipped[0]), clipped=footing.clipped,
        change_k=change, low_k=low, high_k=high, matters_k=limit, over_k=over, load_known=footing.load_known,
    )  # fmt: skip


def _with_what_was_said(outcomes: list[Outcome]) -> list[Outcome]:
    """What heat and drops say of a pin goes into the basis of one of its rows: that of its largest rise."""
    largest: dict[str, int] = {}
    for place, outcome in enumerate(outcomes):
        if outcome.mend is not None and outcome.mend.said:
            best = largest.setdefault(outcome.pin, place)
            if outcome.expected_k > outcomes[best].expected_k:
                largest[outcome.pin] = place
    return [
        replace(outcome, basis=(*outcome.basis, *outcome.mend.said)) if largest.get(outcome.pin) == place else outcome
        for place, outcome in enumerate(outcomes)
    ]


def _line(outcome: Outcome) -> dict[str, Any]:
    mend = outcome.mend
    heat = mend.heat if mend else None
    ratios = mend.ratios if mend else (None, None)
    return {
        "stage": outcome.stage,
        "pin": outcome.pin,
        "before_rise_c": outcome.before_k,
        "after_rise_c": outcome.after_k,
        "expected_rise_c": outcome.expected_k,
        "change_c": outcome.change_k,
        "change_low_c": outcome.low_k,
        "change_high_c": outcome.high_k,
        "basis": outcome.basis,
        "verdict": outcome.verdict,
        "before_heat_ratio": ratios[0][0] if ratios[0] else None,
        "after_heat_ratio": ratios[1][0] if ratios[1] else None,
        "heat_change": heat.value if heat else None,
        "heat_change_low": heat.low if heat else None,
        "heat_change_high": heat.high if heat else None,
        "repaired": mend.repaired if mend else "",
        "smallest_change_c": outcome.half_k,
        "smallest_heat_change": heat.smallest if heat else None,
        "before_clipped": outcome.clipped[0],
        "after_clipped": outcome.clipped[1],
    }


_FALLING = (lambda outcome: -outcome.before_k, lambda outcome: -outcome.after_k)


def _orders(outcomes: list[Outcome]) -> list[Statement]:
    """Of stages seen from different faces, whose rises are not comparable: the pins in the order of their rises."""
    said = []
    for stage in dict.fromkeys(outcome.stage for outcome in outcomes):
        here = [o for o in outcomes if o.stage == stage and math.isfinite(o.before_k + o.after_k)]
        if len(here) > 1 and any(o.basis and o.basis[0].code == "refused_face" for o in here):
            first, second = ([o.pin for o in sorted(here, key=key)] for key in _FALLING)
            code = "basis_order_kept" if first == second else "basis_order"
            said.append(Statement(code, {"before": first, "after": second, "stage": stage}))
    return said


def _once(statements: list[Statement]) -> list[Statement]:
    """The kinds of basis, each said once, or once for each pin that it names; the first stands for its kind."""
    kinds: dict[tuple[str, Any], Statement] = {}
    for statement in statements:
        kinds.setdefault((statement.code, statement.values.get("pin")), statement)
    return list(kinds.values())


def _digests(results: Results) -> dict[str, str]:
    """name -> SHA-256 of the inputs, however findings.json lists them."""
    inputs = results.findings.get("inputs") or {}
    if isinstance(inputs, Mapping):
        return {str(name): str(digest) for name, digest in inputs.items()}
    return {str(item.get("name")): str(item.get("sha256")) for item in inputs}


def _same_inputs(before: Results, after: Results) -> bool:
    """Whether both tests rest on the same files: what differs in name alone is still the same test."""
    first, second = sorted(_digests(before).values()), sorted(_digests(after).values())
    return bool(first) and first == second


def _warnings(before: Results, after: Results, sessions: tuple[Session, Session], same: bool) -> tuple[Statement, ...]:
    said = []
    if same:
        said.append(Statement("same_inputs"))
    starts = [
        str(results.findings["settings"].get("started") or session.job.date or "")
        for results, session in zip((before, after), sessions, strict=True)
    ]
    if all(starts) and _earlier(starts[1], starts[0]):
        said.append(Statement("swapped", {"before": starts[0], "after": starts[1]}))
    return tuple(said)


def _earlier(one: str, other: str) -> bool:
    """Whether a date or date-time in ISO form lies before another; False where one is not understood."""
    import datetime

    try:
        first, second = (datetime.datetime.fromisoformat(text) for text in (one, other))
    except ValueError:
        return False
    if (first.tzinfo is None) != (second.tzinfo is None):
        first, second = first.replace(tzinfo=None), second.replace(tzinfo=None)
    return first < second
