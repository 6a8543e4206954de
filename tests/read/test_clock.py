"""When each frame was taken: the first source that there is, sorted, and nothing mended in silence."""

import datetime
import os
from pathlib import Path

import pytest
from PIL import Image

from hotspot.doubts import names as doubt_names
from hotspot.errors import InputError
from hotspot.read.clock import Clocked, natural_order, stamp_frames
from hotspot.session import Clock, Frames, Session
from hotspot.tell.words import say_all


def session(folder: Path, frames_offset_s: float = 0.0, **frames: object) -> Session:
    return Session(folder=folder, frames=Frames(**frames), clock=Clock(frames_offset_s=frames_offset_s))


def touch(folder: Path, *names: str) -> list[Path]:
    """Files whose dates are one second apart in the order given."""
    paths = [folder / name for name in names]
    for k, path in enumerate(paths):
        path.write_bytes(b"")
        os.utime(path, (1_770_000_000 + k, 1_770_000_000 + k))
    return paths


def picture(path: Path, taken: str, subsec: str | None = None, offset: str | None = None) -> Path:
    tags = {0x9003: taken, 0x9291: subsec, 0x9011: offset}
    exif = Image.Exif()
    exif[0x8769] = {tag: value for tag, value in tags.items() if value is not None}
    Image.new("L", (4, 4)).save(path, exif=exif)
    return path


def files(clocked: Clocked) -> list[str]:
    return [stamp.file for stamp in clocked.stamps]


def times(clocked: Clocked) -> list[float]:
    return [stamp.time_s for stamp in clocked.stamps]


def codes(clocked: Clocked) -> list[str]:
    say_all(clocked.notices)  # every one of them has a sentence that its values fill
    return [notice.code for notice in clocked.notices]


def stamped(folder: Path, *names: str, **frames: object) -> Clocked:
    return stamp_frames(session(folder, **frames), names, touch(folder, *names), None)


def test_natural_order_puts_2_before_10():
    names = ["frame10.png", "Frame2.png", "frame1.png", "a.png"]
    assert [names[k] for k in natural_order(names)] == ["a.png", "frame1.png", "Frame2.png", "frame10.png"]


def test_every_s_counts_files_in_natural_order_and_stands_above_all_others(tmp_path):
    (tmp_path / "frames.csv").write_text("file,time_s\nf10.png,0\nf2.png,1\n")
    clocked = stamped(tmp_path, "f10.png", "f2.png", every_s=5.0, start_s=3.0)
    assert (files(clocked), times(clocked), clocked.source) == (["f2.png", "f10.png"], [3.0, 8.0], "every_s")
    assert clocked.order == (1, 0)
    assert (codes(clocked), clocked.inputs) == ([], {})


def test_every_s_keeps_the_order_of_a_container(tmp_path):
    names = [f"test.npy#{k}" for k in range(12)]
    clocked = stamp_frames(session(tmp_path, every_s=2.0), names, None, [9.0 - k for k in range(12)])
    assert files(clocked) == names
    assert times(clocked) == [2.0 * k for k in range(12)]


def test_frames_csv_stands_above_own_times_and_its_first_frame_is_at_start_s(tmp_path):
    (tmp_path / "frames.csv").write_text("file;time_s\nstack.tif#1;102,5\nstack.tif#0;100\n")
    clocked = stamp_frames(session(tmp_path, start_s=7.0), ["stack.tif#0", "stack.tif#1"], None, [0.0, 1.0])
    assert (clocked.source, times(clocked)) == ("frames.csv", [7.0, 9.5])
    assert list(clocked.inputs) == ["frames.csv"]
    assert len(clocked.inputs["frames.csv"]) == 64


def test_rows_of_frames_csv_that_run_backwards_are_told(tmp_path):
    (tmp_path / "frames.csv").write_text("file,time_s\na.png,0\nb.png,20\nc.png,10\n")
    clocked = stamped(tmp_path, "a.png", "b.png", "c.png")
    assert files(clocked) == ["a.png", "c.png", "b.png"]
    assert [(n.code, n.frames) for n in clocked.notices] == [("clock_backwards", (1,))]
    assert say_all(clocked.notices) == [
        "The clock (frames.csv) runs backwards at 1 of the frames (c.png): "
        "they were sorted into place by their times, and those times are in doubt."
    ]


