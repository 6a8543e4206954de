"""The ends of the scale, frame by frame."""

import math
from pathlib import Path

import pytest

from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read.scale import read_scale
from hotspot.session import Session

FRAMES = ["a.png", "b.png", "c.png"]


def session(folder: Path, rows: str | None = None, units: str = "C", **scale) -> Session:
    if rows is not None:
        (folder / "scale.csv").write_text(rows, encoding="utf-8")
    return Session(folder=folder, units=units, scale=scale)


def test_fixed_ends_clip_on_both_sides(tmp_path: Path) -> None:
    ends = read_scale(session(tmp_path, low=20.0, high=80.0), FRAMES).of("a.png")
    assert (ends.low, ends.high, ends.low_clips, ends.high_clips, ends.doubts) == (20.0, 80.0, True, True, 0)


def test_an_end_that_moves_clips_nothing_and_one_that_stays_does(tmp_path: Path) -> None:
    scale = read_scale(session(tmp_path, "file,low,high\na.png,20,60\nb.png,20,70\nc.png,20,70.5\n"), FRAMES)
    assert [scale.of(name).high for name in FRAMES] == [60.0, 70.0, 70.5]
    assert all(scale.of(name).low_clips and not scale.of(name).high_clips for name in FRAMES)
    assert scale.notices == []
    assert list(scale.inputs) == ["scale.csv"]


def test_both_ends_that_stay_are_fixed(tmp_path: Path) -> None:
    ends = read_scale(session(tmp_path, "file,low,high\na.png,20,60\nb.png,20,60\n"), FRAMES[:2]).of("b.png")
    assert ends.low_clips
    assert ends.high_clips


def test_table_is_in_the_sessions_unit(tmp_path: Path) -> None:
    ends = read_scale(session(tmp_path, "file,low,high\na.png,32,212\n", units="F"), ["a.png"]).of("a.png")
    assert ends.low == pytest.approx(0.0)
    assert ends.high == pytest.approx(100.0)


def test_a_frame_without_a_row_has_no_scale(tmp_path: Path) -> None:
    scale = read_scale(session(tmp_path, "file,low,high\na.png,20,60\nb.png,20,61\n"), FRAMES)
    ends = scale.of("c.png")
    assert math.isnan(ends.low)
    assert ends.doubts == BIT["scale_doubtful"]
    assert [(said.code, said.frames) for said in scale.notices] == [("scale_rows_missing", (2,))]


def test_a_frame_without_a_row_falls_back_on_stated_ends(tmp_path: Path) -> None:
    scale = read_scale(session(tmp_path, "file,low,high\na.png,20,60\n", low=10.0, high=90.0), FRAMES[:2])
    ends = scale.of("b.png")
    assert (ends.low, ends.high, ends.doubts) == (10.0, 90.0, BIT["scale_doubtful"])
    assert [said.code for said in scale.notices] == ["scale_rows_missing_fixed"]


def test_broken_and_contradicting_rows_are_left_out_and_named(tmp_path: Path) -> None:
    table = "file,low,high\na.png,20,60\nb.png,70,60\nc.png,x,60\na.png,20,65\nd.png,1,2\n"
    scale = read_scale(session(tmp_path, table, low=0.0, high=9.0), [*FRAMES, "d.png"])
    assert list(scale.rows) == ["d.png"]
    assert scale.notices[0].code == "scale_rows_broken"
    assert scale.notices[0].values["lines"] == [2, 3, 4, 5]


def test_semicolons_decimal_commas_and_a_byte_order_mark(tmp_path: Path) -> None:
    ends = read_scale(session(tmp_path, "\ufefffile;low;high\na.png;20,5;60,5\n"), ["a.png"]).of("a.png")
    assert (ends.low, ends.high) == (20.5, 60.5)


def test_rows_of_no_frame_are_said(tmp_path: Path) -> None:
    scale = read_scale(session(tmp_path, "file,low,high\na.png,20,60\nz.png,20,60\n"), ["a.png"])
    assert [(said.code, said.values["names"]) for said in scale.notices] == [("scale_rows_unused", ["z.png"])]


@pytest.mark.parametrize(
    ("table", "scale", "words"),
    [
        (None, {}, "scale.low"),
        (None, {"low": 20.0}, "scale.high"),
        (None, {"table": "ends.csv"}, "ends.csv is not there"),
        ("name,low,high\na.png,1,2\n", {}, "no column file"),
        ("file,low,high\na.png,9,2\n", {}, "line 2"),
    ],
)
def test_what_cannot_be_used_is_refused(tmp_path: Path, table, scale, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_scale(session(tmp_path, table, **scale), FRAMES)
