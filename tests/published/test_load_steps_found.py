"""Steps of a load found in a series, against the drive that was recorded beside it, and against a reference library.

tclab_load_changes: public repository APMonitor/arduino, commit f36e65a70dd7122d1829883899e40e56bf6c4279 (Apache-2.0),
see SOURCE.md beside the data: two heaters on a board, the drive of each and its temperature. Turns of the temperature
may lie late, for a sensor warms after its heater.
"""

from pathlib import Path

import numpy as np
import pytest

from hotspot.read.stages_found import levels
from hotspot.reason.turns import turns

pytestmark = pytest.mark.published

DATA = Path(__file__).parent.parent / "data" / "tclab_load_changes"
TABLES = {
    "kelvin": ("data_step_test_kelvin.csv", 0, 1, 2),
    "balance 1": ("energy_balance_data.txt", 1, 1, 3),
    "balance 2": ("energy_balance_data.txt", 1, 2, 4),
    "mimo 1": ("second_order_mimo_data.txt", 1, 1, 3),
    "mimo 2": ("second_order_mimo_data.txt", 1, 2, 4),
}


def recorded(name):
    """(times [s], drive, temperature, times at which the drive changed and then stayed 20 s) of one heater."""
    file, skip, drive, temperature = TABLES[name]
    table = np.genfromtxt(DATA / file, delimiter=",", skip_header=skip)
    time_s, level = table[:, 0], table[:, drive]
    moved = time_s[1:][np.diff(level) != 0]
    lasting = [a for a, b in zip(moved, [*moved[1:], time_s[-1]], strict=True) if b - a >= 20.0]
    return time_s, level, table[:, temperature], lasting


@pytest.mark.parametrize("name", [name for name in TABLES if name != "mimo 2"])
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_every_change_of_the_recorded_drive_is_found_at_its_row(name, noise):
    time_s, level, _, true_s = recorded(name)
    level = level + noise * np.ptp(level) * np.random.default_rng(1).standard_normal(level.size)
    found = [step.start_s for step in levels(time_s, level, 0.05)[1:]]
    true_s = [at for at in true_s if at >= time_s[0] + 20.0]  # what comes sooner makes no first stage of its own
    assert found == pytest.approx(true_s)


def test_steps_agree_with_a_reference_library():
    """Pruned exact segmentation (Killick, Fearnhead and Eckley 2012) as ruptures implements it."""
    ruptures = pytest.importorskip("ruptures")
    for name in ("kelvin", "balance 1", "balance 2"):
        time_s, level, _, _ = recorded(name)
        scaled = level / np.ptp(level)
        ends = ruptures.KernelCPD(kernel="linear", min_size=2).fit(scaled).predict(pen=0.5)[:-1]
        found = [step.start_s for step in levels(time_s, level, 0.05)[1:]]
        assert found == pytest.approx([time_s[end] for end in ends if time_s[end] >= 20.0])


@pytest.mark.parametrize(("name", "true_s"), [("kelvin", [201.78, 402.51]), ("balance 1", [200.2, 400.4])])
def test_the_temperature_turns_where_the_recorded_drive_changed(name, true_s):
    time_s, _, celsius, changed = recorded(name)
    step = 2.0
    edges = np.arange(time_s[0], time_s[-1] + step, step)
    place = np.digitize(time_s, edges)
    t, x = (np.array([column[place == k].mean() for k in np.unique(place)]) for column in (time_s, celsius))
    assert set(np.round(true_s, 1)) <= set(np.round(changed, 1))
    found = [turn.time_s for turn in turns(t, x) if turn.time_s > 60.0]
    assert len(found) == len(true_s)
    assert all(0.0 <= late <= 15.0 for late in np.subtract(found, true_s))
