"""When a pin counts as repaired: heat made, drops by hand, and what the two say together."""

import numpy as np
import pytest
from test_before_after import FAULTY, MENDED, codes_of, made

from hotspot.reason.before_after import compare
from hotspot.reason.heat_change import HeatChange
from hotspot.reason.repair import Mend, _mend
from hotspot.records import Statement

FELL, STAYED, OPEN = HeatChange(0.3, 0.2, 0.5), HeatChange(1.0, 0.9, 1.1), HeatChange(0.7, 0.4, 1.2)


def drop(change):
    ohms = {"before": 8.0, "millivolts_before": 72.0, "amps_before": 9.0}
    ohms |= {"after": 8.0 * change.value, "millivolts_after": 72.0 * change.value, "amps_after": 9.0}
    values = {"pin": "3", "share": change.value, "low": change.low, "high": change.high}
    return Statement("drop_fell", values | ohms)


@pytest.mark.parametrize(
    ("heat", "by_hand", "still_source", "repaired"),
    [
        (FELL, None, False, "yes"),
        (FELL, None, True, "no"),  # less than before, but still more than its peers
        (STAYED, None, False, "no"),
        (OPEN, None, False, ""),
        (None, FELL, False, "yes"),
        (OPEN, FELL, False, "yes"),
        (FELL, FELL, False, "yes"),
        (None, STAYED, False, "no"),
        (None, None, False, ""),
        (FELL, STAYED, False, ""),  # two witnesses that contradict each other
        (STAYED, FELL, False, ""),
    ],
)
def test_repaired(heat, by_hand, still_source, repaired):
    mend = _mend(Mend("3", "3", heat, (None, None), drop(by_hand) if by_hand else None, "", ()), True, still_source)
    assert mend.repaired == repaired
    disputed = {heat, by_hand} == {FELL, STAYED}
    assert any(said.code == "repair_disputed" for said in mend.said) == disputed


def test_a_pin_that_was_never_bad_is_not_called_repaired_by_its_heat_alone():
    assert _mend(Mend("3", "3", FELL, (None, None), None, "", ()), False, False).repaired == ""
    assert _mend(Mend("3", "3", FELL, (None, None), drop(FELL), "", ()), False, False).repaired == "yes"


@pytest.mark.parametrize(
    ("alone", "by_both", "heat", "stood_out"),
    [
        ((1.5, 0.9, 2.4), 1.1, FELL, True),
        ((1.1, 0.8, 1.6), 1.6, FELL, True),  # the later test shows what the earlier one alone could not
        ((1.1, 0.8, 1.6), 1.1, FELL, False),
        (None, 1.0, FELL, True),  # no peers in the earlier test: it made twice its own heat now, beyond doubt
        (None, 1.0, OPEN, False),
        (None, 1.0, STAYED, False),
    ],
)
def test_what_stood_out_before(alone, by_both, heat, stood_out):
    from hotspot.reason.heat_change import HeatChanges
    from hotspot.reason.repair import _stood_out

    assert _stood_out(alone, HeatChanges({"3": heat}, {"3": by_both}, 1.0, True, {}), "3") == stood_out
    assert _stood_out(alone, None, "3") == (alone is not None and alone[0] > 1.3)


def test_no_real_change_of_heat_states_the_end_of_its_own_interval():
    from hotspot.reason.compare_answer import Outcome
    from hotspot.reason.repair_answer import _no_change
    from hotspot.tell.words import say

    def told(heat, verdict="same"):
        mend = Mend("3", "3", heat, ((3.0, 2.5, 3.5), (3.0, 2.5, 3.5)), None, "no", ())
        row = Outcome("full", "3", "3", verdict, (), 40.0, 41.0, 40.0, 1.0, -1.0, 3.0, 4.0, mend=mend)
        answer, sentence = _no_change([mend], [row])
        return answer, sentence.code, say(sentence)

    wide = HeatChange(1.05, 0.85, 1.30)  # half as wide as a change of 19 %
    assert told(wide)[:2] == ("no change", "compare_no_change_heat")
    assert "it fell by 15 % at most" in told(wide)[2]
    assert told(HeatChange(1.1, 1.02, 1.2))[2].endswith("it fell by 0 % at most.")
    assert "measure its voltage drop" in told(wide, "worse")[2]
    grown = HeatChange(1.4, 1.2, 1.6)  # beyond doubt, though the rise does not say so
    assert told(grown)[:2] == ("cannot tell", "compare_rise_disputes")


def test_a_pin_that_rises_more_but_makes_no_more_heat_is_not_called_unchanged():
    from hotspot.reason.compare_answer import Outcome, _by_rise

    mend = Mend("3", "3", STAYED, (None, None), None, "", ())
    row = Outcome("full", "3", "3", "worse", (), 40.0, 50.0, 40.0, 10.0, 5.0, 15.0, 4.0, load_known=True, mend=mend)
    pair = (made(FAULTY), made(FAULTY, digest="b"))
    answer, sentence = _by_rise([row], pair)
    assert (answer, sentence.code) == ("cannot tell", "compare_warmer_only")


def checks(volts, amps=9.0):
    return [{"pin": "3", "kind": "drop", "stage": "full", "volts": volts, "amps": amps}]


