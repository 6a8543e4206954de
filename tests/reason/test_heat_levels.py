"""From the witnesses of a pin's heat to its level and what is said: each witness, each method, each boundary."""

import math
from dataclasses import replace

import numpy as np
import pytest

from hotspot.handbook.criteria import section
from hotspot.physics.wire import COPPER_OHM_MM2_PER_M
from hotspot.reason.heat_absolute import Yardstick, areas_of, without_wire
from hotspot.reason.heat_balance import Balance, Observed, modelled, ratios, spread
from hotspot.reason.heat_made import Heat, PinHeat
from hotspot.reason.heat_verdicts import Level, level_of, score_of
from hotspot.reason.heat_views import laid_over
from hotspot.reason.heat_wires import WireFlow
from hotspot.reason.peers import Standing
from hotspot.reason.stage_peers import View
from hotspot.records import Statement
from hotspot.session import Session
from hotspot.tell.words import say

NUMBERS = section("heat")
NO_EARLY = (math.nan, math.nan, math.nan)
STANDING = Standing(50.0, 30.0, 20.0, 15.0, 25.0, 1.7, 5, "hot")


def heat(method="picture"):
    return Heat(method, {}, frozenset(), {})


def own_of(score, early=NO_EARLY, ratio=1.8, **more):
    return PinHeat(ratio, ratio / 1.5, ratio * 1.5, score, early, 5, **more)


def level(own, method="picture"):
    found = level_of(Heat(method, {"3": own}, frozenset(), {}), "3")
    for said in found.reasons:
        say(said)
    return found


def codes(found):
    return [said.code for said in found.reasons]


def test_both_witnesses_are_summed_where_both_speak_up():
    assert score_of(heat(), own_of(2.0, (0.4, 0.1, 3.0))) == pytest.approx(NUMBERS["both_weight"] * 5.0)
    quiet = score_of(heat(), own_of(20.0, (0.4, 0.1, NUMBERS["each_least"] - 0.01)))
    assert quiet == pytest.approx(0.5 * NUMBERS["hot_score"])  # one witness alone flags nobody
    assert score_of(heat(), own_of(0.5, (0.4, 0.1, 0.5))) == pytest.approx(NUMBERS["both_weight"])


def test_one_witness_has_its_own_weight_and_the_network_less():
    assert score_of(heat(), own_of(3.0)) == pytest.approx(3.0 * NUMBERS["steady_weight"])
    less = NUMBERS["network_weight"]
    assert score_of(heat("network"), own_of(3.0)) == pytest.approx(less * 3.0 * NUMBERS["steady_weight"])
    both = own_of(2.0, (0.4, 0.1, 3.0))
    assert score_of(heat("network"), both) == pytest.approx(less * score_of(heat(), both))
    assert score_of(heat("first minute"), both) == pytest.approx(NUMBERS["early_weight"] * 3.0)


@pytest.mark.parametrize(
    ("score", "name", "code"),
    [(1.2, "normal", "heat_like_peers"), (1.72, "watch", "heat_perhaps_more"), (2.18, "watch", "heat_perhaps_more"),
     (2.22, "hot", "heat_more")],
)  # fmt: skip
def test_the_steady_score_alone_makes_three_levels(score, name, code):
    found = level(own_of(score / NUMBERS["steady_weight"]))
    assert (found.level, found.source) == (name, name == "hot")
    assert found.reasons[0].code == code
    assert found.reasons[0].values["score"] == pytest.approx(score)
    assert found.reasons[0].values["limit"] == NUMBERS["hot_score"]
    assert (found.ratio, found.low, found.high) == (1.8, 1.2, pytest.approx(2.7))
    assert [found.reasons[0].values[key] for key in ("pin", "ratio", "low", "high", "peers")] == [
        "3", 1.8, 1.2, pytest.approx(2.7), 5,
    ]  # fmt: skip


