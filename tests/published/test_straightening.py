"""Straightening a photographed screen against scikit-image: its projective transform, and a picture of its own.

scikit-image: S. van der Walt et al., scikit-image: image processing in Python, PeerJ 2:e453 (2014); the picture is
its sample `data.astronaut()` (public domain, NASA).
"""

import numpy as np
from skimage import data
from skimage.transform import ProjectiveTransform, warp

from hotspot.read.screen import perspective, size_of, straightened

CORNERS = np.array([[41.3, 30.8], [560.2, 62.5], [530.9, 588.1], [20.4, 540.6]])


def test_the_perspective_is_that_of_scikit_image() -> None:
    size = size_of(CORNERS)
    own = np.array([[0, 0], [size[1], 0], [size[1], size[0]], [0, size[0]]], float) - 0.5
    theirs = ProjectiveTransform.from_estimate(CORNERS, own)
    points = np.random.default_rng(5).uniform(30, 560, (50, 2))
    x, y, one = perspective(CORNERS, size) @ np.stack([*points.T, np.ones(50)])
    assert np.abs(np.stack([x / one, y / one], axis=1) - theirs(points)).max() < 1e-3


def test_a_known_picture_comes_back() -> None:
    picture = data.astronaut()
    rows, columns = picture.shape[:2]
    own = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], float) - 0.5
    way = ProjectiveTransform.from_estimate(own, CORNERS)
    photo = np.rint(255 * warp(picture, way.inverse, output_shape=(620, 600), order=1)).astype(np.uint8)
    back = straightened(photo, CORNERS, (rows, columns)).astype(float)
    inner = (slice(8, -8), slice(8, -8))
    left = back[inner] - picture[inner]
    assert abs(left.mean()) < 0.3
    # Two interpolations blur: what is left must be the picture's own detail, far less than a pixel's shift makes.
    shifted = picture[8:-8, 9:-7].astype(float) - picture[inner]
    assert np.sqrt(np.mean(left**2)) < 0.5 * np.sqrt(np.mean(shifted**2))
