"""When pins count as cold, on recorded heaters (tests/data/tclab_load_changes and two_heater_steps, SOURCE.md there).

A board that cools is not at the room's temperature yet, one that was watched for ten seconds may not be. No thermometer
in the air: the level that a record ends at stands for it.
"""

from pathlib import Path

import numpy as np
import pytest

from hotspot.extract.cold import cold_start
from hotspot.records import StageSpan
from hotspot.session import Stage

DATA = Path(__file__).resolve().parents[1] / "data"


def told(t, celsius, on_s):
    """What is told of a load that is said to come on at `on_s`, from the readings up to then and a rise after it."""
    seen = t <= on_s
    stage = StageSpan("full", on_s, on_s + 900.0, (), Stage(name="full", amps=9.0))
    later_s, warmed = on_s + np.arange(10.0, 600.0, 10.0), float(celsius[seen][-1]) + 20.0  # and then it is heated
    t, celsius = np.concatenate([t[seen], later_s]), np.concatenate([celsius[seen], np.full(later_s.size, warmed)])
    return cold_start(t, celsius[:, None], (stage,), None)


@pytest.mark.published
@pytest.mark.parametrize("name", ["H1_050to000_run1", "H1_100to000_run1"])
def test_a_recorded_heater_that_cools_is_not_taken_for_cold(name):
    table = np.loadtxt(DATA / "two_heater_steps" / f"{name}.csv.gz", delimiter=",", skiprows=1)[::20]
    t, celsius = table[:, 0], table[:, 1]
    end = float(np.median(celsius[t > t[-1] - 100.0]))
    asked = 0
    for on_s in np.arange(100.0, t[-1] + 1, 20.0):
        found = told(t, celsius, on_s)
        asked += 1
        assert found is None or abs(found.celsius - end) <= 1.96 * found.unsure_k
    assert asked > 50
    assert np.ptp(celsius) > 40.0


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "skip", "column", "zero"),
    [("data_step_test_kelvin.csv", 0, 2, 273.15), ("energy_balance_data.txt", 1, 3, 0.0)],
)
def test_ten_seconds_of_rest_and_minutes_of_heating_are_no_rest(name, skip, column, zero):
    table = np.loadtxt(DATA / "tclab_load_changes" / name, delimiter=",", skiprows=skip)
    t, drive, celsius = table[:, 0], table[:, 1], table[:, column] - zero
    on_s = float(t[np.flatnonzero(drive > 0)[0]])
    assert 9.0 < on_s < 12.0
    for later_s in (0.0, 120.0, 240.0):
        assert told(t, celsius, on_s + later_s) is None
    held = np.concatenate([np.full(60, celsius[0]), celsius])  # had it been watched for a minute before
    assert told(np.arange(held.size, dtype=float), held, 60.0 + on_s).celsius == pytest.approx(celsius[0], abs=0.3)
