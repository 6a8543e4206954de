"""log.csv on the session's time: seconds or clock times, the session's unit, broken lines left out and told."""

import datetime
from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import InputError
from hotspot.read.log import LogTable, at_times, read_log
from hotspot.session import Clock, Frames, Session
from hotspot.tell.words import say_all

CLOCK = datetime.datetime(2026, 3, 11, 14, 20, 0)


def log(folder: Path, text: str, first: datetime.datetime | None = CLOCK, **session: object) -> LogTable:
    (folder / "log.csv").write_text(text, encoding="utf-8")
    found = read_log(Session(folder=folder, **session), first)
    say_all(found.notices)
    return found


def refused(folder: Path, text: str) -> str:
    with pytest.raises(InputError) as error:
        log(folder, text)
    return str(error.value).replace(f"{folder}/", "")


def column(found: LogTable, name: str) -> list[float]:
    return found.table[name].tolist()


def test_without_a_log_there_is_none(tmp_path):
    assert read_log(Session(folder=tmp_path), CLOCK) is None


def test_seconds_volts_amps_and_ambient(tmp_path):
    found = log(tmp_path, "time_s,volts,amps,ambient\n0,24.5,36.0,21.0\n10,24.4,35.5,21.5\n")
    assert column(found, "time_s") == [0.0, 10.0]
    assert column(found, "volts") == [24.5, 24.4]
    assert column(found, "amps") == [36.0, 35.5]
    assert column(found, "ambient_c") == [21.0, 21.5]
    assert found.notices == []
    assert list(found.inputs) == ["log.csv"]
    times, ambient = found.ambient()
    assert (times.tolist(), ambient.tolist()) == ([0.0, 10.0], [21.0, 21.5])


def test_columns_that_are_not_there_are_not_known(tmp_path):
    found = log(tmp_path, "time_s,volts,remark\n0,24.5,on\n")
    assert np.isnan(column(found, "amps")).all()
    assert found.ambient() is None


def test_ambient_is_in_the_unit_of_the_session(tmp_path):
    assert column(log(tmp_path, "time_s,ambient\n0,68\n10,212\n", units="F"), "ambient_c") == pytest.approx([20, 100])
    assert column(log(tmp_path, "time_s,ambient\n0,293.15\n", units="K"), "ambient_c") == pytest.approx([20])
    (tmp_path / "session.toml").write_text("", encoding="utf-8")
    read_in_f = read_log(Session.load(tmp_path, {"units": "F"}), CLOCK)
    assert column(read_in_f, "ambient_c") == [293.15]  # the file was written in °C whatever is read


def test_semicolons_decimal_commas_and_a_mark_in_front(tmp_path):
    found = log(tmp_path, "\ufeffTime_s; Amps ;Ambient\n0;36,5;21,25\n")
    assert (column(found, "amps"), column(found, "ambient_c")) == ([36.5], [21.25])


def test_clock_times_are_laid_against_the_first_frame(tmp_path):
    found = log(tmp_path, "time,amps\n14:19:50,1\n14:20:05.5,2\n", frames=Frames(start_s=100.0))
    assert column(found, "time_s") == [90.0, 105.5]


def test_the_offset_is_added_to_clock_times_and_not_to_seconds(tmp_path):
    shifted = {"clock": Clock(log_offset_s=-60.0)}
    assert column(log(tmp_path, "time,amps\n14:21:00,1\n", **shifted), "time_s") == [0.0]
    assert column(log(tmp_path, "time_s,amps\n5,1\n", **shifted), "time_s") == [5.0]


def test_full_date_times_in_three_ways_of_writing(tmp_path):
    for written in ("2026-03-11 14:20:10", "2026-03-11T14:20:10+01:00", "11.03.2026 14:20:10", "3/11/2026 2:20:10 PM"):
        assert column(log(tmp_path, f"time;amps\n{written};1\n"), "time_s") == [10.0]


