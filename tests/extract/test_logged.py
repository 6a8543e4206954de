"""A logger's table becomes the readings table of the contract: what is its own, what is the instrument's, the air."""

import numpy as np
import pandas as pd
import pytest
from made_frames import session_of

from hotspot.columns import READINGS, column_names
from hotspot.extract.logged import NOISE_FLOOR_K, ambient_at, complete, series_noise
from hotspot.records import StageSpan
from hotspot.session import Stage

TIMES = np.arange(0.0, 1200.0, 10.0)
COURSE = 22.0 + 30.0 * (1.0 - np.exp(-TIMES / 250.0))


def logged(celsius, **more):
    count = len(TIMES)
    parts = [
        {"frame": np.arange(count), "file": "log.csv", "time_s": TIMES, "pin": pin, "temperature_c": values, **more}
        for pin, values in celsius.items()
    ]
    return pd.concat([pd.DataFrame(part) for part in parts], ignore_index=True)


def two_pins(sd=(0.05, 0.3)):
    rng = np.random.default_rng(8)
    return {pin: COURSE + rng.normal(0.0, own, TIMES.size) for pin, own in zip(("a", "b"), sd, strict=True)}


def stage(start, end):
    frames = tuple(int(n) for n in np.flatnonzero((start <= TIMES) & (end > TIMES)))
    return StageSpan("full", start, end, frames, Stage(name="full"))


def test_the_table_has_the_columns_of_the_contract_in_their_order():
    found = complete(session_of(ambient=22.0), logged(two_pins()), (stage(100.0, 600.0),), None)
    assert list(found.readings.columns) == column_names(READINGS)
    assert found.readings[["pixels", "shift_px"]].isna().all(axis=None)
    assert set(found.readings["clipped"]) == {""}
    assert set(found.readings["quality"]) == {""}


def test_a_reading_belongs_to_the_stage_that_its_frame_lies_in():
    table = complete(session_of(ambient=22.0), logged(two_pins()), (stage(100.0, 600.0),), None).readings
    inside = (table["time_s"] >= 100.0) & (table["time_s"] < 600.0)
    assert set(table.loc[inside, "stage"]) == {"full"}
    assert set(table.loc[~inside, "stage"]) == {""}


def test_the_uncertainty_is_the_pins_own_noise_and_the_limits_of_the_instrument():
    """Limits of error as a rectangular distribution (JCGM 100:2008, 4.3.7), summed in squares (eq. 10)."""
    session = session_of(ambient=22.0, camera={"accuracy_k": 1.5})
    found = complete(session, logged(two_pins()), (), None)
    u = found.readings.groupby("pin")["uncertainty_c"].first()
    limits = 1.5 / np.sqrt(3.0)
    assert u["a"] == pytest.approx(np.hypot(0.05, limits), rel=0.01)
    assert u["b"] == pytest.approx(np.hypot(0.3, limits), rel=0.03)
    assert found.readings["common_c"].to_numpy() == pytest.approx(limits)
    assert "accuracy_not_stated" not in {said.code for said in found.notices}


def test_an_instrument_without_stated_limits_is_named_and_counts_its_noise_alone():
    found = complete(session_of(ambient=22.0), logged(two_pins()), (), None)
    assert "accuracy_not_stated" in {said.code for said in found.notices}
    assert (found.readings["common_c"] == 0.0).all()
    assert found.readings.groupby("pin")["uncertainty_c"].first()["b"] == pytest.approx(0.3, rel=0.15)


def test_the_rise_is_over_the_stated_ambient():
    table = complete(session_of(ambient=22.0), logged(two_pins()), (), None).readings
    assert (table["temperature_c"] - table["rise_c"]).to_numpy() == pytest.approx(22.0)


def test_the_rise_follows_a_logged_ambient_and_the_moments_are_kept_once():
    log = (np.array([0.0, 1190.0]), np.array([20.0, 24.0]))
    found = complete(session_of(), logged(two_pins()), (), log)
    table = found.readings
    assert (table["temperature_c"] - table["rise_c"]).to_numpy() == pytest.approx(20.0 + 4.0 * table["time_s"] / 1190.0)
    assert list(found.ambient["time_s"]) == list(TIMES)
    assert found.ambient["ambient_c"].iloc[-1] == pytest.approx(24.0)
    assert found.settings["ambient"]["origin"] == "log"


def test_doubts_that_the_logger_wrote_are_kept():
    table = logged(two_pins(), quality="outlier")
    assert set(complete(session_of(ambient=22.0), table, (), None).readings["quality"]) == {"outlier"}


def test_an_estimated_ambient_is_marked_beside_the_doubts_that_were_there():
    rng = np.random.default_rng(2)
    course = 22.0 + 30.0 * (1.0 - np.exp(-np.maximum(TIMES - 300.0, 0.0) / 250.0))
    cold_first = {pin: course + rng.normal(0.0, 0.05, TIMES.size) for pin in ("a", "b")}
    found = complete(session_of(), logged(cold_first, quality="outlier"), (stage(300.0, 1200.0),), None)
    assert set(found.readings["quality"]) == {"outlier;ambient_estimated"}
    assert (found.readings["temperature_c"] - found.readings["rise_c"]).median() == pytest.approx(22.0, abs=0.5)


def test_the_stated_number_goes_before_the_log_and_nothing_known_is_nan():
    log = (np.array([0.0, 100.0]), np.array([20.0, 30.0]))
    times = np.array([-10.0, 50.0, 500.0])
    assert list(ambient_at(session_of(ambient=18.0), times, log)) == [18.0] * 3
    assert list(ambient_at(session_of(), times, log)) == [20.0, 25.0, 30.0]
    assert np.isnan(ambient_at(session_of(), times, None)).all()
    assert np.isnan(ambient_at(session_of(), times, (np.array([]), np.array([])))).all()


def test_noise_is_found_beside_a_trend_and_wrong_readings():
    rng = np.random.default_rng(3)
    celsius = 20.0 + 0.3 * np.arange(2000) + rng.normal(0.0, 0.25, 2000)
    assert series_noise(celsius) == pytest.approx(0.25, rel=0.08)
    celsius[::100] += 40.0
    celsius[5::200] = np.nan
    assert series_noise(celsius) == pytest.approx(0.25, rel=0.15)


def test_steps_of_the_logger_count_as_a_rectangular_error():
    """JCGM 100:2008, F.2.2.1: a resolution of 0.5 K is 0.5 / sqrt(12) K."""
    slow = np.round((20.0 + 0.01 * np.arange(600)) * 2.0) / 2.0
    assert series_noise(slow) == pytest.approx(0.5 / np.sqrt(12.0))


def test_nothing_is_quieter_than_the_floor():
    assert series_noise(np.full(50, 30.0)) == NOISE_FLOOR_K
    assert series_noise(np.array([20.0, 40.0, 10.0])) == NOISE_FLOOR_K  # three readings tell no noise
    assert series_noise(np.array([20.0, 40.0, 10.0, 60.0])) > 10.0
