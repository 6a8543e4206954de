"""NIST StRD nonlinear regression: Misra1a, BoxBOD, MGH17 (6 digits), Lanczos3 (4), through the program's own fitter.

Certified values stand in the .dat files themselves (tests/data/nist_exponentials, SOURCE.md there).
"""

from pathlib import Path

import numpy as np
import pytest

from hotspot.reason.settling_exponential import best_fit, fit_exponentials

DATA = Path(__file__).parents[1] / "data" / "nist_exponentials"
pytestmark = pytest.mark.published


def certified(name: str) -> dict[str, np.ndarray]:
    """Data, starts, certified parameters and their standard deviations, residual sum of squares."""
    lines = (DATA / f"{name}.dat").read_text(encoding="latin-1").splitlines()
    rows = [line.split("=")[1].split() for line in lines if line.strip().startswith("b") and "=" in line]
    numbers = np.array([[float(word) for word in row] for row in rows if len(row) == 4])
    data = np.array([[float(word) for word in line.split()] for line in lines[60:] if line.strip()])
    total = next(float(line.split(":")[1]) for line in lines if line.startswith("Residual Sum of Squares"))
    return {
        "y": data[:, 0], "x": data[:, 1], "starts": numbers[:, :2].T, "b": numbers[:, 2], "sd": numbers[:, 3],
        "rss": np.array(total),
    }  # fmt: skip


CASES = {  # form, which of b are rates, in the order of the fitter: linear parts, then rates
    "Misra1a": ("rise", [0], [1], 1e-6),
    "BoxBOD": ("rise", [0], [1], 1e-6),
    "MGH17": ("level", [0, 1, 2], [3, 4], 1e-6),
    "Lanczos3": ("decay", [0, 2, 4], [1, 3, 5], 1e-4),
}


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", CASES)
def test_certified_values_from_either_start(name, start):
    form, linear, rates, digits = CASES[name]
    nist = certified(name)
    fit = fit_exponentials(nist["x"], nist["y"], nist["starts"][start][rates], form)
    assert fit is not None
    np.testing.assert_allclose(fit.linear, nist["b"][linear], rtol=digits)
    np.testing.assert_allclose(fit.rates, nist["b"][rates], rtol=digits)
    np.testing.assert_allclose(fit.linear_sd, nist["sd"][linear], rtol=10 * digits)
    np.testing.assert_allclose(fit.rates_sd, nist["sd"][rates], rtol=10 * digits)
    assert fit.residual_sum == pytest.approx(float(nist["rss"]), rel=digits)


def test_the_searcher_of_starts_finds_the_certified_minimum():
    for name in ("Misra1a", "BoxBOD"):
        nist = certified(name)
        fit = best_fit(nist["x"], nist["y"], "rise")
        assert fit is not None
        np.testing.assert_allclose([fit.linear[0], fit.rates[0]], nist["b"], rtol=1e-6)


def test_the_false_minimum_of_boxbod_is_left():
    """A plain Levenberg-Marquardt run from start 1 is known to stop near b2 = 111 with an infinite covariance."""
    nist = certified("BoxBOD")
    fit = fit_exponentials(nist["x"], nist["y"], np.array([111.0]), "rise")
    assert fit is not None
    np.testing.assert_allclose([fit.linear[0], fit.rates[0]], nist["b"], rtol=1e-6)


def test_what_the_data_do_not_hold_is_refused():
    x = np.arange(12.0)
    assert fit_exponentials(x, 3.0 * x, np.array([0.1]), "rise") is None  # a straight line has no level
    assert fit_exponentials(x, np.full(12, 5.0), np.array([0.1]), "level") is None
    assert fit_exponentials(x[:2], x[:2], np.array([0.1]), "level") is None
    assert fit_exponentials(x, 3.0 * x, np.array([-1.0]), "rise") is None
    assert best_fit(np.zeros(8), np.arange(8.0), "level") is None
