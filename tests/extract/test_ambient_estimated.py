"""The ambient that nobody stated, from cold pins; the drift of air and camera, from what lies about the connector."""

import numpy as np
import pytest
from made_frames import frames_of, pins_at, region, session_of

from hotspot.extract import measure
from hotspot.extract.air import UNSEEN_K_PER_S, Told, air_of
from hotspot.extract.cold import LIMITS_K, REST_K, SLOWEST_S, cold_start
from hotspot.extract.surroundings import PIXELS, surroundings_of, tiles_of
from hotspot.poses import Pose
from hotspot.records import StageSpan
from hotspot.session import Stage

SHAPE = (60, 80)
T = np.arange(0.0, 901.0, 10.0)
PLACES = ((34, 30), (44, 30))


def span(start=0.0, amps=9.0, end=900.0):
    frames = tuple(int(k) for k in np.flatnonzero((start <= T) & (end >= T)))
    return StageSpan("full", start, end, frames, Stage(name="full", amps=amps))


def rise(t, tau=250.0, lag=30.0):
    t = np.maximum(t, 0.0)
    return 30.0 * (1 - (tau * np.exp(-t / tau) - lag * np.exp(-t / lag)) / (tau - lag))


def scene(common=0.0, start=0.0, level=21.0, pins_start_k=0.0, noise_k=0.05):
    """Pictures of two pins on a bench; `common` (t,) is what air and camera do to every pixel."""
    stack = np.full((T.size, *SHAPE), level)
    stack[:, 22:39, 26:53] += (rise(T - start) + pins_start_k)[:, None, None]
    stack += np.broadcast_to(common, T.shape)[:, None, None]
    return stack + np.random.default_rng(4).normal(0.0, noise_k, stack.shape)


def read(stack, stages, session=None, regions=(), log=None, bits=0):
    pins = pins_at(*PLACES, regions=[region(*one) for one in regions])
    return measure(session or session_of(), frames_of(stack, bits=bits), pins, stages, log, {})


WRONG = 0.8 * np.sin(T / 250.0) + np.select([T >= 600, T >= 300], [-0.7, 0.5], 0.0)


def codes(found):
    return {said.code for said in found.notices}


@pytest.mark.parametrize("start", [0.0, 120.0])
def test_cold_pins_on_a_bench_as_cold_tell_the_ambient_and_the_bench_how_it_moved(start):
    found = read(scene(WRONG, start), (span(start),))
    told = found.settings["ambient"]
    assert told["origin"] == "cold start"
    assert told["drift"] == "surroundings"
    level = 21.0 + WRONG
    assert np.abs(found.ambient["ambient_c"].to_numpy() - level).max() < 0.15
    rises = found.readings[found.readings["pin"] == "1"]["rise_c"].to_numpy()
    assert np.abs(rises - rise(T - start)).max() < 0.15
    assert told["uncertainty_k"] >= LIMITS_K / np.sqrt(3.0)  # never surer than an ambient that was stated
    assert found.readings["quality"].str.contains("ambient_estimated").all()
    assert "ambient_estimated_followed" in codes(found)
    assert "ambient_unknown" not in codes(found)


def test_a_stated_ambient_stands_and_what_moved_is_told_beside_it():
    found = read(scene(WRONG), (span(),), session_of(ambient=21.0))
    away = found.readings["temperature_c"] - found.readings["rise_c"]
    np.testing.assert_allclose(away, 21.0)
    drift = found.readings[found.readings["pin"] == "1"]["drift_c"].to_numpy()
    assert np.abs(drift - (WRONG - WRONG[0])).max() < 0.15
    assert not found.readings["quality"].str.contains("ambient_estimated").any()
    assert "ambient_moved" in codes(found)
    still = read(scene(), (span(),), session_of(ambient=21.0))
    assert "ambient_moved" not in codes(still)
    assert np.abs(still.readings["drift_c"]).max() < 0.15


def test_pins_that_are_warm_before_any_load_are_told_of():
    start = 200.0
    wrong = read(scene(start=start), (span(start),), session_of(ambient=12.0))
    (said,) = [one for one in wrong.notices if one.code == "pins_warm_at_start"]
    assert said.values["above"] == pytest.approx(9.0, abs=0.1)
    assert said.values["ambient"] == 12.0
    for right in (
        read(scene(start=start), (span(start),), session_of(ambient=21.0)),
        read(scene(start=start), (span(start),), session_of(ambient=17.0)),  # as far as instruments disagree
        read(scene(), (span(-100.0),), session_of(ambient=12.0)),  # no frame before the load that could tell
    ):
        assert "pins_warm_at_start" not in codes(right)


