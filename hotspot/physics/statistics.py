"""Robust statistics and the combination of uncertainties. numpy only."""

from __future__ import annotations

import numpy as np

MAD_TO_SIGMA = 1.482602218505602
"""1 / inverse normal distribution function at 3/4: scales the MAD of normal data to a standard deviation."""


def median_absolute_deviation(values: np.ndarray) -> float:
    """Median of \\|x - median\\| of finite values (n,), unscaled; same unit as `values`; NaN if there are none.

    Source: [iglewicz_hoaglin].
    """
    finite = np.asarray(values, dtype=float)
    finite = finite[np.isfinite(finite)]
    return float(np.median(np.abs(finite - np.median(finite)))) if finite.size else float("nan")


def modified_z(values: np.ndarray, least_mad: float = 0.0) -> np.ndarray:
    """0.6745 (x - median) / MAD for each of `values` (n,); NaN stays NaN.

    `least_mad` stands in for a smaller MAD (half of the values alike: MAD 0). With both 0, a value at the
    median scores 0 and every other one infinity. Iglewicz & Hoaglin (1993), ASQC basic references vol. 16,
    who flag beyond 3.5.
    Source: [iglewicz_hoaglin].
    """
    x = np.asarray(values, dtype=float)
    away = x - np.nanmedian(x)
    mad = max(median_absolute_deviation(x), least_mad)
    if mad > 0.0:
        return 0.6745 * away / mad
    return np.where(np.isnan(away) | (away == 0.0), away, np.copysign(np.inf, away))


def root_sum_squares(*standard_uncertainties: float) -> float:
    """Combined standard uncertainty of independent terms, sensitivities already in (JCGM 100:2008, eq. 10).

    Source: [gum].
    """
    return float(np.sqrt(np.sum(np.square(np.asarray(standard_uncertainties, dtype=float)))))


def rectangular(half_width: float) -> float:
    """Standard uncertainty of limits +-`half_width` (JCGM 100:2008, 4.3.7): a / sqrt(3). Source: [gum]."""
    return float(half_width) / float(np.sqrt(3.0))


def median_uncertainty(standard_uncertainty: float, count: int) -> float:
    """Standard uncertainty of the median of `count` like, independent, normal values of `standard_uncertainty`.

    sqrt(pi / 2) s / sqrt(n) in the limit of large n; for one or two values the median is the mean.
    Source: [definition].
    """
    if count < 1:
        return float("nan")
    factor = 1.0 if count <= 2 else float(np.sqrt(np.pi / 2.0))
    return float(factor * standard_uncertainty / np.sqrt(count))