def test_a_log_across_midnight(tmp_path):
    late = datetime.datetime(2026, 3, 12, 0, 0, 10)
    found = log(tmp_path, "time,amps\n23:59:50,1\n00:00:00,2\n00:00:20,3\n", late)
    assert column(found, "time_s") == [-20.0, -10.0, 10.0]


def test_clock_times_without_a_clock_of_the_frames_are_told(tmp_path):
    found = log(tmp_path, "time,amps\n14:20:00,1\n", None)
    assert len(found.table) == 0
    assert say_all(found.notices) == [
        "log.csv gives clock times, but the frames' clock is not known: the log was left out. "
        "Add time_s to it, in seconds of the session."
    ]


def test_broken_lines_are_left_out_with_their_numbers(tmp_path):
    found = log(tmp_path, "time_s,amps,ambient\n0,36,21\n10,OL,21\nxx,36,21\n30\n\n40,36,\n50,36,21\n")
    assert column(found, "time_s") == [0.0, 40.0, 50.0]
    assert np.isnan(column(found, "ambient_c")[1])
    assert say_all(found.notices) == [
        "3 of the lines of log.csv could not be read (line 3, 4 and 5): they were left out."
    ]


def test_a_log_that_runs_backwards_is_sorted_and_told(tmp_path):
    found = log(tmp_path, "time_s,amps\n0,1\n20,3\n10,2\n")
    assert column(found, "amps") == [1.0, 2.0, 3.0]
    assert say_all(found.notices) == ["The times of log.csv run backwards at line 4: the log was sorted by time."]


def test_a_log_that_ends_before_the_first_frame_is_told(tmp_path):
    found = log(tmp_path, "time,amps\n14:00:00,1\n14:10:00,1\n")
    assert say_all(found.notices) == [
        "log.csv ends at -10:00 of the session, before the first frame: check clock.log_offset_s."
    ]


def test_a_log_with_none_of_its_columns_is_told(tmp_path):
    found = log(tmp_path, "time_s,A\n0,1\n")
    assert say_all(found.notices) == [
        "log.csv has none of the columns volts, amps and ambient: nothing is taken from it."
    ]


def test_a_log_without_a_column_of_times_is_refused(tmp_path):
    assert refused(tmp_path, "t,amps\n0,1\n") == (
        "log.csv: time_s: there is no such column, found t, amps. "
        "Head the times time_s (seconds of the session) or time (clock times)."
    )
    assert refused(tmp_path, "0,1\n10,2\n").startswith("log.csv: time_s: there is no such column, found no headings.")
    assert refused(tmp_path, "\n").startswith("log.csv: holds no rows.")


def test_a_loggers_table_may_itself_be_called_log(tmp_path):
    (tmp_path / "log.csv").write_text("Date,TC1\n14:20:00,20\n", encoding="utf-8")
    of_table = {"files": "log.csv", "reading": "table", "time": "Date", "columns": {"1": "TC1"}}
    assert read_log(Session(folder=tmp_path, frames=Frames(**of_table)), CLOCK) is None
    timed = log(tmp_path, "time_s,1,ambient\n0,20,21.5\n", frames=Frames(files="log.csv", reading="table"))
    assert column(timed, "ambient_c") == [21.5]


def test_values_between_rows_are_linear_and_those_far_outside_not_known(tmp_path):
    found = log(tmp_path, "time_s,ambient\n0,20\n10,22\n20,23\n")
    at = at_times(found, "ambient_c", np.array([-11.0, -5.0, 5.0, 15.0, 29.0, 31.0]))
    assert at[1:5].tolist() == [20.0, 21.0, 22.5, 23.0]
    assert np.isnan(at[[0, 5]]).all()
    assert np.isnan(at_times(found, "amps", np.array([5.0]))).all()


def test_a_log_of_one_row_holds_for_all_times(tmp_path):
    found = log(tmp_path, "time_s,ambient\n0,20\n")
    assert at_times(found, "ambient_c", np.array([-900.0, 900.0])).tolist() == [20.0, 20.0]
