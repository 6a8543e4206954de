"""The sample of frames -> the few pictures in which pins show: the mean, and how the frames differ from it.

A pin of another emissivity than its surround shows in the mean once the part is warm; a pin that is heated, or
unheated among heated ones, shows in what changes. What is printed on every picture alike is in the mean only.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.records import Frame
from hotspot.session import Region

MOST_CHANGES = 2
"""Components in time that are kept. Ours: a third brought nothing on made scenes."""

LEAST_NOISE_K = 1e-3

ONE_STEP, SHARP_SHARE, STEEP_NOISES = 0.8, 0.22, 30.0
"""See `sharper_than_a_lens`. Ours, between what hard and blurred edges show."""


@dataclass(frozen=True)
class Views:
    """Pictures (rows, columns) that all carry the same noise of `noise_k` per pixel.

    `mean` is the mean over `frames` frames times the root of their number; `changes` (k, rows, columns) are the
    strongest components of what is left, k from 0 to `MOST_CHANGES`. `blank`: pixels in which no pin is sought;
    `covered`: those that something hides (`hotspot.locate.stripes`).
    """

    mean: np.ndarray
    changes: np.ndarray
    noise_k: float
    frames: int
    blank: np.ndarray
    covered: np.ndarray

    @property
    def all(self) -> np.ndarray:
        """(1 + k, rows, columns): the mean first."""
        return np.concatenate([self.mean[None], self.changes])


def views(sample: Sequence[Frame], regions: Iterable[Region] = (), softened_px: float = 0.0) -> Views:
    """The views of a sample, blurred by a normal distribution of `softened_px` [px] where that is above 0.

    Frames of another size than the first are left out.
    """
    stack = np.array([_filled(frame.celsius()) for frame in sample if frame.shape == sample[0].shape])
    noise = _noise(stack)  # before the blur, which makes of noise something smooth that looks like spots
    if softened_px > 0:
        import cv2

        stack = np.array([cv2.GaussianBlur(picture, (0, 0), softened_px) for picture in stack])
    count, (rows, columns) = len(stack), stack.shape[1:]
    mean = stack.mean(axis=0)
    apart = (stack - mean).reshape(count, -1)
    values, vectors = np.linalg.eigh(apart @ apart.T)
    kept = [
        k for k in range(count - 1, max(count - 1 - MOST_CHANGES, -1), -1) if values[k] > 1e-9 * (values[-1] + 1e-12)
    ]
    changes = (
        (vectors[:, kept].T @ apart).reshape(len(kept), rows, columns) if count > 1 else np.zeros((0, rows, columns))
    )
    nothing = np.zeros((rows, columns), dtype=bool)
    return Views(np.sqrt(count) * mean, changes, noise, count, _blank((rows, columns), regions), nothing)


def _noise(stack: np.ndarray) -> float:
    """Noise of a pixel [K] from second differences along the rows, also from frame to frame where there are any.

    A second difference of independent pixels has six times their variance; the median is deaf to edges.
    """
    second = stack[:, :, 2:] - 2.0 * stack[:, :, 1:-1] + stack[:, :, :-2]
    of_variance = 6.0
    if len(stack) > 1:
        second, of_variance = np.diff(second, axis=0), 12.0
    if not second.size:
        return LEAST_NOISE_K
    return max(float(np.median(np.abs(second))) / 0.6745 / np.sqrt(of_variance), LEAST_NOISE_K)


def sharper_than_a_lens(seen: Views) -> bool:
    """Whether edges of the mean view rise within one pixel, as in pictures that were drawn or sharpened by a program.

    Of the steepest half hundredth of all steps over three pixels, the middle one of the three holds over `ONE_STEP`
    of the rise in a third where edges are hard, in hardly any where a lens blurred them by half a pixel (62 %).
    """
    one_step = []
    for picture in (seen.mean, seen.mean.T):
        if picture.shape[1] < 4:
            return False
        three = np.abs(picture[:, 3:] - picture[:, :-3])
        steep = three >= max(float(np.percentile(three, 99.5)), STEEP_NOISES * seen.noise_k)
        one_step.append(np.abs(picture[:, 2:-1] - picture[:, 1:-2])[steep] > ONE_STEP * three[steep])
    together = np.concatenate(one_step)
    return bool(together.size and together.mean() > SHARP_SHARE)


def _filled(celsius: np.ndarray) -> np.ndarray:
    """Pixels without a value take the median of the picture: flat, no spot."""
    there = np.isfinite(celsius)
    if there.all():
        return celsius
    return np.where(there, celsius, np.median(celsius[there]) if there.any() else 0.0)


def _blank(shape: tuple[int, int], regions: Iterable[Region]) -> np.ndarray:
    """Pixels (rows, columns) in which no pin is looked for: regions to ignore, and those of the ambient."""
    blank = np.zeros(shape, dtype=bool)
    for region in regions:
        if region.kind in {"ignore", "ambient"}:
            x, y, width, height = (round(value) for value in region.box)
            blank[max(y, 0) : max(y + height, 0), max(x, 0) : max(x + width, 0)] = True
    return blank