def test_the_ohms_are_told_with_the_level_where_they_are_known():
    ohm = (0.004, 0.003, 0.006)
    for score in (0.5, 5.0):
        (said,) = [said for said in level(own_of(score, ohm=ohm)).reasons if said.code == "resistance_here"]
        assert [said.values[key] for key in ("milliohm", "low", "high")] == pytest.approx([4.0, 3.0, 6.0])
    assert "heat_wire_not_seen_at_all" in codes(level(own_of(5.0, ohm=ohm)))


def test_a_pin_that_is_called_a_source_is_not_said_to_make_perhaps_less_than_its_peers():
    early = (0.9, 0.5, 9.0)
    found = level(own_of(9.0, early, ratio=1.3), "network")
    assert found.level == "hot"
    assert found.low == 1.0 < found.ratio < found.high
    assert found.reasons[0].values["low"] == 1.0
    assert "heat_wire_not_seen" in codes(found)
    early_only = level(own_of(0.1, (0.9, 0.5, 9.0), ratio=1.05))
    assert codes(early_only)[0] == "heat_first_minute_only"
    assert early_only.low == early_only.reasons[0].values["low"] == 1.0
    weak = level(own_of(0.5, (0.9, 0.5, 2.0), ratio=1.3), "network")  # without the score it stays open which way
    assert weak.level != "hot"
    assert weak.low < 1.0


@pytest.mark.parametrize(
    ("milliohm", "name", "code"),
    [(5.9, "normal", "resistance_usual"), (6.1, "watch", "resistance_perhaps_high"), (7.1, "hot", "resistance_high")],
)
def test_without_peers_the_ohms_decide(milliohm, name, code):
    found = level(own_of(9.0, ohm=(milliohm / 1e3, 0.004, 0.01)), "absolute")
    assert (found.level, found.source, found.reasons[0].code) == (name, name == "hot", code)
    assert found.reasons[0].values["milliohm"] == pytest.approx(milliohm)
    assert found.reasons[0].values["limit"] == NUMBERS["hot_milliohm"]
    assert "resistance_here" not in codes(found)  # said once


@pytest.mark.parametrize(
    ("ratio", "name", "code"), [(1.9, "normal", "heat_of_two"), (2.0, "watch", "heat_of_two_more")]
)
def test_of_two_pins_the_one_that_makes_more_for_sure_is_watched_never_blamed(ratio, name, code):
    found = level(own_of(9.0, ratio=ratio), "pair")
    assert (found.level, found.source, codes(found)) == (name, False, [code])


def test_by_the_first_minute_alone_its_score_decides():
    assert level(own_of(0.0, (0.9, 0.1, 4.6)), "first minute").level == "hot"
    assert level(own_of(9.0, (0.9, 0.1, 3.0)), "first minute").level == "normal"


def test_a_strong_first_minute_alone_blames_with_the_interval_of_both():
    found = level(own_of(0.5, (0.9, 0.1, 5.6), ratio=1.1))
    assert (found.level, found.reasons[0].code) == ("hot", "heat_first_minute_only")
    sd = math.hypot(0.1, NUMBERS["early_sd"], 0.35 * 0.9)
    assert min(1.1 / 1.5, math.exp(0.9 - 1.96 * sd)) < found.low == 1.0  # both say more: open is how much
    assert found.high == pytest.approx(math.exp(0.9 + 1.96 * sd))
    assert found.ratio == pytest.approx(math.exp(0.5 * (math.log(1.1) + 0.9)))
    told = found.reasons[0].values
    assert (told["ratio"], told["early"], told["low"]) == (1.1, pytest.approx(math.exp(0.9)), pytest.approx(found.low))
    strong = level(own_of(0.5, (1.8, 0.1, 5.6), ratio=4.0))
    assert strong.low == pytest.approx(
        min(4.0 / 1.5, math.exp(1.8 - 1.96 * math.hypot(0.1, NUMBERS["early_sd"], 0.35 * 1.8)))
    )
    assert strong.low > 1.0
    assert level(own_of(0.5, (0.9, 0.1, 5.4), ratio=1.1)).level == "normal"
    assert level(own_of(0.5, (0.9, 0.1, 9.0), ratio=0.99)).level == "normal"  # no more than its peers


