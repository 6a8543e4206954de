"""What is said of where a pin is heading: each sentence, its chances, times and ratings; and the fall-back's answer."""

import math

import numpy as np
import pytest
from readings_made import session_of
from test_settling import TIMES, late, noisy

from hotspot.reason.settling import Settling, _observed, _one_exponential, settle_stage
from hotspot.reason.settling_said import outlook, with_event
from hotspot.reason.settling_series import Ambient, ambient_of, series
from hotspot.reason.stage_ends import Look
from hotspot.records import Statement
from hotspot.tell.words import say

END_S = 1500.0


def look_at(last_c, last_s=600.0, bound=""):
    none = np.zeros(0)
    return Look(0, "3", 9.0, last_c, last_s, 0.2, 22.0, last_c - 22.0, bound, none, none, none, none)


def heading(until_s=600.0, rise_k=80.0, start_s=0.0):
    t = TIMES[until_s >= TIMES]
    return settle_stage(t + start_s, noisy(22 + rise_k * late(t)), None, None, 22.0, start_s, END_S + start_s)


def said(settling, look, end_s=END_S, **ratings):
    found = outlook(look, settling, end_s, session_of(connector=ratings))
    for each in found:
        say(each)
    return found


def codes(found):
    return [each.code for each in found]


@pytest.mark.parametrize(("settled", "code"), [("yes", "settled_yes"), ("no", "settled_no"), ("", "settled_open")])
def test_whether_it_has_settled_comes_first_with_its_level(settled, code):
    answer = Settling(90.0, 86.0, 94.0, 200.0, settled, 85.0, 81.0, 89.0, "one exponential")
    (told,) = said(answer, look_at(70.0))
    assert told.code == code
    assert dict(told.values) == {"last": 70.0, "settled": 90.0, "low": 86.0, "high": 94.0}


def test_nothing_is_said_where_nothing_was_predicted():
    assert said(None, look_at(70.0), rated=80.0) == ()
    assert said(Settling(reason=Statement("settling_no_readings")), look_at(70.0), rated=80.0) == ()


def test_a_rating_on_the_way_is_told_with_the_time_and_the_chance_by_the_planned_end():
    look = look_at(22 + 80 * float(late(np.array([600.0]))[0]))
    found = said(heading(), look, rated=97.0)
    assert codes(found) == ["settled_no", "would_reach_rated_in_stage"]
    told = found[1].values
    when = float(np.interp(97.0, 22 + 80 * late(TIMES), TIMES))
    assert told["at_s"] == pytest.approx(when, abs=150.0)
    assert (told["pin"], told["rated"], told["end_s"]) == ("3", 97.0, END_S)
    assert 0.5 < told["chance"] <= 0.99


def test_a_rating_beyond_the_planned_end_is_told_for_a_longer_load():
    look = look_at(22 + 80 * float(late(np.array([600.0]))[0]))
    assert codes(said(heading(), look, end_s=610.0, rated=97.0))[1] == "would_reach_rated"


def test_a_stage_that_ran_to_its_end_has_no_chance_left_within_it():
    look = look_at(90.0, last_s=1480.0)
    assert codes(said(heading(), look, rated=94.0))[1] in ("would_reach_rated", "would_reach_rated_late")


def test_chances_in_the_middle_are_told_as_could_and_tiny_ones_as_staying_below():
    middle = Settling(90.0, 86.08, 93.92, 200.0, "no", 85.0, 81.08, 88.92, "one exponential")
    look = look_at(70.0)
    could = said(middle, look, rated=91.0)[1]
    assert (could.code, could.values["chance"]) == ("could_reach_rated", pytest.approx(0.3085, abs=1e-3))  # half an sd
    below = said(middle, look, rated=105.0)[1]
    assert (below.code, below.values["chance"]) == ("stays_below_rated", 0.01)  # no chance is told as surer
    late_ = said(middle, look, rated=80.0)[1]
    assert (late_.code, late_.values["chance"]) == ("would_reach_rated_late", 0.99)


def test_a_rating_it_stays_below_is_not_told_again_of_a_higher_one():
    middle = Settling(90.0, 86.08, 93.92, 200.0, "no", 85.0, 81.08, 88.92, "one exponential")
    assert codes(said(middle, look_at(70.0), rated=105.0, wire_rated=125.0))[1:] == ["stays_below_rated"]
    assert codes(said(middle, look_at(70.0), rated=105.0, wire_rated=91.0))[1:] == [
        "stays_below_rated", "could_reach_wire_rated",
    ]  # fmt: skip
    assert codes(said(middle, look_at(70.0), rated=91.0, wire_rated=125.0))[1:] == [
        "could_reach_rated", "stays_below_wire_rated",
    ]  # fmt: skip


def test_a_rating_that_is_passed_or_hidden_by_the_scale_is_no_outlook():
    middle = Settling(90.0, 86.08, 93.92, 200.0, "no", 85.0, 81.08, 88.92, "one exponential")
    assert len(said(middle, look_at(80.5), rated=80.0)) == 1
    assert len(said(middle, look_at(80.0), rated=80.0)) == 2
    assert len(said(middle, look_at(70.0, bound="high"), rated=80.0)) == 1


