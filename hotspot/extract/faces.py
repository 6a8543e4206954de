"""The pixels of all pins and ambient regions, laid end to end so that one gather and a few sums serve them all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from hotspot.doubts import BIT
from hotspot.extract.apertures import Aperture, box, disc
from hotspot.poses import Pose
from hotspot.records import PinMap
from hotspot.session import Region

PLACING_PX = {"given": 0.3, "found": 0.5}
"""Standard uncertainty of a pin's centre in each direction, px: what a careful hand, and what the search for
the pins can do. Ours."""

SHAPE_ONLY_PX, READS_LOW_PX = 3.0, 10.0
"""Pixels across a pin below which it has no temperature, and below which it reads low. 10 x 10 pixels for an
accurate reading: Pušnik and Geršak, Sensors 21(2):607 (2021); 3: common practice, no source."""


@dataclass(frozen=True)
class Faces:
    """n areas on pictures of one `shape`; their k pixels lie end to end, area by area.

    `weights` (5, k): the area where it was placed, then moved right, left, down and up by `placing_px` of its
    pin. `starts` (n,) are the first pixels of the areas; areas without a pixel have one of weight 0.
    """

    rows: np.ndarray
    columns: np.ndarray
    weights: np.ndarray
    starts: np.ndarray
    area: np.ndarray
    shape: tuple[int, int]

    @cached_property
    def owner(self) -> np.ndarray:
        """Number of the area (k,) that each pixel belongs to."""
        return np.repeat(np.arange(self.starts.size), np.diff([*self.starts, self.rows.size]))

    def sums(self, values: np.ndarray) -> np.ndarray:
        """Sum over each area: values (..., k) -> (..., n)."""
        return np.add.reduceat(values, self.starts, axis=-1)

    @cached_property
    def inside(self) -> np.ndarray:
        """Sum of weights (n,) inside the picture and outside what is to be ignored, px."""
        return self.sums(self.weights[0])

    @cached_property
    def independent(self) -> np.ndarray:
        """Number of pixels (n,) that a mean over the area is worth: (sum w)^2 / sum w^2; NaN without pixels."""
        squares = self.sums(self.weights[0] ** 2)
        return np.divide(self.inside**2, squares, out=np.full(squares.shape, np.nan), where=squares > 0)


def of_pins(pin_map: PinMap, shape: tuple[int, int]) -> Faces:
    """The faces of all pins, less what the regions of kind `ignore` cover."""
    ignored = not_ignored(pin_map.regions, shape)
    stacks = []
    for x, y, radius, placed in zip(pin_map.x_px, pin_map.y_px, pin_map.radius_px, pin_map.placed, strict=True):
        step = PLACING_PX[placed]
        moves = ((0.0, 0.0), (step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step))
        stacks.append([disc(x + right, y + down, radius, shape) for right, down in moves])
    return _joined(stacks, shape, ignored)


def moved(pin_map: PinMap, pose: Pose) -> PinMap:
    """The pins and regions of the first good frame where they are in a frame of that pose."""
    rows, columns = pose.at(pin_map.y_px, pin_map.x_px)
    regions = tuple(region.model_copy(update={"box": pose.box(region.box)}) for region in pin_map.regions)
    return replace(
        pin_map, x_px=columns, y_px=rows, radius_px=np.asarray(pin_map.radius_px) * pose.scale, regions=regions
    )


def of_regions(regions: tuple[Region, ...], kind: str, shape: tuple[int, int]) -> Faces | None:
    """The boxes of one kind of region, all five weights alike; None where there is no such region inside."""
    stacks = [[box(region.box, shape)] * 5 for region in regions if region.kind == kind]
    faces = _joined(stacks, shape, not_ignored(regions, shape)) if stacks else None
    return faces if faces is not None and faces.inside.sum() > 0 else None


def placing_doubts(pin_map: PinMap, faces: Faces) -> np.ndarray:
    """Doubt bits (n,) that hold in every frame: too few pixels across, partly outside the picture."""
    across = 2.0 * np.asarray(pin_map.radius_px, dtype=float)
    bits = np.where(across < SHAPE_ONLY_PX, BIT["few_pixels"], np.where(across < READS_LOW_PX, BIT["reads_low"], 0))
    cut = np.array(
        [
            disc(x, y, r, faces.shape).weights.sum() < 0.995 * area
            for x, y, r, area in zip(pin_map.x_px, pin_map.y_px, pin_map.radius_px, faces.area, strict=True)
        ]
    )
    return (bits | np.where(cut, BIT["outside_picture"], 0)).astype(np.uint32)


def not_ignored(regions: tuple[Region, ...], shape: tuple[int, int]) -> np.ndarray:
    """Share 0-1 of each pixel that regions of kind `ignore` leave, (rows, columns)."""
    left = np.ones(shape)
    for region in regions:
        if region.kind == "ignore":
            area = box(region.box, shape)
            left[area.rows, area.columns] *= 1.0 - area.weights
    return left


def _joined(stacks: list[list[Aperture]], shape: tuple[int, int], left: np.ndarray) -> Faces:
    """Areas, each in five places -> one table of pixels."""
    pixels, weights, lengths = [], [], []
    for stack in stacks:
        flat = [aperture.rows * shape[1] + aperture.columns for aperture in stack]
        union = np.unique(np.concatenate(flat)).astype(np.intp)
        if not union.size:
            union = np.zeros(1, dtype=np.intp)
        table = np.zeros((5, union.size))
        for line, own, aperture in zip(table, flat, stack, strict=True):
            line[np.searchsorted(union, own)] = aperture.weights
        pixels.append(union)
        weights.append(table * left.ravel()[union])
        lengths.append(union.size)
    together = np.concatenate(pixels)
    return Faces(
        together // shape[1],
        together % shape[1],
        np.concatenate(weights, axis=1),
        np.concatenate([[0], np.cumsum(lengths)[:-1]]).astype(np.intp),
        np.array([stack[0].area for stack in stacks]),
        shape,
    )
