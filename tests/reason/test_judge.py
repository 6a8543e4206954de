"""Verdicts, sources and what is not judged, on tables whose truth is plain."""

from types import SimpleNamespace

import numpy as np
import pytest
from readings_made import readings_of, session_of, span

from hotspot.columns import PINS, column_names
from hotspot.reason.findings import judge

T = np.arange(0.0, 1500.0, 15.0)
SHAPE = 1.0 - np.exp(-T / 240.0)


def heated(rises, ambient=20.0, seed=1):
    noise = np.random.default_rng(seed)
    return {str(n + 1): ambient + k * SHAPE + noise.normal(0, 0.05, T.size) for n, k in enumerate(rises)}


def found(rises, amps="equal", ambient=20.0, settle=lambda *_: None, **keys):
    session = session_of(ambient=ambient, **keys)
    return judge(session, readings_of(T, heated(rises), ambient), (span(T, amps),), None, settle)


def verdicts_of(findings):
    return {pin.name: pin.verdict for pin in findings.pins}


def codes_of(findings, pin):
    return {said.code for said in next(p for p in findings.pins if p.name == pin).reasons}


@pytest.mark.parametrize("rises", [[30, 31, 29, 33, 30, 31], [30, 33, 31, 29], [30, 33], [0, 0, 0, 0, 0, 0]])
def test_healthy_rows_and_flat_scenes_flag_nothing(rises):
    findings = found(rises)
    assert findings.source_pins == ()
    assert set(verdicts_of(findings).values()) == {"normal"}
    assert findings.verdict == "normal"


@pytest.mark.parametrize("rises", [[30, 33, 62, 35, 30, 31], [30, 60, 34, 29], [30, 48]])
def test_the_pin_that_stands_out_is_hot_and_the_only_source(rises):
    findings = found(rises)
    bad = str(int(np.argmax(rises)) + 1)
    assert findings.source_pins == (bad,)
    assert findings.hottest_pin == bad
    assert findings.verdict == "hot"
    assert [pin for pin, verdict in verdicts_of(findings).items() if verdict == "hot"] == [bad]
    assert "survey_quote" in codes_of(findings, bad)


def test_half_of_the_pins_alike_gives_mad_zero_and_still_a_verdict():
    readings = readings_of(T, {str(n): 20 + k * SHAPE for n, k in enumerate([30, 30, 30, 30, 60])}, 20.0)
    findings = judge(session_of(ambient=20.0), readings, (span(T, "equal"),), None, lambda *_: None)
    assert findings.source_pins == ("4",)


def test_nothing_is_flagged_beyond_what_is_uncertain():
    session = session_of(ambient=20.0)
    readings = readings_of(T, heated([30, 30, 48, 30, 30, 30]), 20.0, uncertainty=12.0)
    findings = judge(session, readings, (span(T, "equal"),), None, lambda *_: None)
    assert findings.source_pins == ()


def test_the_camera_accuracy_is_common_and_hides_no_pin():
    session = session_of(ambient=20.0, camera={"accuracy_k": 20.0})
    readings = readings_of(T, heated([30, 30, 48, 30, 30, 30]), 20.0, uncertainty=20.0 / np.sqrt(3))
    findings = judge(session, readings, (span(T, "equal"),), None, lambda *_: None)
    assert findings.source_pins == ("3",)


def test_unknown_load_names_the_pin_but_calls_no_pin_good_or_hot():
    findings = found([30, 31, 60, 33, 30, 29], amps=None)
    assert findings.source_pins == ("3",)
    assert verdicts_of(findings) == {
        "1": "unknown",
        "2": "unknown",
        "3": "watch",
        "4": "unknown",
        "5": "unknown",
        "6": "unknown",
    }
    assert findings.answer.code == "answer_source_load_unknown"
    assert len(findings.not_judged) == 6
    codes = [step.code for step in findings.next]
    # what needs no power comes first; the order in which the trade looks for a bad joint (common practice, no source)
    order = ["next_look", "next_fit", "next_pull", "next_amps", "next_drop", "next_prove"]
    assert [code for code in codes if code in order] == order


def test_larger_load_by_design_is_not_flagged():
    amps = {"1": 5.0, "2": 5.0, "3": 10.0, "4": 5.0}
    findings = found([30, 31, 90, 32], amps=amps)
    assert findings.source_pins == ()
    assert verdicts_of(findings)["3"] == "unknown"
    assert "peers_none_at_load" in codes_of(findings, "3")
    assert [entry["pin"] for entry in findings.not_judged] == ["3"]


