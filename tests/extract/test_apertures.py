"""Areas of circles and boxes on the pixel grid."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotspot.extract.apertures import box, disc

SHAPE = (60, 80)


@given(x=st.floats(15, 60), y=st.floats(15, 40), radius=st.floats(0.3, 14))
def test_a_circle_inside_the_picture_has_its_whole_area(x, y, radius) -> None:
    found = disc(x, y, radius, SHAPE)
    assert found.weights.sum() == pytest.approx(np.pi * radius**2, rel=1e-9)
    assert found.weights.max() <= 1.0


@settings(max_examples=25)
@given(x=st.floats(-3, 82), y=st.floats(-3, 62), radius=st.floats(0.3, 9))
def test_each_pixel_has_the_share_that_fine_sampling_counts(x, y, radius) -> None:
    found = disc(x, y, radius, SHAPE)
    fine = (np.arange(64) + 0.5) / 64 - 0.5
    for row, column, weight in list(zip(found.rows, found.columns, found.weights, strict=True))[:40]:
        inside = (row + fine[:, None] - y) ** 2 + (column + fine[None, :] - x) ** 2 < radius**2
        assert weight == pytest.approx(inside.mean(), abs=0.01)


@pytest.mark.parametrize("supersampled", [64])
def test_against_the_filled_circle_of_skimage(supersampled: int) -> None:
    """scikit-image draws the circle on a picture 64 times finer; its block means are the shares."""
    from skimage.draw import disk
    from skimage.measure import block_reduce

    x, y, radius, n = 9.37, 7.81, 5.2, supersampled
    fine = np.zeros((20 * n, 20 * n))
    fine[disk(((y + 0.5) * n - 0.5, (x + 0.5) * n - 0.5), radius * n)] = 1.0
    expected = block_reduce(fine, (n, n), np.mean)
    ours = np.zeros((20, 20))
    found = disc(x, y, radius, (20, 20))
    ours[found.rows, found.columns] = found.weights
    np.testing.assert_allclose(ours, expected, atol=0.01)


def test_a_circle_at_the_rim_keeps_only_what_is_inside() -> None:
    assert disc(-0.5, 20.0, 4.0, SHAPE).weights.sum() == pytest.approx(np.pi * 8.0)
    assert disc(-0.5, -0.5, 4.0, SHAPE).weights.sum() == pytest.approx(np.pi * 4.0)
    assert disc(-30.0, 20.0, 4.0, SHAPE).weights.size == 0
    assert disc(1e9, -1e9, 4.0, SHAPE).weights.size == 0


def test_whole_numbers_of_a_box_mean_whole_pixels() -> None:
    found = box([10, 12, 3, 2], SHAPE)
    assert sorted(set(found.columns)) == [10, 11, 12]
    assert sorted(set(found.rows)) == [12, 13]
    np.testing.assert_array_equal(found.weights, 1.0)


@given(x=st.floats(1, 60), y=st.floats(1, 40), width=st.floats(0.1, 15), height=st.floats(0.1, 15))
def test_a_box_has_its_whole_area(x, y, width, height) -> None:
    assert box([x, y, width, height], SHAPE).weights.sum() == pytest.approx(width * height, rel=1e-6, abs=1e-6)
