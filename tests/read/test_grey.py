"""Rough temperatures for laying frames over each other against the careful reading of the same pixels."""

import numpy as np
import pytest

from hotspot.read.colour_carrier import Carrier
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map, repeats
from hotspot.read.colour_pixels import ColourPixels, Reading
from hotspot.read.pixels import ArrayPixels, Law
from hotspot.read.scale import Ends

LOW, HIGH = 20.0, 80.0


def drawn(name):
    import matplotlib

    share = np.linspace(0.02, 0.98, 60)[None, :] * np.linspace(0.3, 1.0, 40)[:, None]
    table = matplotlib.colormaps[name](np.arange(256), bytes=True)[:, :3]
    return LOW + (HIGH - LOW) * np.rint(share * 255) / 255, table[np.rint(share * 255).astype(int)]


@pytest.mark.parametrize(
    ("name", "within_k"), [("inferno", 0.3), ("gray", 0.2), ("viridis", 0.4), ("jet", 1.5), ("turbo", 1.5)]
)
def test_grey_is_near_the_temperature_that_was_drawn(name, within_k) -> None:
    celsius, rgb = drawn(name)
    colours = known_map(name)
    pixels = ColourPixels(ColourImage.from_rgb(rgb), Reading(colours, repeats(colours), Carrier(True)), Ends(LOW, HIGH))
    grey = pixels.grey()
    assert grey.dtype == np.float32
    assert float(np.sqrt(np.mean((grey - celsius) ** 2))) < within_k
    rows, columns = np.array([3, 30]), np.array([50, 7])
    np.testing.assert_array_equal(pixels.grey(rows, columns), grey[rows, columns])


def test_planes_with_halved_chroma_give_the_same_as_the_picture() -> None:
    celsius, rgb = drawn("inferno")
    from hotspot.read.colour_image import rgb_to_ycc

    ycc = np.clip(np.rint(rgb_to_ycc(rgb, "601")), 0, 255).astype(np.uint8)
    for name, within_k in (("inferno", 0.4), ("jet", 4.0)):
        celsius, rgb = drawn(name)
        ycc = np.clip(np.rint(rgb_to_ycc(rgb, "601")), 0, 255).astype(np.uint8)
        image = ColourImage.from_planes(ycc[..., 0], ycc[::2, ::2, 1], ycc[::2, ::2, 2], False, "601")
        colours = known_map(name)
        pixels = ColourPixels(image, Reading(colours, repeats(colours), Carrier(False)), Ends(LOW, HIGH))
        assert float(np.sqrt(np.mean((pixels.grey() - celsius) ** 2))) < within_k


def test_what_is_printed_is_left_open() -> None:
    _, rgb = drawn("inferno")
    printed = np.zeros(rgb.shape[:2], dtype=bool)
    printed[5:9, 10:20] = True
    colours = known_map("inferno")
    reading = Reading(colours, repeats(colours), Carrier(True))
    grey = ColourPixels(ColourImage.from_rgb(rgb), reading, Ends(LOW, HIGH), printed).grey()
    assert np.array_equal(np.isnan(grey), printed)


def test_numbers_are_turned_by_their_law() -> None:
    raw = np.arange(12, dtype=np.uint16).reshape(3, 4)
    pixels = ArrayPixels(raw, Law(lambda numbers: 0.5 * numbers - 40.0))
    np.testing.assert_allclose(pixels.grey(), 0.5 * raw - 40.0)
    np.testing.assert_allclose(pixels.grey(np.array([1]), np.array([2])), [0.5 * raw[1, 2] - 40.0])
