"""The earlier rise carried to the later load: what it is multiplied by, how unsure that is, what it rests on."""

import math
from dataclasses import replace

import numpy as np
import pytest
from readings_made import session_of

from hotspot.handbook.criteria import section
from hotspot.reason.footing import Side
from hotspot.reason.footing_load import carried, stage_ratio
from hotspot.session import Stage
from hotspot.tell.words import say

NONE = np.zeros(0)


def side(amps=None, all_amps=None, **keys):
    held = {} if amps is None else {"1": amps, "2": amps, "3": amps}
    stage = Stage(name="full", **keys) if keys else None
    held = held if all_amps is None else all_amps
    return Side(session_of(), stage, "1", amps, NONE, NONE, 0.2, 1.0, NONE, 0.0, None, stage_amps=held)


def told(before, after):
    factor, u, (said,) = carried(before, after)
    return factor, u, said, say(said)


def test_the_same_current_changes_nothing_and_is_sure():
    factor, u, said, _ = told(side(9.0), side(9.02))
    assert said.code == "basis_load_same"
    assert said.values == {"before": 9.0, "after": 9.02}
    assert factor == pytest.approx(1.0, abs=0.005)
    assert u < 0.001


def test_another_current_is_carried_by_a_power_within_those_of_practice():
    factor, u, said, words = told(side(8.0), side(12.0))
    numbers, practice = section("compare"), section("practice")
    assert factor == pytest.approx(1.5 ** numbers["exponent"])
    assert said.code == "basis_load_carried"
    assert said.values["low"] == pytest.approx(1.5 ** practice["exponent_low"] - 1.0)
    assert said.values["high"] == pytest.approx(1.5 ** practice["exponent_high"] - 1.0)
    assert "8" in words
    assert "12" in words
    assert u == pytest.approx(factor * math.log(1.5) * numbers["exponent_half_width"] / 1.6448536, rel=1e-6)


def test_a_smaller_current_is_told_with_its_ends_in_order():
    _, _, said, _ = told(side(12.0), side(8.0))
    assert said.values["low"] < said.values["high"] < 0.0
    there, back = carried(side(8.0), side(12.0))[0], carried(side(12.0), side(8.0))[0]
    assert there * back == pytest.approx(1.0)


def test_the_further_it_is_carried_the_less_sure_it_is():
    shares = []
    for amps in (9.0, 10.0, 12.0, 15.0):
        factor, u, _, _ = told(side(9.0), side(amps))
        shares.append(u / factor)
    assert shares == sorted(shares)
    assert shares[-1] > 2.0 * shares[1] > 0.0


def test_loads_too_far_apart_are_refused_with_both_named():
    most = section("compare")["longest_factor"]
    for before, after in ((9.0, 9.0 * most * 1.02), (9.0, 9.0 / most / 1.02)):
        factor, u, said, _ = told(side(before), side(after))
        assert said.code == "refused_load_far"
        assert (said.values["before"], said.values["after"]) == (before, after)
        assert math.isnan(factor)
        assert math.isnan(u)
    assert math.isfinite(carried(side(9.0), side(9.0 * most * 0.98))[0])
    assert math.isfinite(carried(side(9.0), side(9.0 / most / 0.98))[0])


def test_a_pin_that_changed_like_its_stage_as_far_as_a_clamp_can_tell_takes_the_middle_of_both():
    near = {"1": 10.2, "2": 10.0, "3": 10.0}
    factor, u, _, _ = told(side(10.0), side(10.2, near))
    stage = stage_ratio(side(10.0), side(10.2, near))
    assert stage == pytest.approx(math.sqrt((10.2**2 + 200.0) / 300.0))
    assert factor == pytest.approx(math.sqrt(1.02 * stage) ** section("compare")["exponent"])
    assert u / factor < 0.01


