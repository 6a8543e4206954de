"""What a comparison reads back of a test that lies on disk, and the notices on steady readings at a stage's end."""

import math
from dataclasses import replace

import numpy as np
import pytest
from test_before_after import made

from hotspot.handbook.criteria import section
from hotspot.reason.equivalence import verdict
from hotspot.reason.footing import side_of
from hotspot.reason.heat_views import conducted
from hotspot.reason.pairing import session_of
from hotspot.reason.settling_criteria import CRITERIA
from hotspot.reason.settling_said import steady_notices
from hotspot.reason.stage_ends import Look
from hotspot.reason.stage_peers import View
from hotspot.records import StageSpan, Statement
from hotspot.session import Stage
from hotspot.tell.words import say

NONE = np.zeros(0)


def side(results, pin="1"):
    return side_of(results, session_of(results), 0, pin)


def with_lines(results, **columns):
    return replace(results, pins=results.pins.assign(**columns))


@pytest.fixture(scope="module")
def results():
    return made([30, 30, 40, 31])


def test_a_side_holds_what_the_tables_say_of_its_pin(results):
    found = side(results, "3")
    assert (found.pin, found.amps, found.stage.name) == ("3", 9.0, "full")
    assert found.into_s[0] == 0.0
    assert found.rise_k[-1] == pytest.approx(40.0, abs=0.5)
    assert found.until_s == 1485.0
    assert found.uncertainty_k == pytest.approx(2.0 / math.sqrt(3))
    assert found.accuracy_k == pytest.approx(2.0 / math.sqrt(3))
    assert found.over_k == pytest.approx(10.0, abs=0.5)
    assert found.stage_amps == dict.fromkeys("1234", 9.0)
    assert not found.clipped.any()
    assert not found.shape_only


def test_a_settled_rise_is_over_the_last_ambient_with_the_interval_as_standard_uncertainty(results):
    told = with_lines(results, settled_c=61.0, settled_low_c=60.0, settled_high_c=63.92)
    assert side(told).settled_k == (pytest.approx(41.0), pytest.approx(1.0))
    assert side(with_lines(told, settled_low_c=np.nan)).settled_k is None
    assert side(with_lines(told, settled_c=np.nan)).settled_k is None


def test_what_it_was_seen_through_is_the_calibration_and_the_pins_size(results):
    pins = [entry | {"radius_px": 4.5} for entry in results.findings["pins"]]
    settings = results.findings["settings"] | {"calibration": {"sha256": "abc"}}
    seen = replace(results, findings=results.findings | {"pins": pins, "settings": settings})
    assert side(seen).seen_through == ("abc", 4.5)
    assert side(results).seen_through == ("", None)


def test_an_estimated_ambient_comes_with_its_uncertainties(results):
    def guessed(**told):
        settings = results.findings["settings"] | {"ambient": told}
        return side(replace(results, findings=results.findings | {"settings": settings})).guessed_k

    assert guessed(origin="number") == (0.0, 0.0)
    assert guessed(uncertainty_k=1.5, drift_unsure_k=0.4) == (1.5, 0.4)
    assert guessed(uncertainty_k=1.5) == (1.5, 1.5)


def test_a_cold_first_frame_tells_the_level_only_where_the_pins_are_cold_and_alike(results):
    """The test begins cold at its load: within the second, all pins read their ambient."""
    assert side(results).cold_k == pytest.approx(0.0, abs=0.1)
    table = results.readings
    first = table["time_s"] == table["time_s"].min()

    def shifted(by, pins=("1", "2", "3", "4")):
        rise = table["rise_c"] + np.where(first & table["pin"].isin(pins), by, 0.0)
        return side(replace(results, readings=table.assign(rise_c=rise))).cold_k

    numbers = section("compare")
    assert shifted(1.5) == pytest.approx(1.5, abs=0.1)
    assert math.isnan(shifted(numbers["cold_most_k"] + 0.2))
    assert math.isnan(shifted(-numbers["cold_most_k"] - 0.2))
    assert math.isnan(shifted(numbers["cold_alike_k"] + 0.3, ("1",)))
    later = replace(results, readings=table.assign(time_s=table["time_s"] + 2.0))
    assert math.isnan(side(later).cold_k)


def looked(celsius, times, amps=9.0, pin="1"):
    return Look(0, pin, amps, float(celsius[-1]), float(times[-1]), 0.2, 20.0, 30.0, "", times, celsius, NONE, NONE)


