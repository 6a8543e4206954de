"""The mixture of curves: its mean, spread, quantiles and chances against numbers worked out another way."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm
from test_settling import TIMES, late, noisy, stage

from hotspot.reason.settling_criteria import crossing
from hotspot.reason.settling_gp import Observed, misfit, normal_cdf, posterior

T = TIMES[TIMES <= 600]


@pytest.fixture(scope="module")
def found():
    return stage(T, noisy(22 + 45 * late(T))).forecast


def test_the_normal_distribution_is_that_of_scipy():
    z = np.linspace(-6.0, 6.0, 241)
    assert normal_cdf(z) == pytest.approx(norm.cdf(z), abs=2e-7)


def test_mean_and_spread_are_those_of_the_parts_weighed(found):
    at = np.array([100.0, 900.0, np.inf])
    mean, sd = found.parts(at)
    assert found.weight.sum() == pytest.approx(1.0)
    middle, spread = found.at(at)
    assert middle == pytest.approx(found.weight @ mean)
    assert spread**2 == pytest.approx(found.weight @ (sd**2 + mean**2) - middle**2, rel=1e-6)
    assert (np.diff(spread) > 0).all()  # the farther ahead, the less sure


@pytest.mark.parametrize("time_s", [900.0, np.inf])
def test_quantiles_are_the_roots_of_the_mixtures_distribution(found, time_s):
    mean, sd = (part[:, 0] for part in found.parts(np.array([time_s])))
    share = np.array([0.025, 0.5, 0.975])
    exact = [brentq(lambda c, p=p: found.weight @ norm.cdf((c - mean) / sd) - p, 0.0, 300.0) for p in share]
    assert found.quantile(time_s, share) == pytest.approx(exact, abs=1e-3)


def test_a_chance_is_what_lies_above_the_level_and_a_common_error_evens_it_out(found):
    mean, sd = (part[:, 0] for part in found.parts(np.array([np.inf])))
    level = float(found.quantile(np.inf, np.array([0.9]))[0])
    assert found.above(np.array([np.inf]), level)[0] == pytest.approx(0.1, abs=1e-4)
    wide = found.above(np.array([np.inf]), level, 5.0)[0]
    assert wide == pytest.approx(float(found.weight @ norm.sf(level, mean, np.hypot(sd, 5.0))), abs=1e-5)
    assert 0.1 < wide < 0.5


def test_weights_multiplied_are_still_a_mixture_of_the_same_curves(found):
    factor = np.linspace(-3.0, 2.0, found.weight.size)
    again = found.reweighted(factor)
    assert again.weight == pytest.approx(found.weight * np.exp(factor) / (found.weight @ np.exp(factor)))
    assert again.mean is found.mean
    assert found.reweighted(np.full(found.weight.size, -2000.0)).weight == pytest.approx(found.weight)


def test_the_time_constant_is_when_the_curves_own_rise_is_63_per_cent_done(found):
    truth = float(np.interp(1.0 - np.exp(-1.0), late(np.arange(0.0, 4000.0)), np.arange(0.0, 4000.0)))
    assert found.time_constant_s() == pytest.approx(truth, rel=0.15)


def test_a_level_is_passed_at_one_time_wherever_the_stage_began_and_whenever_it_is_asked():
    """In session time; nothing is passed before it is asked, and what is passed by then is passed at once."""
    for start_s in (0.0, 3000.0):
        answer = stage(T + start_s, noisy(22 + 80 * late(T)), start_s=start_s, end_s=start_s + 1500.0)
        when = start_s + float(np.interp(97.0, 22 + 80 * late(TIMES), TIMES))
        for asked in (None, start_s + 600.0):
            over = crossing(answer, 97.0, start_s + 1500.0, asked)
            assert over.time_s == pytest.approx(when, abs=120.0)
        passed = crossing(answer, 40.0, start_s + 1500.0, start_s + 600.0)
        assert passed.time_s == pytest.approx(start_s + 601.0)
        assert passed.chance_at_end > 0.999
        early = crossing(answer, 97.0, start_s + 300.0)
        assert early.chance_at_end < 0.01 < early.chance_settled


def test_a_reading_that_does_not_belong_is_told_by_how_many_of_its_own_deviations():
    y = noisy(22 + 45 * late(T[::2]), seed=3)
    y[20] += 1.0
    seen = Observed(T[::2], y, np.full(y.size, 0.1), 0.05, float(y[-1] - y[0]))
    found = misfit(seen, posterior(seen))
    assert int(np.argmax(np.abs(found.odd))) == 20
    assert 6.0 < found.odd[20] < 14.0
    assert np.abs(np.delete(found.odd, 20)).max() < 5.0
    clean = Observed(T[::2], noisy(22 + 45 * late(T[::2]), seed=3), np.full(y.size, 0.1), 0.05, 40.0)
    assert misfit(clean, posterior(clean)).chi2 < 2.0


def test_a_load_that_changed_in_mid_stage_is_told_with_its_time_and_sign():
    for sign in (1.0, -1.0):
        y = noisy(22 + 45 * late(T) + sign * 12 * late(T - 300.0), seed=3)
        seen = Observed(T, y, np.full(T.size, 0.1), 0.05, float(y[-1] - y[0]))
        found = misfit(seen, posterior(seen))
        assert found.step_gain > 14.0
        assert np.sign(found.step_k) == sign
        assert found.step_s == pytest.approx(300.0, abs=90.0)
