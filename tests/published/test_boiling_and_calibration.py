"""Boiling water, the standard atmosphere, Sakuma-Hattori, and fits with their covariance, against printed values."""

import numpy as np
import pytest

from hotspot.calibration import flat_band, sakuma_hattori, sakuma_hattori_celsius
from hotspot.physics import radiation, water

pytestmark = pytest.mark.published


@pytest.mark.parametrize(("mega_pascal", "kelvin"), [(0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)])
def test_saturation_temperature_is_iapws_table_36(mega_pascal: float, kelvin: float) -> None:
    """IAPWS R7-97(2012), Table 36; rows cited from memory, confirmed by the package iapws 1.5.5 (its _TSat_P)."""
    assert water.boiling_c(mega_pascal * 1e6) + 273.15 == pytest.approx(kelvin, abs=1e-6)


@pytest.mark.parametrize(
    ("pascal", "celsius"), [(101325, 99.9743), (90000, 96.6870), (80000, 93.4854), (60000, 85.9258)]
)
def test_boiling_point_by_another_implementation(pascal: float, celsius: float) -> None:
    """As iapws 1.5.5 gave them, to 0.0001 K; 99.974 °C at 101.325 kPa is also the usual figure on ITS-90."""
    assert water.boiling_c(pascal) == pytest.approx(celsius, abs=1e-4)


@pytest.mark.parametrize(
    ("metres", "hecto_pascal"), [(0, 1013.25), (1000, 898.76), (2000, 795.01), (3000, 701.21), (5000, 540.48)]
)
def test_pressure_is_the_printed_row_of_the_standard_atmosphere(metres: float, hecto_pascal: float) -> None:
    """U.S. Standard Atmosphere, 1976, Table I, geometric altitude; rows cited from memory, confirmed by the package
    fluids 1.3.1 (ATMOSPHERE_1976)."""
    assert water.standard_pressure_pa(metres) / 100.0 == pytest.approx(hecto_pascal, abs=0.006)


def test_boiling_point_falls_with_the_altitude_by_a_third_of_a_kelvin_per_hundred_metres() -> None:
    """The cook's rule, 1 °C per 300 m (about 1 °F per 500 ft: common practice, no source)."""
    for metres in (300.0, 900.0, 1500.0):
        fall = water.boiling_c(101325.0) - water.boiling_c(water.standard_pressure_pa(metres))
        assert fall == pytest.approx(metres / 300.0, rel=0.05)


@pytest.mark.parametrize("pascal", [60e3, 80e3, 101325.0])
def test_slope_of_the_boiling_point_is_that_of_its_curve(pascal: float) -> None:
    """Against a central difference a hundred times finer; 0.028 K per hPa at sea level is the usual figure."""
    fine = (water.boiling_c(pascal + 5.0) - water.boiling_c(pascal - 5.0)) / 10.0
    assert water.boiling_slope_k_pa(pascal) == pytest.approx(fine, rel=1e-4)
    if pascal > 1e5:
        assert 100.0 * water.boiling_slope_k_pa(pascal) == pytest.approx(0.028, abs=5e-4)


def test_the_flat_band_of_sakuma_hattori() -> None:
    """8-14 um: 9.36 um and 178 um K, the rounded pair of ASTM E2758 and E2847 (cited from memory)."""
    a, b = flat_band(8.0, 14.0)
    assert a == pytest.approx(9.36, abs=0.005)
    assert b == pytest.approx(178.0, abs=0.5)


@pytest.mark.parametrize("celsius", [0.0, 25.0, 50.0, 80.0, 120.0, 200.0])
def test_sakuma_hattori_is_the_integral_of_scipy(celsius: float) -> None:
    """Scaled at 50 °C it follows the exact band radiance by quad to the departures that the law is known for:
    +0.17 % at 0 °C, -0.08 % at 80 °C, -0.31 % at 200 °C."""
    from scipy import constants as codata
    from scipy.integrate import quad

    c2 = codata.h * codata.c / codata.k * 1e6

    def exact(at):
        return quad(lambda um: um**-5 / np.expm1(c2 / (um * (at + 273.15))), 8, 14, epsrel=1e-11)[0]

    a, b = flat_band(8.0, 14.0)
    ratio = sakuma_hattori(celsius, a, b, 1.0) / sakuma_hattori(50.0, a, b, 1.0) / (exact(celsius) / exact(50.0))
    known = {0.0: 0.0017, 50.0: 0.0, 80.0: -0.0008, 200.0: -0.0031}
    assert abs(ratio - 1) < 0.0032
    if celsius in known:
        assert ratio - 1 == pytest.approx(known[celsius], abs=1e-4)


