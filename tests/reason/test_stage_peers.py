"""One stage's pins against each other, in plain looks: by load, by the rises known, by what may be left over."""

import math

import numpy as np
import pytest

from hotspot.handbook.criteria import section
from hotspot.reason.peers import among, hot_ratio, like
from hotspot.reason.stage_ends import Look
from hotspot.reason.stage_peers import views_of
from hotspot.records import StageSpan
from hotspot.session import Stage
from hotspot.tell.words import say

NUMBERS = section("peers")
NONE = np.zeros(0)


def look(pin, last_c, amps=9.0, *, ambient=20.0, start_k=None, bound="", own_k=0.2):
    start_k = last_c - 20.0 if start_k is None else start_k
    return Look(0, pin, amps, last_c, 900.0, own_k, ambient, start_k, bound, NONE, NONE, NONE, NONE)


def seen(looks, amps="as looked", readable=None, only=None):
    if amps == "as looked":
        amps = {each.pin: each.amps for each in looks}
    stage = StageSpan("full", 0.0, 900.0, (0,), Stage(name="full", amps=amps))
    found = views_of(looks, stage, {each.pin for each in looks} if readable is None else readable, only)
    for view in found.values():
        for said in view.reasons:
            say(said)
    return found


def codes(view):
    return [said.code for said in view.reasons]


ROW = [look("1", 50.0), look("2", 51.0), look("3", 80.0), look("4", 49.0), look("5", 50.5)]


def test_the_pin_that_rises_twice_as_far_is_hot_and_its_source():
    found = seen(ROW, 9.0)
    assert {pin: view.verdict for pin, view in found.items()} == dict.fromkeys("1245", "normal") | {"3": "hot"}
    assert found["3"].source
    assert found["3"].judged
    assert not found["1"].source
    assert found["1"].judged
    told = found["3"].reasons[0]
    assert told.code == "rises_more"
    middle = float(np.median([30.0, 31.0, 29.0, 30.5]))
    assert (told.values["pin"], told.values["peers"]) == ("3", 4)
    assert told.values["value"] == 60.0
    assert told.values["excess"] == pytest.approx(60.0 - middle)
    assert told.values["ratio"] == pytest.approx(60.0 / middle)
    assert codes(found["1"]) == ["like_peers"]


def test_hidden_and_unread_pins_are_unknown_and_nobodys_peers():
    found = seen([*ROW, look("6", math.nan)], 9.0, readable={"1", "2", "4", "6"})
    assert {pin: view.verdict for pin, view in found.items()} == {
        "1": "normal", "2": "normal", "3": "unknown", "4": "normal", "5": "unknown", "6": "unknown",
    }  # fmt: skip
    assert found["1"].reasons[0].values["peers"] == 2
    assert all(view.verdict == "unknown" for view in seen(ROW, 9.0, readable=set()).values())


def test_a_stage_without_current_judges_nobody():
    found = seen([look("1", 50.0, 0.0), look("2", 22.0, 0.0)], 0.0)
    assert [codes(view) for view in found.values()] == [["unloaded_all"], ["unloaded_all"]]


def test_without_an_ambient_the_rise_over_the_start_stands_in():
    rows = [look("1", 50.0, ambient=None), look("2", 50.0, ambient=None), look("3", 80.0, ambient=None),
            look("4", 50.0, ambient=None)]  # fmt: skip
    found = seen(rows, 9.0)
    assert (found["3"].verdict, codes(found["3"])[0]) == ("hot", "rises_more_from_start")
    assert found["3"].standing.value_k == 60.0


def test_a_rise_over_the_start_counts_only_where_the_pin_also_ends_hotter():
    rows = [look(pin, 60.0, ambient=None, start_k=10.0) for pin in "124"] + [
        look("3", 55.0, ambient=None, start_k=33.0)
    ]
    assert seen(rows, 9.0)["3"].verdict == "normal"
    rows[-1] = look("3", 65.0, ambient=None, start_k=43.0)
    assert seen(rows, 9.0)["3"].verdict == "hot"


def test_where_nothing_moved_bare_temperatures_are_compared():
    rows = [look(pin, 50.0, ambient=None, start_k=0.0) for pin in "1245"] + [look("3", 62.0, ambient=None, start_k=0.0)]
    found = seen(rows, 9.0)
    assert (found["3"].verdict, codes(found["3"])[0]) == ("hot", "hotter_than_peers")
    assert codes(found["1"]) == ["like_peers_temperature"]
    assert found["1"].standing is None  # a temperature is no rise


