"""How near to the limits: margins that are plain sums, each limit by its name, the nearest first."""

import numpy as np
import pytest
from readings_made import readings_of, session_of, span

from hotspot.reason.findings import judge
from hotspot.tell.words import say

T = np.arange(0.0, 1500.0, 15.0)


def limits_of(levels, ambient=20.0, amps=9.0, clipped=None, **connector):
    session = session_of(ambient=ambient, connector=connector)
    celsius = {str(n + 1): np.full(T.size, float(level)) for n, level in enumerate(levels)}
    readings = readings_of(T, celsius, ambient, uncertainty=0.5, clipped=clipped)
    return judge(session, readings, (span(T, amps),), None, lambda *_: None).limits


def test_each_limit_is_named_with_its_margin_and_the_nearest_comes_first():
    told = limits_of([60.0, 41.0], rated=105.0, wire_rated=90.0)
    assert [said.code for said in told] == ["limit_wire_rated_left", "limit_rated_left", "limit_rise_passed"]
    # 60 - 20 - 30 = 10 K over the rise limit; 90 - 60 and 105 - 60 left; two standard uncertainties of 0.5 K about each
    assert [(s.values["away"], s.values["low"], s.values["high"]) for s in told] == [
        pytest.approx((30.0, 29.0, 31.0)),
        pytest.approx((45.0, 44.0, 46.0)),
        pytest.approx((10.0, 9.0, 11.0)),
    ]
    assert {said.values["pin"] for said in told} == {"1"}
    text = say(told[0], "C")
    assert text.startswith("Rating of the wire's insulation, 90.0 °C: 30.0 K left (between 29.0 K and 31.0 K) at pin 1")
    for beside in ("60.0 °C", "40.0 K over an ambient of 20.0 °C", "at 9 A"):
        assert beside in text


def test_a_rating_that_is_passed_is_said_to_be():
    told = limits_of([110.0, 41.0], rated=105.0)
    assert [said.code for said in told] == ["limit_rated_passed", "limit_rise_passed"]
    assert told[0].values["away"] == pytest.approx(5.0)


def test_a_pin_at_the_end_of_the_scale_may_be_hotter():
    told = limits_of([80.0, 41.0], clipped={"1": "high"}, rated=105.0)
    assert {said.code for said in told} == {"limit_rise_passed_bound", "limit_rated_left_bound"}
    assert "at most 25.0 K left at pin 1, at least 80.0 °C at" in say(told[0], "C")
    assert "passed by at least 30.0 K at pin 1, at least 80.0 °C at" in say(told[1], "C")
    assert all("it may be hotter" in say(one, "C") and "between" not in say(one, "C") for one in told)


def test_a_pin_below_the_scale_may_be_cooler():
    told = limits_of([80.0, 41.0], clipped={"1": "low"}, rated=105.0)
    texts = [say(one, "C") for one in told]
    assert any("at least 25.0 K left at pin 1, at most 80.0 °C at" in text for text in texts)
    assert any("passed by at most 30.0 K at pin 1, at most 80.0 °C at" in text for text in texts)
    assert all("it may be cooler" in text and "between" not in text for text in texts)


def test_what_is_not_known_is_said_and_not_made_up():
    (told,) = limits_of([60.0, 41.0], ambient=None, amps=None)
    assert told.code == "limit_none_stated"
    (told,) = limits_of([60.0, 41.0], ambient=None, amps=None, rated=105.0)
    assert "60.0 °C at" in say(told, "C")
    assert "ambient and load not known" in say(told, "C")
    assert "not known A" not in say(told, "C")
    assert limits_of([np.nan, np.nan], rated=105.0) == ()


def test_an_idle_pin_does_not_stand_for_the_loaded_ones():
    told = limits_of([50.0, 60.0], amps={"1": 9.0}, rated=105.0)
    assert {said.values["pin"] for said in told} == {"1"}