def test_drops_by_hand_decide_where_the_heat_cannot():
    before, after = made(FAULTY, check=checks(0.092)), made(MENDED, digest="b", seed=2, check=checks(0.0205))
    comparison = compare(before, after)
    assert comparison.answer == "fixed"
    assert comparison.sentence.code == "compare_and_by_hand"
    assert comparison.sentence.values["by_hand"].code == "drop_fell"
    rows = comparison.table.set_index("pin")["repaired"]
    assert rows["3"] == "yes"
    assert "yes" not in set(rows.drop("3"))
    assert "drop_fell" in codes_of(comparison, "3")
    from hotspot.tell.words import say

    assert "By hand the joint of pin 3 fell from 10.2 mΩ" in say(comparison.sentence)


def test_a_drop_that_did_not_fall_leaves_a_cooler_pin_unrepaired():
    before, after = made(FAULTY, check=checks(0.092)), made(MENDED, digest="b", seed=2, check=checks(0.093))
    comparison = compare(before, after)
    assert comparison.answer != "fixed"
    assert "yes" not in set(comparison.table["repaired"])


def test_a_drop_that_grew_is_worse():
    before, after = made(MENDED, check=checks(0.0205)), made(FAULTY, digest="b", seed=2, check=checks(0.092))
    comparison = compare(before, after)
    assert comparison.answer == "worse"
    assert comparison.table.set_index("pin")["repaired"]["3"] == "no"


def test_other_faces_still_compare_order_and_heat_ratios():
    before, after = made(FAULTY, connector={"face": "mating"}), made(MENDED, digest="b", connector={"face": "wire"})
    comparison = compare(before, after)
    assert set(comparison.table["verdict"]) == {"not comparable"}
    orders = [said for said in comparison.basis if said.code == "basis_order"]
    assert orders[0].values["before"][0] == "3"
    assert comparison.table["before_heat_ratio"].notna().all()
    row = comparison.table.set_index("pin").loc["3"]
    assert row["heat_change"] == pytest.approx(row["after_heat_ratio"] / row["before_heat_ratio"])
    assert any(said.code == "heat_change_by_ratios" for said in comparison.basis)


def test_a_pin_without_current_is_carried_with_the_others():
    def unloaded(amps, digest, rises):
        return made(rises, amps={"1": amps, "2": amps, "3": amps}, digest=digest)

    comparison = compare(unloaded(9.0, "a", [30, 31, 32, 8]), unloaded(10.8, "b", [43.2, 44.6, 46.1, 11.5]))
    row = comparison.table.set_index("pin").loc["4"]
    assert row["expected_rise_c"] == pytest.approx(11.52, rel=0.02)
    assert row["verdict"] == "same"
    assert "basis_unloaded" in codes_of(comparison, "4")
    assert np.isnan(row["heat_change"])


def test_all_pins_a_little_cooler_alike_is_the_day():
    comparison = compare(made(FAULTY), made([0.93 * rise for rise in FAULTY], digest="b"))
    assert set(comparison.table["verdict"]) == {"same"}
    assert "basis_day_less" in codes_of(comparison, "3")
    much = compare(made(FAULTY), made([0.7 * rise for rise in FAULTY], digest="b"))
    assert set(much.table["verdict"]) == {"better"}


@pytest.mark.parametrize("how", ["bare", "clipped", "small"])
def test_heat_is_not_worked_out_from_temperatures_that_are_none(how):
    from dataclasses import replace

    before, after = made(FAULTY), made([12, 12, 12, 12], digest="b", seed=2)
    if how == "bare":
        after = made([12, 12, 12, 12], digest="b", seed=2, surface={"emissivity": 0.2})
    third = after.readings["pin"] == "3"
    end = after.readings["time_s"] == after.readings["time_s"].max()
    if how == "clipped":
        after = replace(after, readings=after.readings.assign(clipped=np.where(third & end, "high", "")))
    if how == "small":
        after = replace(after, readings=after.readings.assign(quality=np.where(third, "few_pixels", "")))
    comparison = compare(before, after)
    row = comparison.table.set_index("pin").loc["3"]
    assert row["verdict"] == "not comparable"
    assert np.isnan(row["heat_change"])
    assert row["repaired"] == ""
    assert comparison.answer == "cannot tell"
    assert (row["before_clipped"], row["after_clipped"]) == ("", "high" if how == "clipped" else "")


def test_a_cold_frame_below_the_scale_hides_nothing_of_the_end():
    from dataclasses import replace

    after = made(FAULTY, digest="b", seed=7)
    first = after.readings["time_s"] == 0.0
    after = replace(after, readings=after.readings.assign(clipped=np.where(first, "low", "")))
    assert set(compare(made(FAULTY), after).table["verdict"]) == {"same"}


def test_a_level_that_the_cold_start_shows_is_allowed_for():
    before, after = made(FAULTY), made(FAULTY, digest="b")
    raised = after.readings.assign(
        temperature_c=after.readings["temperature_c"] + 1.2, rise_c=after.readings["rise_c"] + 1.2
    )
    from dataclasses import replace

    comparison = compare(before, replace(after, readings=raised))
    row = comparison.table.set_index("pin").loc["1"]
    assert row["expected_rise_c"] - row["before_rise_c"] == pytest.approx(1.2, abs=0.15)
    assert "basis_cold" in codes_of(comparison, "1")
