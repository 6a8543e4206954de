"""Stages from which nothing can be told, and stages that were disturbed, through `hotspot run` on a logger's table.

In each the doubt is named at the pin and no number is invented; the run ends with status 0.
"""

import csv
import json

import numpy as np
import pytest

SHEET = """
ambient = 22.0
[frames]
files = "logged.csv"
reading = "table"
[connector]
rated = 70.0
[[stage]]
name = "full"
start_s = 0.0
end_s = {end}
amps = 9.0
"""
EVENT = '[[event]]\ntime_s = {at}\nwhat = "door opened"\n'
T = np.arange(0.0, 1501.0, 10.0)


def late(t, tau_s=260.0, lag_s=40.0):
    """Share of the settled rise, 0 before the load."""
    t = np.maximum(t, 0.0)
    return 1 - (tau_s * np.exp(-t / tau_s) - lag_s * np.exp(-t / lag_s)) / (tau_s - lag_s)


def run(folder, hotspot_cli, t, celsius, sheet="", end=1500.0):
    """(rows of pins.csv by pin, findings.json, report) of pin 1 with these readings beside a usual pin 2."""
    noise = np.random.default_rng(6).normal(0.0, 0.06, (2, t.size))
    rows = zip(t, np.asarray(celsius) + noise[0], 22 + 38 * late(t) + noise[1], strict=True)
    cells = [(f"{s:g}", "" if np.isnan(x) else f"{x:.2f}", f"{y:.2f}") for s, x, y in rows]
    (folder / "logged.csv").write_text("\n".join(["time_s,1,2", *(",".join(row) for row in cells)]) + "\n")
    (folder / "session.toml").write_text(SHEET.format(end=end) + sheet)
    called = hotspot_cli("run", folder)
    assert called.status == 0, called.err
    assert "Traceback" not in called.err
    results = folder / "results"
    with (results / "pins.csv").open(newline="", encoding="utf-8") as file:
        pins = {row["pin"]: row for row in csv.DictReader(file)}
    findings = json.loads((results / "findings.json").read_text("utf-8"))
    return pins, findings, (results / "report.html").read_text("utf-8")


DRAUGHT = 22 + 42 * late(T) - 14 * late(T - 700)
NOTHING = {
    "two frames": (T[:2], 22 + 42 * late(T[:2]), "2 usable readings of this pin are too few"),
    "all missing": (T, np.full(T.size, np.nan), "No frame holds a value for this pin"),
    "constant": (T, np.full(T.size, 40.0), "there is no rise to follow"),
    "falling steadily": (T, 80.0 - 0.02 * T, "Too early to predict"),
    "there and back": (T, 22 + 20 * np.sin(T / 1500 * np.pi), "moved there and back"),
    "a draught from 11:40 on": (T, DRAUGHT, "the pin turned onto another course"),
    "two minutes only": (T[T <= 120], 22 + 42 * late(T[T <= 120]), "Too early to predict"),
}
NUMBERS = ("settled_c", "settled_low_c", "settled_high_c", "time_constant_s", "end_c", "end_low_c", "end_high_c")


@pytest.mark.parametrize("name", NOTHING)
def test_nothing_is_invented_for_a_bad_stage(tmp_path, hotspot_cli, name):
    t, celsius, reason = NOTHING[name]
    pins, findings, report = run(tmp_path, hotspot_cli, t, celsius, '[[pin]]\nname = "1"\n[[pin]]\nname = "2"\n')
    assert all(pins["1"][column] == "" for column in NUMBERS)
    assert reason in pins["1"]["reasons"]
    assert reason in " ".join(next(pin["reasons"] for pin in findings["pins"] if pin["name"] == "1"))
    assert reason in report
    assert "would have reached" not in pins["1"]["reasons"]
    if name == "all missing":
        assert pins["1"]["verdict"] == "unknown"
        assert "1" in {entry["pin"] for entry in findings["not_judged"]}
        assert "table_columns_empty" in {told["code"] for told in findings["warnings"]}
    if t.size == T.size:
        assert float(pins["2"]["settled_c"]) == pytest.approx(60.0, abs=1.0)  # the other pin is none the worse


