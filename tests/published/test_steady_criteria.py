"""Published criteria of a steady reading, as read in IEEE 2780-2019, UL 1278, UL 1029 and IEC 60598-1.

The instant of "at most 2 K in the last 15 min" on a first-order rise is analytic: 900 + tau ln(15 (1 - e^(-900/tau)))
= 1224.9 s for tau 120 s and 30 K.
"""

import numpy as np
import pytest

from hotspot.physics.heating import first_order_share, steady_since_s
from hotspot.reason.settling_criteria import CRITERIA, criterion_met

BY_NAME = {criterion.name: criterion for criterion in CRITERIA}
pytestmark = pytest.mark.published


def rise(until_s: float, tau_s: float = 120.0, size_k: float = 30.0) -> tuple[np.ndarray, np.ndarray]:
    t = np.linspace(0.0, until_s, 4000)
    return t, 25 + size_k * first_order_share(t, tau_s)


def test_analytic_instant_of_two_kelvin_in_a_quarter_hour():
    assert steady_since_s(30.0, 120.0, 2.0, 900.0) == pytest.approx(1224.9, abs=0.05)
    criterion = BY_NAME["2 K in 15 min"]
    assert criterion_met(*rise(1224.6), criterion) == "no"
    assert criterion_met(*rise(1225.2), criterion) == "yes"


def test_a_rise_that_is_steady_from_the_start_is_judged_after_one_span():
    assert steady_since_s(1.0, 120.0, 2.0, 900.0) == 900.0
    just_met = 2.0 / first_order_share(900.0, 120.0)
    assert steady_since_s(just_met, 120.0, 2.0, 900.0) == pytest.approx(900.0)


def test_a_test_of_minutes_is_too_short_for_the_long_ones():
    t, y = rise(1500.0)
    assert criterion_met(t, y, BY_NAME["1 K in an hour"]) == "too short"
    assert criterion_met(t, y, BY_NAME["no rise over 3 readings"]) == "too short"
    assert criterion_met(t[:0], y[:0], BY_NAME["2 K in 15 min"]) == "too short"


def test_gap_grows_with_the_time_elapsed():
    criterion = BY_NAME["no change over 3 readings"]
    t = np.linspace(0.0, 7200.0, 721)
    slow = 25 + t * 0.3 / 720  # 0.3 K per tenth of the time elapsed, 0.6 K over three readings
    assert criterion_met(t, slow, criterion) == "no"
    assert criterion_met(t, slow / 2, criterion) == "yes"


def test_a_falling_reading_does_not_rise():
    t = np.linspace(0.0, 3600.0, 361)
    falling = 60 - t / 600
    assert criterion_met(t, falling, BY_NAME["no rise over 3 readings"]) == "yes"
    assert criterion_met(t, falling, BY_NAME["1 K in an hour"]) == "no"