def test_heat_from_elsewhere_needs_a_first_minute_that_could_have_shown_it():
    assert codes(level(own_of(4.0, (0.1, 0.05, 0.5))))[0] == "heat_from_elsewhere"
    assert codes(level(own_of(4.0, (0.1, 0.5, 0.5))))[0] != "heat_from_elsewhere"  # too unsure to have shown it
    assert codes(level(own_of(4.0, (0.3, 0.05, 0.5))))[0] != "heat_from_elsewhere"  # shows more than half of it
    assert codes(level(own_of(2.1, (0.1, 0.05, 0.5))))[0] != "heat_from_elsewhere"


def test_the_network_widens_what_it_says_of_a_bad_pin():
    early = (0.9, 0.05, 6.0)
    wide, narrow = level(own_of(6.0, early), "network"), level(own_of(6.0, early))
    assert wide.high > narrow.high
    assert wide.ratio > narrow.ratio
    assert level(own_of(0.5, early[:2] + (0.5,), ratio=1.29), "network").high == pytest.approx(1.29 * 1.5)


@pytest.mark.parametrize(
    ("flow", "sd", "watts", "code", "name"),
    [(0.3, 0.1, True, "heat_along_wire", "watch"), (0.15, 0.1, True, "heat_perhaps_along_wire", "watch"),
     (0.3, 0.1, False, "heat_along_wire_no_watts", "watch"), (-0.1, 0.1, True, "heat_into_wire", "hot"),
     (-0.1, 0.1, False, "heat_into_wire_no_watts", "hot")],
)  # fmt: skip
def test_a_wire_in_view_takes_the_blame_or_gives_it_back(flow, sd, watts, code, name):
    found = level(own_of(5.0, flow=WireFlow(flow, sd, watts)))
    assert (found.level, found.source, codes(found)[-1]) == (name, name == "hot", code)
    assert (found.reasons[-1].values["flow"], found.reasons[-1].values["sd"]) == (flow, sd)
    agreed = level(own_of(4.0, (0.1, 0.05, 0.5), flow=WireFlow(flow, sd, watts)))
    told = [said for said in agreed.reasons if said.code.startswith("heat_wire_agrees")]
    assert [said.code for said in told] == (["heat_wire_agrees" + ("" if watts else "_no_watts")] if flow > 0 else [])


def test_a_part_behind_must_be_as_warm_as_the_pin_to_take_the_blame():
    assert level(own_of(5.0, part_k=41.0, rise_k=40.0)).level == "watch"
    assert level(own_of(5.0, part_k=39.0, rise_k=40.0)).level == "hot"
    told = level(own_of(5.0, part_k=41.0, rise_k=40.0)).reasons[-1]
    assert (told.code, told.values["part"], told.values["rise"]) == ("heat_from_part", 41.0, 40.0)


RISES = (Statement("rises_more", {"pin": "3", "value": 50.0, "excess": 20.0, "low": 15.0, "high": 25.0, "peers": 5,
                   "limit": 10.0, "ratio": 1.7, "score": 9.0}),)  # fmt: skip
LIKE = (Statement("heat_like_peers", {"pin": "3", "ratio": 1.0, "low": 0.8, "high": 1.2, "peers": 5, "score": 0.1,
                  "limit": 2.2}),)  # fmt: skip


def view_of(verdict, **more):
    return View(verdict, RISES, STANDING, verdict == "hot", True, **more)


def over(method, view, said, judged=True, readable=True, early=NO_EARLY):
    held = Heat(method, {"3": own_of(0.0, early)}, frozenset({(0, "3")} if judged else ()), {})
    levels = {"3": said, "9": Level("hot", True, (), 3.0, 2.0, 4.0)}
    return laid_over({"3": view}, 0, held, levels, {"3"} if readable else set())["3"]


HOT, NORMAL = Level("hot", True, (), 2.0, 1.5, 2.5), Level("normal", False, LIKE, 1.0, 0.8, 1.2)


