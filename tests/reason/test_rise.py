"""Starts and ends of a pin, and the single wrong readings that must not decide them."""

import numpy as np
import pandas as pd
import pytest
from readings_made import DATA, readings_of

from hotspot.reason import rise

T = np.arange(0.0, 600.0, 5.0)
CURVE = 20.0 + 40.0 * (1.0 - np.exp(-T / 120.0))


def test_a_smooth_curve_has_no_outliers_however_steep():
    assert not rise.outliers(T, CURVE).any()
    assert not rise.outliers(T * 6, CURVE).any()


def test_a_switch_off_peak_is_no_outlier():
    x = np.concatenate([20 + 5.0 * np.arange(12), 75 - 5.0 * np.arange(1, 12)])
    assert not rise.outliers(30.0 * np.arange(x.size), x).any()


@pytest.mark.parametrize("place", [2, 50, 119])
@pytest.mark.parametrize("jump", [-35.0, 28.0])
def test_a_single_jump_is_found_and_nothing_else(place, jump):
    x = CURVE.copy()
    x[place] += jump
    assert list(np.flatnonzero(rise.outliers(T, x))) == [place]


def test_missing_values_are_no_outliers_and_do_not_hide_one():
    x = CURVE.copy()
    x[[10, 11, 40]] = np.nan
    x[60] += 30.0
    assert list(np.flatnonzero(rise.outliers(T, x))) == [60]


def test_end_is_the_last_good_reading_and_its_time():
    x = CURVE.copy()
    x[-1] = np.nan
    assert rise.end_value(T, x) == (CURVE[-2], T[-2])
    assert np.isnan(rise.end_value(T, np.full(T.size, np.nan))).all()


def test_value_at_a_time_is_nan_outside_the_readings():
    assert rise.value_at(T, CURVE, 100.0) == pytest.approx(CURVE[20])
    assert rise.value_at(T, CURVE, 102.5) == pytest.approx((CURVE[20] + CURVE[21]) / 2)
    assert np.isnan(rise.value_at(T, CURVE, 601.0))


def test_marked_touches_quality_only():
    x = CURVE.copy()
    x[50] += 30.0
    readings = readings_of(T, {"1": x, "2": CURVE})
    marked = rise.marked(readings)
    out = marked[marked["quality"] != ""]
    assert list(out["pin"]) == ["1"]
    assert list(out["quality"]) == ["outlier"]
    pd.testing.assert_frame_equal(marked.drop(columns="quality"), readings.drop(columns="quality"))


@pytest.mark.parametrize("name", ["H1_000to050_run1", "H1_000to100_run1", "H2_000to010_run1", "H2_000to100_run1"])
def test_real_log_starts_and_ends_agree_with_its_own_summary(name):
    """Start and end (medians) as the data's own work-up prints them, within two steps of its 0.489 K converter."""
    summary = pd.read_csv(DATA / "two_heater_steps" / "summary.csv").set_index("name").loc[name]
    table = pd.read_csv(DATA / "two_heater_steps" / f"{name}.csv.gz")
    t = table["time_s"].to_numpy()
    for channel in ("T1", "T2"):
        x = table[f"{channel}_C"].to_numpy()
        good = np.where(rise.outliers(t, x), np.nan, x)
        assert rise.start_value(t, good) == pytest.approx(summary[f"{channel}_start_C"], abs=0.98)
        assert rise.end_value(t, good)[0] == pytest.approx(summary[f"{channel}_end_C"], abs=0.98)
        assert np.nanmax(good) < summary[f"{channel}_end_C"] + 10.0


def test_real_log_loses_its_wildest_readings():
    """In this run the raw maximum of the heated channel lies far above its plateau of 72.7 °C."""
    table = pd.read_csv(DATA / "two_heater_steps" / "H1_000to050_run1.csv.gz")
    x = table["T1_C"].to_numpy()
    good = np.where(rise.outliers(table["time_s"].to_numpy(), x), np.nan, x)
    assert x.max() > 90.0
    assert np.nanmax(good) < 76.0
    assert 0.005 < np.isnan(good).mean() < 0.12
