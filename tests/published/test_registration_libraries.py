"""Registration against two other libraries and against known warps of a real thermal picture.

The picture is a screenshot of a 24 x 32 thermopile array with its window, axes and colour bar (its SOURCE.md says where
it is from). It is warped by scipy.ndimage.affine_transform (cubic splines), which this program does not use. The second
and third answers are those of cv2.findTransformECC (Evangelidis and Psarakis, IEEE TPAMI 30(10):1858, 2008) and
skimage.registration.phase_cross_correlation without normalisation (Guizar-Sicairos, Thurman and Fienup, Optics Letters
33(2):156, 2008).
"""

from pathlib import Path

import numpy as np
import pytest

from hotspot.locate.steady_look import Look, noise_of
from hotspot.locate.steady_reference import Layer
from hotspot.locate.steady_template import built
from hotspot.poses import Pose

SHOT = Path(__file__).parent.parent / "data" / "picture_inferno_bar_window" / "live_view_screenshot.png"
pytestmark = pytest.mark.published


@pytest.fixture(scope="module")
def picture():
    """Luma of the screenshot at a third of its size, softened as a camera does, float64 (rows, columns)."""
    from PIL import Image
    from scipy.ndimage import gaussian_filter

    with Image.open(SHOT) as image:
        grey = np.asarray(image.convert("RGB").convert("L"), dtype=float)
    return gaussian_filter(grey, 2.4)[1::3, 1::3]


def warped(picture, pose):
    """The picture as seen in that pose, by scipy."""
    from scipy.ndimage import affine_transform

    back = pose.inverse()
    matrix = np.array([[back.a, back.b], [-back.b, back.a]])  # (row, column) of the frame -> of the picture
    return affine_transform(picture, matrix, offset=(back.down_px, back.right_px), order=3, mode="nearest")


def about_middle(picture, right, down, turn_deg, scale):
    a, b = scale * np.cos(np.deg2rad(turn_deg)), scale * np.sin(np.deg2rad(turn_deg))
    y, x = (np.array(picture.shape) - 1) / 2
    return Pose(float(a), float(b), float(x - a * x + b * y + right), float(y - b * x - a * y + down))


def layer_of(picture):
    marks, noise = np.ones(picture.shape, np.uint8), max(0.5, noise_of(picture))
    return Layer(built([Look.of(picture, marks, noise)], [Pose()]), marks, noise)


def apart(one, other, picture):
    """Largest distance [px] between two poses over the corners of the middle half of the picture."""
    rows, columns = (
        np.array([0.25, 0.25, 0.75, 0.75]) * picture.shape[0],
        np.array([0.25, 0.75] * 2) * picture.shape[1],
    )
    return float(np.hypot(*np.subtract(one.at(rows, columns), other.at(rows, columns))).max())


WARPS = [
    (1.37, -0.62, 0.0, 1.0),
    (7.8, -7.9, 0.0, 1.0),
    (-5.3, 4.1, 3.0, 1.0),
    (3.2, 6.4, -3.0, 1.02),
    (14.0, 9.0, 5.0, 1.12),
]


@pytest.mark.parametrize("warp", WARPS)
def test_a_real_picture_is_found_where_it_was_put(picture, warp) -> None:
    true = about_middle(picture, *warp)
    layer = layer_of(picture)
    seen = 0.3 * warped(picture, true) + 17.0 + np.random.default_rng(1).normal(0.0, 0.5, picture.shape)
    found = layer.lay(layer.look(seen.astype(np.float32)), [Pose()])
    assert layer.lies(found)
    assert apart(found.pose, true, picture) < 0.15


@pytest.mark.parametrize("warp", WARPS[:4])
def test_ecc_of_opencv_finds_the_same(picture, warp) -> None:
    import cv2

    true = about_middle(picture, *warp)
    seen = (0.3 * warped(picture, true) + 17.0).astype(np.float32)
    matrix = np.array([[true.a, -true.b, round(true.right_px)], [true.b, true.a, round(true.down_px)]], np.float32)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-7)
    _, matrix = cv2.findTransformECC(picture.astype(np.float32), seen, matrix, cv2.MOTION_AFFINE, stop, None, 5)
    theirs = Pose(
        float(matrix[0, 0] + matrix[1, 1]) / 2,
        float(matrix[1, 0] - matrix[0, 1]) / 2,
        float(matrix[0, 2]),
        float(matrix[1, 2]),
    )
    layer = layer_of(picture)
    ours = layer.lay(layer.look(seen), [Pose()]).pose
    assert apart(theirs, true, picture) < 0.15
    assert apart(ours, theirs, picture) < 0.2


@pytest.mark.parametrize(("right", "down"), [(1.37, -0.62), (7.8, -7.9)])
def test_phase_correlation_of_scikit_image_finds_the_same_shift(picture, right, down) -> None:
    """Shifted in its spectrum by scipy, so that what leaves on one side comes in on the other: else phase correlation
    itself is wrong by half a pixel."""
    from scipy.ndimage import fourier_shift
    from skimage.registration import phase_cross_correlation

    seen = np.fft.ifft2(fourier_shift(np.fft.fft2(picture), (down, right))).real
    shift, _, _ = phase_cross_correlation(seen, picture, upsample_factor=50, normalization=None)
    layer = layer_of(picture)
    ours = layer.lay(layer.look(seen.astype(np.float32)), [Pose()]).pose
    found = np.subtract(ours.at(*layer.middle), layer.middle)
    np.testing.assert_allclose(shift, (down, right), atol=0.03)
    np.testing.assert_allclose(found, shift, atol=0.08)