def test_a_pin_that_changed_alone_keeps_its_own_and_leaves_its_neighbours_share_open():
    numbers = section("compare")
    alone = {"1": 14.0, "2": 10.0, "3": 10.0}
    factor, u, _, _ = told(side(10.0), side(14.0, alone))
    assert factor == pytest.approx(1.4 ** numbers["exponent"])
    unlike = math.log(1.4 / math.sqrt((14.0**2 + 200.0) / 300.0))
    assert u / factor > numbers["exponent"] * unlike * numbers["foreign_share"]
    assert u / factor > 1.2 * carried(side(10.0), side(14.0))[1] / carried(side(10.0), side(14.0))[0]


def test_only_pins_of_both_tests_make_the_current_of_the_stage():
    assert stage_ratio(side(all_amps={"1": 3.0, "9": 50.0}), side(all_amps={"1": 6.0, "2": 50.0})) == pytest.approx(2.0)
    assert stage_ratio(side(), side(9.0)) is None
    assert stage_ratio(side(all_amps={"1": 0.0}), side(all_amps={"1": 5.0})) is None


def test_a_pin_without_current_follows_the_others():
    others = ({"1": 0.0, "2": 8.0}, {"1": 0.0, "2": 12.0})
    factor, _, said, _ = told(side(0.0, others[0]), side(0.0, others[1]))
    assert said.code == "basis_unloaded"
    assert said.values["ratio"] == pytest.approx(1.5)
    assert factor == pytest.approx(1.5 ** section("compare")["exponent"])


def test_a_stage_without_any_current_is_not_one_of_unknown_current():
    factor, u, said, words = told(side(0.0), side(0.0))
    assert (factor, u, said.code) == (1.0, 0.0, "basis_no_load")
    assert "not known" not in words
    partly = replace(side(0.0, {"1": 0.0}), others_unknown=True)
    assert told(partly, side(0.0))[2].code == "basis_others_unknown"


def test_a_pin_that_carried_current_in_one_test_only_is_refused():
    for pair in ((side(0.0), side(9.0)), (side(9.0), side(0.0)), (side(0.0), side())):
        assert told(*pair)[2].code == "refused_unloaded"


def test_a_resistive_load_follows_its_volts():
    factor, _, said, _ = told(side(volts=12.0, load="resistive"), side(volts=13.8, load="resistive"))
    assert (said.code, dict(said.values)) == ("basis_load_volts", {"before": 12.0, "after": 13.8})
    assert factor == pytest.approx((13.8 / 12.0) ** section("compare")["exponent"])


def test_a_motors_current_lies_between_none_and_the_square_of_its_volts():
    factor, u, said, _ = told(side(volts=12.0, load="motor"), side(volts=13.8, load="motor"))
    assert said.code == "basis_load_motor"
    assert said.values["low"] == 0.0
    assert said.values["high"] == pytest.approx((13.8 / 12.0) ** 4 - 1.0)
    assert factor == pytest.approx((13.8 / 12.0) ** section("compare")["exponent"])
    resistive = carried(side(volts=12.0, load="resistive"), side(volts=13.8, load="resistive"))
    exponent = section("compare")["exponent"]
    motor = exponent * math.log(13.8 / 12.0) / math.sqrt(3.0)  # the power 1 +- 1, rectangular (JCGM 100:2008, 4.3.7)
    assert (u / factor) ** 2 == pytest.approx((resistive[1] / resistive[0]) ** 2 + motor**2)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ({"volts": 12.0, "load": "resistive"}, {"volts": 13.0, "load": "motor"}),
        ({"volts": 12.0, "load": "resistive"}, {"load": "resistive"}),
        ({"volts": 12.0}, {"volts": 13.0}),
        ({}, {}),
    ],
)
def test_without_currents_or_volts_of_one_kind_of_load_it_is_not_known(before, after):
    factor, u, said, _ = told(side(**before), side(**after))
    assert (factor, u, said.code) == (1.0, 0.0, "basis_load_unknown")