def test_a_marked_event_is_named_with_the_step_it_made(tmp_path, hotspot_cli):
    pins, _, report = run(tmp_path, hotspot_cli, T, DRAUGHT, EVENT.format(at=690.0))
    assert "as marked at 11:30 (door opened)" in pins["1"]["reasons"]
    assert "as marked at 11:30 (door opened)" in report
    assert pins["1"]["settled_c"] == ""


@pytest.mark.parametrize("sheet", [EVENT.format(at=200.0), EVENT.format(at=690.0) + 'pin = "2"\n'])
def test_an_event_at_another_time_or_pin_is_not_blamed(tmp_path, hotspot_cli, sheet):
    pins, _, _ = run(tmp_path, hotspot_cli, T, DRAUGHT, sheet)
    assert "the pin turned onto another course" in pins["1"]["reasons"]
    assert "as marked" not in pins["1"]["reasons"]


def test_an_event_without_a_step_changes_no_number(tmp_path, hotspot_cli):
    quiet = 22 + 42 * late(T)
    plain, _, _ = run(tmp_path, hotspot_cli, T, quiet)
    marked, _, _ = run(tmp_path, hotspot_cli, T, quiet, EVENT.format(at=690.0))
    assert {name: plain["1"][name] for name in NUMBERS} == {name: marked["1"][name] for name in NUMBERS}


def test_wrong_single_readings_gaps_and_uneven_times_leave_the_level(tmp_path, hotspot_cli):
    rng = np.random.default_rng(3)
    t = np.sort(rng.choice(T, 110, replace=False))
    t = t[(t < 500) | (t > 640)]
    celsius = np.round((22 + 42 * late(t)) / 0.5) * 0.5
    wrong = rng.random(t.size) < 0.08
    celsius[wrong] += rng.choice([-1, 1], wrong.sum()) * rng.uniform(15, 45, wrong.sum())
    pins, _, _ = run(tmp_path, hotspot_cli, t, celsius)
    assert wrong.sum() >= 5
    assert float(pins["1"]["settled_low_c"]) <= 64.0 <= float(pins["1"]["settled_high_c"])
    assert float(pins["1"]["settled_c"]) == pytest.approx(64.0, abs=1.0)


AFTER = ((1, "no"), (2, "no"), (3, "no"), (5, "yes"))
PLUGS = [(tau_s, *after) for tau_s in (300, 420) for after in AFTER]


@pytest.mark.parametrize(("tau_s", "count", "settled"), PLUGS)
def test_a_plug_settles_after_five_time_constants_and_is_predicted_from_two(
    tmp_path, hotspot_cli, tau_s, count, settled
):
    """Common practice, no source: a plug at full load still climbs after 15 minutes and is level after about 25.

    By the rule (at most 1 K from reading to reading) a plug that rises by more than some 27 K takes longer than five;
    from two the level of one that rises by 20 K is refused, where one number stands for the ambient.
    """
    t, rise = np.arange(0.0, count * tau_s + 1, 10.0), 40.0 if count == 2 else 20.0
    pins, _, _ = run(tmp_path, hotspot_cli, t, 22 + rise * late(t, tau_s, 45.0), end=3600.0)
    assert pins["1"]["settled"] == settled
    if count == 2:
        assert float(pins["1"]["settled_low_c"]) <= 62.0 <= float(pins["1"]["settled_high_c"])


def test_a_column_without_a_number_is_told_even_where_no_pin_is_called_that(tmp_path, hotspot_cli):
    pins, findings, _ = run(tmp_path, hotspot_cli, T, np.full(T.size, np.nan))
    assert set(pins) == {"2"}
    assert "1" in next(told["text"] for told in findings["warnings"] if told["code"] == "table_columns_empty")
