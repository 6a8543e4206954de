"""The worked example H.2 of JCGM 100:2008 (GUM): simultaneous resistance and reactance.

Means, standard uncertainties, correlations and results are printed in table H.2 and H.4; the single
readings are from memory and reproduce the printed means, uncertainties and correlations exactly.
"""

import numpy as np
import pytest

from hotspot.physics import uncertainty

pytestmark = pytest.mark.published

VOLTS = [5.007, 4.994, 5.005, 4.990, 4.999]
AMPS = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
RADIANS = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def test_h2_means_uncertainties_and_correlations() -> None:
    means, u, r = uncertainty.repeated(np.array([VOLTS, AMPS, RADIANS]))
    np.testing.assert_allclose(means, [4.9990, 19.6610e-3, 1.04446], rtol=1e-6)
    assert u[0] == pytest.approx(0.0032, abs=0.00005)
    assert u[1] == pytest.approx(0.0095e-3, abs=0.00005e-3)
    assert u[2] == pytest.approx(0.00075, abs=0.000005)
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=0.005)


@pytest.mark.parametrize(
    ("function", "value", "printed_u"),
    [
        (lambda v, i, phi: v / i * np.cos(phi), 127.732, 0.071),
        (lambda v, i, phi: v / i * np.sin(phi), 219.847, 0.295),
        (lambda v, i, phi: v / i + 0.0 * phi, 254.260, 0.236),
    ],
    ids=["resistance", "reactance", "impedance"],
)
def test_h2_results(function, value, printed_u) -> None:
    means, u, r = uncertainty.repeated(np.array([VOLTS, AMPS, RADIANS]))
    slopes = uncertainty.sensitivities(function, means, u)
    assert function(*means) == pytest.approx(value, abs=0.0005)
    assert float(uncertainty.combined(slopes, u, r)) == pytest.approx(
        printed_u, abs=0.001
    )  # one unit of the last printed digit


def test_h2_without_the_correlation_is_far_too_large() -> None:
    means, u, _ = uncertainty.repeated(np.array([VOLTS, AMPS, RADIANS]))
    slopes = uncertainty.sensitivities(lambda v, i, phi: v / i * np.cos(phi), means, u)
    assert float(uncertainty.combined(slopes, u)) == pytest.approx(0.194, abs=0.001)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_mean_of_parts_is_equation_16(share: float) -> None:
    rng = np.random.default_rng(7)
    weights = rng.random(9)
    weights /= weights.sum()
    own, common = (1.0 - share) * rng.random(9), share * rng.random(9)
    u = np.hypot(own, common)
    matrix = np.outer(common, common) / np.outer(u, u)
    np.fill_diagonal(matrix, 1.0)
    ours = uncertainty.mean_of_parts(np.sum(weights**2 * own**2), np.sum(weights * common))
    assert float(ours) == pytest.approx(float(uncertainty.combined(weights, u, matrix)), rel=1e-12)


def test_combined_works_element_by_element() -> None:
    terms = np.array([[3.0, 5.0], [4.0, 12.0]])
    np.testing.assert_allclose(uncertainty.combined(1.0, terms), [5.0, 13.0])
    matrix = [[1.0, 1.0], [1.0, 1.0]]
    np.testing.assert_allclose(uncertainty.combined(1.0, terms, matrix), [7.0, 17.0])
