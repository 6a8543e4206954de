"""Invariants of the measurement equation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotspot.physics import radiation

BAND = radiation.band(8.0, 14.0)
WARM = st.floats(-40.0, 300.0)
EMISSIVITY = st.floats(0.05, 1.0)


@given(true_c=WARM, reflected_c=WARM)
def test_a_blackbody_shows_its_own_temperature(true_c: float, reflected_c: float) -> None:
    seen = radiation.received(BAND.radiance(true_c), 1.0, BAND.radiance(reflected_c))
    assert float(BAND.celsius(seen)) == pytest.approx(true_c, abs=1e-9)


@given(true_c=WARM, emissivity=EMISSIVITY)
def test_nothing_can_be_told_apart_where_the_surroundings_are_as_warm(true_c, emissivity) -> None:
    seen = radiation.received(BAND.radiance(true_c), emissivity, BAND.radiance(true_c))
    assert float(BAND.celsius(seen)) == pytest.approx(true_c, abs=1e-9)


@given(true_c=WARM, reflected_c=WARM, emissivity=EMISSIVITY)
def test_apparent_lies_between_surface_and_surroundings(true_c, reflected_c, emissivity) -> None:
    seen = radiation.received(BAND.radiance(true_c), emissivity, BAND.radiance(reflected_c))
    apparent = float(BAND.celsius(seen))
    assert min(true_c, reflected_c) - 1e-9 <= apparent <= max(true_c, reflected_c) + 1e-9


@given(true_c=WARM, reflected_c=WARM, emissivity=EMISSIVITY)
def test_there_and_back(true_c, reflected_c, emissivity) -> None:
    seen = radiation.received(BAND.radiance(true_c), emissivity, BAND.radiance(reflected_c))
    back = BAND.celsius(radiation.emitted(seen, emissivity, BAND.radiance(reflected_c)))
    assert float(back) == pytest.approx(true_c, abs=1e-6)


def test_the_table_rises_and_ends_in_nan() -> None:
    celsius = np.linspace(radiation.COLDEST_C, radiation.HOTTEST_C, 5001)
    assert np.all(np.diff(BAND.radiance(celsius)) > 0)
    assert np.isnan(BAND.radiance([-300.0, -200.0, 4000.0, np.nan])).all()
    assert np.isnan(BAND.celsius([-1.0, 0.0, np.nan, 1e9])).all()


def test_slope_is_the_derivative_of_the_exact_integral() -> None:
    for celsius in (0.0, 25.0, 80.0, 150.0):
        exact = (radiation.band_radiance(celsius + 0.01, 8, 14) - radiation.band_radiance(celsius - 0.01, 8, 14)) / 0.02
        assert float(BAND.slope(celsius)) == pytest.approx(float(exact), rel=1e-3)


def test_no_band_is_refused() -> None:
    for low, high in ((14.0, 8.0), (0.0, 8.0), (8.0, 8.0)):
        with pytest.raises(ValueError, match="no band"):
            radiation.band(low, high)


def test_the_table_is_the_exact_integral_to_a_ten_thousandth_of_a_kelvin() -> None:
    made = radiation.BandRadiance(8.0, 14.0)  # not the one that `band` keeps
    for low, high, within_k in ((radiation.COLDEST_C, 800.0, 1e-4), (800.0, radiation.HOTTEST_C, 4e-3)):
        celsius = np.random.default_rng(3).uniform(low, high, 3000)
        exact = radiation.band_radiance(celsius, 8.0, 14.0)
        assert made.celsius(exact) == pytest.approx(celsius, abs=within_k)
        assert np.abs(made.radiance(celsius) / exact - 1.0).max() < 2e-6


def test_the_table_holds_its_whole_range_and_not_a_kelvin_more() -> None:
    made = radiation.BandRadiance(8.0, 14.0)
    inside = np.array([radiation.COLDEST_C + 1e-3, radiation.HOTTEST_C - 1e-3])
    assert np.isfinite(made.radiance(inside)).all()
    assert made.celsius(radiation.band_radiance(inside, 8.0, 14.0)) == pytest.approx(inside, abs=1e-4)
    beyond = np.array([radiation.COLDEST_C - 1.0, radiation.HOTTEST_C + 1.0])
    assert np.isnan(made.radiance(beyond)).all()
    assert np.isnan(made.celsius(radiation.band_radiance(beyond, 8.0, 14.0))).all()


def test_bands_that_meet_add_up() -> None:
    low, high, whole = (radiation.BandRadiance(*ends) for ends in ((7.5, 10.0), (10.0, 13.0), (7.5, 13.0)))
    for celsius in (-20.0, 25.0, 120.0):
        assert float(low.radiance(celsius) + high.radiance(celsius)) == pytest.approx(float(whole.radiance(celsius)))


def test_shares_keep_the_shape_that_they_are_asked_in() -> None:
    asked = np.array([[0.001, 0.003], [0.01, 0.05]])
    assert radiation.share_below(asked).shape == (2, 2)
    assert radiation.share_below(0.0028977719) == pytest.approx(0.25, abs=5e-4)  # a quarter below Wien's peak
    assert (np.diff(radiation.share_below(asked).ravel()) > 0).all()


def test_absolute_zero_and_below_shine_nothing_that_is_known() -> None:
    assert np.isnan(radiation.band_radiance([-273.15, -300.0], 8.0, 14.0)).all()
    assert np.isnan(BAND.radiance(-273.15))
    assert np.isnan(BAND.celsius(0.0))
