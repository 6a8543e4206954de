"""Frames -> where each lies against the first good one, however the hand shook.

Give the sample of frames, let all frames go by, then ask for the motion. Frames that show too little (cold ones) take
their place from those around them, the first ones from later; frames that cannot be laid on are lost, not guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from hotspot.locate.steady_fit import Fit
from hotspot.locate.steady_quick import Quick
from hotspot.locate.steady_reference import Layer, Sampled, referenced, tells
from hotspot.locate.steady_segments import WEAK_FROM, Track, segments, told
from hotspot.poses import Motion, Pose
from hotspot.records import Frame, PinMap, Stamp, Statement

STILL_PX = 0.15
"""A camera under which no pin moves by more than this, or than four times its uncertainty, has stood still."""

DEAD_PX = 0.05
"""A frame in which no pin moved by more than this lies as the first one does."""

WEAK_PX, WEAK_SHARE = 3.0, 0.1
"""Frames that show little, and that lie off by no more than this, do not move a camera under which all others agree,
if they are no more than this share. Ours."""

LEAST_LAID = 0.5
"""Share of the frames with contrast that must lie on the reference for any of it to be believed. Ours."""

_LATEST_STARTS = 2
_AGAIN, _AGAIN_LOST = 12, 5


@dataclass
class Steady:
    """Watches frames go by and keeps where each lies. `sampled` is None where there is nothing to hold on to."""

    sampled: Sampled | None
    first: int  # number of the first good frame
    quick: Quick | None = None
    _fits: dict[int, Fit] = field(default_factory=dict)
    _tells: dict[int, bool] = field(default_factory=dict)
    _times: dict[int, float] = field(default_factory=dict)
    _recent: list[Pose] = field(default_factory=list)

    @property
    def layer(self) -> Layer | None:
        """What frames are laid on."""
        return self.sampled.layer if self.sampled else None

    @property
    def looks_still(self) -> bool:
        """Whether nothing moved in the sample: then frames need not be read twice, most likely."""
        return self.sampled is None or _alike(self.sampled)

    def if_still(self, stamps: Sequence[Stamp]) -> Motion:
        """The motion to read frames with where nothing is known to move: none where that cannot be told."""
        if self.sampled is None and len(stamps) > 1:
            return Motion()
        return Motion({stamp.index: Pose() for stamp in stamps})

    def over(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """The same frames, each having been looked at."""
        for frame in frames:
            self._times[frame.index] = frame.time_s
            if self.sampled is not None and frame.index not in self._fits:
                self._look_at(frame)
            yield frame

    def _look_at(self, frame: Frame) -> None:
        layer = self.layer
        if frame.shape != layer.marks.shape:
            return
        quick = self.quick.unmoved(frame) if self.quick else None
        if quick is not None:
            self._fits[frame.index] = quick
            self._tells[frame.index] = True
            return
        look = layer.look(frame.grey())
        found = layer.lay(look, [*self._recent, Pose()])
        self._fits[frame.index] = found
        self._tells[frame.index] = tells(look)
        if layer.lies(found):
            self._recent = [found.pose, *self._recent][:_LATEST_STARTS]

    @property
    def lost(self) -> list[int]:
        """Numbers of the frames that have edges and could not be laid on the others."""
        return [k for k, found in self._fits.items() if self._tells[k] and not self.layer.lies(found)]

    def again(self, frames: Callable[[Iterable[int] | None], Iterable[Frame]]) -> Steady:
        """Where frames were lost, another look at all with some of them in the sample: marks that stand still show
        only where something moves. The one that loses fewer.
        """
        lost = self.lost
        if not lost:
            return self
        laid = [k for k in self._fits if k not in set(lost)]
        chosen = {self.first, *_spread(laid, _AGAIN - _AGAIN_LOST), *_spread(lost, _AGAIN_LOST)}
        other = steadying(list(frames(sorted(chosen))))
        for _ in other.over(frames(None)):
            pass
        return other if other.sampled is not None and len(other.lost) < len(lost) else self

    def motion(self, pin_map: PinMap | None = None) -> Motion:
        """Where every frame lies, in pixels of the first good one. `pin_map`: whose places count."""
        if len(self._times) < 2:
            return Motion({index: Pose() for index in self._times})
        if self.sampled is None:
            return Motion({}, (Statement("movement_unknown"),))
        laid = {k: found for k, found in self._fits.items() if self.layer.lies(found)}
        telling = sum(self._tells.values())
        if len(laid) < 2 or len(laid) < LEAST_LAID * telling:
            return Motion({}, (Statement("movement_unknown"),))
        track = Track.of(laid, self._fits, self.first, self._tells)
        x, y = _places(self.layer, pin_map, track.first)
        if _stood(track, x, y):
            return Motion({k: Pose(residual=found.residual) for k, found in self._fits.items()})
        poses = {k: _quiet(pose, x, y) for k, pose in track.poses(float(y.mean()), float(x.mean())).items()}
        poses = segments(poses, x, y, self.layer.marks.shape[1])
        return Motion(poses, told(poses, self._times, x, y))


def steadying(sample: Sequence[Frame]) -> Steady:
    """From a sample of frames in time order, of which the first is the first good one."""
    greys = [frame.grey() for frame in sample if frame.shape == sample[0].shape]
    first = sample[0].index if sample else 0
    sampled = referenced(greys) if len(greys) > 1 else None
    if sampled is None or not _alike(sampled):
        return Steady(sampled, first)
    laid = [grey for grey, pose in zip(greys, sampled.poses, strict=True) if pose is not None]
    return Steady(sampled, first, Quick.of(laid, sampled.layer))


def _alike(sampled: Sampled) -> bool:
    """Whether all frames of the sample that lie on the reference lie in one place."""
    known = [pose for pose in sampled.poses if pose is not None]
    corners = _corners(sampled.layer)
    return all(_moved(pose.after(known[0].inverse()), *corners) < STILL_PX for pose in known)


def _spread(numbers: Sequence[int], count: int) -> list[int]:
    """Some of the numbers, evenly."""
    return [numbers[round(k)] for k in np.linspace(0, len(numbers) - 1, min(count, len(numbers)))] if numbers else []


def _corners(layer: Layer) -> tuple[np.ndarray, np.ndarray]:
    """x and y of the box about what frames are laid on."""
    rows, columns = layer.reference.fine.rows, layer.reference.fine.columns
    x, y = np.percentile(columns, (5, 95)), np.percentile(rows, (5, 95))
    return np.array([x[0], x[1], x[0], x[1]]), np.array([y[0], y[0], y[1], y[1]])


def _places(layer: Layer, pin_map: PinMap | None, first: Pose) -> tuple[np.ndarray, np.ndarray]:
    """x and y on the first good frame of what must be followed: the pins, else the box about the edges."""
    if pin_map is not None and len(pin_map.names) and np.isfinite(pin_map.x_px).all():
        return np.asarray(pin_map.x_px, dtype=float), np.asarray(pin_map.y_px, dtype=float)
    x, y = _corners(layer)
    rows, columns = first.at(y, x)
    return columns, rows


def _moved(pose: Pose, x: np.ndarray, y: np.ndarray) -> float:
    """How far the furthest of some places moved, px."""
    rows, columns = pose.at(y, x)
    return float(np.hypot(rows - y, columns - x).max())


def _stood(track: Track, x: np.ndarray, y: np.ndarray) -> bool:
    """Whether nothing moved that is more than noise, and no frame is lost.

    Frames are held against the one whose place is known best: the first good one is often cold. A few frames that
    show little may lie off by up to a pixel: what little they show pulls them, where all others agree.
    """
    if track.lost or not track.measured:
        return False
    best, best_sigma = min(track.measured.values(), key=lambda each: each[1])
    usual = float(np.median([sigma for _, sigma in track.measured.values()]))
    weak = 0
    for pose, sigma in track.measured.values():
        moved = _moved(pose.after(best.inverse()), x, y)
        if moved <= max(STILL_PX, 4.0 * np.hypot(sigma, best_sigma)):
            continue
        if sigma < WEAK_FROM * usual or moved > WEAK_PX:
            return False
        weak += 1
    return weak <= WEAK_SHARE * len(track.measured)


def _quiet(pose: Pose, x: np.ndarray, y: np.ndarray) -> Pose:
    """A pose that moves no pin by more than DEAD_PX moves none."""
    if _moved(pose, x, y) > DEAD_PX:
        return pose
    return replace(pose, a=1.0, b=0.0, right_px=0.0, down_px=0.0)
