"""Whatever stands in the files beside the frames, the answer is a session, a table or a refusal: never a traceback."""

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hotspot.errors import MOST_LINES, InputError
from hotspot.read.clock import stamp_frames
from hotspot.read.log import read_log
from hotspot.read.moments import clock_time, clock_times, in_name, later
from hotspot.read.session_file import known_keys, load
from hotspot.read.table import open_table
from hotspot.session import Session
from hotspot.tell.words import say_all

LISTS = ("pin", "stage", "region", "check", "event")
KEYS = [name for name, _ in known_keys()] + ["zzz", "folder", "scale", "pin", "stage", "frames", "job.zzz"]
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.just(10**400),
    st.floats(),
    st.text(max_size=5),
    st.sampled_from(["C", "equal", "1", "find", "14:20:30"]),
    st.dates(),
    st.times(),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(["1", "name", "rows"]), inner, max_size=2)
    ),
    max_leaves=4,
)
WORDS = st.sampled_from(
    ["time_s", "time", "file", "amps", "ambient", "1", "2", "0", "3.5", "-1", "1,5", "14:20:30", "25:61:00", "", "x",
     "2026-03-11 14:20:30", "2026-13-45 14:20", "11/03/2026 1:00 PM", "30.02.2026 10:00", "0001-01-01 00:00:00",
     "nan", "1e999", "inf", '"', '"a,b"', "#", "a.png", "b.png", "\x00", "é", "9" * 30]
)  # fmt: skip
TABLES = st.lists(st.lists(WORDS, max_size=4), max_size=6)
QUICK = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def nested(pairs: dict[str, object]) -> dict:
    raw: dict = {}
    for key, value in pairs.items():
        table, _, inner = key.partition(".")
        if not inner:
            raw[table] = value
        elif table in LISTS:
            at = raw.setdefault(table, [{}])
            if isinstance(at, list) and at and isinstance(at[-1], dict):
                at[-1][inner] = value
        else:
            at = raw.setdefault(table, {})
            if isinstance(at, dict):
                at[inner] = value
    return raw


def outcome(call: Callable[[], Any]) -> tuple[Any, tuple]:
    """(result, no problems) or (None, the problems of the refusal); any other exception passes through."""
    try:
        return call(), ()
    except InputError as refused:
        return None, refused.problems


@QUICK
@given(pairs=st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=6))
def test_any_keys_make_a_session_or_a_refusal(tmp_path: Path, pairs):
    session, problems = outcome(lambda: load(tmp_path, nested(pairs)))
    assert (session is None) == bool(problems)
    assert len(str(InputError(problems)).splitlines()) <= MOST_LINES
    assert session is None or session.folder == tmp_path


@QUICK
@given(
    rows=TABLES,
    heading=st.sampled_from(["", "time_s,amps,ambient\n", "time;1;2\n", "file,time_s\n"]),
    separator=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-16"]),
    frames=st.sampled_from([{}, {"time": "time"}, {"time": "1", "columns": {"a": "2"}, "unit": "K"}, {"every_s": 1.0}]),
)
def test_any_table_is_read_or_refused_and_all_that_is_said_has_words(
    tmp_path: Path, rows, heading, separator, encoding, frames
):
    text = heading + "\n".join(separator.join(row) for row in rows)
    for name in ("log.csv", "frames.csv", "run.csv"):
        (tmp_path / name).write_bytes(text.encode(encoding))
    session = Session(folder=tmp_path)
    paths = [tmp_path / "a.png", tmp_path / "b.png"]
    attempts = (
        lambda: read_log(session, datetime.datetime(2026, 3, 11, 14, 20)),
        lambda: read_log(session, None),
        lambda: stamp_frames(session, ["a.png", "b.png"], paths, None),
        lambda: open_table(load(tmp_path, {"frames": {"files": "run.csv", "reading": "table", **frames}})),
    )
    for attempt in attempts:
        found, problems = outcome(attempt)
        assert (found is None) == bool(problems)
        assert found is None or len(say_all(found.notices)) == len(found.notices)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("14:20", datetime.time(14, 20)),
        ("14:20:30,5", datetime.time(14, 20, 30, 500000)),
        ("12:00 am", datetime.time(0, 0)),
        ("12:30 p.m.", datetime.time(12, 30)),
        ("2026-03-11 14:20", datetime.datetime(2026, 3, 11, 14, 20)),
        ("2026/3/11, 14:20:30.25", datetime.datetime(2026, 3, 11, 14, 20, 30, 250000)),
        ("11.3.2026 14:20", datetime.datetime(2026, 3, 11, 14, 20)),
        ("3/11/2026 14:20", datetime.datetime(2026, 3, 11, 14, 20)),
        ("24:00", None),
        ("13:00 PM", None),
        ("14.20", None),
        ("2026-02-30 14:20", None),
        ("2026-03-11 25:20", None),
        ("1026-03-11 14:20", None),
        ("noon", None),
    ],
)
def test_clock_times_as_people_and_loggers_write_them(text, wanted):
    assert clock_time(text) == wanted


def test_day_and_month_are_told_apart_by_the_shorter_test():
    assert clock_times(["11/03/2026 23:59", "12/03/2026 00:01"])[1] == datetime.datetime(2026, 3, 12, 0, 1)
    assert clock_times(["03/11/2026 23:59", "03/12/2026 00:01"])[1] == datetime.datetime(2026, 3, 12, 0, 1)
    assert clock_times(["25/03/2026 10:00"]) == [datetime.datetime(2026, 3, 25, 10, 0)]


def test_a_year_that_no_clock_was_set_to_is_no_time():
    assert in_name("10260311_142030.png", 0) is None
    assert later(datetime.datetime(2026, 1, 1), 1e300) is None
    assert later(None, 1.0) is None