@pytest.mark.parametrize(
    ("true_c", "around_c", "emissivity", "by_integral", "by_law"),
    [
        (80, 25, 0.95, 77.700, 77.699),
        (80, 25, 0.90, 75.367, 75.364),
        (80, 25, 0.60, 60.572, 60.562),
        (80, 25, 0.10, 31.704, 31.699),
        (60, 20, 0.95, 58.272, 58.271),
    ],
)
def test_apparent_temperatures_by_both_laws(true_c, around_c, emissivity, by_integral, by_law) -> None:
    """Measurement equation over 8-14 um; both columns were worked out by SciPy 1.17, outside this package."""
    table = radiation.band(8.0, 14.0)
    seen = radiation.received(table.radiance(true_c), emissivity, table.radiance(around_c))
    assert float(table.celsius(seen)) == pytest.approx(by_integral, abs=0.001)
    a, b = flat_band(8.0, 14.0)
    law = radiation.received(sakuma_hattori(true_c, a, b, 1.0), emissivity, sakuma_hattori(around_c, a, b, 1.0))
    assert float(sakuma_hattori_celsius(law, a, b, 1.0)) == pytest.approx(by_law, abs=0.001)


@pytest.mark.parametrize(
    ("apparent", "emissivity", "surface"), [(60.0, 0.95, 61.605), (60.0, 0.90, 63.369), (100.0, 0.95, 103.115)]
)
def test_surface_temperatures_by_the_inverse(apparent, emissivity, surface) -> None:
    """The same source; reflected 25 °C."""
    table = radiation.band(8.0, 14.0)
    own = radiation.emitted(table.radiance(apparent), emissivity, table.radiance(25.0))
    assert float(table.celsius(own)) == pytest.approx(surface, abs=0.002)


# GUM, JCGM 100:2008, H.3: calibration of a thermometer by a straight line, data and results as printed there (read in
# the documentation of the package GTC 1.5.1, which states agreement with the GUM).
H3_CELSIUS = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
H3_CORRECTION = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_h3_the_line_and_what_it_is_worth_far_from_its_points() -> None:
    """The fit that `hotspot calibrate` makes, on the numbers of H.3: y1, y2, their u and r, and b(30 °C)."""
    from hotspot.reason.calibrating import line_through

    found, covariance = line_through(np.array(H3_CELSIUS) - 20.0, np.array(H3_CORRECTION))
    assert found[1] == pytest.approx(-0.1712, abs=0.00005)
    assert found[0] == pytest.approx(0.00218, abs=0.000005)
    u = np.sqrt(np.diag(covariance))
    assert u[1] == pytest.approx(0.0029, abs=0.00005)
    assert u[0] == pytest.approx(0.00067, abs=0.000005)
    assert covariance[0, 1] / (u[0] * u[1]) == pytest.approx(-0.930, abs=0.0005)
    at = np.array([10.0, 1.0])
    assert at @ found == pytest.approx(-0.1494, abs=0.00005)
    assert np.sqrt(at @ covariance @ at) == pytest.approx(0.0041, abs=0.00005)
    assert np.hypot(10.0 * u[0], u[1]) == pytest.approx(0.0073, abs=0.0001)  # the trap: without the covariance


def test_h1_the_end_gauge() -> None:
    """JCGM 100:2008, H.1: l = l_s + d - l_s (d_alpha theta + alpha_s d_theta); inputs and results as printed there."""
    from hotspot.physics.uncertainty import combined, sensitivities

    def length(standard, difference, d_alpha, theta, alpha, d_theta):
        return standard + difference - standard * (d_alpha * theta + alpha * d_theta)

    at = np.array([50_000_623.0, 215.0, 0.0, -0.1, 11.5e-6, 0.0])
    u = np.array(
        [25.0, np.sqrt(5.8**2 + 3.9**2 + 6.7**2), 1e-6 / np.sqrt(3), 0.41, 2e-6 / np.sqrt(3), 0.05 / np.sqrt(3)]
    )
    slopes = sensitivities(length, at, u)
    assert length(*at) == pytest.approx(50_000_838.0, abs=0.5)
    assert float(combined(slopes, u)) == pytest.approx(32.0, abs=0.5)
    assert abs(slopes[5]) * u[5] == pytest.approx(16.6, abs=0.05)
    assert abs(slopes[2]) * u[2] == pytest.approx(2.9, abs=0.05)
