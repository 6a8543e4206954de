"""One frame against the template: its shift, turn and scale to a small part of a pixel.

A frame is taken to be a sum of a few pictures (what the registered frames have in common: how the connector looks
cold, how it looks warm, ...) and an offset. Shift, turn, scale and those amounts are solved for together, so that what
the connector looks like may change. This is the inverse compositional form of Gauss-Newton with linear appearance
(Baker and Matthews, Int. J. Computer Vision 56(3):221, 2004; cited from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.locate.steady_look import Look
from hotspot.poses import Pose

MISFIT_PX = 0.12
"""A template is taken to be wrong by what its slope makes over this distance, so that few strong edges do not outweigh
many weak ones. Ours."""

AGREE_PX = 0.35
"""A point agrees where frame and template differ by less than the slope makes over this distance (and the noise)."""

MOST_POINTS, TILE_PX = 1600, 16
_RIM_PX = 2.0
_STEPS = 8
_DONE_PX = 0.004
_HUBER = 2.0
_LEAST_SEEN = 40
_LEAST_SPREAD = 1e-6


@dataclass(frozen=True)
class Fit:
    """A frame laid on the template. `pose` maps places of the template to places of the frame.

    `agree`: share 0-1 of the points with enough contrast that agree; `telling` is their number; `sigma_px`: standard
    uncertainty of a place in the middle of the points; `residual`: robust RMS of what is left, in units of the frame's
    noise; `margin`: by how much more of them agree than anywhere else that was tried, 0 where nothing else was.
    """

    pose: Pose
    agree: float
    telling: int
    sigma_px: float
    residual: float
    amounts: np.ndarray
    margin: float = 0.0


@dataclass(frozen=True)
class Template:
    """What frames are laid on, at `n` points. `basis`, `right`, `down` are (k, n): the k pictures there and their
    slopes per pixel, in the units of `Look.picture`."""

    rows: np.ndarray
    columns: np.ndarray
    basis: np.ndarray
    right: np.ndarray
    down: np.ndarray

    @property
    def middle(self) -> tuple[float, float]:
        """Row and column of the middle of the points."""
        return float(self.rows.mean()), float(self.columns.mean())

    @property
    def reach(self) -> float:
        """How far the points lie from their middle, RMS, px."""
        row, column = self.middle
        return float(np.sqrt(np.mean((self.rows - row) ** 2 + (self.columns - column) ** 2))) + 1.0


def fit(look: Look, template: Template, start: Pose) -> Fit:
    """Lay a frame on the template, from `start` on. Good for starts within about 1.5 px of a fine template."""
    pose, solved = start, None
    for step in range(_STEPS):
        sampled = _sampled(look, template, pose)
        if sampled.seen.sum() < _LEAST_SEEN:
            return Fit(pose, 0.0, 0, np.inf, np.inf, np.zeros(len(template.basis)))
        solved = _solved(sampled, template, solved)
        pose = _stepped(pose, solved.move, template)
        if step and np.abs(solved.move).max() < _DONE_PX:
            break
    return _judged(_sampled(look, template, pose), template, pose, solved)


def one_step(values: np.ndarray, noise: np.ndarray, seen: np.ndarray, template: Template) -> tuple[np.ndarray, Fit]:
    """A single step from where the values (n,) of a frame stand for those of the template: the move (right, down,
    turn, growth; px at the template's reach), and how well the frame lies if it did not move."""
    sampled = _Sampled(values, noise, seen)
    if seen.sum() < _LEAST_SEEN:
        return np.zeros(4), Fit(Pose(), 0.0, 0, np.inf, np.inf, np.zeros(len(template.basis)))
    solved = _solved(sampled, template, _solved(sampled, template, None))
    return solved.move, _judged(sampled, template, Pose(), solved)


@dataclass(frozen=True)
class _Sampled:
    """The frame at the template's points (n,): its values, their noise, and whether it shows them."""

    values: np.ndarray
    noise: np.ndarray
    seen: np.ndarray


@dataclass
class _Solved:
    """One step: the amounts of the pictures, the move (right, down, turn, growth; px at `reach`), its covariance."""

    amounts: np.ndarray
    move: np.ndarray
    covariance: np.ndarray
    weights: np.ndarray


def _sampled(look: Look, template: Template, pose: Pose) -> _Sampled:
    """The frame where the pose puts the template's points."""
    import cv2

    rows, columns = pose.at(template.rows, template.columns)
    high, wide = look.picture.shape
    seen = (rows > _RIM_PX) & (columns > _RIM_PX) & (rows < high - 1 - _RIM_PX) & (columns < wide - 1 - _RIM_PX)
    x, y = columns.astype(np.float32)[None], rows.astype(np.float32)[None]
    values = cv2.remap(look.picture, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)[0]
    near = np.clip(np.rint(rows), 0, high - 1).astype(np.intp), np.clip(np.rint(columns), 0, wide - 1).astype(np.intp)
    return _Sampled(values.astype(float), look.noise[near].astype(float), seen & (look.usable[near] > 0))


def _plain(template: Template) -> np.ndarray:
    """What is fitted but for the move: an offset and the pictures, (k + 1, n)."""
    return np.vstack([np.ones((1, template.rows.size)), template.basis])


def _solved(sampled: _Sampled, template: Template, before: _Solved | None) -> _Solved:
    """Amounts and move together, by weighted least squares."""
    row, column = template.middle
    down, right = (template.rows - row) / template.reach, (template.columns - column) / template.reach
    plain = _plain(template)
    if before is None:
        amounts, weights = _least(plain, sampled.values, sampled.seen.astype(float))[0][1:], 1.0
    else:
        amounts, weights = before.amounts, before.weights
    slope_right, slope_down = amounts @ template.right, amounts @ template.down
    spread = sampled.noise**2 + MISFIT_PX**2 * (slope_right**2 + slope_down**2) + _LEAST_SPREAD
    turned, grown = slope_down * right - slope_right * down, slope_right * right + slope_down * down
    design = np.vstack([plain, slope_right, slope_down, turned, grown])
    found, inverse = _least(design, sampled.values, weights * sampled.seen / spread)
    scaled = np.abs(sampled.values - found @ design) / np.sqrt(spread)
    unit = max(1.0, 1.4826 * float(np.median(scaled[sampled.seen])))
    new = np.minimum(1.0, _HUBER * unit / np.maximum(scaled, 1e-9)) ** 2
    return _Solved(found[1:-4], found[-4:], inverse[-4:, -4:] * unit**2, new)


def _least(design: np.ndarray, values: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Weighted least squares: solution (m,) and the inverse of the normal matrix (m, m)."""
    size = np.sqrt((weights * design**2).sum(axis=1)) + 1e-12
    scaled = design / size[:, None]
    weighted = scaled * weights
    inverse = np.linalg.inv(weighted @ scaled.T + 1e-7 * np.eye(len(design)))
    return (inverse @ (weighted @ values)) / size, inverse / size[:, None] / size


def _stepped(pose: Pose, move: np.ndarray, template: Template) -> Pose:
    """The pose after the move has been taken back in the template's places."""
    right, down, turn, growth = np.clip(move, -3.0, 3.0)
    row, column = template.middle
    a, b = 1.0 - growth / template.reach, -turn / template.reach
    shift = Pose(a, b, column - right - a * column + b * row, row - down - b * column - a * row)
    return pose.after(shift)


def _judged(sampled: _Sampled, template: Template, pose: Pose, solved: _Solved) -> Fit:
    """How well the frame lies."""
    plain = _plain(template)
    found, _ = _least(plain, sampled.values, sampled.seen * solved.weights)
    rest = np.abs(sampled.values - found @ plain)
    slope = np.hypot(found[1:] @ template.right, found[1:] @ template.down)
    telling = sampled.seen & (AGREE_PX * slope > 1.5 * sampled.noise)
    count = int(telling.sum())
    agree = rest < np.hypot(AGREE_PX * slope, 2.5 * sampled.noise)
    sigma = float(np.sqrt(max(solved.covariance[0, 0], solved.covariance[1, 1])))
    left = 1.4826 * float(np.median((rest / np.maximum(sampled.noise, 1e-9))[sampled.seen]))
    return Fit(pose, float(agree[telling].mean()) if count else 0.0, count, sigma, left, found[1:])
