"""Logged runs of two heaters on one board (tests/data/two_heater_steps and tclab_load_changes, SOURCE.md there).

Which heater was driven is known; no reference thermometer. The driven one must be named by rise.
"""

import re

import pandas as pd
import pytest
from heater_runs import DATA, logged, readings_of, session_of

from hotspot.reason.findings import judge

RUNS = sorted(path.name.split(".")[0] for path in (DATA / "two_heater_steps").glob("H?_000to*_run?.csv.gz"))


def _found(readings, ambient):
    return judge(session_of(ambient=ambient), readings, (), None, lambda *_: None)


def test_all_heating_runs_are_here():
    assert len(RUNS) == 28


@pytest.mark.published
@pytest.mark.parametrize("ambient", [None, 22.0])
@pytest.mark.parametrize("name", RUNS)
def test_driven_heater_is_named_by_rise(name, ambient):
    findings = _found(logged(name, ambient), ambient)
    assert findings.source_pins == (re.match(r"H(\d)", name).group(1),)


@pytest.mark.published
@pytest.mark.parametrize("ambient", [None, 22.0])
@pytest.mark.parametrize("name", ["H1_000to050_rep04", "H1_050to000_run1", "H1_100to000_run1"])
def test_started_hot_or_cooling_is_not_called_a_rise(name, ambient):
    findings = _found(logged(name, ambient), ambient)
    assert findings.source_pins == ()
    assert findings.verdict == "unknown"


@pytest.mark.published
def test_changing_load_names_the_heater_driven_more():
    """Mean drive of heater 1 over the record is the larger one in both files."""
    for name, columns in (("energy_balance_data", (0, 1, 2, 3, 4)), ("second_order_mimo_data", (0, 1, 2, 3, 4))):
        table = pd.read_csv(DATA / "tclab_load_changes" / f"{name}.txt", skipinitialspace=True)
        time_s, drive_1, drive_2, t_1, t_2 = (table.iloc[:, column].to_numpy(float) for column in columns)
        assert drive_1.mean() > drive_2.mean()
        readings = readings_of(time_s, {"1": t_1, "2": t_2}, None, uncertainty=0.3)
        assert _found(readings, None).source_pins == ("1",)
