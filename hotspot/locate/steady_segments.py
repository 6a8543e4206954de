"""Fits one by one -> a track: places carried over what shows nothing, the camera aimed anew, what is said of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.steady_fit import Fit
from hotspot.poses import Pose
from hotspot.records import Statement

ZOOMED = 0.05
"""A change of scale by more than this share is a zoom, not a hand. Ours."""

WEAK_FROM = 1.5
"""A frame shows little where its place is known this much worse than is usual. Ours."""

AIMED_SHARE, AIMED_STEPS, AIMED_PX = 0.10, 6.0, 4.0
"""The camera was aimed anew where it moved at once by more than this share of the picture's width, or by so many times
its usual step and so many pixels at least. Ours."""

_STAYS = 3


@dataclass(frozen=True)
class Track:
    """Poses against the first good frame. `measured`: number -> (pose, standard uncertainty px); `first`: the pose
    reference -> first good frame, `guessed_px` how far it may be wrong where that one shows nothing; `lost`, `blank`:
    frames that tell but do not lie, and that do not tell."""

    measured: Mapping[int, tuple[Pose, float]]
    residuals: Mapping[int, float]
    lost: tuple[int, ...]
    blank: tuple[int, ...]
    first: Pose
    first_sigma_px: float
    guessed_px: float

    @classmethod
    def of(cls, laid: Mapping[int, Fit], fits: Mapping[int, Fit], first: int, telling: Mapping[int, bool]) -> Track:
        """`laid` are those of `fits` that lie on the reference. A first frame that shows nothing is taken to lie as
        the earliest one that does; so are frames before any that lies, if they show little: the heat is only coming."""
        start = laid[first] if first in laid else laid[min(laid)]
        back = start.pose.inverse()
        usual = float(np.median([found.sigma_px for found in laid.values()]))
        weak = {k for k in fits if k < min(laid) and fits[k].sigma_px > WEAK_FROM * usual}
        return cls(
            {k: (found.pose.after(back), found.sigma_px) for k, found in laid.items()},
            {k: found.residual for k, found in laid.items()},
            tuple(k for k in fits if k not in laid and telling[k] and k not in weak),
            tuple(k for k in fits if k not in laid and (not telling[k] or k in weak)),
            start.pose,
            start.sigma_px,
            0.0 if first in laid else _usual_step(laid),
        )

    def poses(self, row: float, column: float) -> dict[int, Pose]:
        """Every frame's pose; (row, column) is where it matters most."""
        known = np.array(sorted(self.measured))
        table = np.array([_numbers(self.measured[k][0]) for k in known])
        shown = np.array([self.measured[k][0].at(row, column) for k in known])
        step = float(np.sqrt(np.mean(np.sum(np.diff(shown, axis=0) ** 2, axis=1)))) if len(known) > 1 else 0.0
        found: dict[int, Pose] = {}
        for k in sorted([*self.measured, *self.lost, *self.blank]):
            if k in self.measured:
                pose, sigma = self.measured[k]
                both = float(np.hypot(np.hypot(sigma, self.first_sigma_px), self.guessed_px))
                found[k] = replace(pose, sigma_px=both, residual=self.residuals[k])
                continue
            numbers = [float(np.interp(k, known, table[:, column])) for column in range(4)]
            away = int(np.abs(known - k).min())
            state = "lost" if k in self.lost else "carried"
            found[k] = Pose(*numbers, state=state, sigma_px=float(np.hypot(step * np.sqrt(away), self.guessed_px)))
        return found


def _usual_step(laid: Mapping[int, Fit]) -> float:
    """How far the middle of the first frames that lie moves from one to the next, RMS px."""
    shown = np.array([laid[k].pose.at(0.0, 0.0) for k in sorted(laid)])
    return float(np.sqrt(np.mean(np.sum(np.diff(shown, axis=0) ** 2, axis=1)))) if len(shown) > 1 else 0.0


def _numbers(pose: Pose) -> tuple[float, float, float, float]:
    return pose.a, pose.b, pose.right_px, pose.down_px


def segments(poses: Mapping[int, Pose], x: np.ndarray, y: np.ndarray, width: int) -> dict[int, Pose]:
    """The same poses with their segments counted: a new one where the camera was aimed anew or zoomed."""
    known = [k for k in sorted(poses) if poses[k].state == "measured"]
    places = np.array([_middle(poses[k], x, y) for k in known])
    scales = np.array([poses[k].scale for k in known])
    if len(known) < 2:
        return dict(poses)
    steps = np.hypot(*np.diff(places, axis=0).T)
    usual = float(np.median(steps))
    starts = []
    for n in range(1, len(known)):
        before, after = slice(max(0, n - _STAYS), n), slice(n, n + _STAYS)
        zoom = abs(np.log(np.median(scales[after]) / np.median(scales[before])))
        jump = float(np.hypot(*(np.median(places[after], axis=0) - np.median(places[before], axis=0))))
        at_once = steps[n - 1] >= steps[max(0, n - _STAYS) : n + _STAYS - 1].max() - 1e-9
        far = jump > AIMED_SHARE * width or jump > max(AIMED_PX, AIMED_STEPS * usual)
        held = steps[n : n + _STAYS - 1].max(initial=0.0) < 0.5 * steps[n - 1]
        if len(known) - n >= min(_STAYS, len(known) // 2) and at_once and (zoom > ZOOMED or (far and held)):
            starts.append(known[n])
    return {k: replace(pose, segment=int(np.searchsorted(starts, k, side="right"))) for k, pose in poses.items()}


def _middle(pose: Pose, x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    rows, columns = pose.at(y, x)
    return float(columns.mean()), float(rows.mean())


def told(poses: Mapping[int, Pose], times: Mapping[int, float], x: np.ndarray, y: np.ndarray) -> tuple[Statement, ...]:
    """What has to be said: that the camera moved, where it was aimed anew, what could not be followed."""
    return tuple(_told(poses, times, x, y))


def _told(poses: Mapping[int, Pose], times: Mapping[int, float], x: np.ndarray, y: np.ndarray) -> Iterator[Statement]:
    row, column = float(y.mean()), float(x.mean())
    measured = {k: pose for k, pose in poses.items() if pose.state == "measured"}
    within = {k: pose for k, pose in measured.items() if pose.segment == 0}
    if any(not pose.still for pose in within.values()):
        far = max(pose.shift_px(row, column) for pose in within.values())
        turn = max(abs(pose.turn_deg) for pose in within.values())
        yield Statement("camera_moved", {"shift": far, "turn": turn, "count": len(measured)})
    for segment in range(1, 1 + max((pose.segment for pose in poses.values()), default=0)):
        own = [k for k in sorted(measured) if measured[k].segment == segment]
        before = [k for k in sorted(measured) if measured[k].segment < segment]
        last, now = measured[before[-1]], measured[own[0]]
        down, right = np.subtract(now.at(row, column), last.at(row, column))
        values = {"time": times[own[0]], "shift": float(np.hypot(down, right)), "zoom": now.scale / last.scale}
        yield Statement("camera_aimed_anew", values, (own[0],))
    for state, code in (("lost", "frames_not_laid_on"), ("carried", "places_carried")):
        hit = tuple(k for k in sorted(poses) if poses[k].state == state)
        if hit:
            yield Statement(code, {"count": len(hit), "of": len(poses)}, hit)
