"""Comparisons whose truth is plain: mended, untouched, carried to another load, or refused with the reason."""

import numpy as np
import pytest
from compare_made import results_of
from readings_made import readings_of, span

from hotspot.columns import COMPARE, column_names
from hotspot.errors import InputError
from hotspot.reason.before_after import compare

T = np.arange(0.0, 1500.0, 15.0)
FAULTY, MENDED = [30, 31, 62, 33], [30, 30, 31, 31]
CAMERA = {"name": "shop camera", "accuracy_k": 2.0}


def made(rises, amps=9.0, ambient=20.0, seed=1, until=1500.0, digest="a", stage="full", names=None, **keys):
    t = T[until > T]
    noise = np.random.default_rng(seed)
    shape = 1.0 - np.exp(-t / 240.0)
    names = names or [str(n + 1) for n in range(len(rises))]
    values = {n: ambient + k * shape + noise.normal(0, 0.05, t.size) for n, k in zip(names, rises, strict=True)}
    keys = {"camera": CAMERA, "ambient": ambient, "stage": [{"name": stage, "amps": amps}], **keys}
    readings = readings_of(t, values, keys["ambient"], uncertainty=2.0 / np.sqrt(3))
    return results_of(readings, (span(t, amps, stage),), digest=digest, **keys)


def verdicts_of(comparison):
    return dict(zip(comparison.table["pin"], comparison.table["verdict"], strict=True))


def codes_of(comparison, pin):
    rows = comparison.table[comparison.table["pin"] == pin]
    return {said.code for basis in rows["basis"] for said in basis}


def test_a_mended_pin_is_better_and_like_its_peers_but_never_fixed_by_rise_alone():
    comparison = compare(made(FAULTY), made(MENDED, digest="b", seed=2))
    assert verdicts_of(comparison)["3"] == "better"
    assert verdicts_of(comparison)["1"] == "same"
    assert comparison.answer == "better"
    assert comparison.sentence.code == "compare_better_like_peers"
    assert comparison.sentence.values["pin"] == "3"
    assert "yes" not in set(comparison.table["repaired"])
    assert list(comparison.table.columns) == column_names(COMPARE)
    row = comparison.table.set_index("pin").loc["3"]  # by first minutes alone, which cannot show it beyond doubt
    assert row["heat_change"] < 0.7
    assert row["heat_change_high"] > 1.0


def test_times_rounded_on_disk_lose_no_reading_at_the_ends_of_a_stage():
    from dataclasses import replace

    from hotspot.reason.footing import side_of
    from hotspot.session import Session

    results = made(FAULTY)
    session = Session.model_validate(results.findings["settings"]["session"], strict=False)
    whole = len(side_of(results, session, 0, "3").into_s)
    thirds = results.readings.assign(time_s=results.readings["time_s"] + 1.0 / 3.0)
    stages = [{**results.findings["stages"][0], "start_s": 0.3333334, "end_s": float(f"{1485 + 1 / 3:.9g}")}]
    moved = replace(results, readings=thirds, findings={**results.findings, "stages": stages})
    assert len(side_of(moved, session, 0, "3").into_s) == whole == len(T)


def test_half_mended_is_better_but_not_like_its_peers():
    comparison = compare(made([30, 31, 90, 33]), made([30, 31, 60, 33], digest="b"))
    assert comparison.answer == "better"
    assert comparison.sentence.code == "compare_better_above_peers"


def test_nothing_done_is_no_change():
    comparison = compare(made(FAULTY), made(FAULTY, digest="b", seed=7))
    assert set(verdicts_of(comparison).values()) == {"same"}
    assert comparison.answer == "no change"
    assert 0.0 < comparison.smallest_change_k < 6.2
    table = comparison.table
    half = (table["change_high_c"] - table["change_low_c"]) / 2.0
    assert table["smallest_change_c"].to_numpy() == pytest.approx(half.to_numpy())
    assert comparison.smallest_change_k == half.max()


