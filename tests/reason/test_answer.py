"""The sentence at the top, from what the stages say of the pins: one case per branch, in plain rows."""

import dataclasses
import math

import numpy as np
import pytest

from hotspot.reason.answer import answer_of
from hotspot.reason.findings import Row
from hotspot.reason.peers import Standing
from hotspot.reason.stage_ends import Look
from hotspot.reason.stage_peers import View
from hotspot.records import Statement
from hotspot.tell.words import catalogue, placeholders, say

NONE = np.zeros(0)


def row(pin, verdict="normal", last_c=50.0, *, excess=None, ratio=None, heat=None, source=False, said=(), stage="full",
        ambient=20.0):  # fmt: skip
    look = Look(0, pin, 9.0, last_c, 900.0, 0.2, ambient, 30.0, "", NONE, NONE, NONE, NONE)
    standing = (
        None if excess is None else Standing(30.0 + excess, 30.0, excess, excess - 2, excess + 3, ratio, 3, verdict)
    )
    view = View(verdict, tuple(said), standing, source, verdict != "unknown", None, heat)
    return Row(look, view, None, verdict, tuple(said), stage)


def said(code):
    """A reason with any values: only its code counts for the answer."""
    return Statement(
        code, {name: "1" if form in ("", "list") else 1.0 for name, form in placeholders(catalogue()[code]).items()}
    )


def answered(rows, sources=(), several=False):
    overall = {}
    for each in rows:
        overall.setdefault(each.look.pin, each.verdict)
    found = answer_of(rows, tuple(sources), overall, several)
    say(found)
    return found


def test_without_a_temperature_nothing_was_read():
    assert answered([row("1", "unknown", math.nan), row("2", "unknown", math.nan)]).code == "answer_nothing_read"


HEAT = {"heat": (2.4, 1.9, 3.0), "source": True}


def test_the_source_is_told_with_the_heat_made_there():
    found = answered([row("1"), row("2", "hot", 80.0, **HEAT)], ["2"])
    assert found.code == "answer_heat"
    assert found.values == {"pin": "2", "ratio": 2.4, "low": 1.9, "high": 3.0, "others": [], "hottest": "2"}


def test_a_hotter_pin_that_is_no_source_is_told_beside_it():
    rows = [row("1", last_c=90.0), row("2", "hot", 80.0, **HEAT), row("3", "unknown", math.nan)]
    found = answered(rows, ["2"])
    assert (found.code, found.values["hottest"]) == ("answer_heat_not_hottest", "1")
    found = answered([*rows, row("4", "hot", 70.0, **HEAT)], ["2", "4"])
    assert (found.code, found.values["others"]) == ("answer_heat_not_hottest_and_others", ["4"])
    rows[0] = row("1", "hot", last_c=90.0, **HEAT)
    assert answered(rows, ["2", "1"]).code == "answer_heat_and_others"  # the hottest is a source as well


STANDS = {"excess": 20.0, "source": True}


@pytest.mark.parametrize(
    ("more", "codes", "several", "code"),
    [
        ({}, (), False, "answer_source"),
        ({}, (), True, "answer_source_in_stage"),
        ({"stage": ""}, (), True, "answer_source"),
        ({"ratio": 1.8}, (), False, "answer_source_ratio"),
        ({"ratio": 1.8}, (), True, "answer_source_ratio_in_stage"),
        ({"ratio": 1.8}, ("load_unknown",), True, "answer_source_load_unknown"),
        ({"ratio": 1.8}, ("single_loaded",), True, "answer_source_single"),
    ],
)
def test_without_the_heat_the_source_is_told_by_its_rise(more, codes, several, code):
    reasons = tuple(map(said, codes))
    found = answered([row("1"), row("2", "hot", **STANDS, said=reasons, **more)], ["2"], several)
    assert found.code == code
    told = ("pin", "value", "excess", "low", "high", "peers", "stage")
    assert [found.values[key] for key in told] == ["2", 50.0, 20.0, 18.0, 23.0, 3, more.get("stage", "full")]
    assert found.values.get("ratio") == (1.8 if "ratio" in code else None)
    rows = [row("1"), row("2", "hot", **STANDS, said=reasons, **more), row("3", "hot", **STANDS)]
    found = answered(rows, ["2", "3"], several)
    assert (found.code, found.values["others"]) == (code + "_and_others", ["3"])


