"""`hotspot calibrate` and `hotspot check-camera` as a person calls them, and the file they leave for a session."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import tifffile

from hotspot.read.calibration_file import read_calibration

POINTS = """kind,reference,reading,limits,altitude_m
ice,,4010,,
ice,,4030,,
boiling,,13650,,420
boiling,,13640,,420
thermocouple,52.0,9220,1.5,
"""


def test_from_points_to_a_run(tmp_path, hotspot_cli, warm_row, sheet):
    (tmp_path / "points.csv").write_text(POINTS)
    words = ("--camera", "shed camera", "--date", "2026-03-11", "--valid-days", "365")
    called = hotspot_cli("calibrate", tmp_path / "points.csv", "--out", tmp_path / "bench.toml", *words)
    assert called.status == 0, called.err
    assert "thermocouple" in called.out
    assert "95 %" in called.out
    made = read_calibration(tmp_path / "bench.toml")
    assert made.camera == "shed camera"
    assert abs(float(made.celsius(4020)) - 0.0) < 0.5
    frames = np.rint((warm_row(6) + 41.32) / 0.01024).astype(np.uint16)
    for k, frame in enumerate(frames):
        tifffile.imwrite(tmp_path / f"f{k}.tif", frame)
    sheet(tmp_path, 'files = "f*.tif"\ncalibration = "bench.toml"')
    called = hotspot_cli("run", tmp_path)
    assert called.status == 0, called.err
    table = pd.read_csv(tmp_path / "results" / "readings.csv")
    assert table["temperature_c"].iloc[0] == np.float64(22.0) or abs(table["temperature_c"].iloc[0] - 22.0) < 0.3
    assert (table["uncertainty_c"] >= 0.99 * made.level_k).all()


def test_a_file_is_not_written_over_and_faults_are_one_message(tmp_path, hotspot_cli):
    (tmp_path / "points.csv").write_text(POINTS)
    (tmp_path / "bench.toml").write_text("mine")
    called = hotspot_cli("calibrate", tmp_path / "points.csv", "--out", tmp_path / "bench.toml")
    assert called.status == 2
    assert "--force" in called.err
    assert (tmp_path / "bench.toml").read_text() == "mine"
    (tmp_path / "bad.csv").write_text("kind,reading,altitude_m\nboiling,3,\nsnow,4,\nthermocouple,5,\nice,x,\n")
    called = hotspot_cli("calibrate", tmp_path / "bad.csv")
    assert called.status == 2
    for said in ("line 2, altitude_m", "'snow'", "line 4, reference", "line 4, limits", "line 5, reading"):
        assert said in called.err
    for words in (("--kind", "cubic"), ("--units", "X"), ("--date", "soon"), ("--surroundings", "900")):
        called = hotspot_cli("calibrate", tmp_path / "points.csv", *words)
        assert called.status == 2
        assert words[0] in called.err


def test_a_camera_is_checked_in_fahrenheit_too(tmp_path, hotspot_cli):
    """5 °F too much at ice and at boiling water (212 °F at sea level), limits of 3.6 °F (2 K)."""
    lines = ["kind;reading;pressure_hpa"]
    lines += [f"ice;{37 + k / 10};" for k in range(4)] + [f"boiling;{217 + k / 10};1013,25" for k in range(4)]
    (tmp_path / "points.csv").write_text("\n".join(lines))
    called = hotspot_cli("check-camera", tmp_path / "points.csv", "--accuracy", "3.6", "--units", "F")
    assert called.status == 0, called.err
    assert "The camera shows 5." in called.out
    assert "outside" in called.out
    assert "212.0 °F" in called.out
    called = hotspot_cli("check-camera", tmp_path / "points.csv", "--accuracy", "-1")
    assert called.status == 2


def test_the_recipe_prints_points_and_a_file_that_work(tmp_path, hotspot_cli):
    """The blocks of calibration/README.md are used as they stand there."""
    page = (Path(__file__).parent.parent / "calibration" / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```(?:toml)?\n(.*?)```", page, re.DOTALL)
    points, sheet = (next(block for block in blocks if block.startswith(head)) for head in ("kind,", "kind ="))
    (tmp_path / "points.csv").write_text(points)
    (tmp_path / "bench.toml").write_text(sheet)
    called = hotspot_cli("calibrate", tmp_path / "points.csv", "--kind", "table")
    assert called.status == 0, called.err
    assert read_calibration(tmp_path / "bench.toml").valid_days == 365


def test_the_columns_stand_in_the_help(hotspot_cli):
    for command in ("calibrate", "check-camera"):
        shown = " ".join(hotspot_cli(command, "--help").out.split())
        for column in ("kind", "reading", "altitude_m", "pressure_hpa", "reference", "limits"):
            assert column in shown


def test_readings_in_another_unit_than_said_are_refused(tmp_path, hotspot_cli):
    (tmp_path / "points.csv").write_text("kind,reading,altitude_m\nice,0.4,\nboiling,98.1,240\n")
    assert hotspot_cli("check-camera", tmp_path / "points.csv").status == 0
    called = hotspot_cli("check-camera", tmp_path / "points.csv", "--units", "F")
    assert called.status == 2
    assert "line 2, reading: 0.4 is far from melting ice in °F" in called.err
    assert "Give --units C" in called.err


def test_counts_that_fall_with_the_temperature_are_warned_about_and_used(tmp_path, hotspot_cli):
    for name, ice, boiling in (("right", 2012, 6891), ("swapped", 6891, 2012)):
        (tmp_path / f"{name}.csv").write_text(f"kind,reading,altitude_m\nice,{ice},\nboiling,{boiling},240\n")
        for kind in ("linear", "table"):
            called = hotspot_cli("calibrate", tmp_path / f"{name}.csv", "--kind", kind)
            assert called.status == 0, called.err
            assert ("the counts fall as the temperature rises" in " ".join(called.out.split())) is (name == "swapped")