def test_warm_neighbour_of_a_stronger_pin_is_watched_not_blamed():
    amps = {"1": 5.0, "2": 5.0, "3": 10.0, "4": 5.0, "5": 5.0}
    findings = found([30, 55, 90, 31, 30], amps=amps)
    assert findings.source_pins == ()
    assert verdicts_of(findings)["2"] == "watch"
    assert "heat_may_come_from" in codes_of(findings, "2")


def test_weak_pins_are_not_judged_and_say_what_would_be_enough():
    findings = found([30, 30, 31, 2], amps={"1": 10.0, "2": 10.0, "3": 10.0, "4": 2.0})
    weak = next(entry for entry in findings.not_judged if entry["pin"] == "4")
    assert weak["reason"].code == "weak_load"
    assert weak["amps_needed"] == pytest.approx(np.sqrt(0.1) * 10.0)
    assert verdicts_of(findings)["4"] == "unknown"


def test_a_single_loaded_pin_is_the_source_if_it_stands_out():
    findings = found([4, 30, 5, 1], amps={"2": 8.0})
    assert findings.source_pins == ("2",)
    assert findings.answer.code == "answer_source_single"
    assert verdicts_of(findings)["2"] == "watch"
    assert found([1, 1.2, 1, 1], amps={"2": 8.0}).source_pins == ()


def test_a_spread_neighbour_is_no_second_source():
    findings = found([30, 45, 80, 45, 30, 30, 29, 31])
    assert findings.source_pins == ("3",)
    assert verdicts_of(findings)["2"] == "watch"


def test_ratings():
    over = found([30, 31, 30, 32], connector={"rated": 51.0})
    assert over.verdict == "hot"
    assert "over_rated" in codes_of(over, "4")
    assert over.source_pins == ()
    assert over.answer.code == "answer_over_rating"
    assert over.next[0].code == "next_stop"
    heading = SimpleNamespace(
        settled_c=70.0, low_c=60.0, high_c=80.0, time_constant_s=240.0, settled="no", end_c=None, end_low_c=None,
        end_high_c=None, reason=None,
    )  # fmt: skip
    may = found([30, 31, 30, 32], connector={"wire_rated": 75.0}, settle=lambda *_: heading)
    assert set(verdicts_of(may).values()) == {"watch"}
    will = found([30, 31, 30, 32], connector={"wire_rated": 55.0}, settle=lambda *_: heading)
    assert set(verdicts_of(will).values()) == {"hot"}
    assert list(will.pin_table["settled_c"]) == [70.0] * 4


def test_wires_bare_metal_and_hidden_pins():
    pins = [
        {"name": "1", "wire": "AWG 14", "lead": "AWG 18"},
        {"name": "2", "wire": "1.0 mm2", "terminal": "1.5-2.5 mm2"},
        {"name": "3", "emissivity": 0.2},
        {"name": "4", "strands": 0.5, "wire": "2.5 mm2"},
        {"name": "9"},
    ]
    findings = found([30, 31, 30, 32], pin=pins)
    assert verdicts_of(findings) == {"1": "watch", "2": "watch", "3": "unknown", "4": "watch", "9": "unknown"}
    assert "lead_thinner" in codes_of(findings, "1")
    assert "terminal_too_large" in codes_of(findings, "2")
    assert codes_of(findings, "3") == {"bare_metal"}
    assert "strands_cut" in codes_of(findings, "4")
    assert codes_of(findings, "9") == {"hidden"}


def test_of_pins_without_a_reading_the_next_step_mends_what_hides_them():
    """A printed mark is switched off, a wrong map is corrected, and only what is out of view is brought into it."""
    readings = readings_of(T, heated([30, 31, 30, 32, 31]), 20.0)
    for pin, quality in (("2", "printed_over"), ("3", "map_doubtful;off_map"), ("5", "outside_picture")):
        readings.loc[readings["pin"] == pin, ["temperature_c", "quality"]] = [np.nan, quality]
    findings = judge(session_of(ambient=20.0), readings, (span(T, "equal"),), None, lambda *_: None)
    steps = {said.code: said.values.get("pins") for said in findings.next}
    assert steps["next_marks_off"] == ["2"]
    assert steps["next_map"] == ["3"]
    assert steps["next_uncover"] == ["5"]