STEP = Settling(reason=Statement("settling_step", {"at_s": 400.0}))


@pytest.mark.parametrize(
    ("events", "what"),
    [
        ([(390.0, "door", None)], "door"),
        ([(281.0, "door", None)], "door"),
        ([(279.0, "door", None)], None),  # more than two minutes before the step
        ([(429.0, "hand", None)], "hand"),
        ([(431.0, "hand", None)], None),
        ([(300.0, "far", None), (380.0, "near", None)], "near"),
        ([(390.0, "other pin", "1")], None),
        ([(390.0, "this pin", "3")], "this pin"),
    ],
)
def test_a_step_is_laid_to_the_marked_event_that_lies_nearest(events, what):
    rows = [{"time_s": at, "what": word} | ({"pin": pin} if pin else {}) for at, word, pin in events]
    found = with_event(STEP, "3", session_of(event=rows, pin=[{"name": "1"}, {"name": "3"}]))
    assert found.reason.code == ("settling_step_event" if what else "settling_step")
    if what:
        assert (found.reason.values["what"], found.reason.values["at_s"]) == (what, 400.0)
        say(found.reason)


def test_only_a_step_is_laid_to_an_event():
    session = session_of(event=[{"time_s": 390.0, "what": "door"}])
    other = Settling(reason=Statement("settling_no_readings"))
    assert with_event(other, "3", session) is other
    assert with_event(None, "3", session) is None


def fallen_back(t, y, common=0.0, end_s=END_S):
    data = series(t, y, None, 0.0, end_s)
    return _one_exponential(data, _observed(data, ambient_of(t, 22.0, end_s), 0.0), np.array([np.inf, end_s]), common)


def test_the_fall_back_finds_an_exponential_again_with_its_end_and_interval():
    for sign in (1.0, -1.0):
        t = np.arange(0.0, 900.0, 10.0)
        found = fallen_back(t, noisy(60.0 - sign * 30.0 * np.exp(-t / 300.0), sd=0.05))
        assert found.settled_c == pytest.approx(60.0, abs=0.5)
        assert found.low_c < 60.0 < found.high_c
        assert found.time_constant_s == pytest.approx(300.0, rel=0.05)
        assert found.end_c == pytest.approx(60.0 - sign * 30.0 * math.exp(-END_S / 300.0), abs=0.5)
        assert found.high_c - found.settled_c == pytest.approx(found.settled_c - found.low_c)
        assert found.end_high_c - found.end_c == pytest.approx(found.end_c - found.end_low_c)
        assert (found.method, found.settled, found.forecast) == ("one exponential", "", None)


def test_the_fall_back_starts_where_the_curve_is_steepest():
    t = np.arange(0.0, 1200.0, 10.0)
    found = fallen_back(t, noisy(22.0 + 40.0 * (1.0 - np.exp(-np.maximum(t - 300.0, 0.0) / 200.0)), sd=0.05))
    assert found.settled_c == pytest.approx(62.0, abs=1.0)
    assert found.end_c == pytest.approx(62.0 - 40.0 * math.exp(-6.0), abs=1.0)


def test_what_is_common_to_the_readings_widens_the_fall_back():
    t = np.arange(0.0, 900.0, 10.0)
    y = noisy(60.0 - 30.0 * np.exp(-t / 300.0), sd=0.05)
    sure, unsure = fallen_back(t, y), fallen_back(t, y, common=1.0)
    halves = [0.5 * (found.high_c - found.low_c) for found in (sure, unsure)]
    assert halves[1] == pytest.approx(math.hypot(halves[0], 1.96))
    assert unsure.settled_c == sure.settled_c


def test_a_shape_that_is_no_exponential_is_refused():
    t = np.arange(0.0, 900.0, 10.0)
    assert fallen_back(t, 22.0 + 1e-4 * t**2).reason.code == "settling_odd_shape"
    assert fallen_back(t, noisy(22.0 + 0.05 * t, sd=0.01)).reason.code == "settling_odd_shape"


def test_what_is_left_of_an_earlier_stage_is_allowed_for():
    """Of a start that is warm against a known air, of a rate seen before it, or, without either, of the change."""
    t = np.arange(0.0, 900.0, 10.0)
    data = series(t, 60.0 - 30.0 * np.exp(-t / 300.0), None, 0.0, END_S)

    def left(ambient_c, start_s=0.0, own=data):
        return _observed(own, Ambient(ambient_c, False, 0.0), start_s).leftover_k

    assert left(31.0) == 0.0  # within 2 K of the air
    assert left(20.0) == pytest.approx(0.3 * (np.median(data.celsius[:2]) - 20.0))
    assert left(40.0) == pytest.approx(0.3 * (40.0 - np.median(data.celsius[:2])))
    assert left(None) == 0.0
    assert left(None, 600.0) == pytest.approx(0.1 * (np.mean(data.celsius[-3:]) - np.median(data.celsius[:2])))
    before = np.concatenate([np.arange(-200.0, 0.0, 10.0), t])
    falling = np.where(before < 0, 30.0 - 0.04 * before, 60.0 - 30.0 * np.exp(-before / 300.0))
    assert left(29.0, 0.0, series(before, falling, None, 0.0, END_S)) == pytest.approx(8.0, rel=0.05)
