"""Propagation of uncertainty as JCGM 100:2008 (the GUM) lays it down. numpy only."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np


def combined(sensitivities, uncertainties, correlation=None):
    """Combined standard uncertainty of n inputs (JCGM 100:2008, equations 10 and 16).

    `sensitivities` and `uncertainties`: (n, ...), anything behind the first axis is worked element by element.
    `correlation`: (n, n) correlation coefficients of the inputs; None: independent.
    Source: [gum].
    """
    terms = np.asarray(sensitivities, float) * np.asarray(uncertainties, float)
    if correlation is None:
        return np.sqrt(np.sum(terms**2, axis=0))
    squares = np.einsum("i...,ij,j...->...", terms, np.asarray(correlation, float), terms)
    return np.sqrt(np.maximum(squares, 0.0))


def repeated(readings: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Simultaneous repeated `readings` (n inputs, m times) -> means (n,), their standard uncertainties (n,),
    correlation coefficients of the means (n, n). Type A, JCGM 100:2008, 4.2.3 and 5.2.3.
    Source: [gum].
    """
    values = np.asarray(readings, dtype=float)
    covariance = np.atleast_2d(np.cov(values)) / values.shape[1]
    u = np.sqrt(np.diag(covariance))
    return values.mean(axis=1), u, covariance / np.outer(u, u)


def sensitivities(function: Callable[..., float], at: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Partial derivatives (n,) of `function` at `at` (n,) by central differences over +-`steps` (n,).

    The numerical form that JCGM 100:2008, 5.1.3 note 2 allows; take the standard uncertainties as steps.
    Source: [gum].
    """
    at, steps = np.asarray(at, float), np.asarray(steps, float)
    slopes = np.empty(at.size)
    for place, step in enumerate(steps):
        up, down = at.copy(), at.copy()
        up[place] += step
        down[place] -= step
        slopes[place] = (function(*up) - function(*down)) / (2.0 * step)
    return slopes


def mean_of_parts(own_square_sum, common_sum):
    """Standard uncertainty of a weighted mean whose members each have an uncertainty of their own and one in common.

    `own_square_sum` is sum of w^2 o^2, `common_sum` sum of w c, weights w adding to 1. Equation 16 of JCGM 100:2008
    with u_i^2 = o_i^2 + c_i^2 and r_ij = c_i c_j / (u_i u_j); without own parts it is the note to its 5.2.2.
    Source: [gum].
    """
    return np.sqrt(np.asarray(own_square_sum) + np.square(common_sum))
