"""A JPEG's luma smoothed within the steps of its file: ITU-T T.81, and an independent cosine transform and filter."""

import io

import numpy as np
import pytest

from hotspot.read.colour_luma import _coefficients, _guided, _plane, settled
from hotspot.read.picture import decoded

pytestmark = pytest.mark.published


def jpeg(quality: int, size: tuple[int, int] = (61, 93)):
    """A ramp with a warm spot, in grey: its true luma, and the picture."""
    from PIL import Image

    rows, columns = np.indices(size)
    luma = 60.0 + 0.12 * columns + 0.07 * rows + 80.0 * (np.hypot(rows - 30, columns - 40) < 6)
    luma += np.random.default_rng(4).normal(0.0, 0.3, size)
    buffer = io.BytesIO()
    Image.fromarray(np.rint(np.repeat(luma[:, :, None], 3, 2)).astype(np.uint8)).save(buffer, "JPEG", quality=quality)
    buffer.seek(0)
    return luma, decoded(buffer)


def everywhere(plane: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return tuple(each.ravel() for each in np.indices(plane.shape))


def test_coefficients_of_a_plane_are_scipys() -> None:
    """T.81 A.3.3, block by block, against scipy.fft.dctn (type 2, orthonormal)."""
    from scipy.fft import dctn

    plane = np.random.default_rng(3).uniform(0, 255, (16, 24)).astype(np.float32)
    found = _coefficients(plane)
    for top in (0, 8):
        for left in (0, 8, 16):
            block = (slice(top, top + 8), slice(left, left + 8))
            np.testing.assert_allclose(found[block], dctn(plane[block] - 128, norm="ortho"), atol=1e-3)
    np.testing.assert_allclose(_plane(found), plane, atol=1e-3)


def test_the_filter_is_scipys_box_means() -> None:
    """Guided filter, equations 5, 6 and 8 of He, Sun and Tang (2013) with the share kept squared, by scipy's means."""
    from scipy.ndimage import uniform_filter

    plane = np.random.default_rng(5).normal(128, 2, (40, 50))
    mean, square = uniform_filter(plane, 7, mode="mirror"), uniform_filter(plane**2, 7, mode="mirror")
    variance = square - mean**2
    kept = variance**2 / (variance**2 + 1.0)
    expected = uniform_filter(kept, 7, mode="mirror") * plane + uniform_filter(mean - kept * mean, 7, mode="mirror")
    np.testing.assert_allclose(_guided(plane.astype(np.float32)), expected, atol=1e-3)


@pytest.mark.parametrize("quality", [50, 75, 95])
def test_every_coefficient_stays_in_its_step(quality: int) -> None:
    """T.81 A.3.4: a coefficient is known to half a step; the decoder's rounding to whole levels is let go."""
    _, image = jpeg(quality)
    luma = image.ycc[..., 0]
    better = settled(luma, image.jpeg.luma, *everywhere(luma))
    whole = tuple(slice(0, size // 8 * 8) for size in luma.shape)
    steps = np.tile(image.jpeg.luma, [size.stop // 8 for size in whole])
    held = np.rint(_coefficients(luma[whole].astype(np.float32)) / steps)
    assert np.abs(_coefficients(better[whole]) / steps - held).max() <= 0.5 + 1e-3
    np.testing.assert_array_equal(better[whole[0].stop :], luma[whole[0].stop :])
    np.testing.assert_array_equal(better[:, whole[1].stop :], luma[:, whole[1].stop :])


@pytest.mark.parametrize("quality", [50, 75, 95])
def test_even_ground_comes_nearer_and_a_spot_is_kept(quality: int) -> None:
    true, image = jpeg(quality)
    luma = image.ycc[..., 0]
    better = settled(luma, image.jpeg.luma, *everywhere(luma))
    rows, columns = np.indices(true.shape)
    away = np.hypot(rows - 30, columns - 40)
    even, spot = (away > 16) & (rows < 56) & (columns < 88), away < 4
    before, after = (np.sqrt(np.mean((each[even] - true[even]) ** 2)) for each in (luma, better))
    assert after < 0.9 * before
    assert abs(better[spot].mean() - luma[spot].mean()) < 0.1


def test_a_part_is_smoothed_as_the_whole_is() -> None:
    _, image = jpeg(75, (160, 200))
    luma = image.ycc[..., 0]
    whole = settled(luma, image.jpeg.luma, *everywhere(luma))
    rows, columns = np.array([70, 75, 90]), np.array([120, 101, 110])
    np.testing.assert_array_equal(settled(luma, image.jpeg.luma, rows, columns)[rows, columns], whole[rows, columns])
