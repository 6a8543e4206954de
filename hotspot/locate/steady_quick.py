"""Has anything moved? A look at a few small patches of a frame, for a camera that most likely stands still.

One step of Gauss-Newton from where the frame would lie if nothing had moved: if the step is nothing and the patches
agree, nothing has. Anything else is left to be looked at properly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.locate.steady_fit import Fit, Template, one_step
from hotspot.locate.steady_look import Look
from hotspot.locate.steady_reference import LEAST_TELLING, Layer
from hotspot.records import Frame

PATCH_PX, PATCHES = 28, 8
_INNER_PX = 5
MOVED_PX = 0.1
"""A step of more than this, anywhere within reach of the patches, is looked into. Ours."""


@dataclass(frozen=True)
class Quick:
    """The patches side by side as one small picture: which pixels to ask for, and the template of it.

    `template` has its places in the frame; `at` (2, n) are those in the small picture.
    """

    rows: np.ndarray
    columns: np.ndarray
    marks: np.ndarray
    template: Template
    at: np.ndarray
    noise_k: float
    good: float

    @classmethod
    def of(cls, greys: Sequence[np.ndarray], layer: Layer) -> Quick | None:
        """From frames that lie where the reference lies; None where the patches would not tell enough."""
        corners = _corners_of(layer.reference.fine, layer.marks.shape)
        if not corners:
            return None
        grids = [np.mgrid[row : row + PATCH_PX, column : column + PATCH_PX] for row, column in corners]
        rows, columns = np.hstack([grid[0] for grid in grids]), np.hstack([grid[1] for grid in grids])
        marks = np.ascontiguousarray(layer.marks[rows, columns])
        looks = [Look.of(grey[rows, columns], marks, layer.noise_k) for grey in greys]
        picture = np.mean([look.picture for look in looks], axis=0)
        noise = np.mean([look.noise for look in looks], axis=0)
        down, right = (np.zeros_like(picture) for _ in range(2))
        down[1:-1] = 0.5 * (picture[2:] - picture[:-2])
        right[:, 1:-1] = 0.5 * (picture[:, 2:] - picture[:, :-2])
        inner = np.zeros((PATCH_PX, PATCH_PX), dtype=bool)
        inner[_INNER_PX:-_INNER_PX, _INNER_PX:-_INNER_PX] = True
        steep = np.hypot(right, down) * np.tile(inner, len(corners)) * marks
        at = np.nonzero(steep > np.maximum(2.0 * noise, 0.2 * float(np.percentile(steep, 99))))
        if at[0].size < 2 * LEAST_TELLING:
            return None
        template = Template(
            rows[at].astype(float), columns[at].astype(float), picture[at][None], right[at][None], down[at][None]
        )
        return cls(rows, columns, marks, template, np.stack(at), layer.noise_k, layer.good)

    def unmoved(self, frame: Frame) -> Fit | None:
        """The fit of a frame in which nothing moved; None where that cannot be said so quickly."""
        grey = frame.pixels.grey(self.rows.ravel(), self.columns.ravel()).reshape(self.rows.shape)
        look = Look.of(grey, self.marks, self.noise_k)
        at = tuple(self.at)
        move, found = one_step(
            look.picture[at].astype(float), look.noise[at].astype(float), look.usable[at] > 0, self.template
        )
        lies = found.telling >= LEAST_TELLING and found.agree >= self.good
        if not lies or np.abs(move).max() > max(MOVED_PX, 4.0 * found.sigma_px) or found.sigma_px > MOVED_PX:
            return None
        return found


def _corners_of(template: Template, shape: tuple[int, int]) -> list[tuple[int, int]]:
    """Upper left corners of the patches that hold most of what tells, far from each other first."""
    if min(shape) < PATCH_PX:
        return []
    strength = np.sqrt(np.sum(template.right**2 + template.down**2, axis=0))
    left = strength.copy()
    found: list[tuple[int, int]] = []
    half = PATCH_PX // 2
    for _ in range(PATCHES):
        if left.max() <= 0:
            break
        count = np.zeros(shape)
        np.add.at(count, (template.rows.astype(int), template.columns.astype(int)), left)
        inner = _box_sums(count, PATCH_PX - 2 * _INNER_PX)
        row, column = np.unravel_index(np.argmax(inner), inner.shape)
        corner = (
            int(np.clip(row - half, 0, shape[0] - PATCH_PX)),
            int(np.clip(column - half, 0, shape[1] - PATCH_PX)),
        )
        found.append(corner)
        near = (np.abs(template.rows - row) < PATCH_PX) & (np.abs(template.columns - column) < PATCH_PX)
        left[near] = 0.0
    return found


def _box_sums(count: np.ndarray, side: int) -> np.ndarray:
    import cv2

    return cv2.boxFilter(count, -1, (side, side), normalize=False, borderType=cv2.BORDER_CONSTANT)
