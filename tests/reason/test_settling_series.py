"""Readings made ready for a fit: what is set aside, averaged, bounded, and what the air did."""

import numpy as np
import pytest

from hotspot.reason.settling_series import AIR_LAG_S, ambient_of, jumps, seen_with_the_camera, series

T = np.arange(-400.0, 1001.0, 5.0)


def ready(t, y, clipped=None, start=0.0, end=1000.0):
    return series(t, y, clipped, start, end)


def noisy(y, sd=0.1, seed=0):
    return y + np.random.default_rng(seed).normal(0.0, sd, y.size)


def test_a_long_series_becomes_48_means_over_even_stretches():
    t = np.arange(0.0, 1001.0, 1.0)
    found = ready(t, 20.0 + 0.01 * t)
    assert found.time_s.size == 48
    assert found.celsius == pytest.approx(20.0 + 0.01 * found.time_s)
    assert np.diff(found.time_s) == pytest.approx(1000.0 / 48, abs=1.1)
    assert (found.time_s[0], found.time_s[-1]) == (pytest.approx(10.0, abs=1.0), pytest.approx(990.0, abs=1.0))


def test_a_short_series_is_kept_as_it_is():
    t = np.arange(0.0, 480.0, 10.0)
    found = ready(t, 20.0 + 0.01 * t)
    assert list(found.time_s) == list(t)
    assert found.celsius == pytest.approx(20.0 + 0.01 * t)


def test_a_gap_leaves_no_empty_means():
    t = np.concatenate([np.arange(0.0, 200.0, 2.0), np.arange(700.0, 1000.0, 2.0)])
    found = ready(t, 20.0 + 0.01 * t)
    assert np.isfinite(found.celsius).all()
    assert not ((found.time_s > 205.0) & (found.time_s < 690.0)).any()
    assert found.celsius == pytest.approx(20.0 + 0.01 * found.time_s)


def test_times_count_from_the_start_of_the_stage_and_end_with_it():
    found = ready(T, noisy(25.0 + 0.01 * T), start=100.0, end=500.0)
    assert found.time_s.min() >= 0.0
    assert found.time_s.max() <= 400.0
    assert found.celsius[0] == pytest.approx(26.0, abs=0.3)


def test_readings_in_any_order_and_without_a_value_are_one_series():
    order = np.random.default_rng(4).permutation(T.size)
    y = 25.0 + 0.01 * T
    y[7::11] = np.nan
    mixed, straight = ready(T[order], y[order]), ready(T, y)
    assert mixed.time_s == pytest.approx(straight.time_s)
    assert mixed.celsius == pytest.approx(straight.celsius)


def test_the_noise_of_a_single_reading_is_found_whatever_the_trend():
    for sd in (0.1, 0.4):
        found = ready(T, noisy(25.0 + 0.03 * T, sd))
        assert found.noise_k == pytest.approx(sd, rel=0.25)
    assert ready(T, 25.0 + 0.03 * T).noise_k == 0.05  # the least that is believed
    assert ready(T[:84], 25.0 + 0.03 * T[:84], end=100.0).noise_k == 0.1  # four readings tell none


def test_means_are_surer_than_single_readings():
    def sd_of(every_s):
        t = np.arange(0.0, 480.0, every_s)
        return np.mean([ready(t, noisy(25.0 + 0.0 * t, 0.4, seed)).white_k.mean() for seed in range(12)])

    assert sd_of(10.0) == pytest.approx(0.4, rel=0.15)
    assert sd_of(0.1) == pytest.approx(np.hypot(0.4 * np.sqrt(2.0 / 100.0), 0.03), rel=0.1)


def test_a_coarse_scale_is_seen_by_its_steps_and_a_fine_one_is_not():
    fine = noisy(25.0 + 0.01 * T, 0.2)
    assert ready(T, np.round(fine * 2.0) / 2.0).quantum_k == 0.5
    assert ready(T, fine).quantum_k == 0.0
    assert ready(T, np.full(T.size, 25.0)).quantum_k == 0.0


