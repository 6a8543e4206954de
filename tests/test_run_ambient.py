"""The ambient through `hotspot run`: not stated and estimated, stated and moving, not to be told; what compare does.

Frames of two pins on a bench, whose rises are a formula, with the errors of a camera and the drift of the air on top.
"""

import csv

import numpy as np
import pytest
from results_read import results_of

SHEET = """
{ambient}
[frames]
files = "frames.npy"
reading = "temperature"
every_s = 10.0
[camera]
name = "shop"
[surface]
emissivity = 0.95
set_emissivity = 0.95
[[pin]]
name = "1"
x = 33
y = 30
radius = 6
[[pin]]
name = "2"
x = 47
y = 30
radius = 6
[[stage]]
name = "full"
start_s = {start}
end_s = {end}
amps = 9.0
"""
SHAPE, RISES = (60, 80), (40.0, 36.0)


def late(t, tau_s=260.0, lag_s=30.0):
    t = np.maximum(t, 0.0)
    return 1 - (tau_s * np.exp(-t / tau_s) - lag_s * np.exp(-t / lag_s)) / (tau_s - lag_s)


def errors(t, seed=1):
    """Air that drifts, a camera that wanders, and a step at each shutter."""
    rng = np.random.default_rng(seed)
    steps = 0.6 * rng.normal(size=20)[(t // 150.0).astype(int)]
    return 1.2 * t / 1500.0 + 0.4 * np.sin(t / 350.0 + seed) + steps


def write(folder, ambient="", seconds=900.0, start=0.0, warm=0.0, seed=1, rises=RISES, sheet="", shaken=1.0):
    """(times, true rises (t, 2)) of a session folder; `shaken`: how much of `errors` is in it."""
    folder.mkdir(parents=True, exist_ok=True)
    t = np.arange(0.0, seconds + 1, 10.0)
    true = late(t - start)[:, None] * np.array(rises) + warm
    stack = np.full((t.size, *SHAPE), 18.5)
    stack[:, 20:41, 23:40] += true[:, 0][:, None, None]  # no edge within reach of a circle: no loss to a blur
    stack[:, 20:41, 40:57] += true[:, 1][:, None, None]
    stack += shaken * errors(t, seed)[:, None, None] + np.random.default_rng(seed).normal(0, 0.08, stack.shape)
    np.save(folder / "frames.npy", stack.astype(np.float32))
    text = SHEET.format(ambient=ambient, start=start, end=start + 1500.0) + sheet
    (folder / "session.toml").write_text(text)
    return t, true


def run(folder, hotspot_cli):
    called = hotspot_cli("run", folder)
    assert called.status == 0, called.err
    pins, readings, findings = results_of(folder)
    told = {w["code"]: w["text"] for w in findings["warnings"]}
    return called.out, {r["pin"]: r for r in pins}, readings, findings, told


def test_an_ambient_that_nobody_stated_is_estimated_and_called_that_everywhere(tmp_path, hotspot_cli):
    t, true = write(tmp_path)
    out, pins, readings, findings, told = run(tmp_path, hotspot_cli)
    for pin, rises in zip("12", true.T, strict=True):
        own = np.array([float(r["rise_c"]) for r in readings if r["pin"] == pin])
        assert np.abs(own - rises).max() < 0.25
        assert float(pins[pin]["rise_c"]) == pytest.approx(rises[-1], abs=0.25)
    assert np.ptp(errors(t)) > 1.2  # what had to be told apart from the rise
    assert all("ambient_estimated" in r["quality"].split(";") for r in readings)
    ambient = findings["settings"]["ambient"]
    assert (ambient["origin"], ambient["drift"]) == ("cold start", "surroundings")
    assert ambient["uncertainty_k"] > 0.5
    assert "standard uncertainty" in told["ambient_estimated_followed"]
    assert "over the estimated ambient" in out
    assert "State the ambient" in out
    report = (tmp_path / "results" / "report.html").read_text("utf-8")
    assert "estimated from the cold start, standard uncertainty" in report


def test_where_a_stage_heads_is_told_through_steps_of_the_shutter_and_drift(tmp_path, hotspot_cli):
    """The same frames with the surroundings kept out of sight are refused."""
    t, true = write(tmp_path / "seen", "ambient = 18.5")
    covered = '[[region]]\nname = "cloth"\nkind = "ignore"\nbox = [0, 0, 80, 20]\n' + (
        '[[region]]\nname = "bench"\nkind = "ignore"\nbox = [0, 41, 80, 19]\n'
    )
    sides = '[[region]]\nname = "{}"\nkind = "ignore"\nbox = [{}, 0, 14, 60]\n'
    covered += sides.format("left", 0) + sides.format("right", 66)
    write(tmp_path / "hidden", "ambient = 18.5", sheet=covered)
    _, seen, readings, findings, told = run(tmp_path / "seen", hotspot_cli)
    write(tmp_path / "calm", "ambient = 18.5", shaken=0.0)
    _, calm, _, _, _ = run(tmp_path / "calm", hotspot_cli)
    _, hidden, _, hidden_findings, _ = run(tmp_path / "hidden", hotspot_cli)
    assert findings["settings"]["ambient"]["drift"] == "surroundings"
    assert hidden_findings["settings"]["ambient"]["drift"] == "not followed"
    assert "ambient_moved" in told
    for place, pin in enumerate("12"):
        level = 18.5 + errors(t)[-1] + RISES[place]  # at the ambient of the last frame, as this camera shows it
        low, high = float(seen[pin]["settled_low_c"]), float(seen[pin]["settled_high_c"])
        assert low <= level <= high
        calm_k = float(calm[pin]["settled_high_c"]) - float(calm[pin]["settled_low_c"])
        assert high - low < 1.1 * calm_k  # steps and drift cost little
        assert high - low < 0.12 * RISES[place]
        assert hidden[pin]["settled_c"] == ""
        assert "turned onto another course" in hidden[pin]["reasons"]  # a step of the shutter, taken for one of the pin
    assert all(float(r["temperature_c"]) - float(r["rise_c"]) == pytest.approx(18.5, abs=1e-3) for r in readings)


@pytest.mark.parametrize("how", ["warm from before", "filmed from the fifth minute"])
def test_without_a_cold_start_nothing_is_made_up(tmp_path, hotspot_cli, how):
    write(tmp_path, warm=8.0) if how == "warm from before" else write(tmp_path, start=-300.0)
    out, pins, readings, findings, told = run(tmp_path, hotspot_cli)
    assert all(r["rise_c"] == "" for r in readings)
    assert all(r["rise_c"] == "" for r in pins.values())
    assert findings["settings"]["ambient"]["origin"] == "not known"
    assert "ambient_unknown" in told
    assert "estimated" not in out


def test_two_tests_without_an_ambient_are_compared_and_it_is_said(tmp_path, hotspot_cli):
    write(tmp_path / "before", seed=1)
    write(tmp_path / "after", seed=2, rises=(20.0, 36.0))
    write(tmp_path / "stated", "ambient = 18.5", seed=2, rises=(20.0, 36.0))
    rows, basis = {}, {}
    for later in ("after", "stated"):
        called = hotspot_cli("compare", tmp_path / "before", tmp_path / later, "--out", tmp_path / f"both {later}")
        assert called.status == 0, called.err
        with (tmp_path / f"both {later}" / "compare.csv").open(newline="", encoding="utf-8") as file:
            rows[later] = {row["pin"]: row for row in csv.DictReader(file)}
        basis[later] = rows[later]["1"]["basis"]
    assert rows["after"]["1"]["verdict"] == "better"
    assert float(rows["after"]["1"]["change_c"]) == pytest.approx(20 * late(900.0) - 40 * late(900.0), abs=1.0)
    assert "(before and after): it is estimated" in basis["after"]
    assert "(before): it is estimated" in basis["stated"]


def test_beside_a_region_of_the_air_the_surroundings_still_tell_the_shutters_steps(tmp_path, hotspot_cli):
    air = '[[region]]\nname = "air"\nkind = "ambient"\nbox = [2, 2, 8, 8]\n'
    t, true = write(tmp_path, sheet=air)
    _, pins, _, findings, told = run(tmp_path, hotspot_cli)
    assert findings["settings"]["ambient"]["origin"] == "region"
    for place, pin in enumerate("12"):
        level = 18.5 + errors(t)[-1] + RISES[place]
        assert float(pins[pin]["settled_low_c"]) <= level <= float(pins[pin]["settled_high_c"])
        assert float(pins[pin]["rise_c"]) == pytest.approx(true[-1, place], abs=0.25)
    assert not told.keys() & {"ambient_estimated", "ambient_estimated_followed", "ambient_unknown", "ambient_moved"}
