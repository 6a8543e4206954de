"""Where a stage is heading, through `hotspot run`: settled or not, published criteria, ratings that would be reached.

The logs are made from two bodies in a row (a time constant behind a lag), so that every truth is a formula.
"""

import csv
import json

import numpy as np
import pytest

SHEET = """
ambient = 22.0
[frames]
files = "log1.csv"
reading = "table"
[connector]
rated = {rated}
[[stage]]
name = "full"
start_s = 0.0
{end}
amps = {{ "1" = 9.0, "2" = 9.0 }}
"""
RISES = {"1": 88.0, "2": 40.0}


def late(t, tau_s=260.0, lag_s=40.0):
    """Share of the settled rise."""
    return 1 - (tau_s * np.exp(-t / tau_s) - lag_s * np.exp(-t / lag_s)) / (tau_s - lag_s)


def run(folder, hotspot_cli, seconds, rated=90.0, end=""):
    """(rows of pins.csv by pin, findings.json, text of the report)."""
    t = np.arange(0.0, seconds + 1, 10.0)
    rng = np.random.default_rng(3)
    columns = [22.0 + rise * late(t) + rng.normal(0, 0.08, t.size) for rise in RISES.values()]
    table = np.column_stack([t, *columns])
    lines = [",".join(["time_s", *RISES]), *(",".join(f"{value:.2f}" for value in row) for row in table)]
    (folder / "log1.csv").write_text("\n".join(lines) + "\n")
    (folder / "session.toml").write_text(SHEET.format(rated=rated, end=end))
    called = hotspot_cli("run", folder)
    assert called.status == 0, called.err
    results = folder / "results"
    with (results / "pins.csv").open(newline="", encoding="utf-8") as file:
        rows = {row["pin"]: row for row in csv.DictReader(file)}
    findings = json.loads((results / "findings.json").read_text(encoding="utf-8"))
    return rows, findings, (results / "report.html").read_text(encoding="utf-8")


def test_a_test_cut_short_tells_when_it_would_have_reached_its_rating(tmp_path, hotspot_cli):
    rows, findings, report = run(tmp_path, hotspot_cli, 600.0, rated=105.0, end="end_s = 1500.0")
    said = next(s for s in rows["1"]["reasons"].split(" | ") if s.startswith("The test was cut short"))
    t = np.arange(0.0, 1500.0)
    true_s = float(np.interp(105.0, 22.0 + 88.0 * late(t), t))
    minutes, seconds = said.split("at about ")[1].split(",")[0].split(":")
    assert 60 * int(minutes) + int(seconds) == pytest.approx(true_s, abs=60.0)
    assert "about 99 %" in said
    assert said in findings["pins"][0]["reasons"]
    assert "would have reached" in report
    assert "stays below" in rows["2"]["reasons"]
    assert float(rows["1"]["settled_low_c"]) < 110.0 < float(rows["1"]["settled_high_c"])


def test_a_load_that_ended_before_its_rating_is_told_without_a_plan(tmp_path, hotspot_cli):
    rows, _, _ = run(tmp_path, hotspot_cli, 480.0, rated=98.0)
    assert "Had this load gone on" in rows["1"]["reasons"]
    assert "cut short" not in rows["1"]["reasons"]


def test_a_rating_that_is_not_reached_is_told_once(tmp_path, hotspot_cli):
    rows, _, _ = run(tmp_path, hotspot_cli, 900.0, rated="200.0\nwire_rated = 200.0")
    assert rows["1"]["reasons"].count("stays below") == 1


def test_too_early_says_so_and_no_chance(tmp_path, hotspot_cli):
    rows, _, _ = run(tmp_path, hotspot_cli, 120.0)
    assert "Too early to predict" in rows["1"]["reasons"]
    assert "would have reached" not in rows["1"]["reasons"]
    assert rows["1"]["settled_c"] == ""


def test_published_criteria_are_named_and_what_is_too_short_for_them(tmp_path, hotspot_cli):
    _, findings, report = run(tmp_path, hotspot_cli, 600.0)
    short = [w["text"] for w in findings["warnings"] if w["code"] == "steady_too_short_in_stage"]
    assert len(short) == 1
    for source in ("IEEE 2780-2019", "UL 1029 clause 21.1.6", "IEC 60598-1 clause 12.4.1 f"):
        assert source in short[0]
        assert source in report
    moving = [w["text"] for w in findings["warnings"] if w["code"] == "steady_not_met_in_stage"]
    assert "UL 1278 clause 39.1.8" in moving[0]
    assert not [w for w in findings["warnings"] if w["code"].startswith("steady_met")]


def test_a_long_test_is_settled_and_meets_what_it_is_long_enough_for(tmp_path, hotspot_cli):
    rows, findings, _ = run(tmp_path, hotspot_cli, 3500.0, rated=120.0)
    assert rows["1"]["settled"] == "yes"
    assert "Has settled" in rows["1"]["reasons"]
    met = next(w["text"] for w in findings["warnings"] if w["code"] == "steady_met_in_stage")
    for source in ("IEEE 2780-2019", "UL 1278", "UL 1029"):
        assert source in met
    short = next(w["text"] for w in findings["warnings"] if w["code"] == "steady_too_short_in_stage")
    assert "IEC 60598-1" in short
