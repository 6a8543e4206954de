"""Made scenes are as hard as they are said to be."""

import sys
from pathlib import Path

import numpy as np
import pytest

from hotspot.synthetic import scenes
from hotspot.synthetic.scenes import FOUND_UNAIDED, PIN_PX, TURN_DEG, WIDTH_SHARE, draw_scene

SEEDS = range(9000, 9008)


@pytest.fixture(scope="module")
def drawn():
    return [draw_scene(seed, FOUND_UNAIDED[seed % 3]) for seed in SEEDS]


def test_connectors_lie_anywhere_small_or_large_and_whole(drawn) -> None:
    shares = np.array([one.width_share for one in drawn])
    assert shares.min() >= WIDTH_SHARE[0] - 1e-9
    assert shares.max() <= WIDTH_SHARE[1] + 1e-9
    assert shares.min() < 0.25
    assert shares.max() > 0.4
    turns = np.array([one.footage.camera.rotation_deg for one in drawn])
    assert np.abs(turns).max() <= TURN_DEG
    assert np.ptp(turns) > 12.0
    middles = np.array([one.footage.camera.middle for one in drawn]) / (320, 240)
    assert np.ptp(middles, axis=0).min() > 0.3
    for one in drawn:
        footage = one.footage
        assert footage.celsius.shape[1:] == (240, 320)
        across = 2 * footage.radius_px[0]
        assert across <= PIN_PX[1] + 1e-9
        assert across >= min(PIN_PX[0], WIDTH_SHARE[0] * 320 / one.case.spec.shape[1] * one.case.spec.pin_mm) - 1e-9
        assert (footage.x_px > footage.radius_px).all()
        assert (footage.x_px < 319 - footage.radius_px).all()


def test_pins_are_darker_and_brighter_and_some_hardly_told_from_the_plastic(drawn) -> None:
    emissivity = np.concatenate([one.footage.camera.pin_emissivity for one in drawn])
    assert (emissivity < 0.88).any()
    assert (emissivity > 0.96).any()
    assert (np.abs(emissivity - 0.93) < 0.01).any()
    own = [np.std(one.footage.camera.pin_emissivity) for one in drawn]
    assert min(own) > 0.005


def test_the_camera_is_biased_and_wanders(drawn) -> None:
    bias = np.array([one.footage.camera.bias_k for one in drawn])
    assert np.abs(bias).max() > 1.0
    assert all(one.footage.camera.wander_k >= 0.3 and one.footage.camera.noise_k >= 0.05 for one in drawn)


def test_things_lie_about_and_figures_are_printed_in(drawn) -> None:
    from scipy.ndimage import median_filter

    printed, warm = 0, 0
    for one in drawn:
        first, last = one.footage.celsius[0], one.footage.celsius[-1]
        strokes = np.abs(first - median_filter(first, 5)) > 3.0
        printed += bool(strokes[110:130, 150:170].sum() >= 12 and strokes[:14, :40].sum() >= 20)
        far = scenes.on_face(one.footage.camera, one.case.spec) > 3.0
        warm += bool((np.abs((last - np.median(last[far]))[far]) > 1.5).mean() > 0.001)
    assert 2 <= printed <= len(drawn) - 1
    assert warm >= len(drawn) - 2
    assert any(one.footage.camera.wires for one in drawn)
    assert not all(one.footage.camera.wires for one in drawn)


def test_some_pins_lie_under_a_wire() -> None:
    footage = draw_scene(9000, (1, 6)).footage
    rng = np.random.default_rng(3)
    frames, hidden = scenes._crossed(rng, footage.celsius, footage, np.linspace(0, 1, len(footage.time_s)))
    assert 1 <= len(hidden) <= 2
    rows, columns = np.rint(footage.y_px).astype(int), np.rint(footage.x_px).astype(int)
    changed = np.abs(frames[-1] - footage.celsius[-1])[rows, columns]
    assert set(np.flatnonzero(changed > 1.0)) == set(hidden)


def test_same_number_same_frames(drawn) -> None:
    again = draw_scene(SEEDS[0], FOUND_UNAIDED[SEEDS[0] % 3])
    np.testing.assert_array_equal(again.footage.celsius, drawn[0].footage.celsius)


def test_the_bench_script_counts(drawn) -> None:
    sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
    from locate_grid import Outcome, table, wilson

    right = Outcome("stated", 1, (1, 6), 8.0, True, True, 0.3, 0.1, 1.0, 0.9, 0.9)
    wrong = Outcome("stated", 2, (1, 6), 8.0, True, False, 9.0, 9.0, 1.0, 0.9, 0.9)
    text = table([right, right, wrong])
    assert "1x6 | 3 | 2 = 67%" in text
    assert "| 1 (up to" in text
    assert "0.30 | 0.10 (n 2)" in text
    from scipy.stats import binomtest

    for hits, of in ((0, 200), (58, 60), (3, 7)):
        other = binomtest(hits, of).proportion_ci(0.95, "wilson")
        assert wilson(hits, of) == pytest.approx((other.low, other.high), abs=1e-6)
