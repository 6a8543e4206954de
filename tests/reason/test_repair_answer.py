"""The answer from heat made and drops by hand: one case per sentence, in plain outcomes."""

import math
from types import SimpleNamespace

import pytest
from test_repair import FELL, OPEN, STAYED, drop

from hotspot.reason.compare_answer import Outcome
from hotspot.reason.heat_change import HeatChange
from hotspot.reason.repair import Mend
from hotspot.reason.repair_answer import answered_by_heat, with_drop
from hotspot.records import Statement
from hotspot.tell.words import say

GREW = HeatChange(2.5, 1.8, 3.4)
DISPUTED = {"pin": "3", "heat": 0.3, "drop": 1.0}
RATIOS = ((3.0, 2.5, 3.5), (1.1, 0.9, 1.3))


def row(pin="3", verdict="better", *, heat=None, by_hand=None, repaired="", ratios=RATIOS, rises=(40.0, 22.0), said=()):
    expected, after = rises
    mend = Mend(pin, pin, heat, ratios, by_hand and drop(by_hand), repaired, said)
    change = after - expected
    return Outcome("full", pin, pin, verdict, (), 40.0, after, expected, change, change - 3.0, change + 3.0, 4.0,
                   load_known=True, mend=mend)  # fmt: skip


def pair(sources=("3",), now=()):
    return tuple(SimpleNamespace(findings={"source_pins": list(pins)}) for pins in (sources, now))


def answered(rows, sources=("3",), now=()):
    found = answered_by_heat(list(rows), pair(sources, now))
    if found is None:
        return None
    say(found[1])
    return found[0], found[1].code


def test_the_mended_source_is_fixed_and_its_rises_are_told():
    rows = [row(heat=FELL, repaired="yes"), row("1", "same", heat=STAYED, rises=(30.0, 30.0))]
    assert answered(rows) == ("fixed", "compare_fixed")
    values = answered_by_heat(rows, pair())[1].values
    assert [values[key] for key in ("pin", "share", "low", "high")] == ["3", 0.3, 0.2, 0.5]
    assert [values[key] for key in ("expected", "after", "ratio_before", "ratio_after")] == [40.0, 22.0, 3.0, 1.1]


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"rises": (math.nan, 22.0)}, "compare_fixed_no_rise"),
        ({"rises": (40.0, math.nan)}, "compare_fixed_no_rise"),
        ({"ratios": (None, RATIOS[1])}, "compare_fixed_no_peers"),
        ({"ratios": (RATIOS[0], None)}, "compare_fixed_no_peers"),
        ({"heat": None, "by_hand": FELL}, "compare_fixed_by_hand"),
    ],
)
def test_what_a_repair_rests_on_is_told(more, code):
    assert answered([row(repaired="yes", **{"heat": FELL, **more})]) == ("fixed", code)


def test_a_source_that_makes_less_but_still_too_much_is_better_not_fixed():
    assert answered([row(heat=FELL, repaired="no")]) == ("better", "compare_better_still_more")
    two = [row(heat=FELL, repaired="yes"), row("5", heat=FELL, repaired="no")]
    assert answered(two, ("3", "5")) == ("better", "compare_better_some")
    assert answered_by_heat(two, pair(("3", "5")))[1].values["left"] == ["5"]


def test_another_pin_that_makes_more_than_its_peers_now_is_told():
    rows = [row(heat=FELL, repaired="yes"), row("5", "same", heat=STAYED)]
    assert answered(rows, now=("5",)) == ("better", "compare_better_others")
    assert answered_by_heat(rows, pair(now=("5",)))[1].values["others"] == ["5"]


def test_another_pin_that_became_hotter_is_told_first():
    rows = [row(heat=FELL, repaired="yes")]
    rows += [row("5", "worse", heat=OPEN, rises=(30.0, 40.0)), row("6", "worse", heat=OPEN, rises=(30.0, 55.0))]
    assert answered(rows, now=("5", "6")) == ("worse", "compare_worse_others")
    values = answered_by_heat(rows, pair(now=("5", "6")))[1].values
    assert (values["pin"], values["mended"], values["expected"], values["after"]) == ("6", "3", 30.0, 55.0)


