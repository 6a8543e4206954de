"""What of a colour's uncertainty pixels of a pin share: rounding with noise against trials, parts against the whole."""

import numpy as np
import pytest

from hotspot.read.colour_carrier import Carrier, Spread, compression, dithered, joined, rounding
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map, repeats
from hotspot.read.colour_pixels import ColourPixels, Reading
from hotspot.read.colours import carrier_of
from hotspot.read.scale import Ends


def drawn(field: np.ndarray, name: str = "inferno") -> ColourImage:
    from matplotlib import colormaps

    return ColourImage.from_rgb(colormaps[name](np.rint(field * 255) / 255, bytes=True)[..., :3])


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.2, 0.3, 0.5])
def test_shared_rounding_is_what_trials_give(noise: float) -> None:
    """Surfaces of one temperature with normal noise, rounded to whole steps: correlation of two pixels' errors."""
    rng = np.random.default_rng(9)
    true = rng.uniform(0.0, 1.0, 200_000)
    seen = [true + rng.normal(0.0, noise, true.shape) for _ in range(2)]
    errors = [np.rint(each) - each for each in seen]
    assert dithered(noise) == pytest.approx(np.corrcoef(*errors)[0, 1], abs=0.01)


@pytest.mark.parametrize("noise", [0.0, 0.3, 1.0])
def test_a_pictures_own_noise_is_found(noise: float) -> None:
    rng = np.random.default_rng(3)
    rows, columns = np.indices((120, 160))
    field = 0.3 + 0.001 * columns + 0.2 * (np.hypot(rows - 60, columns - 80) < 12)
    field += rng.normal(0.0, noise / 255, field.shape)
    found = carrier_of(known_map("inferno"), drawn(field), compressed=False)
    assert found.exact
    assert 255 * found.dither == pytest.approx(noise, abs=0.1)


@pytest.mark.parametrize(("noise", "most"), [(0.0, 1.0), (0.3, 0.45)])
def test_pins_without_noise_keep_their_rounding(noise: float, most: float) -> None:
    """A pin of forty pixels: rounded once for all without noise, and mostly averaged out with it."""
    rng = np.random.default_rng(4)
    rows, columns = np.indices((64, 64))
    field = 0.5 + rng.normal(0.0, noise / 255, rows.shape)
    image = drawn(field)
    colours = known_map("inferno")
    reading = Reading(colours, repeats(colours), carrier_of(colours, image, compressed=False))
    pixels = ColourPixels(image, reading, Ends(0.0, 255.0))  # K are steps
    face = (np.arange(40) // 7 + 20, np.arange(40) % 7 + 20)
    own, common = pixels.in_parts(*face)[2:]
    of_mean = np.sqrt((own**2).sum() / 40**2 + common.mean() ** 2)
    assert pixels.at(*face)[2].mean() == pytest.approx(np.sqrt(1 / 12), rel=0.02)
    assert of_mean <= most * np.sqrt(1 / 12) * 1.02
    if not noise:
        assert of_mean >= 0.98 * np.sqrt(1 / 12)


def test_the_ends_of_drawing_are_common() -> None:
    spread = rounding(Carrier(True, dither=5.0 / 255), np.array([0.0, 0.5, 1.0]), np.full(3, 1 / 255))
    np.testing.assert_allclose(255 * spread.common, [0.5 / np.sqrt(3), 0.0, 0.5 / np.sqrt(3)], atol=1e-6)
    np.testing.assert_allclose(255 * spread.own, np.sqrt(1 / 12), rtol=1e-6)


def test_steps_around_and_harder_compression_widen() -> None:
    slopes = (np.full(5, 220.0), np.full(5, 100.0))
    activity = np.array([0.0, 6.0, 24.0, 60.0, 120.0])
    for kind in (Carrier(False, 2.0, stepped=True), Carrier(False, 2.0), Carrier(False, 1.0, film=True)):
        spread = compression(kind, slopes, kind.weight, activity)
        assert (np.diff(spread.together) > 0.0).all()
        assert (spread.common < spread.together).all()
    soft, hard = (compression(Carrier(False, off, stepped=True), slopes, 0.3, activity) for off in (1.2, 2.9))
    assert (hard.together > soft.together).all()
    assert (hard.common > soft.common).all()


def test_joined_terms_add_in_squares() -> None:
    """JCGM 100:2008, equation 10, against hotspot's own for three numbers that anyone can add."""
    three, four = (Spread(*(np.array([value]) for _ in range(3))) for value in (3.0, 4.0))
    assert joined(three, four).common[0] == pytest.approx(5.0)