def test_the_heat_decides_over_the_rise_only_where_it_speaks_of_the_pin():
    for untouched in (over("picture", view_of("normal"), HOT, judged=False),
                      over("picture", view_of("normal"), HOT, readable=False)):  # fmt: skip
        assert untouched == view_of("normal")
    found = over("picture", view_of("normal"), HOT)
    assert (found.verdict, found.source, found.judged, found.heat) == ("hot", True, True, (2.0, 1.5, 2.5))
    assert found.standing is STANDING


def test_a_pin_that_rises_but_makes_no_more_is_warmed_by_the_source():
    found = over("picture", view_of("hot"), NORMAL)
    assert (found.verdict, found.source, found.heat) == ("watch", False, (1.0, 0.8, 1.2))
    assert [said.code for said in found.reasons] == ["heat_like_peers", "heat_comes_from", "rises_more"]
    assert found.reasons[1].values["pins"] == ["9"]


def test_the_first_minute_confirms_a_rise_or_casts_doubt_on_it_but_does_not_overrule_it():
    sure = over("first minute", view_of("hot"), NORMAL, early=(0.5, 0.1, NUMBERS["early_confirms_score"] + 0.1))
    assert (sure.verdict, sure.source, sure.heat) == ("hot", True, (1.0, 0.8, 1.2))
    assert "heat_like_peers" not in {said.code for said in sure.reasons}
    unsure = over("first minute", view_of("hot"), NORMAL, early=(0.5, 0.1, NUMBERS["early_confirms_score"] - 0.1))
    assert (unsure.verdict, unsure.source) == ("watch", False)
    found = over("first minute", view_of("normal"), HOT)
    assert (found.verdict, found.source, found.judged, found.heat) == ("hot", True, True, (2.0, 1.5, 2.5))
    assert found.standing is STANDING
    watched = over("first minute", view_of("watch"), HOT)
    assert (watched.verdict, watched.heat) == ("watch", (2.0, 1.5, 2.5))
    assert over("first minute", View("unknown", ()), HOT) == View("unknown", ())


def test_without_peers_the_ohms_lead_and_of_two_the_rise_keeps_its_word():
    found = over("absolute", View("unknown", RISES), NORMAL)
    assert (found.verdict, found.judged, len(found.reasons)) == ("normal", True, 2)
    assert over("absolute", view_of("hot"), NORMAL).verdict == "hot"
    found = over("absolute", View("unknown", RISES, STANDING), HOT)
    assert (found.verdict, found.source, found.judged, found.standing) == ("hot", True, True, STANDING)
    found = over("pair", view_of("hot"), NORMAL)
    assert (found.verdict, found.source, found.heat) == ("hot", True, (1.0, 0.8, 1.2))
    found = over("pair", View("unknown", (), STANDING), Level("watch", False, LIKE, 2.0, 1.4, 3.0))
    assert (found.verdict, found.source, found.judged, found.heat) == ("watch", False, True, (2.0, 1.4, 3.0))
    assert found.standing is STANDING


def balance_of(ohms, sd=0.05, square=None):
    ln = np.log(np.asarray(ohms, float))
    square = np.zeros(ln.size) if square is None else np.asarray(square, float)
    return Balance(ln, float(np.median(ln)), np.full(ln.size, sd), np.zeros(ln.size), 1.3, 0.01, 0.0, square)


def test_a_ratio_is_against_the_median_of_the_other_judged_pins():
    judged = np.array([True, True, True, True, False])
    ratio, low, high = ratios(balance_of([1.0, 1.0, 1.2, 3.0, 50.0]), judged)
    assert ratio[:4] == pytest.approx([1 / 1.2, 1 / 1.2, 1.2, 3.0])
    assert np.isnan(ratio[4])
    assert low * high == pytest.approx(ratio**2, nan_ok=True)
    assert np.isnan(ratios(balance_of([1.0, 2.0]), np.array([True, False]))[0]).all()  # nobody to hold it against