@pytest.mark.parametrize(
    ("heat", "by_hand", "code"),
    [(GREW, None, "compare_worse_heat"), (None, GREW, "compare_worse_by_hand"), (OPEN, GREW, None),
     (GREW, GREW, "compare_worse_heat"), (GREW, STAYED, None)],
)  # fmt: skip
def test_a_pin_that_makes_more_heat_and_rises_more_is_worse(heat, by_hand, code):
    """And no witness against it: one that holds no growth beyond a quarter takes the answer away."""
    found = answered([row("4", "worse", heat=heat, by_hand=by_hand, repaired="no", rises=(30.0, 50.0))], ())
    assert found == (code and ("worse", code))


def test_of_several_that_grew_the_one_that_grew_most_is_told():
    most = HeatChange(4.0, 3.0, 5.0)
    rows = [row("1", "worse", heat=GREW), row("2", "worse", heat=most), row("6", "worse", heat=GREW)]
    assert answered_by_heat(rows, pair())[1].values["pin"] == "2"


def test_more_heat_without_more_rise_is_not_called_worse():
    assert answered([row("4", "same", heat=GREW)], ()) is None
    assert answered([row("4", "not comparable", heat=GREW, rises=(math.nan, math.nan))], ())[0] == "worse"


def test_witnesses_that_contradict_each_other_cannot_tell():
    disputed = Statement("repair_disputed", DISPUTED)
    assert answered([row(heat=FELL, by_hand=STAYED, said=(disputed,))]) == ("cannot tell", "compare_disputed")


def test_a_source_that_rises_more_though_its_heat_fell_cannot_be_told():
    assert answered([row(verdict="worse", heat=FELL, repaired="yes", rises=(30.0, 50.0))]) == (
        "cannot tell", "compare_rise_disputes",
    )  # fmt: skip


@pytest.mark.parametrize(("verdict", "tail"), [("same", ""), ("better", "_cooler"), ("worse", "_warmer")])
def test_no_change_of_heat_is_told_with_what_the_rise_did(verdict, tail):
    found = answered([row(verdict=verdict, heat=STAYED, repaired="no")])
    assert found == ("no change", "compare_no_change_heat" + tail)


def test_where_a_source_is_not_in_the_later_test_the_rises_must_tell():
    rows = [row(heat=FELL, repaired="yes")]
    assert answered(rows, ("3", "8")) is None
    assert answered([row(heat=OPEN)]) is None
    assert answered([]) is None


def test_without_a_source_before_a_pin_must_be_cooler_too_to_count_as_mended():
    assert answered([row(heat=FELL, repaired="yes")], ()) == ("fixed", "compare_fixed")
    assert answered([row(verdict="same", heat=FELL, repaired="yes")], ()) is None
    assert answered([row(heat=FELL, repaired="")], ()) is None


def test_what_was_measured_by_hand_stands_beside_the_answer():
    values = {"pin": "3", "share": 0.3, "low": 0.2, "high": 0.5, "ratio_before": 3.0, "ratio_after": 1.0}
    answer = ("fixed", Statement("compare_fixed_by_hand", values | {"expected": 40.0, "after": 22.0}))
    before = pair()[0]
    rows = [row("1", by_hand=STAYED), row("3", by_hand=FELL)]
    found = with_drop(answer, rows, before)
    assert (found[0], found[1].code) == ("fixed", "compare_and_by_hand")
    assert found[1].values["by_hand"].values["pin"] == rows[1].mend.drop.values["pin"]
    assert found[1].values["by_hand"] is rows[1].mend.drop
    assert found[1].values["answer"] is answer[1]
    assert with_drop(answer, [row("3")], before) == answer
    assert with_drop(answer, [row("1", by_hand=STAYED)], before) == answer  # neither named nor a source
    source = with_drop((answer[0], Statement("compare_same_inputs")), rows, before)
    assert source[1].values["by_hand"] is rows[1].mend.drop
    disputed = ("cannot tell", Statement("compare_disputed", DISPUTED))
    assert with_drop(disputed, rows, before) == disputed