def test_rows_of_frames_csv_may_stand_in_another_order_than_the_names(tmp_path):
    (tmp_path / "frames.csv").write_text("file,time_s\nc.png,0\na.png,10\nb.png,20\n")
    clocked = stamped(tmp_path, "a.png", "b.png", "c.png")
    assert files(clocked) == ["c.png", "a.png", "b.png"]
    assert codes(clocked) == []


def test_frames_that_frames_csv_lacks_are_set_aside_and_told(tmp_path):
    (tmp_path / "frames.csv").write_text("file,time_s\nframes/a.png,0\nb.png,?\nz.png,3\na.png,9\n")
    clocked = stamped(tmp_path, "a.png", "b.png", "c.png")
    assert files(clocked) == ["a.png"]
    assert codes(clocked) == ["frames_csv_unknown", "frames_csv_twice", "frames_without_time"]
    assert [notice.values["files"] for notice in clocked.notices] == [["z.png"], ["a.png"], ["b.png", "c.png"]]


def test_a_frames_csv_that_fits_no_frame_is_refused(tmp_path):
    (tmp_path / "frames.csv").write_text("file,time_s\nz.png,0\n")
    with pytest.raises(
        InputError, match=r"frames\.csv: file: gives a time for none of the 1 frames \(such as a\.png\)\."
    ):
        stamped(tmp_path, "a.png")


def test_a_frames_csv_without_its_columns_is_refused(tmp_path):
    (tmp_path / "frames.csv").write_text("name,time_s\na.png,0\n")
    with pytest.raises(InputError, match=r"file: there is no such column\. Write the headings file,time_s\."):
        stamped(tmp_path, "a.png")


def test_own_times_of_a_video_are_sorted_and_told_where_backward_doubled_or_missing(tmp_path):
    names = [f"v.avi#{k}" for k in range(6)]
    own = [10.0, 11.0, 10.5, 12.0, 12.0, float("nan")]
    clocked = stamp_frames(session(tmp_path), names, None, own)
    assert clocked.source == "own time stamps"
    assert files(clocked) == ["v.avi#0", "v.avi#2", "v.avi#1", "v.avi#3", "v.avi#4"]
    assert times(clocked) == [0.0, 0.5, 1.0, 2.0, 2.0]
    assert [doubt_names(stamp.doubts) for stamp in clocked.stamps] == [
        [], ["clock_mended"], [], ["clock_mended"], ["clock_mended"],
    ]  # fmt: skip
    assert [(n.code, n.frames) for n in clocked.notices] == [
        ("clock_backwards", (1,)), ("clock_doubled", (3, 4)), ("frames_without_time", ()),
    ]  # fmt: skip
    assert clocked.notices[2].values["files"] == ["v.avi#5"]
    codes(clocked)


@pytest.mark.parametrize(
    ("first", "second", "step"),
    [
        ("IMG_20260311_142030.png", "IMG_20260311_142035.png", 5.0),
        ("cam 2026-03-11_14-20-30.csv", "cam 2026-03-11_14-20-35.csv", 5.0),
        ("2026-03-11T142030.tif", "2026-03-11T142035.tif", 5.0),
        ("20260311_235959.png", "20260312_000004.png", 5.0),
        ("20260311_142030.25.png", "20260311_142030.750.png", 0.5),
        ("2026-03-11_14-20-30,5.png", "2026-03-11_14-20-31,5.png", 1.0),
        ("2026-03-11T142030.png", "2026-03-11T142030.125.png", 0.125),
    ],
)
def test_a_date_time_in_the_names(tmp_path, first, second, step):
    clocked = stamped(tmp_path, second, first, start_s=2.0)
    assert (files(clocked), clocked.source) == ([first, second], "names")
    assert times(clocked) == [2.0, 2.0 + step]
    assert codes(clocked) == []
    assert clocked.stamps[0].clock.replace(microsecond=0) in {
        datetime.datetime(2026, 3, 11, 14, 20, 30), datetime.datetime(2026, 3, 11, 23, 59, 59),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("120260311_142030.png", "120260311_142035.png"),  # a digit glued on in front
        ("20260311_1420301.png", "20260311_1420351.png"),  # and behind
        ("20261311_142030.png", "20261311_142035.png"),  # there is no month 13
        ("20260311-142030.png", "20260311-142035.png"),  # no such form
    ],
)
def test_what_only_looks_like_a_date_time_is_none(tmp_path, first, second):
    assert stamped(tmp_path, first, second).source == "file date"


