"""The motion put to use: frames that know their pose, a sample laid back on the first frame, pins brought onto it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from hotspot.doubts import BIT
from hotspot.locate.steady import Steady
from hotspot.locate.steady_template import warped
from hotspot.poses import Motion, Pose
from hotspot.records import Frame, PinMap, Pixels, Stamp, Statement
from hotspot.session import Session


def posed(frames: Iterable[Frame], motion: Motion) -> Iterator[Frame]:
    """Frames with their pose, and with the doubts that go with it. Without a pose they are as they were."""
    for frame in frames:
        pose = motion.poses.get(frame.index)
        doubts = frame.doubts
        if pose is not None and pose.state == "lost":
            doubts |= BIT["not_laid_on"]
        if pose is not None and pose.state == "carried":
            doubts |= BIT["place_carried"]
        yield replace(frame, pose=pose, doubts=doubts)


def laid_back(steady: Steady, sample: Sequence[Frame]) -> Sequence[Frame]:
    """The sample as it would have been seen from where the first good frame was taken.

    Frames that do not lie on the others are left out, but for the first; where nothing moved it stays as it is.
    """
    if steady.sampled is None or steady.looks_still or len(sample) != len(steady.sampled.poses):
        return sample
    poses = steady.sampled.poses
    start = poses[0] or next(pose for pose in poses if pose is not None)
    back = start.inverse()
    moved = [
        replace(frame, pixels=LaidPixels(frame.pixels, pose.after(back)))
        for frame, pose in zip(sample, poses, strict=True)
        if pose is not None
    ]
    return moved if poses[0] is not None else [sample[0], *moved]


@dataclass
class LaidPixels:
    """The pixels of a moved frame on the grid of the first good one (see hotspot.records.Pixels), interpolated."""

    own: Pixels
    pose: Pose

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.own.shape

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Doubts and uncertainties are those of the nearest pixel; NaN beyond the frame."""
        celsius, doubts, uncertainty = self._whole
        return celsius[rows, columns], doubts[rows, columns], uncertainty[rows, columns]

    def picture(self) -> np.ndarray | None:
        """None: a picture moved is not what the person saw."""
        return None

    def grey(self, rows: np.ndarray | None = None, columns: np.ndarray | None = None) -> np.ndarray:
        """As of the frame itself, moved."""
        whole = warped(self.own.grey(), self.pose, self.shape)
        return whole if rows is None else whole[rows, columns]

    @cached_property
    def _whole(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        import cv2

        rows, columns = np.indices(self.shape)
        celsius, doubts, uncertainty = (each.reshape(self.shape) for each in self.own.at(rows.ravel(), columns.ravel()))
        down, right = self.pose.at(rows, columns)
        high, wide = self.shape
        inside = (down > -0.5) & (right > -0.5) & (down < high - 0.5) & (right < wide - 0.5)
        near = np.clip(np.rint(down), 0, high - 1).astype(int), np.clip(np.rint(right), 0, wide - 1).astype(int)
        x, y = right.astype(np.float32), down.astype(np.float32)
        moved = cv2.remap(celsius.astype(np.float64), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.where(inside, moved, np.nan), doubts[near], uncertainty[near]


def on_first(session: Session, pin_map: PinMap, motion: Motion, stamps: Sequence[Stamp]) -> PinMap:
    """Pins and regions that were measured on the frame `connector.on`, brought onto the first good one."""
    on = session.connector.on
    index = next((stamp.index for stamp in stamps if stamp.file == on), None)
    given = np.array([placed == "given" for placed in pin_map.placed])
    if on is None or not given.any():
        return pin_map
    pose = motion.poses.get(index) if index is not None else None
    if pose is None or pose.state == "lost":
        first = min(motion.poses, default=None)
        if not motion.poses or index == first:
            return pin_map
        return replace(pin_map, notices=(*pin_map.notices, Statement("frame_on_not_laid", {"on": on}, (index or 0,))))
    if pose.still:
        return pin_map
    down, right = pose.back(pin_map.y_px, pin_map.x_px)
    return replace(
        pin_map,
        x_px=np.where(given, right, pin_map.x_px),
        y_px=np.where(given, down, pin_map.y_px),
        radius_px=np.where(given, pin_map.radius_px / pose.scale, pin_map.radius_px),
        regions=tuple(region.model_copy(update={"box": pose.inverse().box(region.box)}) for region in pin_map.regions),
    )
