"""Colour against what nobody here made: JPEG's colour equations and the tables of an independent library."""

import io

import numpy as np
import pytest

from hotspot.read.colour_image import rgb_to_ycc, ycc_to_rgb
from hotspot.read.colour_maps import known_map, known_names

pytestmark = pytest.mark.published


def test_jpeg_colour_equations() -> None:
    """ITU-T T.871 (05/2011), clause 7; the coefficients there are rounded to four decimals."""
    rng = np.random.default_rng(3)
    rgb = rng.integers(0, 256, (200, 3)).astype(float)
    red, green, blue = rgb.T
    printed = np.stack(
        [
            0.299 * red + 0.587 * green + 0.114 * blue,
            -0.1687 * red - 0.3313 * green + 0.5 * blue + 128,
            0.5 * red - 0.4187 * green - 0.0813 * blue + 128,
        ],
        axis=1,
    )
    np.testing.assert_allclose(rgb_to_ycc(rgb), printed, atol=0.03)


def test_jpeg_red() -> None:
    """Pure red by the same equations: 76.24, 84.97, 255.5 (two decimals)."""
    np.testing.assert_allclose(rgb_to_ycc(np.array([255, 0, 0])), [76.245, 84.97, 255.5], atol=0.02)


def test_jpeg_back_to_rgb() -> None:
    """T.871 clause 7: R = Y + 1.402 Cr', G = Y - 0.3441 Cb' - 0.7141 Cr', B = Y + 1.772 Cb' (less 128 each)."""
    y, cb, cr = 120.0, 90.0, 150.0
    printed = [y + 1.402 * 22, y - 0.3441 * -38 - 0.7141 * 22, y + 1.772 * -38]
    np.testing.assert_allclose(ycc_to_rgb(np.array([y, cb, cr])), printed, atol=0.01)


def test_luma_weights_of_bt709() -> None:
    """ITU-R BT.709-6, item 3.2: E'Y = 0.2126 R + 0.7152 G + 0.0722 B; Cb = (B - Y)/1.8556, Cr = (R - Y)/1.5748."""
    rgb = np.array([10.0, 200.0, 90.0])
    luma = 0.2126 * 10 + 0.7152 * 200 + 0.0722 * 90
    printed = [luma, 128 + (90 - luma) / 1.8556, 128 + (10 - luma) / 1.5748]
    np.testing.assert_allclose(rgb_to_ycc(rgb, "709"), printed, atol=1e-9)


def test_against_the_jpeg_library() -> None:
    """The planes that libjpeg (through Pillow) makes of an RGB picture, rounded there to whole levels."""
    from PIL import Image

    rgb = np.random.default_rng(5).integers(0, 256, (16, 16, 3), dtype=np.uint8)
    theirs = np.asarray(Image.fromarray(rgb).convert("YCbCr")).astype(float)
    np.testing.assert_allclose(np.clip(rgb_to_ycc(rgb), 0, 255), theirs, atol=1.0)


@pytest.mark.parametrize("name", ["inferno", "turbo", "jet", "gray", "nipy_spectral", "hot_r"])
def test_maps_are_matplotlibs_own_tables(name: str) -> None:
    """matplotlib.colormaps, entry by entry: the colour is ours, and stands where the contract puts it. Where two
    neighbouring entries are one colour in 8 bits, their middle stands for both."""
    from matplotlib import colormaps

    ours = known_map(name)
    for entry in range(256):
        theirs = np.array(colormaps[name](entry, bytes=True)[:3], dtype=float)
        same = np.flatnonzero((ours.rgb == theirs).all(axis=1))
        assert len(same) == 1
        assert abs(ours.places[same[0]] - entry / 255) <= 0.5001 * ours.widths[same[0]]


def test_names_are_matplotlibs() -> None:
    from matplotlib import colormaps

    assert set(known_names()) == set(colormaps)


def test_decoding_video_planes_is_as_the_standard_says() -> None:
    """BT.601-7 clause 2.5.3: Y = 16 is black, 235 white, Cb = Cr = 128 grey, in limited range."""
    from hotspot.read.colour_image import ColourImage

    luma = np.array([[16, 235], [16, 235]], np.uint8)
    grey = np.full((1, 1), 128, np.uint8)
    image = ColourImage.from_planes(luma, grey, grey, True, "601")
    np.testing.assert_array_equal(image.as_rgb()[0], [[0, 0, 0], [255, 255, 255]])


def test_alpha_on_white_is_pillows() -> None:
    """Against Pillow's own compositing on a white ground."""
    from PIL import Image

    from hotspot.read.colour_image import ColourImage

    rgba = np.random.default_rng(8).integers(0, 256, (9, 9, 4), dtype=np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(rgba).save(buffer, "PNG")
    picture = Image.open(buffer)
    white = Image.new("RGBA", picture.size, "white")
    white.alpha_composite(picture)
    theirs = np.asarray(white.convert("RGB")).astype(int)
    assert np.abs(ColourImage.from_rgb(rgba).rgb.astype(int) - theirs).max() <= 1
