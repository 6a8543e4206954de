"""Compressed pictures: errors, intervals, clipping and printed marks, on made fields (synthetic truth)."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from hotspot.doubts import BIT
from hotspot.read.colour_image import ColourImage, rgb_to_ycc
from hotspot.read.colours import open_scale
from hotspot.session import Session

SCRIPT = Path(__file__).parent.parent / "benchmarks" / "colour_accuracy.py"
SPEC = importlib.util.spec_from_file_location("colour_accuracy", SCRIPT)
table = importlib.util.module_from_spec(SPEC)
sys.modules["colour_accuracy"] = table
SPEC.loader.exec_module(table)
SEED = 7_001  # not among those that weights and noises were settled on


def read(image: ColourImage, name: str, file: str, low: float = 0.0, high: float = 100.0):
    reader = open_scale(Session(scale={"low": low, "high": high, "map": name}), image, [file])
    rows, columns = np.indices(image.shape)
    parts = reader.pixels(image, file).at(rows.ravel(), columns.ravel())
    return tuple(part.reshape(image.shape) for part in parts)


@pytest.mark.parametrize(("carrier", "most"), [("q95", (0.30, 0.35)), ("q75", (0.42, 0.60)), ("crf23", (0.38, 0.40))])
def test_a_rising_map_is_read_far_better_than_by_nearest_colour(carrier: str, most: tuple[float, float]) -> None:
    """Per cent of the scale: pixel RMS and pin-mean RMS on a field that nothing was settled on."""
    ours, theirs = table.score_of("inferno", carrier, [SEED])
    assert ours.rms("pixel") <= most[0]
    assert ours.rms("pin") <= most[1]
    assert ours.rms("pin") < theirs.rms("pin") / 2.5
    assert ours.held("pixel").mean() >= 0.93
    assert ours.held("pin").mean() >= 0.85


@pytest.mark.parametrize("name", ["turbo", "jet", "hot"])
def test_a_folded_map_is_read_better_than_by_nearest_colour(name: str) -> None:
    ours, theirs = table.score_of(name, "q75", [SEED])
    assert ours.rms("pin") < theirs.rms("pin") / 2
    assert ours.rms("pixel") < theirs.rms("pixel")


def test_the_script_prints_its_rows(capsys: pytest.CaptureFixture[str]) -> None:
    table.main(["--seeds", "1", "--maps", "gray", "--carriers", "png,q95"])
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[:2] for line in lines[1:3]] == [["gray", "png"], ["gray", "q95"]]
    ways = ("", ", drawn either way")
    starts = [
        "pixel RMS png", "pixel RMS q95", "pin mean RMS q95, rising maps",
        *(f"coverage {kind}{way}, {what}" for kind in ("JPEG", "PNG") for way in ways for what in ("pixels", "pins")),
    ]  # fmt: skip
    assert [line[: len(start)] for line, start in zip(lines[3:], starts, strict=True)] == starts


@pytest.mark.parametrize("name", ["inferno", "gray", "turbo"])
@pytest.mark.parametrize("rounding", ["cut", "rounded"])
def test_a_map_is_read_by_the_table_it_was_drawn_by(name: str, rounding: str) -> None:
    """PNG: programs cut colours to 8 bits or round them. Entry by entry, within half a step where it can be."""
    from matplotlib import colormaps

    place = np.tile(np.arange(256) / 255, (40, 1))
    rgb = colormaps[name](place, bytes=True)[..., :3]
    if rounding == "rounded":
        rgb = np.rint(255 * colormaps[name](place)[..., :3]).astype(np.uint8)
    celsius, _, _ = read(ColourImage.from_rgb(rgb), name, "a.png")
    error = (celsius - 100 * place)[0] * 2.55  # steps
    same = np.r_[(rgb[0, 1:] == rgb[0, :-1]).all(axis=1), False]
    alike = same | np.r_[False, same[:-1]]  # entries that are one colour: their middle is what can be told
    assert np.abs(error[~alike]).max() < 0.01
    assert np.abs(error).max() < 1.01
    assert alike.sum() < 60
    if name == "gray" and rounding == "rounded":
        assert not alike.any()


def test_asking_for_pins_gives_what_the_whole_frame_gives() -> None:
    seen = table.scene(SEED)
    image = table.carried(table.drawn(seen.field, "turbo"), "q85")
    reader = open_scale(Session(scale={"low": 0.0, "high": 100.0, "map": "turbo"}), image, ["a.jpg"])
    rows, columns = np.array([120, 121, 0, 239]), np.array([160, 33, 0, 319])
    alone = reader.pixels(image, "a.jpg").at(rows, columns)
    whole = read(image, "turbo", "a.jpg")
    for part, all_of_it in zip(alone, whole, strict=True):
        np.testing.assert_allclose(part, all_of_it[rows, columns], atol=1e-4)


@pytest.mark.parametrize("size", [(61, 83), (60, 83), (61, 82)])
def test_odd_sizes_are_read_to_the_last_row(size: tuple[int, int]) -> None:
    rows, columns = np.indices(size)
    field = 0.2 + 0.5 * (rows + columns) / sum(size)
    image = table.carried(table.drawn(field, "inferno"), "q95")
    celsius, _, _ = read(image, "inferno", "a.jpg")
    assert np.abs(celsius - 100 * field).max() < 3.0


@pytest.mark.parametrize("matrix", ["601", "709"])
@pytest.mark.parametrize("limited", [True, False])
def test_planes_are_read_by_their_own_range_and_matrix(matrix: str, limited: bool) -> None:
    field = np.tile(np.linspace(0.05, 0.95, 160), (64, 1))
    ycc = rgb_to_ycc(table.drawn(field, "plasma").astype(float), matrix)
    if limited:
        ycc = (ycc - (0, 128, 128)) * (219 / 255, 224 / 255, 224 / 255) + (16, 128, 128)
    luma = np.rint(ycc[..., 0]).astype(np.uint8)
    half = np.rint(ycc[..., 1:].reshape(32, 2, 80, 2, 2).mean(axis=(1, 3))).astype(np.uint8)
    image = ColourImage.from_planes(luma, half[..., 0], half[..., 1], limited, matrix)
    celsius, doubt, _ = read(image, "plasma", "film.mp4#0")
    error = celsius - 100 * field
    assert np.sqrt((error**2).mean()) < 0.35
    assert abs(error.mean()) < 0.05
    assert not doubt.any()


def test_pins_beyond_the_top_are_marked_and_others_are_not() -> None:
    seen = table.scene(SEED)
    hottest = seen.field.max()
    image = table.carried(table.drawn(np.clip(seen.field / (hottest - 0.12), 0, 1), "inferno"), "q85")
    _, doubt, _ = read(image, "inferno", "a.jpg")
    clipped = doubt & BIT["clipped_high"] > 0
    rows, columns = np.indices(clipped.shape)
    for x, y, radius in seen.pins:
        face = np.hypot(columns - x, rows - y) <= radius
        top = seen.field[face].max() / (hottest - 0.12)
        if top > 1.05:
            assert clipped[face].sum() >= 3
        elif top < 0.95:
            assert clipped[face].sum() == 0


def test_printed_digits_are_off_the_map_and_clean_pixels_are_not() -> None:
    from PIL import Image, ImageDraw

    seen = table.scene(SEED)
    picture = Image.fromarray(table.drawn(seen.field, "turbo"))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((10, 10, 40, 20), fill="white")
    image = table.carried(np.asarray(picture), "q85")
    _, doubt, _ = read(image, "turbo", "a.jpg")
    off = doubt & BIT["off_map"] > 0
    assert off[12:19, 12:39].mean() > 0.95
    assert off[40:].mean() < 0.001
