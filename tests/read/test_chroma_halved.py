"""How a video's chroma was halved is found from the picture; pins are read by it (synthetic truth)."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from hotspot.read.colour_blocks import _FIRST, _SOFT, DECODED, MEAN, Halving
from hotspot.read.colour_image import ColourImage, rgb_to_ycc
from hotspot.read.colour_maps import known_map
from hotspot.read.colours import carrier_of

SCRIPT = Path(__file__).parent.parent / "benchmarks" / "colour_accuracy.py"
SPEC = importlib.util.spec_from_file_location("colour_accuracy", SCRIPT)
table = importlib.util.module_from_spec(SPEC)
sys.modules["colour_accuracy"] = table
SPEC.loader.exec_module(table)
SEED = 7_002  # not among those that numbers were settled on


def planes_of(name: str, way: Halving | None) -> ColourImage:
    """A scene as limited-range planes, chroma halved by `way`, or whole; rounded, not compressed."""
    ycc = rgb_to_ycc(table.drawn(table.scene(SEED).field, name).astype(float))
    ycc = (ycc - (0, 128, 128)) * (219 / 255, 224 / 255, 224 / 255) + (16, 128, 128)
    chroma = ycc[..., 1:]
    if way is not None:
        wide = np.pad(chroma, ((2, 3), (2, 3), (0, 0)), mode="edge")
        rows, columns = chroma.shape[:2]
        lines = sum(tap * wide[k : k + rows : 2] for k, tap in enumerate(way.down))
        chroma = sum(tap * lines[:, k : k + columns : 2] for k, tap in enumerate(way.across))
    codes = [np.rint(plane).astype(np.uint8) for plane in (ycc[..., 0], chroma[..., 0], chroma[..., 1])]
    return ColourImage.from_planes(*codes, True, "601")


@pytest.mark.parametrize("name", ["inferno", "turbo", "nipy_spectral"])
@pytest.mark.parametrize("way", [Halving(), Halving(_SOFT, MEAN), Halving(MEAN, _FIRST), Halving(_SOFT, _FIRST)])
def test_the_way_of_halving_is_found(name: str, way: Halving) -> None:
    assert carrier_of(known_map(name), planes_of(name, way), compressed=True).halving == way


@pytest.mark.parametrize("way", [Halving(), Halving(_SOFT, MEAN), Halving(MEAN, _FIRST)])
def test_pins_are_read_alike_whichever_way_chroma_was_halved(way: Halving) -> None:
    seen = table.scene(SEED)
    values = table.read(planes_of("turbo", way), "turbo", exact=False)[0]
    score = table.Score("turbo", "planes")
    table._add(score, values - seen.field, seen, None)
    assert score.rms("pin") < 0.15
    assert abs(score.bias("pin")) < 0.1


def test_a_scaling_program_halves_softly_down() -> None:
    """Against FFmpeg's own scaler, which makes the planes when pictures are encoded through it."""
    image = table.carried(table.drawn(table.scene(SEED).field, "jet"), "crf18")
    assert carrier_of(known_map("jet"), image, compressed=True).halving == Halving(_SOFT, MEAN)


def test_whole_chroma_is_taken_as_it_is() -> None:
    seen = table.scene(SEED)
    values = table.read(planes_of("turbo", None), "turbo", exact=False)[0]
    assert np.sqrt(np.mean((values - seen.field) ** 2)) < 0.003


def test_grey_and_decoded_pictures_are_not_asked() -> None:
    assert carrier_of(known_map("gray"), planes_of("gray", Halving()), compressed=True).halving == Halving()
    decoded = ColourImage.from_rgb(planes_of("turbo", Halving()).as_rgb())
    assert carrier_of(known_map("turbo"), decoded, compressed=True).halving == DECODED


def test_a_part_is_read_as_the_whole_is() -> None:
    image = planes_of("turbo", Halving(_SOFT, MEAN))
    pixels = table.pixels_of(image, "turbo", exact=False)
    whole = [part.reshape(image.shape) for part in pixels.at(*(each.ravel() for each in np.indices(image.shape)))]
    rows, columns = np.array([0, 120, 121, 239]), np.array([0, 160, 33, 319])
    for part, all_of_it in zip(pixels.at(rows, columns), whole, strict=True):
        np.testing.assert_allclose(part, all_of_it[rows, columns], atol=1e-6)
