"""Thermal radiation: Planck's law, its share in a band, and the camera's measurement equation. numpy only.

Temperatures are °C or K as the names say, wavelengths m or µm, radiances W/(m² sr). A camera is taken as
flat over its band; one that is not departs from this by far less than its stated accuracy.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from hotspot.handbook.constants import (
    FIRST_RADIATION_W_M2_SR,
    SECOND_RADIATION_M_K,
    STEFAN_BOLTZMANN_W_M2_K4,
    ZERO_CELSIUS_K,
)

COLDEST_C, HOTTEST_C = -150.0, 3000.0
"""Range [°C] over which a band's radiance can be turned back into a temperature."""

_NODES = 8192
_TERMS = 100


def planck(wavelength_m, temperature_k):
    """Spectral radiance of a blackbody, W/(m² sr) per m of wavelength (Planck's law). Arrays broadcast.

    Source: [planck].
    """
    exponent = SECOND_RADIATION_M_K / (np.asarray(wavelength_m, float) * temperature_k)
    return FIRST_RADIATION_W_M2_SR / (np.asarray(wavelength_m, float) ** 5 * np.expm1(exponent))


def share_below(wavelength_temperature_m_k):
    """Share 0-1 of a blackbody's radiation below a wavelength, given wavelength x temperature [m K].

    F = 15/pi^4 sum over n of exp(-n z) (z^3/n + 3 z^2/n^2 + 6 z/n^3 + 6/n^4), z = c2/(lambda T): the series of
    Siegel and Howell, NASA SP-164 (1968); as I recall it, and held to a printed table by the tests. The terms
    kept give 1e-6 up to 0.1 m K (1e-9 below 0.05), far beyond what a camera's band needs.
    Source: [siegel_howell].
    """
    z = SECOND_RADIATION_M_K / np.asarray(wavelength_temperature_m_k, dtype=float)
    total = np.zeros_like(z)
    for n in range(1, _TERMS + 1):
        total += np.exp(-n * z) * (z**3 / n + 3 * z**2 / n**2 + 6 * z / n**3 + 6 / n**4)
    return 15.0 / np.pi**4 * total


def band_radiance(celsius, low_um: float, high_um: float):
    """Radiance [W/(m² sr)] of a blackbody at `celsius` between two wavelengths [µm]; NaN at or below 0 K.

    (F(high T) - F(low T)) sigma T^4 / pi. Exact but slow; `BandRadiance` is the quick form.
    Source: [siegel_howell].
    """
    kelvin = np.asarray(celsius, dtype=float) + ZERO_CELSIUS_K
    kelvin = np.where(kelvin > 0, kelvin, np.nan)
    share = share_below(high_um * 1e-6 * kelvin) - share_below(low_um * 1e-6 * kelvin)
    return share * STEFAN_BOLTZMANN_W_M2_K4 * kelvin**4 / np.pi


class BandRadiance:
    """Radiance of a blackbody in one band, and its inverse, by one monotone table.

    ln L against 1/T is all but a straight line, so that a linear table of it is good to 1e-4 K from
    COLDEST_C to 800 °C and to 4e-3 K up to HOTTEST_C; outside, and for radiances of 0 or less, NaN.
    Get one with `band`.
    """

    def __init__(self, low_um: float, high_um: float) -> None:
        hottest, coldest = HOTTEST_C + ZERO_CELSIUS_K, COLDEST_C + ZERO_CELSIUS_K
        self._inverse_k = np.linspace(-1.0 / coldest, -1.0 / hottest, _NODES)
        celsius = -1.0 / self._inverse_k - ZERO_CELSIUS_K
        self._log_radiance = np.log(band_radiance(celsius, low_um, high_um))

    def radiance(self, celsius):
        """Radiance [W/(m² sr)] at `celsius` (any shape). Source: [siegel_howell]."""
        kelvin = np.asarray(celsius, dtype=float) + ZERO_CELSIUS_K
        with np.errstate(divide="ignore", invalid="ignore"):
            place = np.where(kelvin > 0, -1.0 / kelvin, np.nan)
        return np.exp(np.interp(place, self._inverse_k, self._log_radiance, left=np.nan, right=np.nan))

    def celsius(self, radiance):
        """Temperature [°C] of a blackbody of `radiance` (any shape): the inverse of `radiance`.

        Source: [siegel_howell].
        """
        values = np.asarray(radiance, dtype=float)
        with np.errstate(divide="ignore", invalid="ignore"):
            logs = np.log(np.where(values > 0, values, np.nan))
        return -1.0 / np.interp(logs, self._log_radiance, self._inverse_k, np.nan, np.nan) - ZERO_CELSIUS_K

    def slope(self, celsius):
        """Derivative of `radiance` by temperature [W/(m² sr K)], by central difference over 0.2 K.

        Source: [siegel_howell].
        """
        at = np.asarray(celsius, dtype=float)
        return (self.radiance(at + 0.1) - self.radiance(at - 0.1)) / 0.2


@lru_cache(maxsize=16)
def band(low_um: float, high_um: float) -> BandRadiance:
    """The table of one band; made once. Raises ValueError unless 0 < low_um < high_um. Source: [siegel_howell]."""
    if not 0 < low_um < high_um:
        raise ValueError(f"band from {low_um} to {high_um} um: found no band")
    return BandRadiance(low_um, high_um)


def received(surface_radiance, emissivity, reflected_radiance):
    """Radiance that leaves a grey opaque surface: own and reflected, e L(To) + (1 - e) L(Tr).

    `surface_radiance`, `reflected_radiance`: of blackbodies at To and Tr, W/(m² sr); `emissivity` e, above 0 to 1.

    The measurement equation of quantitative thermography over a short path, whose air neither absorbs nor
    glows (0.99 and better at 1 m indoors).
    Source: [measurement].
    """
    return emissivity * surface_radiance + (1.0 - emissivity) * reflected_radiance


def emitted(received_radiance, emissivity, reflected_radiance):
    """The inverse of `received`: L(To) of the surface. 0 or less where reflections would explain it all.

    `received_radiance`, `reflected_radiance` in W/(m² sr); `emissivity` above 0 to 1.

    Source: [measurement].
    """
    return (received_radiance - (1.0 - emissivity) * reflected_radiance) / emissivity
