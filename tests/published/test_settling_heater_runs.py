"""Real runs: two heaters on a board (tests/data/two_heater_steps, SOURCE.md there), predicted from their first 40 %.

The end is known from the run itself (median of its last 100 s); nothing else about the truth is.
"""

import numpy as np
import pytest
from heater_runs import DATA

from hotspot.reason.settling import settle_stage

FOLDER = DATA / "two_heater_steps"
RUNS = sorted(path.name.split(".")[0] for path in FOLDER.glob("H?_*.csv.gz"))
pytestmark = pytest.mark.published


def run(name: str) -> tuple[np.ndarray, np.ndarray]:
    table = np.loadtxt(FOLDER / f"{name}.csv.gz", delimiter=",", skiprows=1)
    return table[:, 0], table[:, 1 if name.startswith("H1") else 2]


@pytest.fixture(scope="module")
def predicted():
    """Per run but the hot one: error and half-width over the rise, whether the interval holds the end.

    None: refused.
    """
    out = {}
    for name in RUNS:
        if "rep04" in name:
            continue
        t, y = run(name)
        seen = t <= 0.4 * t[-1]
        end, rise = np.median(y[t > t[-1] - 100]), abs(np.median(y[t > t[-1] - 100]) - np.median(y[2:22]))
        found = settle_stage(t[seen], y[seen], None, None, None, 0.0, t[-1])
        if found.end_c is None:
            out[name] = None
            continue
        half = 0.5 * (found.end_high_c - found.end_low_c)
        out[name] = (abs(found.end_c - end) / rise, half / rise, found.end_low_c <= end <= found.end_high_c)
    return out


def test_enough_runs_are_here(predicted):
    assert len(predicted) >= 28


def test_few_are_refused(predicted):
    assert sum(found is None for found in predicted.values()) <= 0.2 * len(predicted)


def test_ends_of_the_runs(predicted):
    error, half, holds = np.array([found for found in predicted.values() if found is not None], dtype=float).T
    assert np.median(error) <= 0.02
    assert holds.mean() >= 0.9
    assert np.median(half) <= 0.06


def test_run_that_started_on_its_plateau_is_no_rise():
    found = settle_stage(*run("H1_000to050_rep04"), None, None, None, 0.0, 2200.0)
    assert found.settled_c is None
    assert found.end_c is None
    assert found.reason.code in {"settling_no_rise", "settling_to_and_fro"}


def test_whole_runs_are_called_settled_or_nearly():
    """Slopes of 0.0-0.3 K/min are left at 1200 s: settled_c then lies within a few kelvin of the last reading."""
    for name in ("H1_000to050_run1", "H2_000to060_run1", "H1_050to000_run1"):
        t, y = run(name)
        found = settle_stage(t, y, None, None, None, 0.0, t[-1])
        assert abs(found.settled_c - np.median(y[-400:])) < 2.5
