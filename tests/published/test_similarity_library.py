"""Laying pictures over each other, against scikit-image: its SimilarityTransform and its warp."""

import numpy as np
import pytest

from hotspot.reason.aligned import similarity
from hotspot.tell.compare_views import resampled


def _library(source: np.ndarray, target: np.ndarray):
    from skimage.transform import SimilarityTransform

    if hasattr(SimilarityTransform, "from_estimate"):
        return SimilarityTransform.from_estimate(source, target)
    made = SimilarityTransform()
    made.estimate(source, target)
    return made


@pytest.mark.parametrize("count", [2, 3, 8, 24])
@pytest.mark.parametrize("noise_px", [0.0, 1.5])
def test_the_fit_is_that_of_the_library(count, noise_px):
    rng = np.random.default_rng(count)
    source = rng.uniform(0, 150, (count, 2))
    angle, scale = rng.uniform(-1, 1), rng.uniform(0.5, 2)
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    target = source @ turn.T + rng.uniform(-40, 40, 2) + noise_px * rng.standard_normal((count, 2))
    matrix, off = similarity(source, target)
    theirs = _library(source, target)
    np.testing.assert_allclose(matrix, theirs.params[:2], atol=1e-9)
    left = theirs.residuals(source, target)
    assert off == pytest.approx(np.sqrt(np.mean(left**2)), abs=1e-9)


def test_resampling_is_that_of_the_library():
    from skimage.transform import AffineTransform, warp

    picture = np.random.default_rng(3).uniform(20, 60, (40, 70))
    matrix = np.array([[0.9, -0.2, 6.3], [0.2, 0.9, -3.1]])
    ours = resampled(picture, matrix, (50, 60))
    theirs = warp(picture, AffineTransform(np.vstack([matrix, [0, 0, 1]])), output_shape=(50, 60), order=1, cval=np.nan)
    within = np.isfinite(ours) & np.isfinite(theirs)
    assert within.sum() > 1000
    np.testing.assert_allclose(ours[within], theirs[within], atol=1e-9)


def test_points_that_say_nothing_are_refused():
    with pytest.raises(ValueError, match="at least one"):
        similarity(np.zeros((0, 2)), np.zeros((0, 2)))
    with pytest.raises(ValueError, match="one place"):
        similarity(np.ones((3, 2)), np.ones((3, 2)))
    matrix, off = similarity(np.array([[3.0, 4.0]]), np.array([[5.0, 1.0]]))
    np.testing.assert_allclose(matrix, [[1, 0, 2], [0, 1, -3]])
    assert off == 0.0