def test_a_log_or_a_region_of_the_air_is_not_second_guessed():
    logged = read(scene(WRONG), (span(),), log=(np.array([0.0, 900.0]), np.array([21.0, 22.0])))
    assert logged.settings["ambient"] == {"origin": "log", "drift": "log"}
    assert logged.readings["drift_c"].isna().all()
    seen = read(scene(WRONG), (span(),), regions=(("air", "ambient", (0, 0, 6, 6)),))
    assert seen.settings["ambient"]["origin"] == "region"
    np.testing.assert_allclose(seen.ambient["ambient_c"], 21.0 + WRONG, atol=0.05)
    drift = seen.readings[seen.readings["pin"] == "1"]["drift_c"].to_numpy()  # for the steps of the shutter
    assert np.abs(drift - (WRONG - WRONG[0])).max() < 0.15
    for found in (logged, seen):
        assert not found.readings["quality"].str.contains("ambient_estimated").any()
        assert "ambient_moved" not in codes(found)


def test_a_reference_takes_the_drift_off_and_cold_pins_at_rest_tell_the_level():
    stack = scene(WRONG, 120.0)
    found = read(stack, (span(120.0),), regions=(("block", "reference", (0, 0, 10, 10)),))
    assert found.settings["ambient"]["drift"] == "reference"
    assert found.settings["ambient"]["because"] == "rest"
    np.testing.assert_allclose(found.readings["drift_c"], 0.0)
    rises = found.readings[found.readings["pin"] == "1"]["rise_c"].to_numpy()
    assert np.abs(rises - rise(T - 120.0)).max() < 0.2


NOT_TOLD = {
    "warm over the bench from a test before": dict(stack=scene(pins_start_k=6.0), stages=(span(),)),
    "filmed from the tenth minute on": dict(stack=scene(start=-600.0), stages=(span(),)),
    "the load came on before the first frame": dict(stack=scene(start=-60.0), stages=(span(-60.0),)),
    "as warm as all around it, and it stays so": dict(stack=scene(start=9000.0, level=50.0), stages=(span(),)),
    "no load at all": dict(stack=scene(), stages=(span(amps=0.0),)),
}


@pytest.mark.parametrize("case", NOT_TOLD)
def test_without_a_cold_start_the_ambient_stays_not_known(case):
    found = read(**NOT_TOLD[case])
    assert found.settings["ambient"]["origin"] == "not known"
    assert found.readings["rise_c"].isna().all()
    assert not len(found.ambient)
    assert "ambient_unknown" in codes(found)


def test_surroundings_that_warm_with_the_pins_are_not_believed():
    found = read(scene(0.4 * rise(T)), (span(),))
    assert "surroundings_move_far" in codes(found)
    assert found.settings["ambient"]["drift"] == "not followed"
    assert found.readings["drift_c"].isna().all()


def test_surroundings_below_the_scale_tell_nothing():
    from hotspot.doubts import BIT

    bits = np.full(SHAPE, BIT["clipped_low"], dtype=np.uint32)
    bits[22:39, 26:53] = 0
    found = read(scene(WRONG), (span(),), bits=bits)
    assert found.settings["ambient"] == {"origin": "not known", "drift": "not followed"}


def tiles_with(shared, own=0.0, n=40, noise=0.03):
    """(frames, n) tiles that share `shared` (t,) and rise by `own` (n,) times the pins' rise."""
    rng = np.random.default_rng(9)
    return 20.0 + shared[:, None] + np.broadcast_to(own, n) * rise(T)[:, None] + rng.normal(0, noise, (T.size, n))


def test_a_wire_a_hand_and_a_printed_bar_spoil_nothing():
    tiles = tiles_with(WRONG, own=np.where(np.arange(40) < 14, 0.3, 0.0))  # a third is warmed by wires
    tiles[(T > 400) & (T < 460), 16:26] += 9.0  # a hand before a quarter
    tiles[:, 30:34] = 55.0  # a colour bar
    found = surroundings_of(T, tiles, [0])
    assert found.tiles == 36
    assert np.abs(found.moved_k - (WRONG - WRONG[0])).max() < 0.15


def test_the_uncertainty_grows_with_how_unlike_the_surroundings_warm():
    near = surroundings_of(T, tiles_with(WRONG, own=np.linspace(0.0, 0.06, 40)), [0])
    far = surroundings_of(T, tiles_with(WRONG), [0])
    error = near.moved_k[-1] - (WRONG[-1] - WRONG[0])
    assert 0.1 < error <= 1.96 * near.unsure_k
    assert far.unsure_k < 0.1 < near.unsure_k