def notices(*looks, name="full", amps=9.0):
    end = max(look.last_s for look in looks)
    span = StageSpan(name, 0.0, end, (0,), Stage(name=name, amps=amps) if amps is not None else None)
    found = steady_notices((span,), {(0, look.pin): look for look in looks})
    for said in found:
        say(said)
    return {said.code: said.values for said in found}


def test_each_published_criterion_is_told_once_as_met_failed_or_too_long_for_the_stage():
    times = np.arange(0.0, 1801.0, 10.0)
    steady, climbing = looked(np.full(times.size, 50.0), times), looked(20.0 + 0.02 * times, times, pin="2")
    found = notices(steady)
    assert set(found) == {"steady_met_in_stage", "steady_too_short_in_stage"}
    told = [name for values in found.values() for name in values["criteria"]]
    assert len(told) == len(set(told)) == len(CRITERIA)
    assert found["steady_met_in_stage"]["pins"] == ()
    assert (found["steady_met_in_stage"]["lasted_s"], found["steady_met_in_stage"]["stage"]) == (1800.0, "full")
    found = notices(steady, climbing)
    assert found["steady_not_met_in_stage"]["pins"] == ("2",)  # one that fails decides
    assert "2 K in 15 min" in " ".join(found["steady_not_met_in_stage"]["criteria"])
    assert set(notices(steady, name="")) == {"steady_met", "steady_too_short"}


def test_a_stage_without_current_or_readings_tells_no_steadiness():
    times = np.arange(0.0, 1801.0, 10.0)
    assert notices(looked(np.full(times.size, 20.0), times, amps=0.0), amps=0.0) == {}
    assert notices(looked(np.full(times.size, 20.0), times, amps=None), amps=None) != {}
    assert steady_notices((StageSpan("full", 0.0, 9.0, ()),), {}) == ()


def test_a_single_wrong_reading_does_not_make_a_stage_unsteady():
    times = np.arange(0.0, 1801.0, 10.0)
    celsius = np.full(times.size, 50.0)
    celsius[-20] += 15.0
    assert "steady_not_met_in_stage" not in notices(looked(celsius, times))


def test_an_idle_pin_that_grew_warm_says_where_that_came_from():
    least = section("peers")["least_excess_k"]

    def look(pin, rise, amps, ambient=20.0):
        start_k = rise if ambient is None else 0.0
        return Look(0, pin, amps, 20.0 + rise, 900.0, 0.2, ambient, start_k, "", NONE, NONE, NONE, NONE)

    idle = View("unknown", (Statement("unloaded", {"pin": "2", "amps_needed": 3.0}),))
    views = {"1": View("normal", ()), "2": idle}
    for ambient in (20.0, None):
        found = conducted(views, [look("1", 40.0, 9.0, ambient), look("2", 12.0, 0.0, ambient)])
        said = found["2"].reasons[-1]
        assert (said.code, dict(said.values)) == (
            "heat_conducted", {"pin": "2", "rise": pytest.approx(12.0), "from_pin": "1", "share": pytest.approx(0.3)},
        )  # fmt: skip
        assert found["1"] == views["1"]
    assert conducted(views, [look("1", 40.0, 9.0), look("2", least - 0.1, 0.0)]) == views
    assert conducted(views, [look("1", 40.0, 9.0), look("2", 41.0, 0.0)]) == views  # warmer than what could warm it
    assert conducted(views, [look("2", 12.0, 0.0)]) == views
    looks = [replace(look("1", 40.0, 9.0), bound="high"), look("2", 12.0, 0.0)]
    told = say(conducted(views, looks)["2"].reasons[-1])
    assert "rose by 12.0 K, at most 30 % of what pin 1 rose by" in told  # the scale ended below pin 1


@pytest.mark.parametrize(
    ("low", "high", "answer"),
    [(-2.0, 2.0, "same"), (-3.0, 3.0, "same"), (0.5, 2.9, "same"), (3.5, 6.0, "worse"), (-6.0, -3.5, "better"),
     (math.nan, 1.0, "not comparable"), (-1.0, math.nan, "not comparable"), (2.0, 1.0, "not comparable")],
)  # fmt: skip
def test_a_change_is_none_where_its_whole_interval_does_not_matter(low, high, answer):
    assert verdict(low, high, 3.0) == answer
