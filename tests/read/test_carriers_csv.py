"""CSV as instruments and spreadsheets write it."""

from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import InputError
from hotspot.read import open_recording
from hotspot.session import Session

FRAME = np.array([[21.5, 22.25, 23.0], [-4.5, 1e2, 0.125]])


def opened(folder: Path, **frames: object):
    frames.setdefault("every_s", 5.0)
    said = {key: value for key, value in frames.items() if value is not None}
    return open_recording(Session.model_validate({"folder": folder, "frames": said}))


def only(folder: Path, text: str | bytes, **frames: object) -> np.ndarray:
    (folder / "f.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    (frame,) = opened(folder, **frames).frames()
    return frame.celsius()


PLAIN = "21.5,22.25,23\n-4.5,1e2,.125\n"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", ",\n"),
        "\ufeff" + PLAIN,
        PLAIN.encode("utf-16"),
        "Temperatur °C\n".encode("latin-1") + PLAIN.encode(),
        "21,5;22,25;23\n-4,5;1e2;0,125\n",
        "21,5;22,25;23;\n-4,5;1e2;0,125;\n",
        "21.5;22.25;23\n-4.5;1e2;0.125\n",
        "21.5\t22.25\t23\n-4.5\t1e2\t0.125\n",
        "2.15e1 22.25 23\n-4.5   1e2 0.125\n",
        '"21,5","22,25","23"\n"-4,5","1e2","0,125"\n',
        "bench frame\n" + PLAIN,
        "bench frame,,\n,,\n" + PLAIN,
        "a,b,c\n" + PLAIN,
        "0,1,2\n" + PLAIN,
        "3,2\n" + PLAIN,
        "\n\ntitle\n\n" + PLAIN + "\n\n",
        "Time: 12.5 s\n" + PLAIN,
        "time_s;12,5\n21,5;22,25;23\n-4,5;1e2;0,125\n",
        "2026-03-11 14:20:30\n" + PLAIN,
        ",0,1,2\n0,21.5,22.25,23\n1,-4.5,1e2,.125\n",
        "row,1,2,3\n1,21.5,22.25,23\n2,-4.5,1e2,.125\n",
    ],
)
def test_a_matrix_however_it_is_written(tmp_path, text):
    assert np.array_equal(only(tmp_path, text), FRAME)


@pytest.mark.parametrize("cell", ["", "inf", "-inf", "NaN", "n/a", "--", "OL", " "])
@pytest.mark.parametrize("place", [(0, 0), (0, 2), (1, 0), (1, 2)])
@pytest.mark.parametrize("end", ["", ","])
def test_cells_without_a_value(tmp_path, cell, place, end):
    rows = [[f"{value}" for value in row] for row in [*FRAME, *(FRAME + 1)]]
    rows[place[0]][place[1]] = cell
    found = only(tmp_path, "".join(",".join(row) + end + "\n" for row in rows))
    expected = np.array([*FRAME, *(FRAME + 1)])
    expected[place] = np.nan
    assert np.array_equal(found, expected, equal_nan=True)


def test_a_row_without_any_value_stays_a_row(tmp_path):
    found = only(tmp_path, "nan,nan,nan\n1,2,3\n,,\n4,5,6\n")
    assert found.shape == (4, 3)
    assert np.isnan(found[[0, 2]]).all()


def test_times_on_top_of_matrices(tmp_path):
    for k, top in enumerate(["time_s,100.5", "Time: 103 s", "t = 110"]):
        (tmp_path / f"f{k}.csv").write_text(f"{top}\n{PLAIN}")
    recording = opened(tmp_path, every_s=None)
    assert [stamp.time_s for stamp in recording.stamps] == [0.0, 2.5, 9.5]
    assert recording.reading == "temperature"


def test_clock_times_on_top_of_matrices(tmp_path):
    for k, top in enumerate(["2026-03-11 23:59:58.5", "2026-03-12T00:00:01"]):
        (tmp_path / f"f{k}.csv").write_text(f"{top}\n{PLAIN}")
    assert [stamp.time_s for stamp in opened(tmp_path, every_s=None).stamps] == [0.0, 2.5]


