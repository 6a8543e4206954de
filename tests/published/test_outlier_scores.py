"""Robust scores against printed numbers and scipy."""

import numpy as np
import pytest
import scipy.stats

from hotspot.physics.statistics import MAD_TO_SIGMA, median_absolute_deviation, median_uncertainty, modified_z

GRUBBS = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
"""NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1, the example of Grubbs' test (from memory)."""


@pytest.mark.published
def test_nist_example_flags_the_last_value_only():
    """The handbook's own test flags 245.57 (G = 2.4687); the rule of Iglewicz and Hoaglin must agree."""
    g = (GRUBBS.max() - GRUBBS.mean()) / GRUBBS.std(ddof=1)
    assert g == pytest.approx(2.4687, abs=5e-4)
    assert list(np.abs(modified_z(GRUBBS)) > 3.5) == [False] * 7 + [True]


@pytest.mark.published
def test_mad_agrees_with_scipy():
    rng = np.random.default_rng(4)
    for size in (2, 3, 8, 51):
        x = rng.standard_t(3, size)
        ours = MAD_TO_SIGMA * median_absolute_deviation(x)
        assert ours == pytest.approx(scipy.stats.median_abs_deviation(x, scale="normal"), rel=1e-12)
    assert pytest.approx(1.0 / scipy.stats.norm.ppf(0.75), rel=1e-12) == MAD_TO_SIGMA


def test_nothing_finite_has_no_spread():
    assert np.isnan(median_absolute_deviation(np.array([])))
    assert np.isnan(median_absolute_deviation(np.array([np.nan, np.inf])))
    assert median_absolute_deviation(np.array([1.0, np.nan, 3.0])) == 1.0
    assert np.isnan(median_uncertainty(1.5, 0))
    assert median_uncertainty(1.5, 1) == 1.5


def test_mad_of_zero_does_not_divide():
    assert list(modified_z(np.array([2.0, 2.0, 2.0, 5.0]))) == [0.0, 0.0, 0.0, np.inf]
    assert list(modified_z(np.array([2.0, 2.0, 2.0, 5.0]), least_mad=0.6745)) == pytest.approx([0, 0, 0, 3.0])
    assert np.isnan(modified_z(np.array([1.0, np.nan, 2.0]))[1])


def test_uncertainty_of_a_median_holds_on_draws():
    rng = np.random.default_rng(5)
    for count in (2, 101):
        spread = np.median(rng.normal(0, 1.5, (20000, count)), axis=1).std()
        assert median_uncertainty(1.5, count) == pytest.approx(spread, rel=0.03)
