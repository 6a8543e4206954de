"""Voltage drops by hand: milliohms, watts, ratio to peers, and what they say beside the heat."""

import pytest

from hotspot.reason.joint_drops import Joint, Ratio, against_peers, changed, conflict, joints, told, weighed
from hotspot.session import Session
from hotspot.tell.words import say_all


def session(*checks):
    return Session.model_validate({"check": list(checks)})


def drop(pin, volts, amps=None, stage=None):
    return (
        {"pin": pin, "kind": "drop", "volts": volts}
        | ({"amps": amps} if amps else {})
        | ({"stage": stage} if stage else {})
    )


@pytest.mark.parametrize(("amps", "milliohms", "watts"), [(10.0, 10.0, 1.0), (20.0, 5.0, 2.0), (30.0, 10 / 3, 3.0)])
def test_a_tenth_of_a_volt_is_another_joint_at_another_current(amps, milliohms, watts):
    # Ohm's and Joule's laws; the same limit in volts is slack at a large current and blind at a small one
    (joint,), said = joints(session(drop("1", 0.1, amps)), {})
    assert said == []
    assert 1e3 * joint.ohms == pytest.approx(milliohms)
    assert joint.watts == pytest.approx(watts)


def test_the_current_of_the_stage_stands_in_and_a_missing_one_is_told():
    found, said = joints(session(drop("1", 0.05, stage="full"), drop("2", 0.05)), {("full", "1"): 10.0})
    assert [(joint.pin, joint.amps) for joint in found] == [("1", 10.0)]
    assert [(note.code, note.values["pin"]) for note in said] == [("drop_without_amps", "2")]
    say_all(said)


def test_the_ratio_leaves_the_pin_itself_out_and_its_interval_follows_the_meters():
    found, _ = joints(session(drop("1", 0.02, 10.0), drop("2", 0.024, 10.0), drop("3", 0.1, 10.0)), {})
    ratio = against_peers(found[2], found)
    assert ratio.value == pytest.approx(0.1 / 0.022)
    assert ratio.low < ratio.value < ratio.high
    assert against_peers(found[0], found[:1]) is None


def test_two_estimates_are_weighed_by_their_variances():
    # inverse-variance mean of ln 2 and ln 4 with sd 0.1 and 0.2: (4 ln 2 + ln 4) / 5
    both = weighed(Ratio(2.0, 0.1), Ratio(4.0, 0.2))
    assert both.value == pytest.approx(2.0 ** (6 / 5))
    assert both.u_ln == pytest.approx((1 / 0.01 + 1 / 0.04) ** -0.5)


@pytest.mark.parametrize(
    ("heat", "code"),
    [(Ratio(4.0, 0.2), "drop_agrees"), (Ratio(1.0, 0.1), "drop_above_heat"), (Ratio(30.0, 0.2), "heat_above_drop")],
)
def test_agreement_and_both_conflicts_are_told(heat, code):
    found, _ = joints(session(drop("1", 0.02, 10.0), drop("2", 0.02, 10.0), drop("3", 0.1, 10.0)), {})
    said = told(found[2], found, {"1": Ratio(1.0, 0.1), "2": Ratio(1.0, 0.1), "3": heat}, {})
    assert [note.code for note in said] == ["drop_ratio", code]
    assert conflict(against_peers(found[2], found), heat) == (code != "drop_agrees")
    assert all(say_all(said))


def test_heat_is_held_against_the_same_pins_as_the_drop():
    # only a healthy and a bad joint were measured: the healthy one is no conflict, though it is like its other peers
    found, _ = joints(session(drop("3", 0.026, 12.0), drop("4", 0.123, 12.0)), {})
    heats = {pin: Ratio(1.0, 0.1) for pin in "12356"} | {"4": Ratio(3.6, 0.3)}
    assert [note.code for note in told(found[0], found, heats, {})] == ["drop_ratio"]
    assert [note.code for note in told(found[1], found, heats, {})] == ["drop_ratio", "drop_agrees"]


@pytest.mark.parametrize(
    ("milliohms", "code"), [(11.0, "drop_agrees_ohms"), (2.5, "drop_above_ohms"), (95.0, "ohms_above_drop")]
)
def test_a_pin_without_peers_is_held_against_its_ohms(milliohms, code):
    # a lone return: no ratio of any kind, but the heat and the stated wire give milliohms
    (found,), _ = joints(session(drop("1", 0.1, 10.0)), {})
    said = told(found, [found], {}, {"1": Ratio(milliohms, 0.25)})
    assert [note.code for note in said] == ["drop_alone", code]
    assert all(say_all(said))


def test_the_wire_in_the_heat_is_no_conflict_of_a_good_joint():
    # 1.5 mΩ by hand; a thin wire beside it can add as much again
    (found,), _ = joints(session(drop("1", 0.015, 10.0)), {})
    assert told(found, [found], {}, {"1": Ratio(3.0, 0.15)})[-1].code == "drop_agrees_ohms"


def test_before_and_after_by_hand():
    before = [Joint("4", "full", 0.1227, 12.0, 0.02), Joint("3", "full", 0.026, 12.0, 0.02)]
    after = [Joint("4", "full", 0.0287, 12.5, 0.02), Joint("3", "full", 0.027, 12.5, 0.02), Joint("1", None, 1, 1, 0.1)]
    said = changed(before, after, {})
    assert [(note.code, note.values["pin"]) for note in said] == [("drop_fell", "4"), ("drop_unchanged", "3")]
    assert said[0].values["after"] == pytest.approx(2.296)
    assert "10.2 mΩ" in say_all(said)[0]