def test_clipped_readings_are_bounds_with_their_times_not_readings():
    y = 25.0 + 0.02 * T
    clipped = np.where(y > 40.0, "high", np.where((T > -1.0) & (T < 50.0), "low", ""))
    found = ready(T, y, clipped)
    assert found.celsius.max() <= 40.0
    assert found.time_s.min() >= 50.0
    assert found.high[0] == pytest.approx([755.0, 40.1])
    assert found.low[:, 0].tolist() == list(np.arange(0.0, 50.0, 5.0))
    assert found.low[-1] == pytest.approx([45.0, 25.9])


def test_single_wrong_readings_are_counted_and_set_aside():
    y = noisy(25.0 + 0.02 * T)
    y[[100, 140, 200]] += [9.0, -8.0, 30.0]
    y[20] += 15.0  # before the stage: not one of its own
    found = ready(T, y)
    assert found.wrong == 3
    assert np.abs(found.celsius - 25.0 - 0.02 * found.time_s).max() < 0.4
    assert not jumps(T[:4], np.array([20.0, 90.0, 20.0, 20.0])).any()  # four readings tell no wrong one


def test_the_rate_before_the_stage_is_that_of_its_last_four_minutes():
    y = np.where(T < -240.0, 90.0 - 0.2 * (T + 240.0), 90.0) - 0.05 * (np.maximum(T, -240.0) + 240.0)
    rate, sd = ready(T, noisy(y, 0.02)).before
    assert rate == pytest.approx(-0.05, abs=0.002)
    assert 0.25 * 0.05 < sd < 0.02
    steady = ready(T, np.full(T.size, 30.0)).before
    assert steady[0] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < steady[1] < 1e-3


@pytest.mark.parametrize(
    ("since_s", "known"), [(-400.0, True), (-36.0, True), (-30.0, False), (-16.0, False), (0.0, False)]
)
def test_half_a_minute_before_the_stage_tells_a_rate(since_s, known):
    t = T[since_s <= T]
    assert (ready(t, 25.0 + 0.01 * t).before is not None) == known


def test_three_readings_tell_no_rate():
    t = np.concatenate([[-200.0, -100.0, -20.0], np.arange(0.0, 500.0, 5.0)])
    assert ready(t, 25.0 + 0.01 * t).before is None
    t = np.concatenate([[-200.0, -150.0, -100.0, -20.0], np.arange(0.0, 500.0, 5.0)])
    assert ready(t, 25.0 + 0.01 * t).before[0] == pytest.approx(0.01)


def test_one_number_or_none_is_an_air_that_stood_still():
    assert ambient_of(T, None, 1000.0).last_c is None
    for given in (22.0, np.full(T.size, 22.0)):
        air = ambient_of(T, given, 1000.0)
        assert (air.last_c, air.followed, air.moved_k) == (22.0, False, 0.0)
    unknown = ambient_of(T, np.full(T.size, np.nan), 1000.0)
    assert (unknown.last_c, unknown.followed) == (None, False)


def test_a_connector_follows_an_air_that_jumped_as_a_first_order_lag():
    """1 - exp(-t / tau), Incropera and DeWitt, eq. 5.6; against its last value."""
    air = np.where(T < 0.0, 20.0, 26.0)
    found = ambient_of(T, air, 1000.0)
    assert (found.last_c, found.followed) == (26.0, True)
    after = T > 20.0
    exact = -6.0 * np.exp(-T[after] / AIR_LAG_S)
    assert found.moved_k[after] == pytest.approx(exact, abs=0.15)
    assert found.moved_k[T < -20.0] == pytest.approx(-6.0, abs=0.05)


def test_what_the_air_did_after_the_stage_does_not_count():
    air = np.where(T < 600.0, 20.0, 40.0)
    assert ambient_of(T, air, 500.0).last_c == 20.0
    assert ambient_of(T, air, 500.0).followed is False


def test_a_drift_that_the_camera_saw_is_half_its_own_and_half_the_air():
    t = np.arange(0.0, 1200.0, 10.0)
    found = seen_with_the_camera(22.0, 0.005 * t, t)
    assert found.last_c == 22.0
    assert found.moved_k[-1] == pytest.approx(-0.005 * 0.5 * AIR_LAG_S, rel=0.01)
    assert found.unsure_k == pytest.approx(0.005 * 0.5 * AIR_LAG_S / np.sqrt(3.0))
    step = seen_with_the_camera(22.0, np.array([0.0, 2.0]), np.array([0.0, 10.0]))
    assert list(step.moved_k) == [-2.0, 0.0]
    assert step.unsure_k == 0.0
