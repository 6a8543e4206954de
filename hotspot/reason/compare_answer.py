"""The one answer of a comparison: fixed, better, no change, worse, or these two tests cannot tell.

Heat made and drops by hand decide where there are any (hotspot.reason.repair_answer), else the rises of the rows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hotspot.reason.repair import Mend
from hotspot.reason.repair_answer import answered_by_heat, with_drop
from hotspot.records import Results, Statement

NOT_LESS_HEAT = 0.8
"""Heat after / before of a pin from which its being cooler is not put down to less heat of its own."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One row: a pin in a stage. K; NaN where it cannot be had. `over_k`: over its peers, before and after."""

    stage: str
    pin: str
    before_pin: str | None
    verdict: str
    basis: tuple[Statement, ...]
    before_k: float = math.nan
    after_k: float = math.nan
    expected_k: float = math.nan
    change_k: float = math.nan
    low_k: float = math.nan
    high_k: float = math.nan
    matters_k: float = math.nan
    over_k: tuple[float, float] = (math.nan, math.nan)
    load_known: bool = False
    mend: Mend | None = None
    clipped: tuple[str, str] = ("", "")  # high or low where the rise before, or after, is a bound

    @classmethod
    def refused(cls, stage: str, pin: str, before_pin: str | None, why: Statement) -> Outcome:
        """A row that has no counterpart."""
        return cls(stage, pin, before_pin, "not comparable", (why,))

    @property
    def half_k(self) -> float:
        """Half of the interval of the change: from there on an interval as wide leaves 0 out."""
        return (self.high_k - self.low_k) / 2.0


def answered(outcomes: list[Outcome], pair: tuple[Results, Results], same: bool) -> tuple[str, Statement]:
    """(answer, sentence). `same`: both tests rest on the same files."""
    if same:
        return "cannot tell", Statement("compare_same_inputs")
    found = answered_by_heat(outcomes, pair) or _by_rise(outcomes, pair)
    return with_drop(found, outcomes, pair[0])


def _by_rise(outcomes: list[Outcome], pair: tuple[Results, Results]) -> tuple[str, Statement]:
    sources = [str(pin) for pin in pair[0].findings.get("source_pins", [])]
    compared = [outcome for outcome in outcomes if outcome.verdict != "not comparable"]
    told = [outcome for outcome in compared if "basis_no_load" not in {said.code for said in outcome.basis}]
    if not told:
        return "cannot tell", Statement("compare_no_load") if compared else _why_not(outcomes)
    worse = [outcome for outcome in told if outcome.verdict == "worse" and not _makes_no_more(outcome)]
    if worse:
        return _changed("worse", max(worse, key=lambda outcome: outcome.change_k), pair)
    subject = [outcome for outcome in told if outcome.before_pin in sources] if sources else told
    if not subject:
        return "cannot tell", Statement("compare_source_untold", {"pins": sources})
    better = [outcome for outcome in subject if outcome.verdict == "better"]
    if better:
        most = min(better, key=lambda outcome: outcome.change_k)
        if most.mend is not None and most.mend.heat is not None and most.mend.heat.value > NOT_LESS_HEAT:
            return _not_by_itself("compare_cooler_only", most)
        return _changed("better", most, pair)
    warmer = [outcome for outcome in subject if outcome.verdict == "worse"]
    if warmer:  # and none that makes more heat itself
        return _not_by_itself("compare_warmer_only", max(warmer, key=lambda outcome: outcome.change_k))
    asked = [outcome for outcome in outcomes if outcome.before_pin in sources] if sources else outcomes
    if 2 * len(subject) < len(asked):
        return "cannot tell", _why_not([outcome for outcome in asked if outcome not in subject])
    return "no change", _no_change(subject, told)


def _makes_no_more(outcome: Outcome) -> bool:
    """Whether the pin rises more though it makes no more heat: that came from elsewhere."""
    return outcome.mend is not None and outcome.mend.heat is not None and outcome.mend.heat.high < 1.25


def _not_by_itself(code: str, outcome: Outcome) -> tuple[str, Statement]:
    """The pin's rise changed and the heat that it makes did not."""
    heat = outcome.mend.heat
    values = {"pin": outcome.pin, "after": outcome.after_k, "expected": outcome.expected_k}
    return "cannot tell", Statement(code, values | {"share": heat.value, "low": heat.low, "high": heat.high})


def _changed(answer: str, outcome: Outcome, pair: tuple[Results, Results]) -> tuple[str, Statement]:
    values = {
        "pin": outcome.pin, "before": outcome.before_k, "after": outcome.after_k, "expected": outcome.expected_k,
        "change": abs(outcome.change_k), "least": min(abs(outcome.low_k), abs(outcome.high_k)),
        "most": max(abs(outcome.low_k), abs(outcome.high_k)),
    }  # fmt: skip
    if not outcome.load_known:
        return "cannot tell", Statement(f"compare_{answer}_load_unknown", values)
    if answer == "better":
        over_before, over_after = outcome.over_k
        known = math.isfinite(over_before) and math.isfinite(over_after)
        standing = "" if not known else "_like_peers" if _like_peers(outcome, pair[1]) else "_above_peers"
        if known:
            values |= {"over_before": over_before, "over_after": over_after}
        return answer, Statement(f"compare_better{standing}", values)
    return answer, Statement("compare_worse", values)


def _like_peers(outcome: Outcome, after: Results) -> bool:
    """Not named by the later test, and above its peers by no more than what matters."""
    sources = [str(pin) for pin in after.findings.get("source_pins", [])]
    return outcome.pin not in sources and outcome.over_k[1] <= outcome.matters_k


def _no_change(subject: list[Outcome], told: list[Outcome]) -> Statement:
    """Every one of `subject` is the same; the limit told is the farthest end of their intervals."""
    farthest = max(subject, key=_farthest_k)
    cooler = [outcome.pin for outcome in told if outcome.verdict == "better"]
    pins = list(dict.fromkeys(outcome.pin for outcome in subject))
    values = {"pins": pins, "most": _farthest_k(farthest), "matters": farthest.matters_k}
    if cooler:
        return Statement("compare_no_change_but", {**values, "cooler": list(dict.fromkeys(cooler))})
    return Statement("compare_no_change", values)


def _farthest_k(outcome: Outcome) -> float:
    return max(abs(outcome.low_k), abs(outcome.high_k))


def _why_not(outcomes: list[Outcome]) -> Statement:
    """The commonest reason, as the sentence at the top, with the test that would tell."""
    codes = [outcome.basis[0].code for outcome in outcomes if outcome.basis]
    known = {
        "refused_no_ambient", "refused_face", "refused_load_far", "refused_wide", "refused_clipped",
        "refused_no_stage", "refused_no_readings", "refused_bare_metal", "refused_shape_only",
        "refused_unloaded",
    }  # fmt: skip
    codes = [code for code in codes if code in known]
    if not codes:
        return Statement("compare_cannot")
    most = max(dict.fromkeys(codes), key=codes.count)
    return Statement("compare_cannot_" + most.removeprefix("refused_"))
