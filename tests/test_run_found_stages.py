"""Stages that nobody stated, and stages that lie wrong on the frames, through `hotspot run`.

The curves are made from two bodies in a row (a time constant behind a lag), so that every truth is a formula.
"""

import csv
import json

import numpy as np
import pytest
from results_read import results_of

from hotspot.tell.words import catalogue

TABLE = 'ambient = 22.0\n[frames]\nfiles = "logged.csv"\nreading = "table"\n'
RISES = {"1": 40.0, "2": 22.0, "3": 21.0}
OFF_S, UP_S, DOWN_S, END_S = 120.0, 900.0, 1500.0, 1800.0


def late(t, tau_s=260.0, lag_s=25.0):
    """Share of the settled rise, 0 before the load."""
    t = np.maximum(t, 0.0)
    return 1 - (tau_s * np.exp(-t / tau_s) - lag_s * np.exp(-t / lag_s)) / (tau_s - lag_s)


def course(t):
    """Load on at 2:00, nearly twice the heat at 15:00, off at 25:00."""
    return late(t - OFF_S) + 0.9 * late(t - UP_S) - 1.9 * late(t - DOWN_S)


def run(folder, hotspot_cli, heat, sheet="", log="", names="", every_s=5.0):
    """(rows of pins.csv, rows of readings.csv, findings.json) of a logger's table; `heat` the share over time."""
    t = np.arange(0.0, END_S + 1, every_s)
    rng = np.random.default_rng(5)
    columns = [22.0 + rise * heat(t) + rng.normal(0, 0.08, t.size) for rise in RISES.values()]
    stamps = [f"{9 + int(s) // 3600:02d}:{int(s) // 60 % 60:02d}:{int(s) % 60:02d}" for s in t] if names else t
    head = "time" if names else "time_s"
    lines = [",".join([head, *RISES])]
    lines += [
        ",".join([str(s), *(f"{x:.2f}" for x in row)]) for s, row in zip(stamps, np.array(columns).T, strict=True)
    ]
    (folder / "logged.csv").write_text("\n".join(lines) + "\n")
    (folder / "session.toml").write_text(TABLE + ('time = "time"\n' if names else "") + sheet)
    if log:
        (folder / "log.csv").write_text(log)
    called = hotspot_cli("run", folder)
    assert called.status == 0, called.err
    return results_of(folder)


def said(findings, *codes):
    return {w["code"]: w["text"] for w in findings["warnings"] if w["code"] in codes}


def test_every_word_about_a_clock_is_there():
    codes = {f"stage_clock_{what}{how}" for what in ("early", "late", "underway") for how in ("", "_clocked")}
    assert codes <= catalogue().keys()


def log_of(amps, column="amps", every_s=1.0):
    t = np.arange(0.0, END_S + 1, every_s)
    return f"time_s,{column}\n" + "".join(f"{s:g},{a:.2f}\n" for s, a in zip(t, amps(t), strict=True))


def test_stages_come_from_the_steps_of_the_logged_current(tmp_path, hotspot_cli):
    noise = np.random.default_rng(2)

    def amps(t):
        level = np.select([t < OFF_S, t < UP_S, t < DOWN_S], [0.0, 20.0 - t / 600.0, 27.0], 0.0)  # a battery that sags
        return level + noise.normal(0, 0.1, t.size) + 40.0 * (t == OFF_S + 1)  # and a motor's inrush

    pins, readings, findings = run(tmp_path, hotspot_cli, course, log=log_of(amps))
    stages = findings["stages"]
    assert [stage["name"] for stage in stages] == ["step 1", "step 2", "step 3", "step 4"]
    assert [stage["start_s"] for stage in stages] == [0.0, OFF_S, UP_S, DOWN_S]
    assert [stage["amps"] for stage in stages] == [0.0, None, None, 0.0]  # the total of a load is no pin's current
    assert findings["settings"]["stages"] == "log.csv: amps"
    told = said(findings, "stages_from_log", "log_total_not_per_pin", "stages_inferred")
    assert set(told) == {"stages_from_log", "log_total_not_per_pin"}
    assert "step 3 at 15:00 (27 A in all)" in told["stages_from_log"]
    at = {float(row["time_s"]): row["stage"] for row in readings}
    assert (at[OFF_S - 5], at[OFF_S], at[DOWN_S - 5], at[DOWN_S]) == ("step 1", "step 2", "step 3", "step 4")
    assert {row["stage"] for row in pins} == {"step 1", "step 2", "step 3", "step 4"}


def test_one_pin_carries_the_whole_logged_current(tmp_path, hotspot_cli):
    steps = log_of(lambda t: np.where((t >= OFF_S) & (t < DOWN_S), 9.0, 0.0))
    _, _, findings = run(
        tmp_path, hotspot_cli, course, log=steps, sheet='columns = { "7" = "1" }\n[[pin]]\nname = "7"\n'
    )
    assert [stage["amps"] for stage in findings["stages"]] == [0.0, 9.0, 0.0]


