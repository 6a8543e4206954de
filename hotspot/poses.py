"""Where each frame lies against the first good one: what steadying the picture gives to every other room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

if TYPE_CHECKING:
    from hotspot.records import Statement


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a frame lies against the first good one: the point (x, y) there is at (x', y') in this frame,

        x' = a x - b y + right_px        y' = b x + a y + down_px

    a shift, a turn and a scale (a similarity). `state`: `measured`, `carried` (the picture shows too little, its
    place is taken from the frames around it) or `lost` (it could not be laid on the others: not to be trusted).
    `sigma_px` is the standard uncertainty of a pin's place; `residual` the robust RMS of what is left where the
    frame lies on the others, in units of its noise: 1 is nothing but noise. `segment` counts from 0 up each time
    the camera was aimed anew or zoomed.
    """

    a: float = 1.0
    b: float = 0.0
    right_px: float = 0.0
    down_px: float = 0.0
    state: str = "measured"
    sigma_px: float = 0.0
    residual: float | None = None
    segment: int = 0

    @property
    def still(self) -> bool:
        """True where the frame lies exactly as the first good one."""
        return self.as_seen(Pose())

    def as_seen(self, other: Pose) -> bool:
        """True where both put everything at the same place."""
        return (self.a, self.b, self.right_px, self.down_px) == (other.a, other.b, other.right_px, other.down_px)

    @property
    def scale(self) -> float:
        """How much larger things are in this frame than in the first good one."""
        return float(np.hypot(self.a, self.b))

    @property
    def turn_deg(self) -> float:
        """How far things are turned in this frame against the first good one, clockwise in the picture."""
        return float(np.degrees(np.arctan2(self.b, self.a)))

    def at(self, rows: ArrayLike, columns: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        """Rows and columns of the first good frame (any shape, fractions allowed) -> those in this frame."""
        down, right = np.asarray(rows, dtype=float), np.asarray(columns, dtype=float)
        return self.b * right + self.a * down + self.down_px, self.a * right - self.b * down + self.right_px

    def back(self, rows: ArrayLike, columns: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        """Rows and columns of this frame -> those in the first good frame: undoes `at`."""
        down = np.asarray(rows, dtype=float) - self.down_px
        right = np.asarray(columns, dtype=float) - self.right_px
        square = self.a**2 + self.b**2
        return (self.a * down - self.b * right) / square, (self.a * right + self.b * down) / square

    def box(self, box: Sequence[float]) -> list[float]:
        """A box x, y, width, height of the first good frame -> this frame's: middle moved, sides scaled, upright."""
        x, y, width, height = box
        row, column = self.at(y + (height - 1) / 2, x + (width - 1) / 2)
        width, height = width * self.scale, height * self.scale
        return [float(column - (width - 1) / 2), float(row - (height - 1) / 2), width, height]

    def inverse(self) -> Pose:
        """The pose that undoes this one."""
        square = self.a**2 + self.b**2
        a, b = self.a / square, -self.b / square
        return Pose(a, b, -(a * self.right_px - b * self.down_px), -(b * self.right_px + a * self.down_px))

    def after(self, first: Pose) -> Pose:
        """This pose applied to what `first` gives."""
        down, right = self.at(first.down_px, first.right_px)
        a = self.a * first.a - self.b * first.b
        return Pose(a, self.b * first.a + self.a * first.b, float(right), float(down))

    def shift_px(self, row: float, column: float) -> float:
        """How far the point of the first good frame lies from its place there."""
        down, right = self.at(row, column)
        return float(np.hypot(down - row, right - column))


@dataclass(frozen=True, slots=True)
class Motion:
    """How the camera moved: the pose of every frame by its number, and what has to be said about it."""

    poses: Mapping[int, Pose] = field(default_factory=dict)
    notices: tuple[Statement, ...] = ()

    @property
    def still(self) -> bool:
        """True where every frame lies as the first good one does, as far as can be seen."""
        return all(pose.still and pose.state != "lost" for pose in self.poses.values())
