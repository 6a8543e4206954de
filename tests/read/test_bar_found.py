"""The colour bar in a picture: found and named, or not there."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read.bar import bar_at, find_bar
from hotspot.read.colour_image import ColourImage
from hotspot.read.colours import open_scale
from hotspot.session import Session

DATA = Path(__file__).parent.parent / "data"


def table(name: str) -> np.ndarray:
    from matplotlib import colormaps

    return colormaps[name](np.linspace(0, 1, 256), bytes=True)[:, :3]


def strip(name: str, long: int, wide: int, high_end: str) -> np.ndarray:
    """A bar by itself: uint8 (rows, columns, 3)."""
    along = table(name)[(np.arange(long) * 256 // long)]
    if high_end in ("top", "left"):
        along = along[::-1]
    lying = high_end in ("left", "right")
    return np.repeat(along[None], wide, 0) if lying else np.repeat(along[:, None], wide, 1)


def picture(name: str, high_end: str | None, frame: bool = True) -> tuple[np.ndarray, tuple[int, int, int, int]]:
    """A scene drawn through a map, busy with text and lines, with a bar (or none) in it; and the bar's box."""
    rows, columns = np.indices((240, 320))
    field = 0.15 + 0.3 * columns / 320 + 0.4 * np.exp(-((rows - 120) ** 2 + (columns - 130) ** 2) / 900.0)
    rgb = table(name)[np.rint(field * 255).astype(int)]
    image = Image.fromarray(rgb)
    pen = ImageDraw.Draw(image)
    pen.text((8, 8), "14:20:31  e 0.95", fill="white")
    pen.line((120, 110, 140, 130), fill="white")
    pen.rectangle((60, 60, 100, 90), outline="black")
    rgb = np.array(image)
    if high_end is None:
        return rgb, (0, 0, 0, 0)
    x, y, long, wide = (290, 30, 180, 12) if high_end in ("top", "bottom") else (60, 215, 200, 10)
    bar = strip(name, long, wide, high_end)
    if frame:
        rgb[y - 1 : y + bar.shape[0] + 1, x - 1 : x + bar.shape[1] + 1] = 255 if name != "gray" else (0, 0, 0)
    rgb[y : y + bar.shape[0], x : x + bar.shape[1]] = bar
    return rgb, (x, y, bar.shape[1], bar.shape[0])


def jpeg(rgb: np.ndarray, quality: int) -> ColourImage:
    buffer = io.BytesIO()
    Image.fromarray(rgb).save(buffer, "JPEG", quality=quality)
    return ColourImage.from_rgb(np.asarray(Image.open(buffer)))


@pytest.mark.parametrize("high_end", ["top", "bottom", "left", "right"])
@pytest.mark.parametrize("name", ["inferno", "turbo", "gray", "jet", "hot", "nipy_spectral", "viridis", "CMRmap"])
def test_a_bar_is_found_and_named(name: str, high_end: str) -> None:
    rgb, box = picture(name, high_end)
    bar = find_bar(ColourImage.from_rgb(rgb), high_end)
    assert bar is not None
    assert bar.known == name
    assert np.abs(np.subtract(bar.box, box)).max() <= 3


@pytest.mark.parametrize("name", ["inferno", "turbo", "gray", "hot", "plasma", "rainbow"])
@pytest.mark.parametrize("quality", [75, 50])
def test_a_bar_is_found_in_a_compressed_picture(name: str, quality: int) -> None:
    rgb, box = picture(name, "top")
    bar = find_bar(jpeg(rgb, quality))
    assert bar is not None
    assert bar.known == name
    assert np.abs(np.subtract(bar.box, box)[[1, 3]]).max() <= 4


@pytest.mark.parametrize("name", ["inferno", "turbo", "gray", "hot", "jet", "bone"])
def test_no_bar_is_no_bar(name: str) -> None:
    rgb, _ = picture(name, None)
    assert find_bar(ColourImage.from_rgb(rgb)) is None
    assert find_bar(jpeg(rgb, 75)) is None


def test_without_a_word_on_the_hot_end_it_is_top_or_right() -> None:
    rgb, _ = picture("inferno", "bottom")
    assert find_bar(ColourImage.from_rgb(rgb)).known == "inferno_r"
    said = open_scale(Session(scale={"low": 0.0, "high": 9.0}), ColourImage.from_rgb(rgb), ["a.png"]).notices
    assert "bar_reversed" in [each.code for each in said]


