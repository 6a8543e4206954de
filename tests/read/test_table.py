"""A logger's table: which column is time, which are pins, what unit; cells and rows that cannot be read."""

import datetime
from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import InputError
from hotspot.read.table import Logged, open_table
from hotspot.session import Session
from hotspot.tell.words import say_all


def opened(folder: Path, text: str | bytes, toml: str = "", **frames: object) -> Logged:
    content = text if isinstance(text, bytes) else text.encode()
    (folder / "run.csv").write_bytes(content)
    (folder / "session.toml").write_text(toml, encoding="utf-8")
    found = open_table(Session.load(folder, {"frames": {"files": "run.csv", "reading": "table", **frames}}))
    say_all(found.notices)
    return found


def refused(folder: Path, text: str, toml: str = "", **frames: object) -> list[str]:
    with pytest.raises(InputError) as error:
        opened(folder, text, toml, **frames)
    return [str(problem).replace(f"{folder}/", "") for problem in error.value.problems]


def of_pin(found: Logged, pin: str) -> list[float]:
    return found.readings.loc[found.readings["pin"] == pin, "temperature_c"].tolist()


def test_headings_are_pins_and_every_row_has_each(tmp_path):
    found = opened(tmp_path, "time_s,1,02,NA\n5,20,21,22\n10,30,31,32\n")
    assert found.readings.columns.tolist() == ["frame", "file", "time_s", "pin", "temperature_c", "quality"]
    assert found.readings["pin"].tolist() == ["1", "02", "NA"] * 2
    assert found.readings["frame"].tolist() == [0, 0, 0, 1, 1, 1]
    assert found.readings["file"].tolist() == ["run.csv#0"] * 3 + ["run.csv#1"] * 3
    assert found.readings["temperature_c"].tolist() == [20, 21, 22, 30, 31, 32]
    assert (found.source, found.notices, list(found.inputs)) == ("time column", [], ["run.csv"])


def test_the_first_row_is_at_start_s(tmp_path):
    found = opened(tmp_path, "time_s,1\n5,20\n10,30\n", start_s=2.0)
    assert [stamp.time_s for stamp in found.stamps] == [2.0, 7.0]


def test_every_s_needs_no_column_of_times(tmp_path):
    found = opened(tmp_path, "A,B\n20,21\n30,31\n40,41\n", every_s=2.0)
    assert (found.source, [stamp.time_s for stamp in found.stamps]) == ("every_s", [0.0, 2.0, 4.0])


def test_columns_map_headings_to_pins_and_the_others_are_passed_over(tmp_path):
    found = opened(tmp_path, "Date,note,TC1,TC2\n0,on,20,21\n5,,30,31\n", time="Date", columns={"7": "TC2", "1": "TC1"})
    assert found.readings["pin"].tolist() == ["7", "1", "7", "1"]
    assert of_pin(found, "7") == [21.0, 31.0]
    assert found.notices == []


@pytest.mark.parametrize(
    ("unit", "value"), [("C", "100.0"), ("F", "212.0"), ("K", "373.15")]
)  # boiling water: the fixed points of the three scales
def test_the_unit_of_the_table_is_its_own(tmp_path, unit, value):
    assert of_pin(opened(tmp_path, f"time_s,1\n0,{value}\n", 'units = "F"\n', unit=unit), "1") == pytest.approx([100.0])


@pytest.mark.parametrize("text", ["time_s;1;2\n0;20,5;21\n5;30,5;31\n", "time_s\t1\t2\n0\t20.5\t21\n5\t30.5\t31\n",
                                  'time_s,1,2\n0,"20,5",21\n5,"30,5",31\n'])  # fmt: skip
def test_semicolons_tabs_and_decimal_commas(tmp_path, text):
    assert of_pin(opened(tmp_path, text), "1") == [20.5, 30.5]


def test_title_lines_comments_and_an_old_code_page(tmp_path):
    text = b"Logger of the bench\nSerial;7\n# remark\n\ntime_s;1;2\n0;20;21\n" + b"5;30;31\n"
    assert of_pin(opened(tmp_path, text), "1") == [20.0, 30.0]
    degrees = "time_s,1 (°C)\n0,20\n"
    for encoding in ("cp1252", "utf-8-sig", "utf-16"):
        found = opened(tmp_path, degrees.encode(encoding), columns={"1": "1 (°C)"})
        assert of_pin(found, "1") == [20.0]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("14:20:30", "14:20:40.5"),
        ("23:59:55", "00:00:05.5"),
        ("2026-03-11 14:20:30", "2026-03-11 14:20:40.5"),
        ("2026-03-11T14:20:30Z", "2026-03-11T14:20:40.500Z"),
        ("11.03.2026 23:59:55", "12.03.2026 00:00:05,5"),
        ("3/11/2026 11:59:55 PM", "3/12/2026 12:00:05.5 AM"),
        ("11/3/2026 23:59:55", "12/3/2026 00:00:05.5"),
    ],
)
def test_clock_times_and_date_times_are_understood(tmp_path, first, second):
    found = opened(tmp_path, f"Date;1\n{first};20\n{second};30\n", time="Date")
    assert [stamp.time_s for stamp in found.stamps] == [0.0, 10.5]


