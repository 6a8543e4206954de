"""Where a stage is heading: curves of known level, bad stages, and the rule for settled."""

import numpy as np
import pytest

from hotspot.reason.settling import Settling, settle_stage
from hotspot.reason.settling_criteria import crossing
from hotspot.reason.settling_series import jumps, series
from hotspot.records import Statement
from hotspot.tell import words

TIMES = np.arange(0.0, 1500.0, 10.0)


def late(t: np.ndarray, tau_s: float = 260.0, lag_s: float = 40.0) -> np.ndarray:
    """A face curve: one time constant behind a lag (two bodies in a row), 0 before t = 0."""
    t = np.maximum(t, 0.0)
    return 1 - (tau_s * np.exp(-t / tau_s) - lag_s * np.exp(-t / lag_s)) / (tau_s - lag_s)


def noisy(celsius: np.ndarray, seed: int = 0, sd: float = 0.1) -> np.ndarray:
    return celsius + np.random.default_rng(seed).normal(0.0, sd, len(celsius))


def stage(t, y, ambient_c=22.0, start_s=0.0, end_s=1500.0, clipped=None, u=None):
    return settle_stage(t, y, u, clipped, ambient_c, start_s, end_s)


def test_a_cut_test_is_carried_to_its_level():
    t = TIMES[TIMES <= 600]
    found = stage(t, noisy(22 + 45 * late(t)))
    assert found.low_c < 67.0 < found.high_c
    assert found.settled_c == pytest.approx(67.0, abs=1.5)
    assert found.end_low_c < 22 + 45 * late(np.array([1500.0]))[0] < found.end_high_c
    assert 250 < found.time_constant_s < 400
    assert (found.method, found.settled, found.reason) == ("learned shapes", "no", None)


@pytest.mark.parametrize(("minutes", "settled"), [(5, "no"), (15, "no"), (30, "yes")])
def test_settled_after_five_time_constants_not_after_three(minutes, settled):
    t = np.arange(0.0, 60.0 * minutes + 1, 10.0)
    assert stage(t, noisy(22 + 40 * late(t)), end_s=60.0 * minutes).settled == settled


@pytest.mark.parametrize("tau_s", [300.0, 360.0, 420.0])
def test_a_plug_by_common_practice(tau_s):
    """Not settled after one and three time constants, settled after five, its level predicted from two (no source).

    By the rule a rise of over 27 K with 5 min is not settled after five: it moves more than 1 K from the third to the
    fourth.
    """

    def seen(count, rise_k, seed):
        t = np.arange(0.0, count * tau_s + 1, 10.0)
        return stage(t, noisy(22 + rise_k * late(t, tau_s), seed), end_s=count * tau_s)

    for seed in range(5):
        assert [seen(count, 20.0, seed).settled for count in (1, 3, 5)] == ["no", "no", "yes"]
        found = seen(2, 40.0, seed)
        assert found.low_c < 62.0 < found.high_c
        assert found.settled_c == pytest.approx(62.0, abs=2.0)


@pytest.mark.parametrize(
    ("celsius", "code"),
    [
        (np.full(150, np.nan), "settling_no_readings"),
        (np.full(150, 40.0), "settling_no_rise"),
        (noisy(np.full(150, 40.0)), "settling_no_rise"),
        (noisy(80 - 0.02 * TIMES), "settling_too_early"),
        (noisy(22 + 0.02 * TIMES), "settling_too_early"),
        (noisy(22 + 45 * late(TIMES) - 12 * late(TIMES - 700)), "settling_step"),
        (noisy(22 + 45 * late(TIMES) + 15 * late(TIMES - 700)), "settling_step"),
        (noisy(22 + 20 * np.sin(TIMES / 1500 * np.pi)), "settling_to_and_fro"),
    ],
)
def test_bad_stages_get_a_reason_and_no_number(celsius, code):
    found = stage(TIMES, celsius)
    assert found.reason.code == code
    numbers = (found.settled_c, found.low_c, found.high_c, found.time_constant_s)
    assert numbers == (None,) * 4
    assert (found.end_c, found.end_low_c, found.end_high_c) == (None,) * 3
    assert words.say(found.reason)


def test_two_frames_and_one_and_none_are_too_few():
    for count in (0, 1, 2):
        found = stage(TIMES[:count], np.array([22.0, 25.0])[:count])
        assert found.settled_c is None
        assert found.reason.code == ("settling_too_few" if count else "settling_no_readings")


def test_step_is_named_at_its_time():
    found = stage(TIMES + 480, noisy(22 + 45 * late(TIMES) - 12 * late(TIMES - 700)), start_s=480.0, end_s=1980.0)
    assert found.reason.values["at_s"] == pytest.approx(1180.0, abs=60.0)


def test_minutes_after_the_start_are_too_early():
    t = TIMES[TIMES <= 120]
    found = stage(t, noisy(22 + 45 * late(t)))
    assert found.reason.code == "settling_too_early"
    assert found.settled == ""


def test_warm_start_from_a_stage_that_was_cut():
    t = np.arange(0.0, 1500.0, 10.0)
    both = noisy(22 + 30 * late(t) + 20 * late(t - 480))
    after = t >= 480
    for seen in (after, np.ones(len(t), dtype=bool)):
        found = stage(t[seen], both[seen], start_s=480.0, end_s=1980.0)
        assert found.low_c < 72.0 < found.high_c
        assert found.settled_c == pytest.approx(72.0, abs=3.0)