def test_stages_come_from_the_voltage_where_no_current_is_logged(tmp_path, hotspot_cli):
    volts = log_of(lambda t: np.where((t >= OFF_S) & (t < DOWN_S), 12.1, 12.6), "volts")
    _, _, findings = run(tmp_path, hotspot_cli, course, log=volts)
    assert [stage["start_s"] for stage in findings["stages"]] == [0.0, OFF_S, DOWN_S]
    assert [stage["amps"] for stage in findings["stages"]] == [None] * 3
    assert findings["settings"]["stages"] == "log.csv: volts"


def test_stages_are_inferred_from_the_pins_where_nothing_is_logged(tmp_path, hotspot_cli):
    _, readings, findings = run(tmp_path, hotspot_cli, course)
    stages = findings["stages"]
    assert [stage["name"] for stage in stages] == ["step 1", "step 2", "step 3", "step 4"]
    starts = [stage["start_s"] for stage in stages[1:]]
    # late by about the lag at most, never before the load
    assert all(-5.0 <= found - true <= 25.0 for found, true in zip(starts, (OFF_S, UP_S, DOWN_S), strict=True))
    assert findings["settings"]["stages"] == "inferred from the readings"
    assert "inferred" in said(findings, "stages_inferred")["stages_inferred"]
    assert {row["stage"] for row in readings} == {stage["name"] for stage in stages}


@pytest.mark.parametrize("log", ["", log_of(lambda t: np.full(t.size, 18.0))])
def test_a_constant_load_stays_one_nameless_stage(tmp_path, hotspot_cli, log):
    pins, _, findings = run(tmp_path, hotspot_cli, late, log=log)
    assert [stage["name"] for stage in findings["stages"]] == [""]
    assert {row["stage"] for row in pins} == {""}
    assert findings["settings"]["stages"] == "whole run"


def test_stated_stages_stand_whatever_the_log_and_the_pins_show(tmp_path, hotspot_cli):
    sheet = '[[stage]]\nname = "full"\nstart_s = 100.0\namps = "equal"\n'
    steps = log_of(lambda t: np.where(t < UP_S, 9.0, 20.0))
    _, _, findings = run(tmp_path, hotspot_cli, course, sheet=sheet, log=steps)
    assert [(stage["name"], stage["start_s"]) for stage in findings["stages"]] == [("full", 100.0)]
    assert findings["settings"]["stages"] == "stated"


CLOCKED = (
    '[[stage]]\nname = "rest"\nstart = "09:00:00"\namps = 0.0\n[[stage]]\nname = "full"\nstart = "{on}"\namps = 9.0\n'
)
OFFSETS = "[clock]\nframes_offset_s = {offset}\n"


@pytest.mark.parametrize(("on", "off_s"), [("09:06:00", -240.0), ("09:01:00", 60.0 + 60.0)])
def test_a_camera_clock_minutes_off_is_told_with_its_offset_and_mended_by_it(tmp_path, hotspot_cli, on, off_s):
    true_on = OFF_S if off_s < 0 else 180.0  # on the camera's clock

    def heat(t):
        return late(t - true_on)

    _, _, findings = run(tmp_path, hotspot_cli, heat, sheet=CLOCKED.format(on=on), names="clock")
    early, late_ = "stage_clock_early_clocked", "stage_clock_late_clocked"
    told = said(findings, early, late_)
    assert set(told) == {early if off_s < 0 else late_}
    offset = float(next(iter(told.values())).split("clock.frames_offset_s to ")[1].split(" ")[0])
    assert offset == pytest.approx(-off_s, abs=25.0)
    assert [stage["start_s"] for stage in findings["stages"]][1] == {"09:06:00": 360.0, "09:01:00": 60.0}[on]
    mended = CLOCKED.format(on=on) + OFFSETS.format(offset=offset)
    _, _, findings = run(tmp_path, hotspot_cli, heat, sheet=mended, names="clock")
    assert not said(findings, early, late_, "stage_clock_underway_clocked")
    assert findings["stages"][1]["start_s"] == pytest.approx(true_on, abs=25.0)


@pytest.mark.parametrize("on_s", [OFF_S, OFF_S - 15.0])
def test_stages_that_fit_the_rise_are_not_remarked_on(tmp_path, hotspot_cli, on_s):
    sheet = f'[[stage]]\nname = "full"\nstart_s = {on_s}\nend_s = 900.0\namps = 9.0\n'
    _, _, findings = run(tmp_path, hotspot_cli, course, sheet=sheet)
    assert not [w for w in findings["warnings"] if w["code"].startswith("stage_clock")]


def test_a_rise_under_way_before_its_load_is_told(tmp_path, hotspot_cli):
    sheet = '[[stage]]\nname = "full"\nstart_s = 600.0\namps = 9.0\n'
    _, _, findings = run(tmp_path, hotspot_cli, late, sheet=sheet)
    assert "stage_clock_underway" in said(findings, "stage_clock_underway")


