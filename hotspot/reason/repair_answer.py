"""The answer of a comparison from the heat made at the pins and the drops measured by hand, where these can give it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from hotspot.reason.repair import Mend
from hotspot.records import Results, Statement

if TYPE_CHECKING:
    from hotspot.reason.compare_answer import Outcome

Answer = tuple[str, Statement]


def answered_by_heat(outcomes: list[Outcome], pair: tuple[Results, Results]) -> Answer | None:
    """(answer, sentence); None where the heat made and the drops decide nothing, so that the rises must."""
    mends = _mends(outcomes)
    grown = [mend for mend in mends if _grew(mend) and _rise_may_have_grown(mend, outcomes)]
    if grown:
        return _worse(max(grown, key=lambda mend: _value(mend)), outcomes)
    sources = [str(pin) for pin in pair[0].findings.get("source_pins") or ()]
    cooler = {o.pin for o in outcomes if o.verdict == "better"}
    asked = [mend for mend in mends if mend.before_pin in sources]
    if not sources:  # no pin stood out before; one that makes much less now, and is cooler too, was mended
        asked = [mend for mend in mends if mend.repaired == "yes" and mend.pin in cooler]
    if not asked or len(asked) < len(sources):
        return None
    if any(mend.said and mend.said[-1].code == "repair_disputed" for mend in asked):
        first = next(mend for mend in asked if mend.said and mend.said[-1].code == "repair_disputed")
        return "cannot tell", Statement("compare_disputed", dict(first.said[-1].values))
    fallen = [mend for mend in asked if mend.repaired == "yes" or _fell(mend)]
    if fallen:
        return _better(asked, fallen, outcomes, pair)
    if all(mend.repaired == "no" and mend.heat is not None for mend in asked):
        return _no_change(asked, outcomes)
    return None


def with_drop(found: Answer, outcomes: list[Outcome], before: Results) -> Answer:
    """The same with what was measured by hand at the pin that it is about: the best evidence there is."""
    answer, sentence = found
    named = sentence.values.get("pin")
    sources = [str(pin) for pin in before.findings.get("source_pins") or ()]
    drops = [mend for mend in _mends(outcomes) if mend.drop is not None]
    own = [mend for mend in drops if mend.pin == named] or [mend for mend in drops if mend.before_pin in sources]
    if not own or sentence.code == "compare_disputed":
        return found
    return answer, Statement("compare_and_by_hand", {**sentence.values, "answer": sentence, "by_hand": own[0].drop})


def _mends(outcomes: list[Outcome]) -> list[Mend]:
    return list({outcome.pin: outcome.mend for outcome in outcomes if outcome.mend is not None}.values())


def _value(mend: Mend) -> float:
    witness = mend.heat or mend.drop_share
    return witness.value if witness else math.nan


def _grew(mend: Mend) -> bool:
    """By heat or by hand, with no witness against it."""
    witnesses = [each for each in (mend.heat, mend.drop_share) if each is not None]
    return any(each.grew for each in witnesses) and all(each.high > 1.25 for each in witnesses)


def _rise_may_have_grown(mend: Mend, outcomes: list[Outcome]) -> bool:
    """Whether the pin rises more as well, in a stage; or there is no rise of it to compare."""
    own = [o for o in outcomes if o.pin == mend.pin and math.isfinite(o.low_k)]
    return not own or any(o.verdict == "worse" for o in own)


def _fell(mend: Mend) -> bool:
    return any(each is not None and each.fell for each in (mend.heat, mend.drop_share))


def _values(mend: Mend, outcomes: list[Outcome]) -> dict[str, object]:
    """What the sentences about one pin need; its rises in the stage where it rose most."""
    witness = mend.heat or mend.drop_share
    own = [o for o in outcomes if o.pin == mend.pin and math.isfinite(o.expected_k + o.after_k)]
    row = max(own, key=lambda o: o.expected_k, default=None)
    ratios = [ratio[0] if ratio else math.nan for ratio in mend.ratios]
    return {
        "pin": mend.pin, "share": witness.value, "low": witness.low, "high": witness.high,
        "ratio_before": ratios[0], "ratio_after": ratios[1],
        "expected": row.expected_k if row else math.nan, "after": row.after_k if row else math.nan,
    }  # fmt: skip


def _rise(outcome: Outcome) -> dict[str, object]:
    return {"pin": outcome.pin, "after": outcome.after_k, "expected": outcome.expected_k}


def _worse(mend: Mend, outcomes: list[Outcome]) -> Answer:
    values = _values(mend, outcomes)
    return "worse", Statement("compare_worse_heat" if mend.heat and mend.heat.grew else "compare_worse_by_hand", values)


def _better(asked: list[Mend], fallen: list[Mend], outcomes: list[Outcome], pair: tuple[Results, Results]) -> Answer:
    """Fixed only where every pin that made the heat is mended, none makes more than its peers, and no rise objects."""
    first = min(fallen, key=_value)
    values = _values(first, outcomes)
    if _rises_most_and_more(first, outcomes):
        return "cannot tell", Statement("compare_rise_disputes", values)
    left = [mend.pin for mend in asked if mend.repaired != "yes"]
    now = [str(pin) for pin in pair[1].findings.get("source_pins") or ()]
    others = [pin for pin in now if pin not in left]
    hotter = [o for o in outcomes if o.pin in others and o.pin != first.pin and o.verdict == "worse" and o.load_known]
    if hotter:  # what became worse is said before what became better
        most = max(hotter, key=lambda o: o.change_k)
        return "worse", Statement("compare_worse_others", {**values, "mended": first.pin, **_rise(most)})
    if left == [first.pin]:
        return "better", Statement("compare_better_still_more", values)
    if left:
        return "better", Statement("compare_better_some", {**values, "left": left})
    if others:
        return "better", Statement("compare_better_others", {**values, "others": others})
    if first.heat is None:
        return "fixed", Statement("compare_fixed_by_hand", values)
    known = all(math.isfinite(values[key]) for key in ("expected", "after"))
    tail = "" if known else "_no_rise"
    if not all(math.isfinite(values[key]) for key in ("ratio_before", "ratio_after")):
        tail = "_no_peers"
    return "fixed", Statement("compare_fixed" + tail, values)


def _rises_most_and_more(mend: Mend, outcomes: list[Outcome]) -> bool:
    """Whether the pin became worse in the stage where the most was to be expected of it."""
    own = [o for o in outcomes if o.pin == mend.pin and math.isfinite(o.low_k)]
    return bool(own) and max(own, key=lambda o: o.expected_k).verdict == "worse"


def _no_change(asked: list[Mend], outcomes: list[Outcome]) -> Answer:
    widest = max(asked, key=lambda mend: mend.heat.high / mend.heat.low)
    if widest_grown := [mend for mend in asked if mend.heat.grew]:
        return "cannot tell", Statement("compare_rise_disputes", _values(widest_grown[0], outcomes))
    values = _values(widest, outcomes) | {"fall": max(1.0 - widest.heat.low, 0.0)}
    verdicts = {o.verdict for o in outcomes if o.pin in {mend.pin for mend in asked}}
    tail = "_warmer" if "worse" in verdicts else "_cooler" if "better" in verdicts else ""
    return "no change", Statement("compare_no_change_heat" + tail, values)