def test_the_clock_of_the_rows_is_kept_with_its_offset(tmp_path):
    text = "Date,1\n2026-03-11 14:20:30,20\n2026-03-11 14:20:40,30\n"
    found = opened(tmp_path, text, "[clock]\nframes_offset_s = 60.0\n", time="Date")
    assert found.stamps[1].clock == datetime.datetime(2026, 3, 11, 14, 21, 40)
    dated = opened(tmp_path, "Date,1\n14:20:30,20\n", '[job]\ndate = "2026-03-11"\n', time="Date")
    assert dated.stamps[0].clock == datetime.datetime(2026, 3, 11, 14, 20, 30)


def test_times_that_run_backwards_are_sorted_told_and_doubted(tmp_path):
    found = opened(tmp_path, "time_s,1\n0,20\n20,40\n10,30\n")
    assert of_pin(found, "1") == [20.0, 30.0, 40.0]
    assert found.readings["file"].tolist() == ["run.csv#0", "run.csv#2", "run.csv#1"]
    assert found.readings["quality"].tolist() == ["", "clock_mended", ""]
    assert [(n.code, n.frames) for n in found.notices] == [("clock_backwards", (1,))]


def test_doubled_times_are_kept_and_told(tmp_path):
    found = opened(tmp_path, "time_s,1\n0,20\n1,21\n1,22\n")
    assert of_pin(found, "1") == [20.0, 21.0, 22.0]
    assert [(n.code, n.frames) for n in found.notices] == [("clock_doubled", (1, 2))]


def test_a_row_without_a_time_is_set_aside_and_told(tmp_path):
    found = opened(tmp_path, "time_s,1\n0,20\n?,21\n2,22\n")
    assert of_pin(found, "1") == [20.0, 22.0]
    assert [(n.code, n.values["files"]) for n in found.notices] == [("frames_without_time", ["run.csv#1"])]


def test_a_cell_that_is_no_number_is_empty_and_told_with_its_line(tmp_path):
    found = opened(tmp_path, "time_s,1,2\n0,20,21\n5,OL,31\n10,,41\n15,inf,51\n")
    assert np.isnan(of_pin(found, "1")).tolist() == [False, True, True, True]
    assert say_all(found.notices) == [
        "2 of the cells of pin 1 hold no number (line 3 and 5): those readings are empty."
    ]


def test_without_headings_the_columns_must_be_said_by_number_and_the_unit_stated(tmp_path):
    text = "0,0,299.53\n1,0,300.53\n"
    by_number = 'frames.time = "1" and frames.columns = { "1" = "2" } (numbers of columns, from 1)'
    assert refused(tmp_path, text) == [
        f"session.toml: frames.time: run.csv has no headings. Say which column is which: {by_number}."
    ]
    assert refused(tmp_path, text, time="1") == [
        f"session.toml: frames.columns: run.csv has no headings. Say which column is which: {by_number}."
    ]
    assert refused(tmp_path, text, time="1", columns={"A": "3"}) == [
        "session.toml: frames.unit: run.csv has no headings, and nothing states the unit of its values. "
        'Write unit = "C", "F" or "K".'
    ]
    assert refused(tmp_path, text, time="1", columns={"A": "4"}, unit="K") == [
        'session.toml: frames.columns.A: no column of run.csv is "4". Headings: none.'
    ]
    found = opened(tmp_path, text, time="1", columns={"A": "3"}, unit="K")
    assert of_pin(found, "A") == pytest.approx([26.38, 27.38])


def test_headings_that_are_not_there_are_refused_with_the_nearest(tmp_path):
    text = "Time (s),TC1,TC2\n0,20,21\n"
    assert refused(tmp_path, text) == [
        'session.toml: frames.time: no column of run.csv is headed "time_s", found "Time (s)", "TC1", "TC2". '
        'The nearest heading is "Time (s)".'
    ]
    assert refused(tmp_path, text, time="Time (s)", columns={"1": "TC11", "2": "probe"}) == [
        'session.toml: frames.columns.1: no column of run.csv is "TC11". The nearest heading is "TC1".',
        'session.toml: frames.columns.2: no column of run.csv is "probe". Headings: "Time (s)", "TC1", "TC2".',
    ]
    assert refused(tmp_path, text, time="Time (s)", columns={"1": "TC1", "2": "TC1"}) == [
        'session.toml: frames.columns.2: the column "TC1" is already that of pin "1". '
        "Give every pin a column of its own."
    ]