def test_stages_in_seconds_are_mended_by_the_time_of_the_first_frame(tmp_path, hotspot_cli):
    sheet = '[[stage]]\nname = "full"\nstart_s = {}\namps = 9.0\n'.format
    _, _, findings = run(tmp_path, hotspot_cli, lambda t: late(t - 300.0), sheet=sheet(60.0))
    told = said(findings, "stage_clock_late")["stage_clock_late"]
    first = float(told.split("frames.start_s to ")[1].split(".")[0])
    assert first == pytest.approx(-240.0, abs=25.0)


FRAMES = """
ambient = 22.0
[frames]
files = "frames.npy"
reading = "temperature"
every_s = 10.0
[surface]
emissivity = 0.95
set_emissivity = 0.95
[[pin]]
name = "1"
x = 20
y = 20
radius = 6
[[stage]]
name = "full"
amps = "equal"
"""
REFERENCE = '[[region]]\nname = "block"\nkind = "reference"\nbox = [40, 4, 12, 12]\n'


def test_steps_of_the_camera_are_taken_off_by_a_reference_region(tmp_path, hotspot_cli):
    t = np.arange(0.0, 901.0, 10.0)
    rng = np.random.default_rng(8)
    wrong = 1.5 * np.sin(t / 300.0) + np.select([t >= 600, t >= 300], [-1.2, 0.8], 0.0)  # drift, and shutter steps
    true = 22.0 + 30.0 * late(t)
    stack = np.full((t.size, 40, 60), 22.0)
    stack[:, 10:31, 10:31] = true[:, None, None]
    stack += wrong[:, None, None] + rng.normal(0, 0.1, stack.shape)
    np.save(tmp_path / "frames.npy", stack)
    off = {}
    for name, sheet in (("with", FRAMES + REFERENCE), ("without", FRAMES)):
        (tmp_path / "session.toml").write_text(sheet)
        called = hotspot_cli("run", tmp_path, "--out", tmp_path / name)
        assert called.status == 0, called.err
        with (tmp_path / name / "readings.csv").open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        off[name] = np.array([float(row["temperature_c"]) for row in rows]) - true
    assert np.abs(off["without"]).max() > 1.5
    with (tmp_path / "with" / "readings.csv").open(newline="", encoding="utf-8") as file:
        unsure = np.array([float(row["uncertainty_c"]) for row in csv.DictReader(file)])
    # a box of 144 pixels of 0.1 K then and at the first frame, and the pin's own 113 pixels
    expected = 0.1 * np.sqrt(2 / 144 + 1 / 113)
    assert np.std(off["with"]) <= 1.5 * expected
    assert np.median(unsure) >= np.std(off["with"])
    findings = json.loads((tmp_path / "with" / "findings.json").read_text("utf-8"))
    assert "block" in said(findings, "reference_taken_off")["reference_taken_off"]
    assert not said(findings, "reference_moves_far")
    assert not said(json.loads((tmp_path / "without" / "findings.json").read_text("utf-8")), "reference_taken_off")


def test_a_reference_that_is_warmed_is_told(tmp_path, hotspot_cli):
    t = np.arange(0.0, 901.0, 10.0)
    stack = np.full((t.size, 40, 60), 22.0) + 15.0 * late(t)[:, None, None]
    stack[:, 10:31, 10:31] = (22.0 + 40.0 * late(t))[:, None, None]
    np.save(tmp_path / "frames.npy", stack)
    (tmp_path / "session.toml").write_text(FRAMES + REFERENCE)
    called = hotspot_cli("run", tmp_path)
    assert called.status == 0, called.err
    findings = json.loads((tmp_path / "results" / "findings.json").read_text("utf-8"))
    assert "block" in said(findings, "reference_moves_far")["reference_moves_far"]


def test_found_stages_of_two_tests_are_paired_by_where_the_pins_ended_hottest(tmp_path, hotspot_cli):
    """One began with two minutes at rest, the other with the load on and its end recorded."""
    before, after = tmp_path / "before", tmp_path / "after"
    before.mkdir()
    after.mkdir()
    _, _, first = run(before, hotspot_cli, lambda t: late(t - OFF_S))
    _, _, second = run(after, hotspot_cli, lambda t: late(t) - late(t - DOWN_S))
    assert [len(findings["stages"]) for findings in (first, second)] == [2, 2]
    called = hotspot_cli("compare", before, after, "--out", tmp_path / "both")
    assert called.status == 0, called.err
    with (tmp_path / "both" / "compare.csv").open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["before_rise_c"] and row["after_rise_c"]]
    assert {row["pin"] for row in rows} == set(RISES)
    for row in rows:
        assert float(row["before_rise_c"]) == pytest.approx(RISES[row["pin"]], rel=0.05)
        assert float(row["after_rise_c"]) == pytest.approx(RISES[row["pin"]], rel=0.05)
    findings = json.loads((tmp_path / "both" / "compare.json").read_text("utf-8"))
    assert "stages_by_heat" in said(findings, "stages_by_heat")