def test_a_given_box_sheds_its_frame() -> None:
    rgb, (x, y, width, height) = picture("magma", "top")
    bar = bar_at(ColourImage.from_rgb(rgb), [x - 1, y - 1, width + 2, height + 2], None)
    assert bar.known == "magma"
    assert bar.box[1] == y
    assert abs(bar.box[3] - height) <= 1


def test_a_touched_picture_is_read_through_its_own_bar() -> None:
    rgb, _ = picture("inferno", "top")
    touched = np.rint(255 * (rgb / 255.0) ** 0.85).astype(np.uint8)
    session = Session(scale={"low": 0.0, "high": 100.0})
    plain = open_scale(session, ColourImage.from_rgb(rgb), ["a.png"])
    after = open_scale(session, ColourImage.from_rgb(touched), ["a.png"])
    assert plain.describe()["colour_map_source"] == "known"
    assert after.describe()["colour_map_source"] == "bar"
    assert "bar_touched" in [each.code for each in after.notices]
    where = np.array([120, 200]), np.array([130, 40])
    truth = plain.pixels(ColourImage.from_rgb(rgb), "a.png").at(*where)[0]
    np.testing.assert_allclose(after.pixels(ColourImage.from_rgb(touched), "a.png").at(*where)[0], truth, atol=1.0)


def test_a_stated_map_that_the_picture_contradicts_gives_way_to_the_bar() -> None:
    rgb, _ = picture("turbo", "top")
    reader = open_scale(Session(scale={"low": 0.0, "high": 9.0, "map": "jet"}), ColourImage.from_rgb(rgb), ["a.png"])
    assert "bar_of_another_map" in [each.code for each in reader.notices]
    assert reader.describe()["colour_map"] == "bar"
    doubt = reader.pixels(ColourImage.from_rgb(rgb), "a.png").at(np.array([150]), np.array([40]))[1]
    assert doubt[0] & BIT["map_doubtful"]


def test_a_stated_map_that_the_bar_confirms_is_used_and_said() -> None:
    rgb, _ = picture("turbo", "top")
    reader = open_scale(Session(scale={"low": 0.0, "high": 9.0, "map": "turbo"}), ColourImage.from_rgb(rgb), ["a.png"])
    assert [each.code for each in reader.notices] == ["bar_confirms_map"]
    assert reader.notices[0].values["misfit"] < 5.0
    assert reader.doubts == 0
    assert reader.describe()["colour_map"] == "turbo"


def test_a_bar_of_no_known_map_is_read_where_its_box_is_given() -> None:
    rgb, box = picture("inferno", "top")
    rgb = rgb[:, :, [1, 2, 0]].copy()
    image = ColourImage.from_rgb(rgb)
    scale = {"low": 0.0, "high": 100.0, "map": "bar", "bar": [float(v) for v in box]}
    reader = open_scale(Session(scale=scale), image, ["a.png"])
    assert "bar_own_colours" in [each.code for each in reader.notices]
    celsius = reader.pixels(image, "a.png").at(np.array([120]), np.array([150]))[0]
    plain = ColourImage.from_rgb(picture("inferno", "top")[0])
    known = open_scale(Session(scale={"low": 0.0, "high": 100.0}), plain, ["a.png"])
    np.testing.assert_allclose(celsius, known.pixels(plain, "a.png").at(np.array([120]), np.array([150]))[0], atol=0.6)


@pytest.mark.parametrize(
    ("box", "high_end", "words"),
    [
        ([300.0, 30.0, 40.0, 180.0], None, "does not lie in the picture"),
        ([290.0, 30.0, 12.0, 20.0], None, "too few"),
        ([290.0, 30.0, 12.0, 180.0], "left", "top or bottom"),
        ([290.0, 30.0, 0.0, 180.0], None, "does not lie"),
    ],
)
def test_a_box_that_cannot_be_is_refused(box, high_end, words: str) -> None:
    rgb, _ = picture("inferno", "top")
    with pytest.raises(InputError, match=words):
        bar_at(ColourImage.from_rgb(rgb), box, high_end)


def test_the_bar_of_the_window_screenshot() -> None:
    """tests/data/picture_inferno_bar_window: inferno, outline rows 140 and 509, columns 567-585."""
    picture = Image.open(DATA / "picture_inferno_bar_window" / "live_view_screenshot.png")
    bar = find_bar(ColourImage.from_rgb(np.asarray(picture)))
    assert bar.known == "inferno"
    assert bar.box == (568, 141, 17, 368)
    assert bar.high_end == "top"
    lying = find_bar(ColourImage.from_rgb(np.asarray(picture).transpose(1, 0, 2)), "left")
    assert lying.known == "inferno"
    assert lying.box == (141, 568, 368, 17)