def test_pins_headed_by_numbers_under_another_word_for_the_time(tmp_path):
    text = "Time,1,2\n0,20,21\n1,22,23\n"
    assert refused(tmp_path, text) == [
        'session.toml: frames.time: no column of run.csv is headed "time_s", found "Time", "1", "2". '
        'The nearest heading is "Time".'
    ]
    assert of_pin(opened(tmp_path, text, time="Time"), "2") == [21.0, 23.0]


def test_pins_of_the_session_come_first_and_one_without_a_column_is_told(tmp_path):
    toml = '[[pin]]\nname = "3"\n[[pin]]\nname = "1"\n[[pin]]\nname = "9"\n'
    found = opened(tmp_path, "time_s,1,2,3\n0,20,21,22\n", toml)
    assert found.readings["pin"].tolist() == ["3", "1", "2"]
    assert say_all(found.notices) == ["Pin 9 has no column in run.csv: nothing is measured of it."]


def test_headings_that_fit_no_pin_of_the_session_are_refused(tmp_path):
    assert refused(tmp_path, "time_s,TC1\n0,20\n", '[[pin]]\nname = "1"\n') == [
        'session.toml: frames.columns: run.csv has the columns "time_s", "TC1": none is headed as a pin of the '
        'session (1). Say which column is which pin: columns = { "1" = "heading" }.'
    ]


def test_names_that_refer_to_no_heading_are_refused(tmp_path):
    toml = '[[stage]]\nname = "full"\namps = { "TC1" = 9.0, "TX2" = 9.0 }\n[[check]]\npin = "TC9"\nkind = "fit"\n'
    assert refused(tmp_path, "time_s,TC1,TC2\n0,20,21\n", toml) == [
        'session.toml: stage 1 "full": amps.TX2: no pin is called "TX2". The nearest name is "TC2".',
        'session.toml: check 1: pin: no pin is called "TC9". The nearest name is "TC2".',
    ]


def test_a_heading_twice_a_column_without_numbers_and_a_table_without_any(tmp_path):
    assert refused(tmp_path, "time_s,A,A\n0,20,21\n") == [
        "run.csv: A: two columns have this heading. Give every column a heading of its own."
    ]
    assert opened(tmp_path, "time_s,A,note\n0,20,on\n").readings["pin"].tolist() == ["A"]
    (told,) = refused(tmp_path, "time_s,A\n0,on\n")
    assert told.startswith('session.toml: frames.columns: run.csv has the columns "time_s", "A": no values.')
    assert refused(tmp_path, "time_s,A\n0,on\n", columns={"1": "A"}) == [
        "run.csv: holds no temperature. Check frames.columns."
    ]


def test_a_column_of_times_without_a_time_is_refused(tmp_path):
    assert refused(tmp_path, "time_s,A\nnoon,20\n") == [
        'session.toml: frames.time: the column of times of run.csv holds no time, such as "noon". '
        "Write seconds, hh:mm:ss, or year-month-day hh:mm:ss."
    ]


def test_the_file_must_be_one(tmp_path):
    (tmp_path / "a.csv").write_text("time_s,1\n0,20\n")
    (tmp_path / "log.csv").write_text("time_s,amps\n0,20\n")
    only = open_table(Session.load(tmp_path, {"frames": {"reading": "table"}}))
    assert only.readings["file"].tolist() == ["a.csv#0"]
    (tmp_path / "b.csv").write_text("time_s,1\n0,20\n")
    with pytest.raises(InputError, match=r"frames\.files: 2 files fit \*\.csv\. Name the one CSV that holds the table"):
        open_table(Session.load(tmp_path, {"frames": {"reading": "table"}}))
    with pytest.raises(InputError, match=r"frames\.files: no file fits c\.csv\."):
        open_table(Session.load(tmp_path, {"frames": {"reading": "table", "files": "c.csv"}}))


def test_binary_content_is_refused(tmp_path):
    (tmp_path / "run.csv").write_bytes(b"PK\0\0\1\2")
    with pytest.raises(InputError, match=r"run\.csv: is no text\."):
        open_table(Session.load(tmp_path, {"frames": {"files": "run.csv", "reading": "table"}}))
