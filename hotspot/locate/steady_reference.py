"""A sample of frames -> the reference that all frames are laid on, and the marks that are fixed to the sensor.

The frame of the strongest contrast is the seed; the others are laid on it from the nearest in time outwards, and the
reference is made anew from all of them. What keeps its place on the sensor while the rest moves is printed there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from hotspot.locate.steady_coarse import Finder
from hotspot.locate.steady_fit import AGREE_PX, Fit, fit
from hotspot.locate.steady_look import Look, noise_of
from hotspot.locate.steady_template import Reference, built, warped
from hotspot.poses import Pose

GOOD_SHARE, SURE_SHARE, LEAST_TELLING = 0.70, 0.97, 40
"""A frame lies where so many of its points agree, and so many tell anything; until more agree than the second, other
places are tried too: wires that run side by side look alike one wire further on. Ours."""

BELOW = 0.06
"""By how much less than the worst of the sample a frame may agree. Ours: beside a row of wires 0.09 less agree."""

FAIR_SHARE, MARGIN, ELSEWHERE_PX = 0.45, 0.12, 2.0
"""A frame that has begun to look otherwise lies as well where nearly half of its points agree, if it was looked for in
other places too and agrees there by so much less. Ours."""

SAME_SCALE = 0.06
"""Frames that are larger or smaller by more than this share are scaled before they are compared. Ours."""

SURE_PX = 0.25
"""Greatest standard uncertainty of a place that still counts as measured. Ours."""

MOVED_PX = 0.3
"""A sample in which nothing moves by more than this says nothing of printed marks. Ours."""

_ROUNDS = 3
_STATIC_SHARE = 0.15
_MARK_SHARE = 0.5
_MARK_RIM = 2


@dataclass
class Layer:
    """Lays frames on a reference. `marks` uint8 (rows, columns): 0 where the sensor carries printed marks."""

    reference: Reference
    marks: np.ndarray
    noise_k: float
    good: float = GOOD_SHARE
    sure: float = SURE_SHARE
    _finder: Finder | None = field(default=None, repr=False)

    def look(self, grey: np.ndarray) -> Look:
        """A frame in °C made ready."""
        return Look.of(grey, self.marks, self.noise_k)

    def lay(self, look: Look, starts: Sequence[Pose], search: bool = True) -> Fit:
        """From the first of `starts` that leads anywhere, else from where the edges are found; the best one."""
        tried: list[Fit] = []
        for way in self._ways(look, starts, search):
            way = way if at_scale(way.pose) else self._at_its_scale(look, way)
            tried.append(way)
            if self.surely(way):
                return way
        best = max(tried, key=_worth)
        away = [one.agree for one in tried if _apart(one.pose, best.pose, self.middle) > ELSEWHERE_PX]
        return replace(best, margin=best.agree - max(away, default=0.0)) if len(tried) > 1 + len(starts) else best

    def _ways(self, look: Look, starts: Sequence[Pose], search: bool) -> Iterator[Fit]:
        """Fits from all that could be near, cheap ones first."""
        yield fit(look, self.reference.fine, starts[0])
        if not search or not tells(look):
            return
        wide = look.wide()
        for start in starts:
            yield self._near(look, wide, start)
        found = []
        for zoomed in (False, True):
            for pose in self.finder.starts(look, zoomed):
                found.append(self._near(look, wide, pose))
                yield found[-1]
            if max(one.agree for one in found) >= FAIR_SHARE:
                return

    def _at_its_scale(self, look: Look, found: Fit) -> Fit:
        """A zoomed frame has edges of another sharpness: it is laid back, made ready anew and fitted again."""
        shape = look.base.shape
        base, usable = warped(look.base, found.pose, shape), warped(look.usable, found.pose, shape)
        again = fit(Look.of_base(base, usable, look.noise_k), self.reference.fine, Pose())
        return replace(again, pose=found.pose.after(again.pose))

    def _near(self, look: Look, wide: Look, start: Pose) -> Fit:
        return fit(look, self.reference.fine, fit(wide, self.reference.wide, start).pose)

    def lies(self, found: Fit) -> bool:
        """True where a frame lies on the reference."""
        if found.telling < LEAST_TELLING or found.sigma_px > SURE_PX:
            return False
        return found.agree >= self.good or (found.agree >= FAIR_SHARE and found.margin >= MARGIN)

    def surely(self, found: Fit) -> bool:
        """True where nothing better is to be looked for."""
        return self.lies(found) and found.agree >= self.sure

    @property
    def finder(self) -> Finder:
        """Made when it is first needed: it costs as much as many frames."""
        if self._finder is None:
            self._finder = Finder.of(self.reference.pictures[0])
        return self._finder

    @property
    def middle(self) -> tuple[float, float]:
        """Row and column of the middle of what frames are laid on."""
        return self.reference.fine.middle


def at_scale(pose: Pose) -> bool:
    """Whether things are as large as in the reference, near enough."""
    return abs(np.log(pose.scale)) < SAME_SCALE


def tells(look: Look) -> bool:
    """True where a frame has any edges that stand out from its noise."""
    strong = np.abs(look.picture) > 6.0 * look.noise
    return int(strong.sum()) >= LEAST_TELLING


def _worth(found: Fit) -> float:
    """More points that agree; few points count for less."""
    return found.agree * min(1.0, found.telling / (4.0 * LEAST_TELLING))


def _apart(one: Pose, other: Pose, middle: tuple[float, float]) -> float:
    """How far the middle lies in one pose from where it lies in the other, px."""
    return float(np.hypot(*np.subtract(one.at(*middle), other.at(*middle))))


@dataclass(frozen=True)
class Sampled:
    """What a sample of frames gave. `poses` (reference -> frame) are None for frames that do not lie on it."""

    layer: Layer
    poses: tuple[Pose | None, ...]


def referenced(greys: Sequence[np.ndarray]) -> Sampled | None:
    """The reference from some frames °C (rows, columns); None where they show nothing to hold on to."""
    noise = float(np.median([noise_of(grey) for grey in greys]))
    plain = np.ones(greys[0].shape, np.uint8)
    fixed = static_marks([Look.of(grey, plain, noise) for grey in greys])
    if not fixed.all():
        found = _grown(greys, fixed, noise)
        if found is not None and _moves(found):
            return found
    return _grown(greys, plain, noise)


def _moves(found: Sampled) -> bool:
    """Whether a good part of the frames lie, and not all in one place."""
    known = [pose for pose in found.poses if pose is not None]
    moved = [pose.shift_px(*found.layer.middle) > MOVED_PX for pose in known]
    return len(known) >= max(2, len(found.poses) // 3) and any(moved)


def _grown(greys: Sequence[np.ndarray], marks: np.ndarray, noise: float) -> Sampled | None:
    """Reference and poses, from the seed outwards, then made anew from all."""
    looks = [Look.of(grey, marks, noise) for grey in greys]
    seed = int(np.argmax([np.mean(np.abs(look.picture) > 6.0 * look.noise) for look in looks]))
    reference = built([looks[seed]], [Pose()])
    if reference is None:
        return None
    layer = Layer(reference, marks, noise)
    poses: list[Pose | None] = [None] * len(looks)
    poses[seed] = Pose()
    for place in sorted(range(len(looks)), key=lambda k: abs(k - seed))[1:]:
        near = min((k for k in range(len(looks)) if poses[k] is not None), key=lambda k: abs(k - place))
        found = layer.lay(looks[place], [poses[near]])
        poses[place] = found.pose if layer.lies(found) else None
    for turn in range(_ROUNDS):
        layer = _again(greys, poses, layer)
        if layer is None:
            return None
        looks = [layer.look(grey) for grey in greys]
        last = turn == _ROUNDS - 1
        fits = [
            layer.lay(look, [pose or Pose()], last and pose is None) for look, pose in zip(looks, poses, strict=True)
        ]
        poses = [found.pose if layer.lies(found) else None for found in fits]
        if not any(poses):
            return None
        layer.marks = layer.marks & sensor_marks(looks, fits, layer)
    shares = [found.agree for found in fits if layer.lies(found)]
    layer.good = float(np.clip(min(shares) - BELOW, GOOD_SHARE, SURE_SHARE))
    layer.sure = min(SURE_SHARE, layer.good + 0.5 * BELOW)
    return Sampled(layer, tuple(poses))


def _again(greys: Sequence[np.ndarray], poses: Sequence[Pose | None], layer: Layer) -> Layer | None:
    """The reference made anew from all frames that lie."""
    laid = [(grey, pose) for grey, pose in zip(greys, poses, strict=True) if pose is not None and at_scale(pose)]
    known = [(layer.look(grey), pose) for grey, pose in laid]
    reference = built([look for look, _ in known], [pose for _, pose in known])
    return None if reference is None else Layer(reference, layer.marks, layer.noise_k)


def static_marks(looks: Sequence[Look]) -> np.ndarray:
    """0 where edges kept their place, sign and strength in all frames, uint8 (rows, columns).

    In a picture that moved these are printed marks; in one that did not, everything. From fewer than four frames
    nothing is told.
    """
    if len(looks) < 4:
        return np.ones(looks[0].picture.shape, np.uint8)
    stack = np.stack([look.picture for look in looks])
    middle = np.median(stack, axis=0)
    away = np.percentile(np.abs(stack - middle), 85, axis=0)
    noise = np.median([look.noise for look in looks], axis=0)
    strong = np.abs(middle)
    return _widened(((strong > 0.5) & (away < _STATIC_SHARE * strong + noise)).astype(np.uint8))


def sensor_marks(looks: Sequence[Look], fits: Sequence[Fit], layer: Layer) -> np.ndarray:
    """0 where most frames that lie disagree with the reference at one place of the sensor, uint8 (rows, columns)."""
    shape = layer.marks.shape
    wrong, counted = np.zeros(shape), np.zeros(shape)
    pairs = zip(looks, fits, strict=True)
    lain = [(look, found) for look, found in pairs if layer.lies(found) and at_scale(found.pose)]
    if len(lain) < 4 or max(found.pose.shift_px(*layer.middle) for _, found in lain) < MOVED_PX:
        return np.ones(shape, np.uint8)
    for look, found in lain:
        expected = layer.reference.predicted(found.amounts, found.pose, shape)
        there = (warped(np.ones(shape, np.uint8), found.pose.inverse(), shape) & look.usable) > 0
        slope = np.hypot(*np.gradient(expected))
        bad = np.abs(look.picture - expected) > np.hypot(2.0 * AGREE_PX * slope, 5.0 * look.noise) + 0.2
        wrong += bad & there
        counted += there
    return _widened(((counted >= 4) & (wrong > _MARK_SHARE * counted)).astype(np.uint8))


def _widened(fixed: np.ndarray) -> np.ndarray:
    """Marks, with what lies between their strokes and about them -> 0 there, 1 elsewhere."""
    import cv2

    lone = cv2.morphologyEx(fixed, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    return 1 - cv2.dilate(lone, np.ones((2 * _MARK_RIM + 1, 2 * _MARK_RIM + 1), np.uint8))