def test_a_clipped_pin_is_at_least_and_never_normal():
    values = heated([30, 31, 30, 60, 31, 30])
    values["4"] = np.minimum(values["4"], 53.0)
    readings = readings_of(T, values, 20.0)
    readings.loc[(readings["pin"] == "4") & (readings["temperature_c"] == 53.0), "clipped"] = "high"
    findings = judge(session_of(ambient=20.0), readings, (span(T, "equal"),), None, lambda *_: None)
    assert verdicts_of(findings)["4"] == "unknown"
    assert "bound_hides" in codes_of(findings, "4")
    values["4"] = np.minimum(heated([30, 31, 30, 90, 31, 30])["4"], 75.0)
    readings = readings_of(T, values, 20.0)
    readings.loc[(readings["pin"] == "4") & (readings["temperature_c"] == 75.0), "clipped"] = "high"
    findings = judge(session_of(ambient=20.0), readings, (span(T, "equal"),), None, lambda *_: None)
    assert verdicts_of(findings)["4"] == "hot"
    assert "rises_more_at_least" in codes_of(findings, "4")
    assert dict(zip(findings.pin_table["pin"], findings.pin_table["last_clipped"], strict=True))["4"] == "high"
    assert set(findings.pin_table["last_clipped"]) == {"", "high"}


def test_a_cold_stage_judges_nobody():
    cold, full = span(T, 0.0, "cold", 0, 60), span(T, 9.0, "full", 60, 1500)
    findings = judge(
        session_of(ambient=20.0), readings_of(T, heated([30, 31, 62, 30]), 20.0), (cold, full), None, lambda *_: None
    )
    table = findings.pin_table.set_index(["stage", "pin"])
    assert set(table.loc["cold", "verdict"]) == {"unknown"}
    assert table.loc[("full", "3"), "verdict"] == "hot"
    assert findings.not_judged == ()


def test_worst_stage_decides_and_every_stage_has_its_rows():
    first, second = span(T, {"1": 5.0, "2": 5.0}, "low", 0, 700), span(T, {"1": 9.0, "2": 9.0}, "full", 700, 1500)
    values = {"1": 20 + 10 * SHAPE + 20 * (T > 700), "2": 20 + 10 * SHAPE + 60 * (T > 700)}
    findings = judge(session_of(ambient=20.0), readings_of(T, values, 20.0), (first, second), None, lambda *_: None)
    assert findings.source_pins == ("2",)
    table = findings.pin_table
    assert list(table.columns) == column_names(PINS)
    assert list(zip(table["stage"], table["pin"], strict=True)) == [
        ("low", "1"), ("low", "2"), ("full", "1"), ("full", "2"),
    ]  # fmt: skip
    assert list(table["amps"]) == [5.0, 5.0, 9.0, 9.0]
    assert table["heat_ratio"].isna().all()
    assert findings.answer.code == "answer_source_ratio_in_stage"


def test_a_stage_without_frames_keeps_its_empty_rows():
    empty = span(T, {"1": 5.0, "2": 5.0}, "later", 2000, 3000)
    findings = judge(
        session_of(ambient=20.0), readings_of(T, heated([30, 31]), 20.0), (span(T, "equal", "a"), empty), None,
        lambda *_: None,
    )  # fmt: skip
    late = findings.pin_table[findings.pin_table["stage"] == "later"]
    assert len(late) == 2
    assert late["last_c"].isna().all()
    assert verdicts_of(findings) == {"1": "normal", "2": "normal"}


def test_no_readings_at_all():
    findings = judge(session_of(pin=[{"name": "1"}]), readings_of([], {"1": []}), (), None, lambda *_: None)
    assert findings.hottest_pin is None
    assert findings.answer.code == "answer_nothing_read"
    assert findings.verdict == "unknown"


def test_without_ambient_a_steady_warm_scene_is_told_by_temperature():
    noise = np.random.default_rng(3)
    values = {str(n): level + noise.normal(0, 0.1, T.size) for n, level in enumerate([30, 31, 30, 62, 31, 30])}
    findings = judge(session_of(), readings_of(T, values), (span(T, "equal"),), None, lambda *_: None)
    assert findings.source_pins == ("3",)
    assert "hotter_than_peers" in codes_of(findings, "3")
    assert any(said.code == "rises_over_start" for said in findings.notices)


def test_one_frame_is_enough_to_look():
    readings = readings_of([0.0], {"1": [30.0], "2": [31.0], "3": [55.0], "4": [30.5], "5": [30.0]}, 20.0)
    findings = judge(session_of(ambient=20.0), readings, (), None, lambda *_: None)
    assert findings.hottest_pin == "3"
    assert findings.source_pins == ("3",)
