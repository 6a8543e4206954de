"""Registered frames -> what the others are laid on: a few pictures, and the points of them that tell most.

The pictures are the leading singular vectors of the registered frames (Eckart and Young, Psychometrika 1:211, 1936):
with them any mixture of cold looks and warm looks is matched, whatever its contrast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.locate.steady_fit import MOST_POINTS, TILE_PX, Template
from hotspot.locate.steady_look import Look
from hotspot.poses import Pose

MOST_PICTURES, WIDE_POINTS = 1, 500
_SLOPE_NOISE = 0.9  # of a smoothed pixel's noise: its slope in both directions together
_LEAST_POWER = 0.01  # of the first picture's


@dataclass(frozen=True)
class Reference:
    """The template, the same for frames far away, and the pictures (k, rows, columns) that both are made of."""

    fine: Template
    wide: Template
    pictures: np.ndarray
    amounts: np.ndarray  # RMS of each picture in the frames

    def predicted(self, amounts: np.ndarray, pose: Pose, shape: tuple[int, int]) -> np.ndarray:
        """What a frame in that pose would look like (rows, columns), but for its offset."""
        mixed = np.tensordot(amounts, self.pictures, 1).astype(np.float32)
        return mixed if pose.still else warped(mixed, pose.inverse(), shape)


def warped(picture: np.ndarray, pose: Pose, shape: tuple[int, int]) -> np.ndarray:
    """The picture whose (x, y) is at `pose` of (x, y) in the one given: a frame laid back on the reference."""
    import cv2

    matrix = np.array([[pose.a, -pose.b, pose.right_px], [pose.b, pose.a, pose.down_px]])
    flags = cv2.WARP_INVERSE_MAP | (cv2.INTER_NEAREST if picture.dtype == np.uint8 else cv2.INTER_CUBIC)
    border = cv2.BORDER_CONSTANT if picture.dtype == np.uint8 else cv2.BORDER_REPLICATE
    return cv2.warpAffine(picture, matrix, (shape[1], shape[0]), flags=flags, borderMode=border)


def built(looks: Sequence[Look], poses: Sequence[Pose]) -> Reference | None:
    """The reference from frames and their poses (template -> frame); None where they show nothing to hold on to."""
    fine = _combined(looks, poses, MOST_POINTS)
    wide = _combined([look.wide() for look in looks], poses, WIDE_POINTS)
    return None if fine is None or wide is None else Reference(fine[0], wide[0], fine[1], fine[2])


def _combined(
    looks: Sequence[Look], poses: Sequence[Pose], points: int
) -> tuple[Template, np.ndarray, np.ndarray] | None:
    """Template, pictures and their amounts."""
    shape = looks[0].picture.shape
    stack = np.stack([warped(look.picture, pose, shape) for look, pose in zip(looks, poses, strict=True)])
    seen = np.stack([warped(look.usable, pose, shape) for look, pose in zip(looks, poses, strict=True)]) > 0
    noise = np.stack([warped(look.noise, pose, shape) for look, pose in zip(looks, poses, strict=True)])
    noise = _SLOPE_NOISE * np.mean(noise, axis=0) / np.sqrt(len(looks))
    pictures, amounts = _components(stack, seen)
    template = _template(pictures, amounts, np.where(seen.mean(axis=0) > 0.34, noise, np.inf), points)
    return None if template is None else (template, pictures, amounts)


def _components(stack: np.ndarray, seen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Leading pictures (k, rows, columns) and the RMS of their amounts (k,). Holes are filled from what is found."""
    count = len(stack)
    flat, there = stack.reshape(count, -1).astype(np.float64), seen.reshape(count, -1)
    total = there.sum(axis=0)
    mean = np.where(there, flat, 0.0).sum(axis=0) / np.maximum(total, 1)
    filled = np.where(there, flat, mean)
    rounds = 1 if there.all() else 4
    for _ in range(rounds):
        values, vectors = np.linalg.eigh(filled @ filled.T)
        order = np.argsort(values)[::-1][:MOST_PICTURES]
        strong = values[order] > _LEAST_POWER * values.max()
        left = vectors[:, order[strong]]
        pictures = left.T @ filled
        filled = np.where(there, flat, left @ pictures)
    size = np.sqrt(np.mean(left**2, axis=0))
    return pictures.reshape(-1, *stack.shape[1:]), size


def _template(pictures: np.ndarray, amounts: np.ndarray, noise: np.ndarray, points: int) -> Template | None:
    """The points with the steepest slopes, not too many of them near each other."""
    down = np.zeros_like(pictures)
    right = np.zeros_like(pictures)
    down[:, 1:-1] = 0.5 * (pictures[:, 2:] - pictures[:, :-2])
    right[:, :, 1:-1] = 0.5 * (pictures[:, :, 2:] - pictures[:, :, :-2])
    steep = np.sqrt(np.tensordot(amounts**2, down**2 + right**2, 1))
    rim = 3
    steep[:rim] = steep[-rim:] = 0.0
    steep[:, :rim] = steep[:, -rim:] = 0.0
    least = np.maximum(4.0 * noise, 0.2 * float(np.percentile(steep, 99.5)))
    rows, columns = np.nonzero(steep > least)
    if rows.size < 60:
        return None
    tile = (rows // TILE_PX) * (steep.shape[1] // TILE_PX + 1) + columns // TILE_PX
    quota = max(4, points // np.unique(tile).size)
    order = np.lexsort((-steep[rows, columns], tile))
    first = np.searchsorted(tile[order], tile[order])
    kept = np.sort(order[np.arange(order.size) - first < quota])
    rows, columns = rows[kept], columns[kept]
    take = (slice(None), rows, columns)
    values = (pictures[take], right[take], down[take])
    return Template(rows.astype(float), columns.astype(float), *(each.astype(float) for each in values))
