"""Loggers' tables that others recorded, read to the figures that their makers and an independent reader gave.

- two_heater_steps: two transistors side by side, driven in steps; public repository TiagoPrata/TCLabSP, commit
  e8dfcb02fb74fcc8b5b3b7d4655f93f35bd81820 (MIT). Stated there: 1200 s per test, nominal step 0.25 s, a 10-bit
  converter: every value on the grid n * 500/1023 - 50 °C.
- tclab_load_changes: public repository APMonitor/arduino, commit f36e65a70dd7122d1829883899e40e56bf6c4279
  (Apache-2.0); one file without headings in kelvin, one with headings in °C and set-point columns of no meaning.
Licences and sources lie beside the data.
"""

import gzip
import shutil
from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import InputError
from hotspot.read.table import Logged, open_table
from hotspot.session import Session

pytestmark = pytest.mark.published

DATA = Path(__file__).parent.parent / "data"
RUNS = ("H1_000to010_run1", "H1_000to050_run1", "H1_100to000_run1", "H2_000to050_run1")


def two_heaters(folder: Path, run: str) -> Logged:
    with (
        gzip.open(DATA / "two_heater_steps" / f"{run}.csv.gz", "rb") as packed,
        open(folder / f"{run}.csv", "wb") as out,
    ):
        shutil.copyfileobj(packed, out)
    frames = {"files": f"{run}.csv", "reading": "table", "columns": {"1": "T1_C", "2": "T2_C"}}
    return open_table(Session.load(folder, {"frames": frames}))


def board(folder: Path, name: str, **frames: object) -> Logged:
    shutil.copy(DATA / "tclab_load_changes" / name, folder / name)
    return open_table(Session.load(folder, {"frames": {"files": name, "reading": "table", **frames}}))


def by_pin(found: Logged) -> dict[str, np.ndarray]:
    return {pin: rows["temperature_c"].to_numpy() for pin, rows in found.readings.groupby("pin")}


@pytest.mark.parametrize("run", RUNS)
def test_every_row_of_a_1200_s_run_comes_through_at_a_quarter_second(tmp_path, run):
    found = two_heaters(tmp_path, run)
    times = np.array([stamp.time_s for stamp in found.stamps])
    assert len(times) == 4801
    assert times[-1] == pytest.approx(1200.0)
    assert np.diff(times) == pytest.approx(np.full(4800, 0.25))
    assert found.notices == []


@pytest.mark.parametrize("run", RUNS)
def test_every_value_lies_on_the_grid_of_the_10_bit_converter(tmp_path, run):
    for celsius in by_pin(two_heaters(tmp_path, run)).values():
        counts = (celsius[2:] + 50.0) * 1023.0 / 500.0  # the first two samples are a start value
        assert counts == pytest.approx(np.round(counts), abs=3e-4)  # the file has 4 decimals: 1e-4 / 2 * 2.046
        assert celsius[:2].tolist() == [23.0, 23.0]


@pytest.mark.parametrize(("run", "driven"), [("H1_000to050_run1", "1"), ("H2_000to050_run1", "2")])
def test_the_driven_channel_rises_more(tmp_path, run, driven):
    rises = {pin: np.median(c[-400:]) - np.median(c[2:22]) for pin, c in by_pin(two_heaters(tmp_path, run)).items()}
    assert max(rises, key=rises.get) == driven


def test_set_points_are_passed_over_and_temperatures_come_as_published(tmp_path):
    found = board(
        tmp_path,
        "energy_balance_data.txt",
        time="Time (sec)",
        columns={"1": "Temperature 1 (degC)", "2": "Temperature 2 (degC)"},
    )
    celsius = by_pin(found)
    assert len(found.stamps) == 599
    assert (celsius["1"][0], celsius["2"][0]) == pytest.approx((20.83, 19.93))
    assert (round(celsius["1"].min(), 1), round(celsius["1"].max(), 1)) == (20.8, 55.7)
    assert (round(celsius["2"].min(), 1), round(celsius["2"].max(), 1)) == (19.8, 42.5)


def test_kelvin_without_headings_is_asked_about_and_not_guessed(tmp_path):
    with pytest.raises(InputError, match=r"frames\.time: data_step_test_kelvin\.csv has no headings"):
        board(tmp_path, "data_step_test_kelvin.csv")
    with pytest.raises(InputError, match=r"frames\.unit: .* nothing states the unit of its values"):
        board(tmp_path, "data_step_test_kelvin.csv", time="1", columns={"1": "3"})
    found = board(tmp_path, "data_step_test_kelvin.csv", time="1", columns={"1": "3"}, unit="K")
    celsius = by_pin(found)["1"]
    assert len(celsius) == 571
    assert (celsius.min(), celsius.max()) == pytest.approx((299.53 - 273.15, 339.81 - 273.15))
