"""Spots on an open picture with a known count: the coins of scikit-image.

Source: `skimage.data.coins`, 303 x 384 pixels, 24 Greek coins from Pompeii (Brooklyn Museum collection), shipped in
scikit-image. The reference places and sizes come from the segmentation in scikit-image's own worked example ("Comparing
edge-based and region-based segmentation": Sobel edges, markers below 30 and above 150, watershed, holes filled), which
finds 24.
"""

import numpy as np
import pytest

from hotspot.locate.spots import Patch, evidence

SHRINK = 4


@pytest.fixture(scope="module")
def coins():
    """The picture at a quarter of its size, the coins' middles (24, 2) as row, column there, and radii (24,)."""
    import cv2
    from scipy import ndimage
    from skimage import data, filters, segmentation

    picture = data.coins().astype(float)
    markers = np.zeros(picture.shape, int)
    markers[picture < 30], markers[picture > 150] = 1, 2
    mask = ndimage.binary_fill_holes(segmentation.watershed(filters.sobel(picture), markers) == 2)
    labels, count = ndimage.label(mask)
    areas = ndimage.sum(mask, labels, range(1, count + 1))
    kept = [k + 1 for k in range(count) if areas[k] > 400]
    middles = np.array(ndimage.center_of_mass(mask, labels, kept))
    radii = np.sqrt(areas[np.array(kept) - 1] / np.pi)
    small = cv2.resize(picture, (384 // SHRINK, 303 // SHRINK), interpolation=cv2.INTER_AREA)
    return small, (middles + 0.5) / SHRINK - 0.5, radii / SHRINK


def test_the_reference_counts_24(coins) -> None:
    assert len(coins[1]) == 24


def test_coins_are_the_spots_of_the_picture(coins) -> None:
    import cv2

    small, middles, radii = coins
    patch = Patch(small[None], np.zeros((2, 3)), 1.0)
    sheets = np.array([evidence(patch, radius) for radius in (4.5, 5.0, 5.5, 6.0, 7.0)])
    best = sheets.max(axis=0)
    top = np.argwhere((best >= cv2.dilate(best, np.ones((9, 9)))) & (best > 0.3))
    away = np.hypot(*(top[:, None] - middles).transpose(2, 0, 1))
    assert (away.min(axis=0) < 0.4 * radii).sum() >= 23
    assert (away.min(axis=1) > radii.max()).sum() == 0