def test_a_clipped_pin_is_at_least_and_hides_how_hot_it_is():
    found = seen([look("1", 50.0), look("2", 50.0, bound="high"), look("3", 80.0, bound="high"), look("4", 50.0)], 9.0)
    assert (found["2"].verdict, codes(found["2"])) == ("unknown", ["bound_hides"])
    assert (found["3"].verdict, codes(found["3"])[0]) == ("hot", "rises_more_at_least")
    low = seen([look("1", 50.0), look("2", 50.0, bound="low"), look("4", 50.0)], 9.0)
    assert low["2"].verdict == "normal"
    assert say(low["2"].reasons[0]).startswith("The scale ends above this pin: it lies at most 0.0 K over the")


@pytest.mark.parametrize(("bound", "words"), [("high", "at least"), ("low", "at most")])
def test_a_bound_is_said_without_an_interval(bound, words):
    for rows, start in (
        ([look(pin, 50.0) for pin in "1245"] + [look("3", 80.0, bound=bound)], f"Rises {words} "),
        ([look(pin, 50.0, ambient=None, start_k=0.0) for pin in "1245"], f"Is {words} 12.0 K hotter"),
    ):
        rows += [] if len(rows) > 4 else [look("3", 62.0, ambient=None, start_k=0.0, bound=bound)]
        reasons = seen(rows, 9.0)["3"].reasons
        told = say(reasons[0])
        assert told.startswith(start)
        assert "between" not in told
        assert f"calls {words} " in " ".join(say(said) for said in reasons if said.code == "survey_quote")


def test_a_survey_criterion_is_quoted_beside_and_changes_nothing():
    quoted = [said for said in seen(ROW, 9.0)["3"].reasons if said.code == "survey_quote"]
    assert len(quoted) == 1
    assert quoted[0].values["excess"] == pytest.approx(29.75)


def test_a_pin_of_one_ampere_is_loaded_and_one_of_none_is_not():
    rows = [look("1", 30.0, 1.0), look("2", 30.0, 1.0), look("3", 22.0, 0.0)]
    found = seen(rows)
    assert [view.verdict for view in found.values()] == ["normal", "normal", "unknown"]
    assert codes(found["3"]) == ["unloaded"]
    assert found["3"].amps_needed == pytest.approx(math.sqrt(NUMBERS["least_i2_share"]))


def test_a_weak_load_is_not_judged_and_told_the_current_that_would_do():
    least = 10.0 * math.sqrt(NUMBERS["least_i2_share"])
    rows = [look("1", 50.0, 10.0), look("2", 50.0, 10.0), look("3", 25.0, least - 0.01), look("4", 25.0, least - 0.02)]
    found = seen(rows)
    assert codes(found["3"]) == ["weak_load"]
    told = found["3"].reasons[0].values
    assert (told["amps"], told["largest"], told["amps_needed"]) == (least - 0.01, 10.0, pytest.approx(least))
    rows[2:] = [look("3", 25.0, least + 0.01), look("4", 25.0, least + 0.02)]
    assert codes(seen(rows)["3"]) == ["like_peers"]


def test_a_pin_of_another_load_has_no_peer():
    found = seen([look("1", 50.0, 9.0), look("2", 50.0, 9.0), look("3", 40.0, 6.0)])
    assert codes(found["3"]) == ["peers_none_at_load"]
    assert found["3"].reasons[0].values["amps"] == 6.0
    assert found["1"].verdict == "normal"


def test_a_pin_cooler_than_a_stronger_one_is_judged_one_step_milder():
    weak = [look("3", 60.0, 6.0), look("4", 32.0, 6.0), look("5", 32.0, 6.0)]
    found = seen([look("1", 70.0, 9.0), look("2", 70.0, 9.0), *weak])
    assert (found["3"].verdict, found["3"].source) == ("watch", False)
    assert found["3"].reasons[-1].code == "heat_may_come_from"
    assert found["3"].reasons[-1].values["from_pin"] in ("1", "2")
    alone = seen([look("1", 59.0, 9.0), look("2", 59.0, 9.0), *weak])
    assert (alone["3"].verdict, alone["3"].source) == ("hot", True)


def test_of_two_that_stand_out_one_far_below_the_strongest_is_watched():
    rows = [look("1", 50.0), look("2", 50.0), look("5", 50.0), look("6", 50.0), look("7", 50.0), look("3", 150.0)]
    share = NUMBERS["watch_share"]
    beside = seen([*rows, look("4", 50.0 + 98.0 * share)], 9.0)["4"]
    assert (beside.verdict, beside.source) == ("watch", False)
    assert beside.reasons[-1].values == {"pin": "4", "from_pin": "3"}
    own = seen([*rows, look("4", 50.0 + 102.0 * share)], 9.0)["4"]
    assert (own.verdict, own.source) == ("hot", True)


def test_without_currents_the_pin_that_rises_most_is_watched_and_nobody_is_cleared():
    found = seen(ROW, None)
    assert (found["3"].verdict, found["3"].source, found["3"].judged) == ("watch", True, False)
    assert codes(found["3"]) == ["rises_more", "load_unknown"]
    assert (found["1"].verdict, codes(found["1"])) == ("unknown", ["load_unknown"])
    alone = seen(ROW[:1], None)["1"]
    assert codes(alone) == ["peers_none", "load_unknown"]


