"""Radiation against printed tables and reference libraries."""

import numpy as np
import pytest

from hotspot.handbook import constants
from hotspot.physics import radiation

pytestmark = pytest.mark.published

# Kutz (ed.), Mechanical Engineers' Handbook, vol. 4 (Energy and Power), Table 16, p. 183: lambda T in um K
# and the share of a blackbody's radiation below it, as printed.
KUTZ_TABLE_16 = [
    (1000, 0.3207e-3), (1400, 0.7789e-2), (1800, 0.3934e-1), (2000, 0.6673e-1), (2200, 0.1009),
    (2400, 0.1402), (2800, 0.2279), (2900, 0.2505), (3000, 0.2732), (3200, 0.3181), (3600, 0.4036),
    (4000, 0.4809), (4200, 0.5160), (4900, 0.6209), (5000, 0.6337), (5200, 0.6579), (5600, 0.7010),
    (6000, 0.7378), (10000, 0.9142),
]  # fmt: skip


@pytest.mark.parametrize(("product_um_k", "printed"), KUTZ_TABLE_16)
def test_share_below_is_the_printed_row(product_um_k: float, printed: float) -> None:
    """The share depends on c2/(lambda T) only; the table is of the days when c2 was 0.014388 m K."""
    unit = 10.0 ** (np.floor(np.log10(printed)) - 3)  # one unit in the fourth digit
    as_then = product_um_k * 1e-6 * constants.SECOND_RADIATION_M_K / 0.014388
    assert float(radiation.share_below(as_then)) == pytest.approx(printed, abs=1.001 * unit)
    assert float(radiation.share_below(product_um_k * 1e-6)) == pytest.approx(printed, rel=4.1e-4)


@pytest.mark.parametrize(
    ("kelvin", "low", "high", "share_low", "share_high"),
    [
        (300, 8, 14, 0.1402, 0.5160),
        (350, 8, 14, 0.2279, 0.6209),
        (400, 8, 14, 0.3181, 0.7010),
        (400, 7.5, 13, 0.2732, 0.6579),
    ],
)
def test_band_radiance_from_the_printed_shares(kelvin, low, high, share_low, share_high) -> None:
    printed = (share_high - share_low) * 5.670374419e-8 * kelvin**4 / np.pi
    got = float(radiation.band_radiance(kelvin - 273.15, low, high))
    assert got == pytest.approx(printed, rel=5e-4)


@pytest.mark.parametrize(("low", "high"), [(8.0, 14.0), (7.5, 13.0), (3.0, 5.0)])
@pytest.mark.parametrize("celsius", [-40.0, 0.0, 20.0, 80.0, 200.0, 1000.0])
def test_band_radiance_is_the_integral_of_scipy(celsius, low, high) -> None:
    from scipy import constants as codata
    from scipy.integrate import quad

    h, c, k = codata.h, codata.c, codata.k

    def spectral(um: float) -> float:
        metre = um * 1e-6
        return 2e-6 * h * c**2 / metre**5 / np.expm1(h * c / (metre * k * (celsius + 273.15)))

    expected = quad(spectral, low, high, epsrel=1e-12)[0]
    assert float(radiation.band_radiance(celsius, low, high)) == pytest.approx(expected, rel=1e-9)
    assert float(radiation.band(low, high).radiance(celsius)) == pytest.approx(expected, rel=1e-6)


def test_planck_is_the_blackbody_of_astropy() -> None:
    from astropy import units
    from astropy.modeling.models import BlackBody

    um = np.linspace(3.0, 20.0, 40)
    for kelvin in (250.0, 300.0, 450.0):
        model = BlackBody(temperature=kelvin * units.K, scale=1.0 * units.W / (units.m**3 * units.sr))
        expected = model(um * units.um).to_value(units.W / (units.m**3 * units.sr))
        np.testing.assert_allclose(radiation.planck(um * 1e-6, kelvin), expected, rtol=1e-9)


def test_constants_are_codata() -> None:
    from scipy.constants import physical_constants

    value = {name: row[0] for name, row in physical_constants.items()}
    assert value["first radiation constant for spectral radiance"] == pytest.approx(
        constants.FIRST_RADIATION_W_M2_SR, rel=1e-12
    )
    assert value["second radiation constant"] == pytest.approx(constants.SECOND_RADIATION_M_K, rel=1e-9)
    assert value["Stefan-Boltzmann constant"] == pytest.approx(constants.STEFAN_BOLTZMANN_W_M2_K4, rel=1e-9)
    assert value["Wien wavelength displacement law constant"] == pytest.approx(
        constants.WIEN_DISPLACEMENT_M_K, rel=1e-9
    )


def test_the_peak_lies_where_wien_puts_it() -> None:
    kelvin = 350.0
    um = np.linspace(5.0, 12.0, 70001)
    peak = um[np.argmax(radiation.planck(um * 1e-6, kelvin))]
    assert peak == pytest.approx(constants.WIEN_DISPLACEMENT_M_K / kelvin * 1e6, abs=2e-4)


def test_the_whole_spectrum_is_stefan_boltzmann() -> None:
    """What lies beyond the longest wavelength is less than its Rayleigh-Jeans share, 15/pi^4 z^3/3."""
    total = float(radiation.band_radiance(80.0, 0.5, 290.0)) * np.pi
    z = constants.SECOND_RADIATION_M_K / (290e-6 * 353.15)
    share = total / (constants.STEFAN_BOLTZMANN_W_M2_K4 * 353.15**4)
    assert 1.0 - 15.0 / np.pi**4 * z**3 / 3.0 < share < 1.0


@pytest.mark.parametrize(
    ("true_c", "reflected_c", "emissivity"),
    [(80, 25, 0.95), (80, 25, 0.90), (80, 25, 0.60), (80, 25, 0.10), (60, 20, 0.95), (15, 40, 0.8)],
)
def test_apparent_temperature_against_an_own_integral_and_root(true_c, reflected_c, emissivity) -> None:
    """Apparent temperature by scipy's quad and brentq alone, and back through our table."""
    from scipy import constants as codata
    from scipy.integrate import quad
    from scipy.optimize import brentq

    c2 = codata.h * codata.c / codata.k

    def radiance(celsius: float) -> float:
        return quad(lambda um: um**-5 / np.expm1(c2 * 1e6 / (um * (celsius + 273.15))), 8, 14, epsrel=1e-12)[0]

    seen = emissivity * radiance(true_c) + (1 - emissivity) * radiance(reflected_c)
    apparent = brentq(lambda celsius: radiance(celsius) - seen, -50, 200, xtol=1e-10)
    table = radiation.band(8.0, 14.0)
    ours = table.celsius(radiation.received(table.radiance(true_c), emissivity, table.radiance(reflected_c)))
    assert float(ours) == pytest.approx(apparent, abs=1e-3)
    back = table.celsius(radiation.emitted(table.radiance(apparent), emissivity, table.radiance(reflected_c)))
    assert float(back) == pytest.approx(true_c, abs=1e-3 / emissivity)