def test_frames_without_tiles_lie_between_their_neighbours():
    tiles = tiles_with(np.linspace(0.0, 2.0, T.size), noise=0.0)
    tiles[40:45] = np.nan
    found = surroundings_of(T, tiles, [0])
    np.testing.assert_allclose(found.moved_k, np.linspace(0.0, 2.0, T.size), atol=1e-9)
    assert surroundings_of(T, np.full((T.size, 40), np.nan), [0]) is None
    assert surroundings_of(T, tiles[:, :7], [0]) is None
    assert surroundings_of(T, tiles, []) is None


def test_tiles_keep_off_the_connector_and_marked_regions_and_follow_the_camera():
    pins = pins_at(*PLACES, regions=[region("lamp", "ignore", (0, 0, 20, 60))])
    tiles = tiles_of(pins, SHAPE)
    assert len(tiles.rows) % PIXELS == 0
    assert tiles.columns.min() >= 20
    assert not ((np.abs(tiles.rows - 30) <= 15) & (tiles.columns >= 19) & (tiles.columns <= 59)).any()
    rows, columns, inside = tiles.seen(Pose(right_px=3.0, down_px=-2.0), SHAPE)
    np.testing.assert_array_equal(rows[inside], tiles.rows[inside] - 2)
    np.testing.assert_array_equal(columns[inside], tiles.columns[inside] + 3)
    assert inside.sum() < inside.size
    assert tiles_of(pins_at((40, 30), radius=25.0), SHAPE) is None
    marked = pins_at(*PLACES, regions=[region("air", "ambient", (0, 0, 4, 4))])
    assert (tiles_of(marked, SHAPE).columns > 4).any()
    referred = pins_at(*PLACES, regions=[region("block", "reference", (0, 0, 4, 4))])
    assert tiles_of(referred, SHAPE) is None


@pytest.mark.published
@pytest.mark.parametrize("excess_k", [0.0, 0.5, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("tau_s", [200.0, 400.0, 600.0])
def test_a_warm_connector_at_rest_is_told_by_how_fast_it_cools(excess_k, tau_s):
    """Lumped capacitance: T - T_air falls as exp(-t / tau) (Incropera and DeWitt, Fundamentals of Heat and Mass
    Transfer, equation 5.6; cited from memory), so the level is never called the air's where it lies 1.5 K off it.
    """
    t = np.arange(-300.0, 301.0, 5.0)
    pins = 20.0 + (excess_k * np.exp(-(t + 300.0) / tau_s) + rise(t))[:, None] * np.ones(3)
    stage = StageSpan("full", 0.0, 900.0, (), Stage(name="full", amps=9.0))
    found = cold_start(t, pins, (stage,), None)
    off = float(np.median(pins[(t >= -60.0) & (t <= 0.0)]) - 20.0)
    if found is None:
        # it cools by its excess / tau, which is more than what something of 600 s would with 1.5 K
        assert float(np.mean(pins[t <= 0.0, 0]) - 20.0) / tau_s >= 0.8 * REST_K / SLOWEST_S
    else:
        assert abs(found.celsius - 20.0) == pytest.approx(off, abs=1e-6)
        assert off <= 1.96 * found.unsure_k
    assert (found is None) or off < REST_K


def test_a_loggers_table_is_told_from_rest_and_grows_unsure():
    t = np.arange(0.0, 1621.0, 10.0)
    rng = np.random.default_rng(2)
    pins = 21.0 + rise(t - 120.0)[:, None] * np.array([1.0, 0.7, 0.6]) + rng.normal(0, 0.03, (t.size, 3))
    stage = StageSpan("full", 120.0, 1620.0, (), Stage(name="full", amps=9.0))
    told = Told(np.full(t.size, np.nan), "not known")
    found = air_of(t, pins, told, (stage,), None)
    assert found.origin == "cold start"
    np.testing.assert_allclose(found.celsius, 21.0, atol=0.05)
    assert found.unsure_k == pytest.approx(np.hypot(LIMITS_K / np.sqrt(3), 1530 * UNSEEN_K_PER_S), rel=0.1)
    assert {said.code for said in found.notices} == {"ambient_estimated"}
    short = air_of(t[8:], pins[8:], Told(np.full(t.size - 8, np.nan), "not known"), (stage,), None)
    assert short.origin == "not known"  # forty seconds of rest show nothing


def test_wrong_single_readings_of_a_logger_do_not_make_the_level():
    t = np.arange(0.0, 601.0, 5.0)
    pins = np.full((t.size, 3), 21.0) + rise(t - 200.0)[:, None]
    pins[[5, 20, 33], 1] += 40.0
    stage = StageSpan("full", 200.0, 600.0, (), Stage(name="full", amps=9.0))
    found = cold_start(t, pins, (stage,), None)
    assert found.celsius == pytest.approx(21.0)