def test_the_interval_of_a_ratio_grows_with_what_the_model_may_get_wrong():
    def width(ohms, **more):
        ratio, low, high = ratios(balance_of(ohms, **more), np.ones(len(ohms), bool))
        return math.log(high[-1] / low[-1])

    alike = width([1.0, 1.0, 1.0, 1.0])
    assert alike == pytest.approx(2 * 1.96 * math.hypot(0.05, 0.03))
    assert width([1.0, 1.0, 1.0, 3.0]) == pytest.approx(2 * 1.96 * math.hypot(0.05, 0.03, 0.35 * math.log(3.0)))
    assert width([1.0, 1.0, 1.0, 1.25]) == pytest.approx(2 * 1.96 * math.hypot(0.05, 0.03, 0.15 * math.log(1.25)))
    other_load = width([1.0] * 4, square=[4.0, 4.0, 4.0, 3.0])
    assert other_load == pytest.approx(2 * 1.96 * math.hypot(0.05, 0.03, 0.10))


def test_the_rises_of_a_balance_follow_its_equation():
    """(G + gamma g)(1 + b G) T = r I^2 (1 + alpha T) - (gamma g + G 1)(T^1.18 / Tref^0.18 - T) - stored, for one pin
    without a neighbour: by hand."""
    seen = Observed(
        np.array([[30.0]]), np.array([[6.0]]), np.array([[0.4]]), np.array([[0.2]]), np.ones(1), np.ones(1, bool)
    )
    x = np.array([math.log(1.3), math.log(0.05), 0.0, math.log(1.5)])
    made = 1.5 * 36.0 * (1.0 + 0.003 * 30.0)
    more = 30.0**1.18 / 15.0**0.18 - 30.0
    by_hand = (made - (1.3 + 0.2) * more - 0.4) / ((0.2 + 1.3) * (1.0 + 0.05 * 0.2))
    assert modelled(x, seen)[0, 0] == pytest.approx(by_hand)
    held = replace(seen, plate_held=True)  # what the plate sheds is in `stored` then
    assert modelled(x, held)[0, 0] == pytest.approx(by_hand + 0.2 * more / ((0.2 + 1.3) * (1.0 + 0.05 * 0.2)))
    own = made / ((0.2 + 1.3) * (1.0 + 0.05 * 0.2))
    sd = math.hypot(0.12, 0.03 * 30.0, 0.10 * abs(30.0 - own))
    assert spread(x, seen)[0, 0] == pytest.approx(sd)


def test_the_wires_own_share_is_taken_off_the_contacts():
    ohm, wire = np.array([1.0, 1.0, 1.0, 4.0]) * 1e-3, np.full(4, 0.4e-3)
    balance = balance_of(ohm)
    judged = np.array([True, True, True, True])
    ratio, low, high = without_wire(balance, Yardstick(ohm, wire), judged)
    assert ratio[3] == pytest.approx(3.6 / 0.6)
    assert low[3] * high[3] == pytest.approx(ratio[3] ** 2)
    bare = ratios(balance, judged)
    assert math.log(high[3] / low[3]) > math.log(bare[2][3] / bare[1][3])  # what the yardstick may be wrong by
    most = without_wire(balance, Yardstick(ohm, np.full(4, 0.9e-3)), judged)[0]
    assert most[3] == pytest.approx(3.1 / 0.5)  # at most half of what is found is the wire's
    assert np.isnan(without_wire(balance, Yardstick(ohm, wire), np.array([True, False, False, False]))[0]).all()


def test_the_section_of_a_wire_is_the_stated_leads_before_the_circuits():
    pins = [{"name": "1", "wire": "1.5 mm2"}, {"name": "2", "wire": "1.5 mm2", "lead": "2.5 mm2"}, {"name": "3"},
            {"name": "4", "wire": "1.5 mm2", "strands": 0.5}]  # fmt: skip
    session = Session.model_validate({"pin": pins}, strict=False)
    areas = areas_of(session, ("1", "2", "3", "4", "9"))
    assert areas == pytest.approx([1.5, 2.5, np.nan, 1.5, np.nan], nan_ok=True)  # strands are cut at the terminal only
    assert Yardstick(np.array([2.0]), np.array([1.0])).interval(0) == pytest.approx(
        (2.0, 2 / math.exp(0.49), 2 * math.exp(0.49))
    )
    assert pytest.approx(0.01724, abs=1e-5) == COPPER_OHM_MM2_PER_M