def test_the_limit_that_no_change_states_is_one_that_no_interval_passes():
    comparison = compare(made(FAULTY), made([k + 1.2 for k in FAULTY], digest="b", seed=7))
    assert comparison.answer == "no change"
    ends = comparison.table[["change_low_c", "change_high_c"]].abs().to_numpy()
    sources = comparison.table["pin"].isin(comparison.sentence.values["pins"]).to_numpy()
    assert ends[sources].max() == comparison.sentence.values["most"] <= comparison.sentence.values["matters"]


def test_what_the_rows_were_matched_by_is_said():
    def said(comparison):
        return {each.code: each.values for each in comparison.basis if "_by_" in each.code}

    assert set(said(compare(made(FAULTY), made(MENDED, digest="b")))) >= {"pins_by_name", "stages_by_name"}
    crossed = said(compare(made(FAULTY), made(MENDED, digest="b"), {"3": "1", "1": "3"}))
    assert crossed["pins_by_match"]["pairs"] == ["3 to 1", "1 to 3"]
    assert "pins_by_name" in crossed
    renamed = made(MENDED, digest="b", names=["a", "b", "c", "d"], stage="other")
    assert not {"pins_by_name", "stages_by_name"} & set(said(compare(made(FAULTY), renamed)))


def test_worse_is_said_first():
    comparison = compare(made(FAULTY), made([30, 31, 31, 60], digest="b"))
    assert comparison.answer == "worse"
    assert comparison.sentence.values["pin"] == "4"


def test_load_and_ambient_are_carried():
    after = made([k * (10.8 / 9.0) ** 2 for k in FAULTY], amps=10.8, ambient=27.0, digest="b")
    comparison = compare(made(FAULTY), after)
    row = comparison.table.set_index("pin").loc["3"]
    assert row["expected_rise_c"] == pytest.approx(row["before_rise_c"] * 1.44, rel=5e-3)
    assert set(verdicts_of(comparison).values()) == {"same"}
    assert "basis_load_carried" in codes_of(comparison, "3")


def test_a_load_too_far_is_refused():
    comparison = compare(made(FAULTY), made(FAULTY, amps=20.0, digest="b"))
    assert set(verdicts_of(comparison).values()) == {"not comparable"}
    assert "refused_load_far" in codes_of(comparison, "3")
    assert comparison.answer == "cannot tell"
    assert comparison.sentence.code == "compare_cannot_load_far"


def test_a_shorter_test_is_compared_at_the_same_time_into_the_stage():
    comparison = compare(made(FAULTY), made(FAULTY, until=400.0, digest="b"))
    assert set(verdicts_of(comparison).values()) == {"same"}
    row = comparison.table.set_index("pin").loc["3"]
    assert row["before_rise_c"] == pytest.approx(62.0 * (1 - np.exp(-390.0 / 240.0)), abs=0.3)


def test_unknown_load_compares_the_rise_but_gives_no_credit():
    comparison = compare(made(FAULTY, amps=None), made(MENDED, amps=None, digest="b"))
    assert verdicts_of(comparison)["3"] == "better"
    assert "basis_load_unknown" in codes_of(comparison, "3")
    assert comparison.answer == "cannot tell"
    assert comparison.sentence.code == "compare_better_load_unknown"
    assert compare(made(FAULTY, amps=None), made(FAULTY, amps=None, digest="b")).answer == "no change"


def test_stages_without_current_are_said_to_be_so_and_answer_nothing():
    comparison = compare(made(FAULTY, amps=0.0), made(MENDED, amps=0.0, digest="b"))
    assert "basis_no_load" in codes_of(comparison, "3")
    assert "basis_load_unknown" not in codes_of(comparison, "3")
    assert (comparison.answer, comparison.sentence.code) == ("cannot tell", "compare_no_load")
    assert (compare(made(FAULTY, amps=0.0), made(FAULTY, digest="b")).sentence.code) == "compare_cannot_unloaded"


