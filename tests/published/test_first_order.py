"""First-order heating against handbook fractions and textbook examples of lumped capacitance.

Fractions 1 tau 63.212 % ... 5 tau 99.326 %, 10-90 % in 2.1972 tau: any handbook. Examples: Lienhard & Lienhard,
A Heat Transfer Textbook, Ex. 1.4; Cengel, Heat Transfer, Ex. 4-1; Incropera & DeWitt, Ex. 5.1 (2-s variant's
inputs read at second hand, printed answers from memory).
"""

import numpy as np
import pytest

from hotspot.physics.heating import biot_number, first_order_share, lumped_time_constant_s, time_to_share
from hotspot.reason.settling import settle_stage
from hotspot.reason.settling_exponential import fit_exponentials

pytestmark = pytest.mark.published


def sphere(d: float) -> tuple[float, float]:
    return np.pi * d**3 / 6, np.pi * d**2


def test_handbook_fractions():
    shares = [63.212, 86.466, 95.021, 98.168, 99.326]
    np.testing.assert_allclose(100 * first_order_share(np.arange(1, 6), 1.0), shares, atol=5e-4)
    assert time_to_share(0.9, 1.0) - time_to_share(0.1, 1.0) == pytest.approx(2.1972, abs=5e-5)


def test_thermocouple_bead_of_lienhard():
    volume, area = sphere(1e-3)
    tau = lumped_time_constant_s(9300, 180, volume, 250, area)
    assert tau == pytest.approx(1.116, abs=5e-4)
    assert first_order_share(3 * tau, tau) > 0.95


def test_gas_stream_bead_of_cengel():
    volume, area = sphere(1e-3)
    tau = lumped_time_constant_s(8500, 320, volume, 210, area)
    assert 1 / tau == pytest.approx(0.46324, abs=2e-4)  # the book's companion rounds on the way
    assert time_to_share(0.99, tau) == pytest.approx(9.94, abs=0.01)
    assert biot_number(210, 1e-3 / 6, 35) == pytest.approx(0.001, abs=5e-4)


def test_junction_of_incropera():
    volume, area = sphere(7.06e-4)
    tau = lumped_time_constant_s(8500, 400, volume, 400, area)
    assert tau == pytest.approx(1.0, abs=1e-3)
    assert time_to_share((199 - 25) / (200 - 25), tau) == pytest.approx(5.2, abs=0.05)


TIMES = np.arange(0.0, 601.0, 60.0)
READ = np.array([25, 36.8041, 43.9636, 48.3061, 50.9399, 52.5375, 53.5064, 54.0941, 54.4505, 54.6667, 54.7979])


def test_noise_free_series_returns_what_made_it():
    fit = fit_exponentials(TIMES, READ, np.array([0.02]), "level")
    assert fit is not None
    np.testing.assert_allclose([fit.linear.sum(), -fit.linear[1], 1 / fit.rates[0]], [25, 30, 120], rtol=1e-3)


def test_the_same_series_through_the_stage():
    found = settle_stage(TIMES, READ, None, None, 25.0, 0.0, 600.0)
    assert found.low_c < 55.0 < found.high_c
    assert found.settled_c == pytest.approx(55.0, abs=0.6)
    assert found.time_constant_s == pytest.approx(120.0, rel=0.06)


def test_its_first_minute_is_refused():
    early = np.arange(0.0, 61.0, 5.0)
    found = settle_stage(early, 25 + 30 * first_order_share(early, 120.0), None, None, 25.0, 0.0, 600.0)
    assert found.settled_c is None
    assert found.reason.code == "settling_too_early"