@pytest.mark.parametrize(("bound", "words"), [("high", "at least"), ("low", "at most")])
def test_a_source_that_the_scale_clips_has_no_ratio_and_no_interval(bound, words):
    source = row("2", "hot", **STANDS, ratio=1.8)
    source = dataclasses.replace(source, look=dataclasses.replace(source.look, bound=bound))
    found = answered([row("1"), source], ["2"])
    told = f"it stands {words} 20.0 K above their middle (the camera's scale ends there)."
    assert (found.code, say(found).endswith(told)) == ("answer_source", True)


def test_the_stage_in_which_it_stands_out_most_is_told():
    rows = [row("1"), row("2", "hot", excess=12.0, source=True, stage="half"), row("2", "hot", **STANDS)]
    found = answered(rows, ["2"], True)
    assert (found.values["stage"], found.values["excess"]) == ("full", 20.0)


def test_a_resistance_is_told_where_there_is_no_ratio():
    high = Statement("resistance_high", {"pin": "2", "milliohm": 9.0, "low": 6.0, "high": 14.0, "limit": 5.0})
    found = answered([row("1"), row("2", "hot", source=True, said=(high,))], ["2"])
    assert (found.code, dict(found.values)) == ("answer_resistance", dict(high.values))


@pytest.mark.parametrize(
    ("verdict", "reason", "code"),
    [
        ("hot", "over_rated", "answer_over_rating"),
        ("hot", "heads_over_rated", "answer_over_rating"),
        ("hot", "may_pass_rated", "answer_watch"),
        ("watch", "over_rated", "answer_watch"),
        ("watch", "lead_thinner", "answer_wire"),
        ("watch", "strands_cut", "answer_wire"),
        ("hot", "terminal_too_large", "answer_wire"),
        ("watch", "splice_too_small", "answer_wire"),
        ("watch", "rises_more", "answer_watch"),
    ],
)
def test_without_a_source_the_worst_is_told_with_what_it_rests_on(verdict, reason, code):
    reasons = (said(reason),)
    rows = [row("1"), row("2", verdict, said=reasons), row("3", verdict, said=reasons), row("2", verdict)]
    found = answer_of(rows, (), {"1": "normal", "2": verdict, "3": verdict}, False)
    assert (found.code, found.values["pins"]) == (code, ["2", "3"])


def test_hot_is_told_before_watch():
    found = answered([row("1", "watch"), row("2", "hot")])
    assert found.values["pins"] == ["2"]


def test_all_alike_is_told_with_the_most_that_any_may_make():
    rows = [row("1", heat=(0.9, 0.8, 1.1)), row("2", heat=(1.2, 1.0, 1.5)), row("3", "unknown", heat=(3.0, 1.0, 9.0))]
    found = answered(rows[:2])
    assert found.code == "answer_heat_alike"
    assert (found.values["pins"], found.values["most"], found.values["high"]) == (["1", "2"], 1.2, 1.5)
    found = answered(rows)
    assert (found.code, found.values["left_out"], found.values["most"]) == ("answer_heat_alike_but", ["3"], 1.2)


def test_all_alike_by_their_rises_is_told_with_the_largest_excess():
    rows = [row("1", excess=1.0), row("2", excess=3.0), row("3", "unknown")]
    found = answered(rows[:2])
    assert (found.code, found.values["pins"], found.values["most"], found.values["high"]) == (
        "answer_alike", ["1", "2"], 3.0, 6.0,
    )  # fmt: skip
    found = answered(rows)
    assert (found.code, found.values["left_out"]) == ("answer_alike_but", ["3"])


def test_normal_pins_without_peers_are_not_called_alike():
    rows = [row("1"), row("2", "unknown", excess=1.0)]
    assert answered(rows).code == "answer_alike_temperature"
    rows.append(row("9", "normal", ambient=20.0))
    judged = [row("1"), row("2", "normal", excess=1.0)]
    found = answer_of(judged, (), {"1": "normal", "2": "unknown"}, False)
    assert (found.code, found.values["left_out"]) == ("answer_no_peers_hot", ["2"])
    assert found.values["pins"] == ["1"]


@pytest.mark.parametrize(
    "code",
    ["started_warm", "load_unknown", "bare_metal", "shape_only", "bound_hides", "weak_load", "single_loaded_cool"],
)
def test_why_it_cannot_be_told_is_told(code):
    assert answered([row("1", "unknown", said=(said(code),))]).code == "answer_cannot_" + code


def test_the_reason_that_undoes_all_comes_first():
    both = (said("weak_load"), said("started_warm"))
    assert answered([row("1", "unknown", said=both)]).code == "answer_cannot_started_warm"
    assert answered([row("1", "unknown")]).code == "answer_cannot_peers"
