"""How much the views look like a disc of a given radius, at every place inside a face.

In a round window the views are fitted by a plane bent as a paraboloid (what heat spreading through plastic looks
like) and by the same with a blurred disc on it. The evidence is the share of what the paraboloid leaves that the
disc explains, over all views: 0 to 1 whatever the contrast, of either sign.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.faces import Face
from hotspot.locate.views import Views

BLUR_PX = 0.7
INSET_PX = 1.5
"""What is left out at the rim of a face: the edge, blurred."""

COARSE_FROM_PX = 3.6
"""Discs from this radius on are looked for at half the resolution, again and again."""

NOISE_FLOOR = 2.0
"""Variances of noise per pixel of the window that are added to what is to be explained: evidence in bare noise
stays small."""


@dataclass(frozen=True)
class Patch:
    """The inside of a face, upright: views (k, rows, columns), and the matrix (2, 3) to the picture."""

    views: np.ndarray
    back: np.ndarray
    noise_k: float


def inside(seen: Views, face: Face) -> Patch:
    """The face cut out of the views, turned upright at the picture's own scale, without its rim."""
    import cv2

    size = max(4, int(face.width - 2 * INSET_PX)), max(3, int(face.height - 2 * INSET_PX))
    back = np.column_stack([face.axes, np.zeros(2)])
    back[:, 2] = np.array([face.x, face.y]) - face.axes @ ((np.array(size) - 1) / 2)
    how = {"flags": cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, "borderMode": cv2.BORDER_REPLICATE}
    cut = [cv2.warpAffine(view, back, size, **how) for view in seen.all]
    return Patch(np.array([view - np.median(view) for view in cut]), back, seen.noise_k)


def evidence(patch: Patch, radius_px: float) -> np.ndarray:
    """Evidence (rows, columns) of a disc of that radius at every pixel of the patch.

    Beyond the patch it is taken to go on as it stops (point reflection), so that the face's edge plays no part.
    """
    import cv2

    if radius_px >= COARSE_FROM_PX:
        rows, columns = patch.views.shape[1:]
        half = [
            cv2.resize(view, (-(-columns // 2), -(-rows // 2)), interpolation=cv2.INTER_AREA) for view in patch.views
        ]
        coarse = evidence(replace(patch, views=np.array(half), noise_k=patch.noise_k / 2), radius_px / 2)
        return cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_LINEAR)
    disc, smooth, window = _kernels(radius_px)
    reach = window.shape[0] // 2
    explained = left = 0.0
    for view in patch.views:
        wide = _continued(view, reach)
        explained = explained + cv2.filter2D(wide, cv2.CV_64F, disc) ** 2
        left = left + cv2.filter2D(wide * wide, cv2.CV_64F, window)
        for kernel in smooth:
            left = left - cv2.filter2D(wide, cv2.CV_64F, kernel) ** 2
    whole = np.maximum(left, 0.0) + NOISE_FLOOR * window.sum() * patch.noise_k**2
    return np.clip(explained / whole, 0.0, 1.0)[reach:-reach, reach:-reach]


def _kernels(radius_px: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The disc's part that no paraboloid explains (unit length), the paraboloid's six (orthonormal), the window."""
    reach = 1.6 * radius_px + 1.5
    side = int(np.ceil(reach))
    down, right = np.mgrid[-side : side + 1, -side : side + 1].astype(float)
    window = np.hypot(right, down) <= reach
    basis = paraboloid(right[window], down[window])
    axes, _ = np.linalg.qr(basis)
    disc = disc_profile(np.hypot(right, down)[window], radius_px, BLUR_PX)
    disc = disc - axes @ (axes.T @ disc)
    kernels = np.zeros((7, *window.shape))
    kernels[0][window] = disc / np.linalg.norm(disc)
    for k in range(6):
        kernels[k + 1][window] = axes[:, k]
    return kernels[0], kernels[1:], window.astype(float)


def paraboloid(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The six columns 1, x, y, x^2, xy, y^2."""
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def disc_profile(away: np.ndarray, radius: float, blur: float) -> np.ndarray:
    """1 in the middle of a disc, 0 far outside, a normal integral of standard deviation `blur` over its edge; the
    pixel's own width is added to the blur (1/12 of its square)."""
    from scipy.special import erfc

    return 0.5 * erfc((away - radius) / np.sqrt(2.0 * (blur**2 + 1.0 / 12.0)))


def _continued(view: np.ndarray, reach: int) -> np.ndarray:
    """The view with `reach` more pixels on each side, reflected through its rim as far as it goes, then held."""
    most = [min(reach, length - 1) for length in view.shape]
    mirrored = np.pad(view, [(most[0],) * 2, (most[1],) * 2], mode="reflect", reflect_type="odd")
    return np.pad(mirrored, [(reach - most[0],) * 2, (reach - most[1],) * 2], mode="edge")