def test_a_ragged_file_is_set_aside(tmp_path):
    (tmp_path / "f0.csv").write_text(PLAIN)
    (tmp_path / "f1.csv").write_text("21.5,22.25,23\n-4.5,1e")
    (tmp_path / "f2.csv").write_text(PLAIN)
    recording = opened(tmp_path)
    assert [frame.index for frame in recording.frames()] == [0, 2]
    (notice,) = recording.notices
    assert notice.values == {"file": "f1.csv", "why": "row 2 holds 2 numbers, the first one 3"}


# Whole frames in one line


def lines(top: str = "", times: tuple = (), count: int = 3) -> tuple[str, np.ndarray]:
    frames = np.random.default_rng(3).uniform(20, 40, (count, 8, 10)).round(2)
    rows = [",".join(map(str, frame.ravel())) for frame in frames]
    rows = [f"{time},{row}" for time, row in zip(times, rows, strict=True)] if times else rows
    return top + "\n".join(rows) + "\n", frames


def test_one_line_is_one_frame_only_with_a_size(tmp_path):
    text, frames = lines(count=1)
    assert np.array_equal(only(tmp_path, text, size=[10, 8]), frames[0])
    for size, said in ((None, "80 numbers"), ([10, 9], "frames.size asks for 90")):
        with pytest.raises(InputError, match=r"frames\.size") as caught:
            only(tmp_path, text, size=size)
        assert said in str(caught.value)


def test_many_lines_are_many_frames(tmp_path):
    text, frames = lines()
    (tmp_path / "run.csv").write_text(text)
    recording = opened(tmp_path, size=[10, 8])
    assert [stamp.file for stamp in recording.stamps] == ["run.csv#0", "run.csv#1", "run.csv#2"]
    assert np.array_equal([frame.celsius() for frame in recording.frames()], frames)
    assert [frame.index for frame in recording.frames([1])] == [1]
    with pytest.raises(InputError, match="3 lines of 80 numbers"):
        opened(tmp_path)


@pytest.mark.parametrize(
    ("heading", "times", "seconds"),
    [
        ("time_s", (7.5, 8.0, 9.25), [0.0, 0.5, 1.75]),
        ("Time (sec)", ("1e1", 11, 12), [0.0, 1.0, 2.0]),
        ("time", ("23:59:59", "00:00:00.5", "00:00:01"), [0.0, 1.5, 2.0]),
    ],
)
def test_lines_with_their_times(tmp_path, heading, times, seconds):
    names = ",".join(f"P{k:04d}" for k in range(80))
    text, frames = lines(f"an array\n{heading},{names}\n", times)
    (tmp_path / "run.csv").write_text(text)
    recording = opened(tmp_path, size=[10, 8], every_s=None)
    assert [stamp.time_s for stamp in recording.stamps] == seconds
    assert np.array_equal([frame.celsius() for frame in recording.frames()], frames)


def test_a_line_that_is_cut_short_is_set_aside(tmp_path):
    text, frames = lines()
    (tmp_path / "run.csv").write_text(text[:-100])
    recording = opened(tmp_path, size=[10, 8])
    assert np.array_equal([frame.celsius() for frame in recording.frames()], frames[:2])
    assert [notice.frames for notice in recording.notices] == [(2,)]


def test_a_loggers_table_is_not_taken_for_a_picture(tmp_path):
    (tmp_path / "t.csv").write_text("time_s,P1,P2\n0,20,21\n1,20,21\n2,20,22\n")
    with pytest.raises(InputError, match='reading = "table"'):
        opened(tmp_path)


@pytest.mark.parametrize("content", [b"", b"\n\n", b"only words\nand more\n", b"\0\1\2\3" * 100])
def test_a_file_without_numbers(tmp_path, content):
    with pytest.raises(InputError, match="none of 1 frames can be read"):
        only(tmp_path, content)
