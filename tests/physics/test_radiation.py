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
