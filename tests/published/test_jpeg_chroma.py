"""A JPEG's chroma coefficients against ITU-T T.81 and an independent cosine transform."""

import io

import numpy as np
import pytest

from hotspot.read.colour_jpeg import _undone, _Units
from hotspot.read.colour_luma import DCT
from hotspot.read.picture import decoded

pytestmark = pytest.mark.published

# ITU-T T.81 (09/92), table K.2: the chrominance table, which is libjpeg's at quality 50.
TABLE_K2 = """
17 18 24 47 99 99 99 99
18 21 26 66 99 99 99 99
24 26 56 99 99 99 99 99
47 66 99 99 99 99 99 99
99 99 99 99 99 99 99 99
99 99 99 99 99 99 99 99
99 99 99 99 99 99 99 99
99 99 99 99 99 99 99 99
"""


def jpeg(quality: int, subsampling: int, size: tuple[int, int] = (48, 64)):
    from PIL import Image

    rows, columns = np.indices(size)
    field = np.exp(-((rows - 20) ** 2 + (columns - 30) ** 2) / 60.0)
    rgb = np.stack([255 * field, 90 + 60 * field, 200 - 180 * field], axis=-1).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(rgb).save(buffer, "JPEG", quality=quality, subsampling=subsampling)
    buffer.seek(0)
    return decoded(buffer)


def test_cosine_transform_is_scipys() -> None:
    """T.81 A.3.3 against scipy.fft.dctn (type 2, orthonormal)."""
    from scipy.fft import dctn

    block = np.random.default_rng(2).normal(0, 50, (8, 8))
    np.testing.assert_allclose(DCT @ block @ DCT.T, dctn(block, norm="ortho"), atol=1e-3)  # single precision


def test_table_of_quality_50_is_annex_k() -> None:
    held = jpeg(50, 2).jpeg
    expected = np.array([line.split() for line in TABLE_K2.split("\n") if line], dtype=float)
    np.testing.assert_array_equal(held.chroma[0], expected)
    np.testing.assert_array_equal(held.chroma[1], expected)


@pytest.mark.parametrize(("subsampling", "halving"), [(0, (1, 1)), (1, (1, 2)), (2, (2, 2))])
def test_sampling_is_as_the_file_says(subsampling: int, halving: tuple[int, int]) -> None:
    """Pillow's subsampling 0, 1, 2 are 4:4:4, 4:2:2 and 4:2:0."""
    assert jpeg(75, subsampling).jpeg.halving == halving


@pytest.mark.parametrize("subsampling", [0, 1, 2])
def test_coefficients_found_are_whole_steps(subsampling: int) -> None:
    """T.81 A.3.4: what the file holds are whole multiples of the table's steps. The decoder here is libjpeg's, its
    upsampling undone by us: before rounding the coefficients must lie near whole steps by themselves."""
    image = jpeg(50, subsampling)
    rows, columns = np.indices(image.shape)
    units = _Units.of(image, rows.ravel(), columns.ravel())
    samples, held = units.held(image)
    margin = tuple(4 if factor == 2 else 0 for factor in (units.down, units.across))
    for k in (0, 1):
        seen = units.halved(units._taken(image.ycc[..., k + 1], margin).astype(float))
        inner = _undone(seen, (units.down, units.across))
        inner = inner[:, margin[0] : margin[0] + 8, margin[1] : margin[1] + 8]
        steps = DCT @ (inner - 128) @ DCT.T / image.jpeg.chroma[k]
        inside = slice(1, -1) if len(steps) > 4 else slice(None)
        assert np.abs(steps - np.rint(steps))[inside].mean() < 0.05
        np.testing.assert_allclose(held[k] % image.jpeg.chroma[k], 0.0, atol=1e-3)
        assert np.abs(samples[k] - inner).mean() < 1.0
