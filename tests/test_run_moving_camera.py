"""A hand-held test through the whole program: pins given on one frame, the camera moving, frames of something else."""

import csv
import json

import numpy as np
import pytest

from hotspot.pipeline import analyse
from hotspot.pipeline.sample import shown_frames
from hotspot.session import Session

SHAPE = (96, 128)
PINS = ((40.0, 45.0), (58.0, 45.0), (76.0, 45.0))
COUNT = 24
LOST = (9, 10)


def shifts():
    time = np.linspace(0.0, 1.0, COUNT)
    right, down = 6.0 * np.sin(6.0 * time), 4.0 * (np.cos(5.0 * time) - 1.0)
    return right - right[0], down


def frame(k, right, down):
    rows, columns = np.indices(SHAPE, dtype=float)
    x, y = columns - right, rows - down
    share = 0.2 + 0.8 * k / COUNT

    def soft(distance):
        return 1.0 / (1.0 + np.exp(distance / 0.5))

    value = 22.0 + 12.0 * share * soft(np.abs(x - 58.0) - 30.0) * soft(np.abs(y - 45.0) - 13.0)
    for number, (px, py) in enumerate(PINS):
        value += share * (10.0 + 15.0 * (number == 1)) * soft(np.hypot(x - px, y - py) - 5.0)
    return value + np.random.default_rng(k).normal(0.0, 0.05, SHAPE)


def truth(k):
    share = 0.2 + 0.8 * k / COUNT
    return 22.0 + 12.0 * share + share * np.array([10.0, 25.0, 10.0])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hand")
    right, down = shifts()
    stack = np.array([frame(k, right[k], down[k]) for k in range(COUNT)], dtype=np.float32)
    rows, columns = np.indices(SHAPE)
    for k in LOST:
        stack[k] = 22.0 + 20.0 * (np.hypot(rows - 60 + k, columns - 90) < 18) + 8.0 * (rows + columns < 60)
    np.save(folder / "stack.npy", stack)
    on = 12
    lines = ["ambient = 22.0", "[frames]", 'files = "stack.npy"', 'reading = "temperature"', "every_s = 10.0"]
    lines += ["[surface]", "emissivity = 0.95", "set_emissivity = 0.95", "[connector]", f'on = "stack.npy#{on}"']
    for number, (x, y) in enumerate(PINS):
        place = f"x = {x + right[on]:.3f}\ny = {y + down[on]:.3f}\nradius = 3.5"
        lines += ["[[pin]]", f'name = "{number + 1}"', place]
    (folder / "session.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def test_pins_given_on_one_frame_are_read_in_all(folder) -> None:
    analysis = analyse(Session.load(folder))
    table = analysis.readings
    wide = table.pivot(index="frame", columns="pin", values="temperature_c").to_numpy()
    laid = [k for k in range(COUNT) if k not in LOST]
    expected = np.array([truth(k) for k in range(COUNT)])
    assert np.abs(wide - expected)[laid].max() < 0.35
    assert np.isnan(wide[list(LOST)]).all()
    right, down = shifts()
    shift = table["shift_px"].to_numpy()[::3]
    np.testing.assert_allclose(shift[laid], np.hypot(right, down)[laid], atol=0.2)
    quality = table["quality"].to_numpy()[::3]
    assert all("not_laid_on" in quality[k].split(";") for k in LOST)
    codes = {notice.code: notice for notice in analysis.notices}
    assert codes["frames_not_laid_on"].frames == LOST
    assert "camera_moved" in codes
    first = analysis.findings.pins[0]
    assert (first.x_px, first.y_px) == pytest.approx(PINS[0], abs=0.15)


def test_a_camera_that_stood_still_reads_as_if_nothing_had_been_looked_for(folder, tmp_path) -> None:
    """Against the reader alone: the same rows to the last bit, but for shift_px."""
    from hotspot.extract import measure
    from hotspot.locate import place
    from hotspot.read import open_recording

    stack = np.array([frame(k, 0.0, 0.0) for k in range(COUNT)], dtype=np.float32)
    np.save(tmp_path / "stack.npy", stack)
    text = (folder / "session.toml").read_text(encoding="utf-8")
    (tmp_path / "session.toml").write_text(text, encoding="utf-8")
    session = Session.load(tmp_path)
    analysis = analyse(session)
    recording = open_recording(session)
    pins, shown = place(session, list(recording.frames([0]))), shown_frames(recording, analysis.stages)
    alone = measure(session, recording.frames(), pins, analysis.stages, None, shown)
    for name in ("temperature_c", "uncertainty_c", "rise_c", "pixels"):
        np.testing.assert_array_equal(analysis.readings[name], alone.readings[name])
    assert (analysis.readings["shift_px"] == 0.0).all()
    assert not {"camera_moved", "places_carried", "movement_unknown"} & {one.code for one in analysis.notices}


def test_what_moved_is_told(folder, tmp_path, hotspot_cli) -> None:
    called = hotspot_cli("run", str(folder), "--out", str(tmp_path / "out"))
    assert called.status == 0, called.err
    findings = json.loads((tmp_path / "out" / "findings.json").read_text(encoding="utf-8"))
    said = {warning["code"]: warning["text"] for warning in findings["warnings"]}
    assert "2 of 24 frames could not be laid on" in said["frames_not_laid_on"]
    with (tmp_path / "out" / "readings.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert rows[3 * LOST[0]]["temperature_c"] == ""
    assert float(rows[3 * 8]["shift_px"]) > 1.0
