"""Counts through a calibration file: the law, its range, its age, and what is refused."""

import datetime

import numpy as np
import pytest
import tifffile

from hotspot.calibration import flat_band, sakuma_hattori
from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read import open_recording
from hotspot.read.calibration_file import read_calibration
from hotspot.session import Session

LINEAR = """
kind = "linear"
camera = "bench camera"
date = 2026-01-10
valid_days = 60
[range]
low = 5000
high = 12000
[law]
gain = 0.01
offset = -40.0
[uncertainty]
level_k = 0.4
slope = 0.01
pivot_c = 50.0
shape_k = 0.1
"""


def opened(folder, text, counts, **more):
    (folder / "calibration").mkdir(exist_ok=True)
    (folder / "calibration" / "bench.toml").write_text(text, encoding="utf-8")
    tifffile.imwrite(folder / "a.tif", np.asarray(counts, np.uint16))
    frames = {"files": "a.tif", "calibration": "calibration/bench.toml", "every_s": 1.0}
    return open_recording(Session.model_validate({"frames": frames, **more}).model_copy(update={"folder": folder}))


def read(recording):
    (frame,) = recording.frames()
    rows, columns = (axis.ravel() for axis in np.indices(frame.shape))
    return frame.pixels.at(rows, columns)


def test_a_linear_file_gives_degrees_and_doubts_what_lies_outside(tmp_path):
    recording = opened(tmp_path, LINEAR, [[4999, 5000], [12000, 12001]])
    celsius, doubts, step = read(recording)
    assert celsius == pytest.approx([9.99, 10.0, 80.0, 80.01])
    assert list((doubts & BIT["beyond_calibration"]) != 0) == [True, False, False, True]
    assert step == pytest.approx(np.full(4, 0.01 / np.sqrt(12)))
    assert set(recording.inputs) == {"a.tif", "calibration/bench.toml"}
    assert recording.settings["calibration"]["level_k"] == 0.4


def test_sakuma_hattori_counts_come_back_as_they_were_made(tmp_path):
    """Forward and back through the law; its numbers for 8-14 um are checked in tests/published."""
    truth = np.array([[0.0, 25.0], [80.0, 140.0]])
    a, b = flat_band(8.0, 14.0)
    counts = np.rint(sakuma_hattori(truth, a, b, 4e5))
    law = f"A_um = {a!r}\nB_um_k = {b!r}\nC = 4e5"
    text = f'kind = "sakuma-hattori"\n[range]\nlow = 500\nhigh = 60000\n[law]\n{law}\n[uncertainty]\nlevel_k = 0.5\n'
    celsius, doubts, step = read(opened(tmp_path, text, counts))
    assert np.all(doubts == 0)
    assert np.abs(celsius - truth.ravel()).max() <= np.sqrt(12) * step.max() / 2 + 1e-9
    assert step[0] > step[3]  # a count is worth more kelvin where the signal is flat


def test_a_table_that_falls_is_read_and_carried_on(tmp_path):
    law = "readings = [1000, 3000, 2000]\ncelsius = [100.0, 0.0, 60.0]"
    text = f'kind = "table"\n[range]\nlow = 1000\nhigh = 3000\n[law]\n{law}\n[uncertainty]\nlevel_k = 0.5\n'
    recording = opened(tmp_path, text, [[500, 1500, 2500, 3500, 65535]])
    celsius, doubts, _ = read(recording)
    assert celsius[:4] == pytest.approx([120.0, 80.0, 30.0, -30.0])
    assert list((doubts & BIT["beyond_calibration"]) != 0) == [True, False, False, True, True]
    assert doubts[4] & BIT["clipped_low"]


@pytest.mark.parametrize(
    ("more", "codes"),
    [
        ({"job": {"date": "2026-03-01"}}, []),
        ({"job": {"date": "2026-03-31"}}, ["calibration_out_of_date"]),
        ({}, ["calibration_age_unknown"]),
        ({"job": {"date": "2026-03-01"}, "camera": {"name": "shed camera"}}, ["calibration_other_camera"]),
    ],
)
def test_its_age_and_its_camera_are_told(tmp_path, more, codes):
    recording = opened(tmp_path, LINEAR, [[6000, 6001]], **more)
    assert [notice.code for notice in recording.notices if notice.code.startswith("calibration")] == codes


def test_a_date_in_quotes_is_a_date_and_a_word_is_none(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(LINEAR.replace("2026-01-10", '"2026-01-10"'))
    assert read_calibration(path).date == datetime.date(2026, 1, 10)
    path.write_text(LINEAR.replace("2026-01-10", '"last spring"'))
    with pytest.raises(InputError, match="date"):
        read_calibration(path)


def test_how_far_past_its_date():
    from hotspot.calibration import Calibration

    made = Calibration("linear", 0, 1, (1.0, 0.0), date=datetime.date(2026, 1, 10), valid_days=60)
    assert made.overdue_days(datetime.date(2026, 3, 31)) == 20


def test_what_is_left_of_it_in_a_difference(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(LINEAR)
    made = read_calibration(path)
    assert made.uncertainty_k(50.0) == pytest.approx(np.hypot(0.4, 0.1))
    assert made.difference_k(70.0, 70.0) == 0.0
    assert made.difference_k(70.0, 30.0) == pytest.approx(np.hypot(0.01 * 40.0, 0.1 * np.sqrt(2)))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("low = 5000", "low = 12000", "range"),
        ("gain = 0.01", "gain = 0.0", "law.gain"),
        ("gain = 0.01\n", "", "law"),
        ("gain = 0.01", "gain = 0.01\nC = 3.0", "not C"),
        ("level_k = 0.4\n", "", "uncertainty.level_k"),
        ("level_k = 0.4", "level_k = -0.4", "uncertainty.level_k"),
        ('kind = "linear"', 'kind = "cubic"', "kind"),
        ("offset = -40.0", "offset = nan", "law.offset"),
        ("offset = -40.0", "offset = -4000.0", "no temperature"),
        ("[law]", "[law", "no TOML"),
        ("valid_days = 60", "valid_days = 60\nvalid_for = 3", "valid_for"),
    ],
)
def test_faults_are_refused_by_name(tmp_path, old, new, said):
    with pytest.raises(InputError) as caught:
        opened(tmp_path, LINEAR.replace(old, new), [[6000, 6001]])
    assert said in str(caught.value)
    assert "bench.toml" in str(caught.value)


def test_a_file_that_is_not_there_and_a_gain_beside_it(tmp_path):
    tifffile.imwrite(tmp_path / "b.tif", np.zeros((2, 2), np.uint16))
    for more, said in (({}, "no such calibration"), ({"gain": 1.0}, "gain or offset")):
        frames = {"files": "b.tif", "calibration": "none.toml", **more}
        session = Session.model_validate({"frames": frames}).model_copy(update={"folder": tmp_path})
        with pytest.raises(InputError, match=said):
            open_recording(session)
