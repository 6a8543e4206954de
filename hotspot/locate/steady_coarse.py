"""Where a frame lies that is far from the reference: shifts of any size, turned and zoomed views, roughly.

The strength of edges is correlated, whatever their sign, on a grid of few pixels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.locate.steady_look import Look
from hotspot.poses import Pose

TURNS_DEG = (0.0, -3.0, 3.0, -6.0, 6.0, -10.0, 10.0)
SCALES = (1.0, 0.92, 1.09, 0.84, 1.19, 0.77, 1.3, 0.7, 1.42, 0.6, 1.6)
_CELLS = 96


@dataclass(frozen=True)
class _Turned:
    """The reference's edges in one turn and scale, as a spectrum; `pose` maps reference -> turned, in pixels."""

    pose: Pose
    spectrum: np.ndarray


@dataclass(frozen=True)
class Finder:
    """The reference's edges in every turn and scale that is tried."""

    views: tuple[_Turned, ...]
    near: int  # how many of them keep the scale
    step: int
    size: tuple[int, int]

    @classmethod
    def of(cls, picture: np.ndarray) -> Finder:
        """`picture` (rows, columns): how the reference looks, as `Look.picture`."""
        from hotspot.locate.steady_template import warped

        shape = picture.shape
        step = max(1, round(max(shape) / _CELLS))
        size = tuple(int(2 ** np.ceil(np.log2(2 * (side // step + 1)))) for side in shape)
        middle = ((shape[0] - 1) / 2, (shape[1] - 1) / 2)
        edges = _edges(picture)
        views = []
        for scale in SCALES:
            for turn in TURNS_DEG:
                pose = _about(middle, turn, scale)
                turned = warped(edges, pose.inverse(), shape) if not pose.still else edges
                views.append(_Turned(pose, np.fft.rfft2(_reduced(turned, step), size)))
        return cls(tuple(views), len(TURNS_DEG), step, size)

    def starts(self, look: Look, zoomed: bool) -> list[Pose]:
        """The most likely poses (reference -> frame), best first; `zoomed` tries other scales too."""
        spectrum = np.fft.rfft2(_reduced(_edges(look.picture), self.step), self.size)
        found = []
        for view in self.views if zoomed else self.views[: self.near]:
            score = np.fft.irfft2(spectrum * np.conj(view.spectrum), self.size)
            power = np.sqrt(np.sum(np.abs(view.spectrum) ** 2)) + 1e-12
            row, column = np.unravel_index(np.argmax(score), score.shape)
            down = row - self.size[0] if row > self.size[0] // 2 else row
            right = column - self.size[1] if column > self.size[1] // 2 else column
            shift = Pose(1.0, 0.0, float(right * self.step), float(down * self.step))
            found.append((float(score[row, column] / power), shift.after(view.pose)))
        found.sort(key=lambda one: one[0], reverse=True)
        return [pose for _, pose in found[:4]]


def _about(middle: tuple[float, float], turn_deg: float, scale: float) -> Pose:
    """A turn and a scale about (row, column)."""
    row, column = middle
    a, b = scale * np.cos(np.deg2rad(turn_deg)), scale * np.sin(np.deg2rad(turn_deg))
    if turn_deg == 0.0 and scale == 1.0:
        return Pose()
    return Pose(float(a), float(b), float(column - a * column + b * row), float(row - b * column - a * row))


def _edges(picture: np.ndarray) -> np.ndarray:
    """Strength of the edges, float32 (rows, columns)."""
    return np.minimum(np.abs(picture), 1.5)


def _reduced(edges: np.ndarray, step: int) -> np.ndarray:
    """Means over step x step pixels, less their mean."""
    high, wide = (side // step * step for side in edges.shape)
    small = edges[:high, :wide].reshape(high // step, step, wide // step, step).mean(axis=(1, 3))
    return small - small.mean()