def test_resistive_loads_are_carried_by_their_volts():
    stages = [[{"name": "full", "load": "resistive", "volts": volts}] for volts in (12.4, 14.0)]
    before = made(FAULTY, amps=None, stage="full")
    factor = (14.0 / 12.4) ** 2
    first = results_of(before.readings, (span(T, None, "full"),), ambient=20.0, camera=CAMERA, stage=stages[0])
    later = made([k * factor for k in FAULTY], amps=None, digest="b")
    second = results_of(
        later.readings, (span(T, None, "full"),), digest="b", ambient=20.0, camera=CAMERA, stage=stages[1]
    )
    comparison = compare(first, second)
    assert set(verdicts_of(comparison).values()) == {"same"}
    assert "basis_load_volts" in codes_of(comparison, "1")


def test_a_motor_is_carried_by_its_volts_within_what_its_torque_may_do_and_credits_nobody():
    def at(rises, volts, digest):
        readings = made(rises, amps=None, digest=digest).readings
        stage = [{"name": "full", "load": "motor", "volts": volts}]
        return results_of(readings, (span(T, None, "full"),), digest=digest, ambient=20.0, camera=CAMERA, stage=stage)

    comparison = compare(at(FAULTY, 12.4, "a"), at(FAULTY, 14.0, "b"))
    row = comparison.table.set_index("pin").loc["3"]
    ratio = 14.0 / 12.4
    assert row["expected_rise_c"] == pytest.approx(row["before_rise_c"] * ratio**2, rel=1e-3)
    ends = row["after_rise_c"] - row[["change_low_c", "change_high_c"]].to_numpy(float)
    for power in (0.0, 4.0):  # of the rise on the volts: a fixed torque; a fan
        assert ends.min() < row["before_rise_c"] * ratio**power < ends.max()
    assert "basis_load_motor" in codes_of(comparison, "3")
    mended = compare(at(FAULTY, 12.4, "a"), at(MENDED, 12.4, "b"))
    assert (mended.answer, mended.sentence.code) == ("cannot tell", "compare_better_load_unknown")


def test_the_range_of_practice_decides_only_beyond_half_as_much_again():
    from hotspot.reason.footing_load import carried

    def relative(ratio):
        session = results_side(9.0), results_side(9.0 * ratio)
        factor, u, _ = carried(*session)
        return factor, u / factor / np.log(ratio)

    assert relative(1.49)[0] == pytest.approx(1.49**2)
    assert relative(1.49)[1] == pytest.approx(0.1 / 1.645, rel=1e-3)  # 5-95 % of +-0.1 on the exponent
    assert relative(1.51)[1] == pytest.approx(0.4 / np.sqrt(3.0), rel=1e-3)  # 1.6 to 2.0


def results_side(amps):
    from hotspot.reason.footing import side_of
    from hotspot.reason.pairing import session_of

    results = made(FAULTY, amps=amps)
    return side_of(results, session_of(results), 0, "3")


@pytest.mark.parametrize(
    ("keys", "code"),
    [
        ({"ambient": None}, "refused_no_ambient"),
        ({"connector": {"face": "wire"}}, "refused_face"),
        ({"surface": {"emissivity": 0.2}}, "refused_bare_metal"),
    ],
)
def test_what_cannot_be_compared_is_refused_with_its_reason(keys, code):
    before = made(FAULTY, connector={"face": "mating"})
    values = dict(zip("1234", MENDED, strict=True))
    if "ambient" in keys:
        readings = readings_of(T, {n: np.full(T.size, 20.0 + k) for n, k in values.items()})
        after = results_of(readings, (span(T, 9.0, "full"),), digest="b", stage=[{"name": "full", "amps": 9.0}])
    else:
        after = made(MENDED, digest="b", **keys)
    comparison = compare(before, after)
    assert set(verdicts_of(comparison).values()) == {"not comparable"}
    assert code in codes_of(comparison, "3")
    assert comparison.answer == "cannot tell"
    assert comparison.table["change_c"].isna().all()  # nothing is subtracted that cannot be compared


