"""Ice and boiling water as fixed points: boiling point against pressure, pressure against altitude."""

from __future__ import annotations

import math

from hotspot.handbook.constants import ZERO_CELSIUS_K

ICE_C = 0.0
"""Melting ice in air at 101.325 kPa: 273.15 K (ITS-90 fixes the triple point at 273.16 K; air and pressure take 0.01 K
off). A change of 10 kPa moves it by less than 0.001 K."""

LEAST_PA, MOST_PA = 30e3, 120e3
"""Pressures between which a kettle can stand: some 9000 m up to far below sea level."""

_SATURATION = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
"""IAPWS-IF97 (R7-97, 2012), Table 34: coefficients n1 to n10 of region 4."""

_SEA_LEVEL_PA, _SEA_LEVEL_K, _LAPSE_K_M = 101325.0, 288.15, 0.0065
_GRAVITY, _GAS_CONSTANT, _MOLAR_MASS, _EARTH_RADIUS_M = 9.80665, 8.31432, 0.0289644, 6356766.0
"""U.S. Standard Atmosphere, 1976: its defining constants below 11 km."""


def boiling_c(pressure_pa: float) -> float:
    """Boiling point of pure water [°C] at 611 Pa to 22 MPa: saturation temperature, IAPWS-IF97, equation 31.

    Source: [iapws_if97].
    """
    n = _SATURATION
    beta = (pressure_pa * 1e-6) ** 0.25
    e = beta * beta + n[2] * beta + n[5]
    f = n[0] * beta * beta + n[3] * beta + n[6]
    g = n[1] * beta * beta + n[4] * beta + n[7]
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    return (n[9] + d - math.sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d))) / 2.0 - ZERO_CELSIUS_K


def boiling_slope_k_pa(pressure_pa: float) -> float:
    """Change of the boiling point per pascal [K/Pa], by central difference over 1 kPa. Source: [iapws_if97]."""
    return (boiling_c(pressure_pa + 500.0) - boiling_c(pressure_pa - 500.0)) / 1000.0


def standard_pressure_pa(altitude_m: float) -> float:
    """Air pressure [Pa] at a height over the sea [m, geometric], below 11 km: U.S. Standard Atmosphere, 1976.

    Source: [us_atmosphere].
    """
    height = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    power = _GRAVITY * _MOLAR_MASS / (_GAS_CONSTANT * _LAPSE_K_M)
    return _SEA_LEVEL_PA * (1.0 - _LAPSE_K_M * height / _SEA_LEVEL_K) ** power