def test_names_with_a_counter_that_contradicts_their_times_are_told(tmp_path):
    clocked = stamped(tmp_path, "1_20260311_142030.png", "2_20260311_142020.png", "10_20260311_142040.png")
    assert files(clocked)[0] == "2_20260311_142020.png"
    assert [(n.code, n.frames) for n in clocked.notices] == [("clock_backwards", (0,))]


def test_doubled_date_times_stay_and_are_told(tmp_path):
    clocked = stamped(tmp_path, "b_20260311_142030.png", "a_20260311_142030.png", "a_20260311_142031.png")
    assert times(clocked) == [0.0, 0.0, 1.0]
    assert files(clocked)[:2] == ["a_20260311_142030.png", "b_20260311_142030.png"]
    assert [(n.code, n.frames) for n in clocked.notices] == [("clock_doubled", (0, 1))]


def test_names_stand_above_exif(tmp_path):
    paths = [picture(tmp_path / f"20260311_14203{k}.jpg", f"2026:03:11 15:00:0{9 - k}") for k in range(3)]
    clocked = stamp_frames(session(tmp_path), [path.name for path in paths], paths, None)
    assert (clocked.source, times(clocked)) == ("names", [0.0, 1.0, 2.0])


@pytest.mark.parametrize("suffix", ["jpg", "png"])
def test_exif_with_fractions_of_a_second(tmp_path, suffix):
    paths = [picture(tmp_path / f"f{k}.{suffix}", f"2026:03:11 14:20:3{k}", "25" if k else None) for k in range(3)]
    clocked = stamp_frames(session(tmp_path, frames_offset_s=-30.0), [path.name for path in paths], paths, None)
    assert (clocked.source, times(clocked)) == ("exif", [0.0, 1.25, 2.25])
    assert clocked.stamps[0].clock == datetime.datetime(2026, 3, 11, 14, 20, 0)
    assert codes(clocked) == []


def test_exif_offsets_hold_the_time_together_when_the_zone_changes(tmp_path):
    paths = [
        picture(tmp_path / "f1.jpg", "2026:10:25 02:59:50", None, "+02:00"),
        picture(tmp_path / "f2.jpg", "2026:10:25 02:00:10", None, "+01:00"),
    ]
    clocked = stamp_frames(session(tmp_path), ["f1.jpg", "f2.jpg"], paths, None)
    assert times(clocked) == [0.0, 20.0]
    assert clocked.stamps[0].clock == datetime.datetime(2026, 10, 25, 2, 59, 50)


def test_exif_tags_are_those_of_pillows_table():
    from PIL import ExifTags

    assert [ExifTags.TAGS[tag] for tag in (0x9003, 0x9011, 0x9291)] == [
        "DateTimeOriginal", "OffsetTimeOriginal", "SubsecTimeOriginal",
    ]  # fmt: skip
    assert ExifTags.IFD.Exif == 0x8769


def test_exif_that_runs_backwards_along_the_names_is_told(tmp_path):
    paths = [picture(tmp_path / f"f{k}.jpg", f"2026:03:11 14:20:{s}") for k, s in ((1, 30), (2, 50), (10, 40))]
    clocked = stamp_frames(session(tmp_path), [path.name for path in paths], paths, None)
    assert files(clocked) == ["f1.jpg", "f10.jpg", "f2.jpg"]
    assert [(n.code, n.frames) for n in clocked.notices] == [("clock_backwards", (1,))]


def test_a_few_pictures_without_exif_do_not_send_all_to_the_file_date(tmp_path):
    paths = [picture(tmp_path / f"f{k}.jpg", f"2026:03:11 14:20:3{k}") for k in range(3)]
    paths += touch(tmp_path, "f3.jpg")
    clocked = stamp_frames(session(tmp_path), [path.name for path in paths], paths, None)
    assert (clocked.source, len(clocked.stamps)) == ("exif", 3)
    assert clocked.notices[0].values["files"] == ["f3.jpg"]
    assert codes(clocked) == ["frames_without_time"]


