"""The fit of a calibration taken apart: what its uncertainty holds, what lies between the points, what is refused."""

import numpy as np
import pytest
import scipy.stats

from hotspot.calibration import Calibration, ReferencePoint, flat_band, sakuma_hattori, sakuma_hattori_celsius
from hotspot.errors import InputError
from hotspot.physics.statistics import rectangular
from hotspot.reason.calibrating import _trusted, bend_k, fit, line_through
from hotspot.reason.reference_points import READING_NOISE_K, repeat_scatter, widened, worth


def point(celsius, reading, u=0.3):
    return ReferencePoint("other", reading, celsius, None, u)


def fitted(kind, rows, u=0.3):
    return fit(worth([point(celsius, reading, u) for celsius, reading in rows], 23.0), kind, "points.csv")


def test_a_quadratic_variance_is_kept_as_level_slope_and_pivot_and_never_below_the_truth():
    """0.3 K at the best place, 35 °C, and 0.01 K per kelvin away from it."""
    celsius = np.linspace(0.0, 100.0, 41)
    made = _trusted(Calibration("linear", 0.0, 1.0, numbers=(1.0, 0.0)), celsius, 0.09 + 1e-4 * (celsius - 35.0) ** 2)
    assert (made.level_k, made.slope, made.pivot_c) == (pytest.approx(0.3), pytest.approx(0.01), pytest.approx(35.0))
    assert made.shape_k == 0.0
    flat = _trusted(made, celsius, np.full(41, 0.04))
    assert (flat.level_k, flat.shape_k) == (pytest.approx(0.2, rel=1e-3), pytest.approx(0.0, abs=0.01))
    assert flat.slope == pytest.approx(0.0, abs=1e-5)
    bumpy = 0.09 + 0.05 * np.sin(celsius / 9.0) ** 2
    kept = _trusted(made, celsius, bumpy)
    whole = kept.level_k**2 + (kept.slope * (celsius - kept.pivot_c)) ** 2 + kept.shape_k**2
    assert (whole >= bumpy - 1e-9).all()
    falling = _trusted(made, celsius, 0.04 + 0.001 * celsius)
    whole = falling.level_k**2 + (falling.slope * (celsius - falling.pivot_c)) ** 2 + falling.shape_k**2
    assert (whole >= 0.04 + 0.001 * celsius - 1e-9).all()


def test_the_line_is_that_of_scipy_with_its_standard_errors():
    """JCGM 100:2008, H.3, by scipy.stats.linregress."""
    rng = np.random.default_rng(6)
    x = np.linspace(0.0, 10.0, 12)
    y = 3.0 + 0.7 * x + rng.normal(0.0, 0.2, 12)
    found, covariance = line_through(x, y)
    by_scipy = scipy.stats.linregress(x, y)
    assert found == pytest.approx([by_scipy.slope, by_scipy.intercept])
    assert np.sqrt(np.diag(covariance)) == pytest.approx([by_scipy.stderr, by_scipy.intercept_stderr], rel=1e-4)


def test_the_bend_is_how_far_radiance_strays_from_a_chord():
    """By a fine grid of the law itself; a chord over one temperature strays by nothing."""
    a, b = flat_band(8.0, 14.0)
    ends = sakuma_hattori(np.array([0.0, 100.0]), a, b, 1.0)
    fine = np.linspace(*ends, 20001)
    exact = np.abs(sakuma_hattori_celsius(fine, a, b, 1.0) - np.interp(fine, ends, [0.0, 100.0])).max()
    assert bend_k(np.array([0.0, 100.0])) == pytest.approx(exact, rel=0.01)
    assert bend_k(np.array([0.0, 50.0])) < 0.5 * bend_k(np.array([0.0, 100.0]))
    assert bend_k(np.array([50.0, 50.0])) == pytest.approx(0.0, abs=1e-9)


