"""The script behind the figures, on one small scene: its table has the columns it names, and the figures hold."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))


def test_a_small_scene_of_the_script_is_followed() -> None:
    import steadiness

    film = steadiness.made(7, 14, (160, 120))
    found = steadiness.followed(film)
    warm = np.abs(film.contrast_k) >= steadiness.STANDS_OUT_K
    assert warm.sum() >= 6
    assert set(found.state[warm]) == {"measured"}
    assert float(np.sqrt(np.mean(found.error_px[warm] ** 2))) <= 0.15
    assert len(steadiness.line("none", [found])) == len(steadiness.HEAD)


def test_the_scenes_are_not_easy() -> None:
    """The hand reaches its whole way, and the connector is nowhere to be seen at first."""
    import steadiness

    from hotspot.synthetic.handheld import wandering

    hand = wandering(np.random.default_rng(3), 60)
    for way, reach in ((hand.right_px, 8.0), (hand.down_px, 8.0), (hand.turn_deg, 3.0)):
        assert abs(np.abs(way).max() - reach) < 1e-9
        assert np.ptp(way) > reach
    film = steadiness.made(7, 14, (160, 120))
    assert abs(film.contrast_k[0]) < 2 * steadiness.NETD_K
    assert film.contrast_k.max() > 4 * steadiness.STANDS_OUT_K