def test_warmth_from_before_the_test_is_not_blamed_on_a_pin():
    cooling = [*ROW[:2], look("3", 80.0, start_k=-9.0), *ROW[3:]]
    found = seen(cooling, None)["3"]
    assert (found.verdict, found.source) == ("unknown", False)
    assert "started_warm" in codes(found)
    assert found.reasons[-1].values["rise"] == -9.0


def test_one_loaded_pin_is_held_against_the_idle_ones():
    rows = [look("1", 22.0, 0.0), look("2", 22.5, 0.0), look("3", 60.0, 9.0), look("4", 22.0, 0.0)]
    found = seen(rows, only="3")
    assert (found["3"].verdict, found["3"].source, found["3"].judged) == ("watch", True, True)
    assert codes(found["3"]) == ["rises_more", "single_loaded"]
    assert found["3"].reasons[1].values == {"pin": "3", "amps": 9.0}
    assert codes(found["1"]) == ["unloaded"]
    rows[2] = look("3", 23.0, 9.0)
    cool = seen(rows, only="3")["3"]
    assert (cool.verdict, codes(cool)) == ("unknown", ["single_loaded_cool"])
    assert cool.reasons[0].values["excess"] == pytest.approx(1.0)
    assert codes(seen(rows[2:3], only="3")["3"]) == ["peers_none_at_load"]
    assert codes(seen([look("1", 22.0, 0.0), look("3", 22.0, 0.0)], only="3")["3"]) == ["unloaded_all"]
    assert set(map(len, map(codes, seen(rows[:2], only="3").values()))) == {1}


def test_a_pins_own_value_is_not_among_its_peers():
    found = among(np.array([30.0, 30.0, 60.0, np.nan]), np.full(4, 0.2), True)
    assert found[3] is None
    assert (found[2].peers_k, found[2].peers, found[0].peers_k) == (30.0, 2, 45.0)
    assert among(np.array([30.0, np.nan]), np.full(2, 0.2), True) == [None, None]


def test_the_interval_of_an_excess_is_the_pins_and_its_peers_together():
    """The median of n like values has sqrt(pi / 2) u / sqrt(n)."""
    found = among(np.array([30.0, 30.0, 30.0, 36.0]), np.array([0.2, 0.2, 0.2, 0.5]), True)[3]
    u = math.hypot(0.5, math.sqrt(math.pi / 2.0) * 0.2 / math.sqrt(3.0))
    assert (found.low_k, found.high_k) == (pytest.approx(6.0 - 1.96 * u), pytest.approx(6.0 + 1.96 * u))


@pytest.mark.parametrize("peers", [1, 2, 3, 6])
def test_the_fewer_peers_the_larger_the_ratio_that_makes_a_pin_hot(peers):
    limit = hot_ratio(peers)
    assert limit == NUMBERS[{1: "hot_ratio_twin", 2: "hot_ratio_few"}.get(peers, "hot_ratio")]
    for ratio, level in ((limit * 1.01, "hot"), (limit * 0.99, "watch")):
        values = np.array([*[40.0] * peers, 40.0 * ratio])
        assert among(values, np.full(values.size, 0.2), True)[-1].level == level


def test_an_excess_must_be_more_than_is_uncertain_and_more_than_matters():
    least, watch = NUMBERS["least_excess_k"], NUMBERS["watch_ratio"]

    def level(value, others, u=0.1, rises=True):
        values = np.array([*[others] * 5, value])
        return among(values, np.full(6, u), rises)[-1].level

    assert level(2.0 + least + 0.1, 2.0) == "hot"
    assert level(2.0 + least - 0.1, 2.0) == "normal"
    assert level(60.0, 30.0, u=20.0) == "normal"
    assert level(40.0 * watch * 1.01, 40.0) == "watch"
    assert level(40.0 * watch * 0.99, 40.0) == "normal"
    single = NUMBERS["least_excess_single_k"]
    assert level(50.0 + single + 0.1, 50.0, rises=False) == "hot"
    assert level(50.0 + single - 0.1, 50.0, rises=False) == "normal"
    assert among(np.array([0.3, 0.3, 9.0]), np.full(3, 0.1), True)[-1].ratio is None  # too small to divide by
    assert among(np.array([30.0, 30.0, 60.0]), np.full(3, 0.1), False)[-1].ratio is None


def test_like_loads_differ_by_no_more_than_the_stated_share():
    share = NUMBERS["like_amps"]
    assert like(10.0, 10.0 * (1.0 - share) + 0.01)
    assert not like(10.0, 10.0 * (1.0 - share) - 0.01)
    assert like(10.0 * (1.0 - share) + 0.01, 10.0)
