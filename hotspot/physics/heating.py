"""First-order heating: lumped capacitance and what follows from it."""

from __future__ import annotations

import numpy as np

SHARE_OF_TIME_CONSTANT = 1 - np.exp(-1.0)  # 63.2 %


def first_order_share(time_s, time_constant_s):
    """Share of the settled rise reached after `time_s` [s]: 1 - exp(-t / tau). Scalars or arrays.

    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, eq. 5.6 (lumped capacitance; from memory).
    Source: [incropera].
    """
    return -np.expm1(-np.asarray(time_s, dtype=float) / time_constant_s)


def time_to_share(share, time_constant_s):
    """Time [s] to reach `share` (0 to below 1) of the settled rise: -tau ln(1 - share). Source: [incropera]."""
    return -time_constant_s * np.log1p(-np.asarray(share, dtype=float))


def lumped_time_constant_s(
    density_kg_m3: float, heat_j_kgk: float, volume_m3: float, film_w_m2k: float, area_m2: float
) -> float:
    """Time constant [s] of a body of one temperature: rho c V / (h A); see `biot_number` for when it holds.

    Source: [incropera].
    """
    return density_kg_m3 * heat_j_kgk * volume_m3 / (film_w_m2k * area_m2)


def biot_number(film_w_m2k: float, length_m: float, conductivity_w_mk: float) -> float:
    """h Lc / k, Lc = volume over area [m]; below 0.1 a body has one temperature to within about 5 %.

    Source: [incropera].
    """
    return film_w_m2k * length_m / conductivity_w_mk


def steady_since_s(rise_k: float, time_constant_s: float, limit_k: float, span_s: float) -> float:
    """First time [s] at which a first-order rise changed by at most `limit_k` over the last `span_s`.

    From rise (1 - e^(-span/tau)) e^(-(t - span)/tau) = limit; not before one whole span.
    Source: [incropera].
    """
    change = rise_k * first_order_share(span_s, time_constant_s)
    return float(span_s + time_constant_s * max(0.0, np.log(change / limit_k)))