def test_another_camera_widens_and_is_said():
    same = compare(made(FAULTY), made(FAULTY, digest="b"))
    other = compare(made(FAULTY), made(FAULTY, digest="b", camera={"name": "loan", "accuracy_k": 2.0}))
    assert other.smallest_change_k > same.smallest_change_k
    assert "basis_camera_differs" in codes_of(other, "1")


def test_the_same_files_twice_prove_nothing():
    comparison = compare(made(FAULTY), made(FAULTY))
    assert comparison.answer == "cannot tell"
    assert any(said.code == "same_inputs" for said in comparison.notices)


def test_swapped_in_time_is_a_warning():
    before = made(FAULTY, job={"date": "2026-03-12"})
    comparison = compare(before, made(MENDED, digest="b", job={"date": "2026-03-11"}))
    assert any(said.code == "swapped" for said in comparison.notices)


def test_pins_by_match_by_position_and_alone():
    renamed = made(MENDED, digest="b", names=["a", "b", "c", "d"])
    by_position = compare(made(FAULTY), renamed)
    assert verdicts_of(by_position)["c"] == "better"
    assert any(said.code == "pins_by_position" for said in by_position.notices)
    by_match = compare(made(FAULTY), renamed, {"3": "a", "1": "c"})
    assert verdicts_of(by_match)["a"] == "better"
    fewer = compare(made(FAULTY), made(MENDED[:3], digest="b"))
    assert verdicts_of(fewer)["4"] == "not comparable"
    assert codes_of(fewer, "4") == {"refused_no_pin_after"}
    assert [said.code for said in fewer.notices if said.code.startswith("pins_unmatched")] == ["pins_unmatched_before"]
    with pytest.raises(InputError, match="no pin '9'"):
        compare(made(FAULTY), renamed, {"9": "a"})
    with pytest.raises(InputError, match="same connector"):
        compare(made(FAULTY), made([30, 31], digest="b", names=["x", "y"]))


def test_stages_by_load_by_order_and_missing():
    by_load = compare(made(FAULTY, stage="old"), made(FAULTY, stage="new", digest="b"))
    assert set(by_load.table["stage"]) == {"new"}
    assert set(verdicts_of(by_load).values()) == {"same"}
    assert any(said.code == "stages_by_load" for said in by_load.notices)
    by_order = compare(made(FAULTY, stage="old"), made([k * 1.44 for k in FAULTY], 10.8, stage="new", digest="b"))
    assert any(said.code == "stages_by_order" for said in by_order.notices)
    assert set(verdicts_of(by_order).values()) == {"same"}


def test_a_warm_start_is_said_and_widens():
    warm = made([0, 0, 0, 0], digest="b")
    readings = readings_of(T, {n: np.full(T.size, 20.0 + k) for n, k in zip("1234", FAULTY, strict=True)}, 20.0)
    warm = results_of(readings, (span(T, 9.0, "full"),), digest="b", ambient=20.0, camera=CAMERA,
                      stage=[{"name": "full", "amps": 9.0}])  # fmt: skip
    comparison = compare(made(FAULTY), warm)
    assert "basis_warm_start" in codes_of(comparison, "3")


def test_two_connectors_that_share_few_pins_are_not_compared():
    twelve = made([30] * 12)
    comparison = compare(twelve, made([30, 31, 62, 33, 30, 30], digest="b", seed=2))
    assert (comparison.answer, comparison.sentence.code) == ("cannot tell", "compare_unlike")
    assert comparison.sentence.values == {"both": 6, "pins": 12}
    assert compare(made(FAULTY), made(MENDED[:3], digest="b", seed=2)).sentence.code != "compare_unlike"
