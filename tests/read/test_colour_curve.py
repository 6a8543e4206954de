"""A colour's place on a map whose lightness hardly changes over a stretch: mean of what may be, against scipy."""

import numpy as np
import pytest

from hotspot.read.colour_curve import Curve, _runs_between_turns
from hotspot.read.colour_image import rgb_to_ycc
from hotspot.read.colour_maps import known_map

LINE = (
    np.array([[10.0, 128, 128], [60.0, 128, 128], [60.2, 128, 128], [200.0, 128, 128]]),
    np.array([0, 0.3, 0.32, 1]),
)


def test_places_are_means_by_likelihood() -> None:
    """Against scipy.integrate.quad over the three-hundredths of the scale on either side of the nearest place."""
    from scipy.integrate import quad

    points, places = LINE
    curve = Curve(points, places, 0.3, 7, 2.0, noise=0.5)
    for luma in (55.0, 59.5, 60.0, 60.5, 62.0):
        nearest = float(np.interp(luma, points[:, 0], places))

        def likely(place: float, luma: float = luma) -> float:
            return np.exp(-((np.interp(place, places, points[:, 0]) - luma) ** 2) / (2 * 0.5**2))

        span = (nearest - 0.03, nearest + 0.03)
        whole = quad(likely, *span, points=(0.3, 0.32), limit=200)[0]
        expected = quad(lambda x, f=likely: x * f(x), *span, points=(0.3, 0.32), limit=200)[0] / whole
        found = curve.place_of(np.array([[luma, 128.0, 128.0]]))[0]
        assert abs(found - expected) < 5e-4


def test_a_flat_stretch_is_read_without_bias() -> None:
    """Surfaces evenly spread over it, luma with noise: the nearest place is off to the flat side, the mean is not."""
    points, places = LINE
    rng = np.random.default_rng(1)
    true = rng.uniform(0.25, 0.40, 20_000)
    luma = np.interp(true, places, points[:, 0]) + rng.normal(0.0, 0.5, true.shape)
    colours = np.stack([luma, np.full_like(luma, 128.0), np.full_like(luma, 128.0)], axis=1)
    errors = [Curve(points, places, 0.3, 7, 2.0, noise).place_of(colours) - true for noise in (0.0, 0.5)]
    assert abs(errors[1].mean()) < 2e-4
    assert np.sqrt((errors[1] ** 2).mean()) < 0.95 * np.sqrt((errors[0] ** 2).mean())


def test_no_turn_of_lightness_is_crossed() -> None:
    runs = _runs_between_turns(np.array([0.0, 5.0, 9.0, 8.8, 9.1, 4.0, 2.0, 2.3, 7.0]))
    assert list(runs) == [0, 0, 0, 0, 0, 1, 1, 2, 2]


@pytest.mark.parametrize("name", ["jet", "gray", "inferno"])
def test_a_stretch_of_one_colour_has_two_ends(name: str) -> None:
    """Entry k of matplotlib's table lies on the line through the map at k / 255."""
    from matplotlib import colormaps

    rgb, places = known_map(name).corners()
    assert np.all(np.diff(places) >= 0.0)
    table = colormaps[name](np.arange(256), bytes=True)[:, :3].astype(float)
    found = np.stack([np.interp(np.arange(256) / 255, places, rgb[:, k]) for k in range(3)], axis=1)
    np.testing.assert_allclose(rgb_to_ycc(found)[2:-2], rgb_to_ycc(table)[2:-2], atol=1e-6)