def test_cooling_stage_heads_for_ambient():
    found = stage(TIMES, noisy(22 + 45 * (1 - late(TIMES))))
    assert found.low_c < 22.0 < found.high_c
    assert found.settled_c == pytest.approx(22.0, abs=2.0)


@pytest.mark.parametrize("step_s", [5.0, 10.0])
def test_wrong_single_readings_do_not_decide(step_s):
    rng = np.random.default_rng(4)
    t = np.arange(0.0, 1500.0, step_s)
    y = noisy(22 + 60 * late(t))
    wrong = rng.random(len(t)) < 0.1
    y[wrong] += rng.choice([-1, 1], wrong.sum()) * rng.uniform(15, 45, wrong.sum())
    y[0], y[-1] = y[0] + 30, y[-1] - 30
    found = stage(t, y)
    assert found.settled_c == pytest.approx(82.0, abs=1.0)
    assert np.mean(jumps(t, y)[wrong]) > 0.95


def test_gaps_doubled_values_and_a_coarse_scale():
    t = np.arange(0.0, 1500.0, 2.0)
    y = np.round(noisy(22 + 60 * late(t)) / 0.489) * 0.489
    y[1::2] = y[::2]
    kept = (t < 300) | (t > 520)
    kept &= np.random.default_rng(1).random(len(t)) < 0.6
    y[100:130] = np.nan
    found = stage(t[kept], y[kept])
    assert found.low_c < 82.0 < found.high_c
    assert series(t, y, None, 0.0, 1500.0).quantum_k == pytest.approx(0.489, abs=1e-3)


def test_clipped_values_are_bounds():
    y = noisy(22 + 60 * late(TIMES))
    for top, predicted in ((78.0, True), (45.0, False)):
        clipped = np.where(y > top, "high", "")
        found = stage(TIMES, np.minimum(y, top), clipped=clipped)
        if predicted:
            assert found.low_c < 82.0 < found.high_c
            assert found.high_c > top
        else:
            assert found.settled_c is None
            assert found.reason.code in {"settling_clipped", "settling_too_early"}


def test_common_uncertainty_widens_but_does_not_refuse():
    y = noisy(22 + 45 * late(TIMES))
    plain, wide = stage(TIMES, y), stage(TIMES, y, u=np.full(150, 2.0))
    assert wide.settled_c == pytest.approx(plain.settled_c)
    assert wide.high_c - wide.settled_c == pytest.approx(np.hypot(plain.high_c - plain.settled_c, 1.96 * 2.0))


def test_ambient_is_not_needed():
    found = stage(TIMES, noisy(22 + 45 * late(TIMES)), ambient_c=None)
    assert found.low_c < 67.0 < found.high_c


def test_crossing_of_a_rating():
    t = TIMES[TIMES <= 700]
    found = stage(t, noisy(22 + 80 * late(t)))
    over = crossing(found, 90.0, 1500.0)
    when = np.interp(90.0, 22 + 80 * late(TIMES), TIMES)
    assert over.chance_settled > 0.99
    assert over.time_s == pytest.approx(when, abs=60.0)
    never = crossing(found, 130.0, 1500.0)
    assert never.time_s is None
    assert never.chance_at_end < 0.01
    assert crossing(stage(TIMES[:2], np.array([22.0, 23.0])), 90.0, 1500.0) is None


def test_ambient_that_was_followed_is_taken_out():
    t = np.arange(0.0, 1500.0, 10.0)
    air = 22.0 + 3.0 * t / 1500.0
    late_air = np.interp(t - 250.0, t, air)  # what a connector that lags by 250 s has seen of it, once under way
    y = noisy(late_air + 45 * late(t))
    followed = stage(t, y, ambient_c=noisy(air, seed=5))
    at_last = 45.0 + air[-1]
    assert followed.low_c < at_last < followed.high_c
    assert followed.settled_c == pytest.approx(at_last, abs=0.7)
    gappy = air.copy()
    gappy[40:60] = np.nan
    assert stage(t, y, ambient_c=gappy).settled_c == pytest.approx(followed.settled_c, abs=0.5)
    still = stage(t, y, ambient_c=np.full(150, 22.0))
    assert still.settled_c == pytest.approx(stage(t, y, ambient_c=22.0).settled_c)


def test_the_fall_back_gives_chances_but_no_time():
    heading = Settling(90.0, 86.08, 93.92, 200.0, "no", 85.0, 81.08, 88.92, "one exponential")
    found = crossing(heading, 90.0, 1500.0)
    assert found.chance_settled == pytest.approx(0.5, abs=1e-3)
    assert found.chance_at_end == pytest.approx(0.0062, abs=2e-4)  # 2.5 standard deviations of a normal
    assert found.time_s is None


def test_a_part_that_cools_through_a_level_does_not_reach_it():
    t = TIMES[TIMES <= 900]
    found = stage(t, noisy(22 + 80 * (1 - late(t))))
    assert crossing(found, 60.0, 1500.0, 900.0).time_s is None
    assert crossing(found, 60.0, 1500.0, 900.0).chance_settled < 0.01


@pytest.mark.parametrize("key", ["rated", "wire_rated"])
@pytest.mark.parametrize(
    "code", ["would_reach_{}", "would_reach_{}_in_stage", "would_reach_{}_late", "could_reach_{}", "stays_below_{}"]
)
def test_every_sentence_on_ratings_is_there(code, key):
    values = {"rated": 105.0, "chance": 0.5, "at_s": 900.0, "end_s": 1500.0}
    assert "105.0 °C" in words.say(Statement(code.format(key), values))