def test_blank_exif_and_no_picture_have_no_time(tmp_path):
    paths = [picture(tmp_path / f"f{k}.jpg", "0000:00:00 00:00:00") for k in range(2)]
    assert stamp_frames(session(tmp_path), ["f0.jpg", "f1.jpg"], paths, None).source == "file date"


def test_the_file_date_is_assumed_and_said_so(tmp_path):
    clocked = stamped(tmp_path, "b.png", "c.png", "d.png", start_s=4.0)
    assert (clocked.source, times(clocked)) == ("file date", [4.0, 5.0, 6.0])
    assert {stamp.doubts for stamp in clocked.stamps} == {clocked.stamps[0].doubts}
    assert doubt_names(clocked.stamps[0].doubts) == ["clock_assumed"]
    assert say_all(clocked.notices) == [
        "The times of the 3 frames are the dates of their files: assumed, not recorded, and copying files can "
        "change them. State frames.every_s, or add frames.csv with file and time_s."
    ]


def test_a_single_frame_needs_no_time(tmp_path):
    clocked = stamped(tmp_path, "only.png", start_s=2.0)
    assert (times(clocked), codes(clocked), clocked.stamps[0].doubts) == ([2.0], [], 0)
    assert times(stamp_frames(session(tmp_path), ["s.npy#0"], None, None)) == [0.0]


def test_a_stack_that_nothing_says_the_times_of_is_refused(tmp_path):
    told = (
        r"frames\.every_s: nothing says when each of the 2 frames of s\.npy was taken\. State frames\.every_s "
        r"\(or --every\), or add frames\.csv with the columns file and time_s\."
    )
    with pytest.raises(InputError, match=told):
        stamp_frames(session(tmp_path), ["s.npy#0", "s.npy#1"], None, None)
    with pytest.raises(InputError, match="nothing says when"):
        stamp_frames(session(tmp_path), ["s.npy#0", "s.npy#1"], None, [float("nan")] * 2)
    path = touch(tmp_path, "s.npy")[0]
    with pytest.raises(InputError, match="nothing says when"):  # one file is no clock for many frames
        stamp_frames(session(tmp_path), ["s.npy#0", "s.npy#1"], [path, path], None)


def test_no_frame_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"frames\.files: there is no frame\. Check frames\.files\."):
        stamp_frames(session(tmp_path), [], None, None)


def test_the_offset_moves_the_clock_and_not_the_session(tmp_path):
    names = ["20260311_142030.png", "20260311_142040.png"]
    clocked = stamp_frames(session(tmp_path, frames_offset_s=90.0), names, touch(tmp_path, *names), None)
    assert times(clocked) == [0.0, 10.0]
    assert [stamp.clock for stamp in clocked.stamps] == [
        datetime.datetime(2026, 3, 11, 14, 22, 0), datetime.datetime(2026, 3, 11, 14, 22, 10),
    ]  # fmt: skip


def test_with_every_s_the_clock_of_the_first_frame_still_comes_from_its_name(tmp_path):
    clocked = stamped(tmp_path, "20260311_142030.png", "20260311_142041.png", every_s=10.0)
    assert times(clocked) == [0.0, 10.0]
    assert clocked.stamps[1].clock == datetime.datetime(2026, 3, 11, 14, 20, 40)
    video = stamp_frames(session(tmp_path), ["20260311_142030.avi#0", "20260311_142030.avi#1"], None, [0.0, 0.5])
    assert video.stamps[1].clock == datetime.datetime(2026, 3, 11, 14, 20, 30, 500000)


def test_without_any_clock_the_frames_have_none(tmp_path):
    assert stamped(tmp_path, "a.png", "b.png", every_s=1.0).stamps[0].clock is None


def test_long_lists_of_files_are_cut_and_counted(tmp_path):
    names = [f"v.avi#{k}" for k in range(20)]
    clocked = stamp_frames(session(tmp_path), names, None, [0.0] + [5.0] * 19)
    assert clocked.notices[0].values["files"][-1] == "13 more"
    assert len(clocked.notices[0].frames) == 19