def test_a_table_of_two_places_is_as_unsure_at_each_as_its_readings_and_bends_between():
    found = fitted("table", [(0.0, 0.0), (0.0, 0.0), (100.0, 1000.0), (100.0, 1000.0)])
    made = found.calibration
    bend = bend_k(np.array([0.0, 100.0]))
    assert found.said[0].values["bend"] == pytest.approx(bend)
    assert made.shape_k >= rectangular(bend)
    assert made.points == ((0.0, 0.0), (1000.0, 100.0))
    assert (made.low, made.high) == (0.0, 1000.0)
    assert found.residual_k == pytest.approx(np.zeros(4))
    assert found.scatter_k == 0.0
    surer = fitted("table", [(0.0, 0.0), (100.0, 1000.0)], 0.1).calibration
    less = fitted("table", [(0.0, 0.0), (100.0, 1000.0)], 2.0).calibration
    assert float(less.uncertainty_k(50.0)) > float(surer.uncertainty_k(50.0))


def test_a_table_takes_the_mean_of_each_place_and_tells_what_its_readings_scatter():
    rows = [(0.0, -1.0), (0.0, 1.0), (50.0, 498.0), (50.0, 502.0), (100.0, 999.0), (100.0, 1001.0)]
    found = fitted("table", rows)
    assert found.calibration.points == ((0.0, 0.0), (500.0, 50.0), (1000.0, 100.0))
    assert found.residual_k == pytest.approx([-0.1, 0.1, -0.2, 0.2, -0.1, 0.1])
    assert found.scatter_k == pytest.approx(np.sqrt((2 * 0.01 + 2 * 0.04 + 2 * 0.01) / 3.0))
    bends = [bend_k(np.array(pair)) for pair in ((0.0, 50.0), (50.0, 100.0))]
    assert found.said[0].values["bend"] == pytest.approx(max(bends))


def test_readings_that_fall_with_the_temperature_make_a_table_as_well():
    found = fitted("table", [(0.0, 1000.0), (50.0, 500.0), (100.0, 0.0)])
    assert found.calibration.points == ((0.0, 100.0), (500.0, 50.0), (1000.0, 0.0))
    assert float(found.calibration.celsius(250.0)) == pytest.approx(75.0)


def test_residuals_are_fitted_minus_reference_and_their_scatter_counts_the_parameters():
    rows = [(0.0, 0.0), (25.0, 251.0), (50.0, 499.0), (75.0, 751.0), (100.0, 1000.0)]
    found = fitted("linear", rows, 0.05)
    slope, offset = found.calibration.numbers
    away = [slope * reading + offset - celsius for celsius, reading in rows]
    assert found.residual_k == pytest.approx(away)
    assert found.scatter_k == pytest.approx(np.sqrt(np.sum(np.square(away)) / 3.0))
    assert fitted("linear", rows[::4]).scatter_k == 0.0


@pytest.mark.parametrize(
    ("kind", "rows", "said"),
    [
        ("linear", [(0.0, 0.0), (0.0, 1.0)], "one place of known temperature, and linear needs 2"),
        ("sakuma-hattori", [(0.0, 1.0), (60.0, 9.0)], "2 places of known temperature, and sakuma-hattori needs 3"),
        ("linear", [(0.0, 0.0), (19.0, 190.0)], "the points span 19.0 K, and at least 20 K are needed"),
        ("table", [(0.0, 0.0), (50.0, 600.0), (100.0, 500.0)], "neither rise nor fall all the way"),
    ],
)
def test_points_that_hold_no_answer_are_refused_by_name(kind, rows, said):
    with pytest.raises(InputError, match=said):
        fitted(kind, rows)


def test_unsure_references_must_lie_further_apart():
    assert fitted("linear", [(0.0, 0.0), (31.0, 310.0)], 3.0).calibration.kind == "linear"
    with pytest.raises(InputError, match="at least 3[0-9] K are needed"):
        fitted("linear", [(0.0, 0.0), (29.0, 290.0)], 3.0)


def test_repeats_tell_the_scatter_pooled_over_the_places():
    """Pooled standard deviation of (1, 3) and (10, 12, 14): sqrt((2 + 8) / 3), by hand."""
    found = repeat_scatter(np.array([1.0, 10.0, 3.0, 12.0, 14.0, 7.0]), np.array([0, 1, 0, 1, 1, 2]))
    assert found == (pytest.approx(np.sqrt(10.0 / 3.0)), 3)
    assert repeat_scatter(np.array([1.0, 5.0]), np.array([0, 1])) == (0.0, 0)
    assert widened(2.0, 3) == pytest.approx(2.0 * 3.182446 / 1.96)  # Student's t of 3, any table
    assert widened(2.0, 0) == READING_NOISE_K
