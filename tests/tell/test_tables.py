"""CSV and JSON for machines: keys, order, rounding, text kept as text. Read back with pandas and json."""

import dataclasses
import io
import json
import math

import numpy as np
import pandas as pd
import pytest
from told_sessions import analysis, comparison

from hotspot.columns import COMPARE, PINS, READINGS, column_names
from hotspot.tell import tables

KEYS = "answer hottest_pin source_pins not_judged verdict pins stages next warnings inputs settings version"


def _read(text: str) -> pd.DataFrame:
    return pd.read_csv(io.StringIO(text), dtype={"pin": "str", "stage": "str"}, keep_default_na=False)


def test_readings_come_back_as_they_were():
    told = analysis(["01", "NA", 'a,"b"', "x\ny"])
    back = _read(tables.readings_csv(told))
    assert list(back.columns) == column_names(READINGS)
    assert list(back["pin"].unique()) == ["01", "NA", 'a,"b"', "x\ny"]
    np.testing.assert_allclose(back["temperature_c"], told.readings["temperature_c"], atol=5.1e-5)
    np.testing.assert_allclose(back["time_s"], told.readings["time_s"], atol=5.1e-7)


def test_what_is_not_known_is_an_empty_cell():
    told = analysis(["1", "2"], frames=1)
    told.readings.loc[0, ["temperature_c", "rise_c", "shift_px"]] = np.nan
    told.readings.loc[1, "temperature_c"] = -0.00001
    first, second = tables.readings_csv(told).split("\n")[1:3]
    assert first == "0,f0000.tiff,0,half,1,,0.8,,78.5,,,,0,"
    assert second.split(",")[5] == "0"


def test_pins_csv_holds_the_contracts_columns_and_worded_reasons():
    told = analysis()
    back = _read(tables.pins_csv(told))
    assert list(back.columns) == column_names(PINS)
    assert len(back) == 12
    assert back["reasons"][1].startswith("Shiny metal")
    assert back["last_c"][5] == ""
    assert "nan" not in tables.pins_csv(told).lower()


def test_findings_hold_the_contracts_keys_and_are_json():
    told = analysis()
    content = tables.findings_dict(told)
    again = json.loads(tables.json_text(content))
    assert again == content
    assert set(KEYS.split()) <= set(content)
    assert content["stages"][1] == {
        "name": "full",
        "start_s": 400.0,
        "end_s": 1500.0,
        "frames": 41,
        "amps": {"1": 9.0, "2": 9.0, "3": 9.0, "4": 9.0, "5": 9.0},
        "ambient_c": 21.0,
    }
    # what the report shows is there for programs too
    row = next(row for row in content["numbers"] if (row["stage"], row["pin"]) == ("full", "2"))
    assert (row["amps"], row["settled"], row["heat_ratio"]) == (9.0, "no", 2.9)
    assert len(content["numbers"]) == len(told.findings.pin_table)
    assert content["limits"][0].startswith("Rating of the housing or terminal, 85.0 °C")
    assert any("ECMA-287" in caution for caution in content["cautions"])
    assert content["doubts"] == []
    assert content["pins"][1] | {"reasons": None} == {
        "name": "2",
        "x_px": 80.0,
        "y_px": 18.0,
        "radius_px": 6.0,
        "placed": "given",
        "verdict": "hot",
        "reasons": None,
    }
    assert content["not_judged"][0]["amps_needed"] == 4.5
    assert content["inputs"] == [
        {"name": "f0000.tiff", "sha256": "1" * 64},
        {"name": "session.toml", "sha256": "0" * 64},
    ]
    assert content["settings"]["session"]["event"][0]["what"] == "harness moved"
    # the same notice twice is one warning
    assert [(w["code"], w["frames"]) for w in content["warnings"]] == [("caution_air", [3, 4])]


def test_the_end_of_a_stage_that_lasts_to_the_last_frame_is_that_frames_time():
    told = analysis()
    at_zero = dataclasses.replace(told.stages[0], start_s=0.0, end_s=math.nextafter(0.0, math.inf))
    content = tables.findings_dict(dataclasses.replace(told, stages=(at_zero,)))
    assert (content["stages"][0]["start_s"], content["stages"][0]["end_s"]) == (0.0, 0.0)


def test_text_columns_may_be_of_any_kind_of_text():
    told = analysis(["1", "2"], frames=1)
    plain = tables.readings_csv(told)
    for kind in ("string", "str", "object"):
        table = told.readings.astype({"pin": kind, "clipped": kind, "quality": kind})
        table["clipped"] = table["clipped"].where(table["clipped"] != "", None)
        assert tables.readings_csv(dataclasses.replace(told, readings=table)) == plain


def test_small_settings_are_not_rounded_away():
    assert tables.plain({"x": 5.67e-8, "y": 1234.56789}) == {"x": 5.67e-8, "y": 1234.56789}


def test_plain_leaves_nothing_that_json_cannot_hold():
    mixed = {
        "a": np.float64("nan"),
        "b": np.arange(2),
        "c": {3, 1},
        "d": (np.int64(4), float("inf")),
        5: True,
    }
    assert tables.plain(mixed) == {"a": None, "b": [0, 1], "c": [1, 3], "d": [4, None], "5": True}


def test_compare_tables():
    told = comparison()
    back = _read(tables.compare_csv([told]))
    assert list(back.columns) == column_names(COMPARE)
    assert list(back["repaired"]) == ["", "yes", "", ""]
    content = json.loads(tables.json_text(tables.compare_dict(told)))
    keys = "answer sentence pins smallest_change_c basis warnings inputs version"
    assert set(keys.split()) <= set(content)
    assert content["pins"][1]["heat_change"] == 0.36
    assert content["pins"][0]["heat_change"] is None


@pytest.mark.parametrize("frames", [0, 1])
def test_next_to_nothing_still_gives_tables(frames):
    told = analysis([], frames=frames, staged=False, about={"event": []})
    assert tables.readings_csv(told).count("\n") == 1
    assert tables.findings_dict(told)["hottest_pin"] is None


def test_more_than_two_sessions_give_one_block_and_one_set_of_rows_for_each_later_one():
    second = comparison()
    third = dataclasses.replace(second, after=dataclasses.replace(second.after, name="third test"), answer="worse")
    content = json.loads(tables.json_text(tables.history_dict([second, third])))
    assert content["answer"] == "worse"
    assert [block["answer"] for block in content["later"]] == ["fixed", "worse"]
    back = _read(tables.compare_csv([second, third]))
    assert list(back["session"]) == [second.after.name] * 4 + ["third test"] * 4
    assert "later" not in tables.history_dict([second])
