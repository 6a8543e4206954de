"""What the scene tells of a frame's ends: what does not warm has one temperature in frames that follow each other."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from hotspot.read.scale_alphabet import Key

_BANDS = 24  # of places along the scale, each counted once whatever its share of the picture
_ROBUST = 2 * 1.4826  # standard deviations, from the median of absolute errors
OF_STEP = 0.45  # of the last printed digit: two roundings, at least
_WIDE, _NEAREST, _ONE_SIDED = 4, 4, 1.5  # frames before and after; of those missed so; times what one frame misses


class Scene:
    """Places (n, pixels) along the scale, 0-1, of the frames in time order."""

    def __init__(self, places: np.ndarray) -> None:
        self.places = places
        self._lines: dict[tuple[int, int], np.ndarray] = {}

    def __len__(self) -> int:
        return len(self.places)

    def line(self, frame: int, other: int) -> np.ndarray:
        """Where the ends of `frame` lie on the scale of the `other`, 0-1 between its ends, (2,); NaN where not told."""
        if (frame, other) not in self._lines:
            places = self.places[frame].astype(float), self.places[other].astype(float)
            self._lines[frame, other] = _ends_by(*places)
        return self._lines[frame, other]

    def carried(self, frame: int, around: np.ndarray, known: np.ndarray) -> np.ndarray:
        """Ends of a frame from one or two frames around it whose ends are `known` (n, 2), (2,)."""
        share = np.array([1.0])
        if len(around) == 2:
            share = np.array([around[1] - frame, frame - around[0]]) / (around[1] - around[0])
        each = [known[k, 0] + self.line(frame, int(k)) * (known[k, 1] - known[k, 0]) for k in around]
        return share @ np.array(each)


def known_ends(numbers: Mapping[Key, tuple[str, str]], typed: Mapping[int, tuple[str, str]], count: int) -> np.ndarray:
    """Ends (n, 2) that are typed or were read without doubt, else NaN."""
    known = np.full((count, 2), np.nan)
    for k in range(count):
        texts = typed.get(k) or tuple(numbers[k, end][0] for end in (0, 1) if not numbers[k, end][1])
        if len(texts) == 2 and float(texts[0]) < float(texts[1]):
            known[k] = [float(text) for text in texts]
    return known


def step_of(typed: Mapping[int, tuple[str, str]]) -> float:
    """What the last printed digit counts."""
    return 10.0 ** -max(len(text.partition(".")[2]) for both in typed.values() for text in both)


def foretold(scene: Scene, known: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Ends (n, 2) of every frame as its scene goes on from the known frames around it, and how doubtful these are.

    What a straight line between two frames misses grows as the product of the distances to them (the error of linear
    interpolation, Abramowitz and Stegun 25.2.3, from memory), what one frame alone misses as the distance to it; both
    are measured on the known frames.
    """
    sure = np.flatnonzero(np.isfinite(known).all(axis=1))
    ends, doubts = np.full((len(scene), 2), np.nan), np.full((len(scene), 2), np.inf)
    if len(sure) < 2:
        return ends, doubts
    missed = {apart: _missed(scene, known, sure, apart) for apart in ((-1, 1), (-_WIDE, _WIDE), (-1,))}
    least = OF_STEP * step
    beside, alone = (_usual(missed[apart][1], least) for apart in ((-1, 1), (-1,)))
    for k in range(len(scene)):
        at = np.searchsorted(sure, k)
        around = np.r_[sure[:at][-1:], sure[at:][sure[at:] > k][:1]]
        ends[k] = scene.carried(k, around, known)
        if len(around) == 2:
            curving = _curving(around, *missed[-_WIDE, _WIDE], beside, least)
            doubts[k] = beside + curving * float(np.prod(np.abs(around - k)))
        else:
            doubts[k] = _ONE_SIDED * alone * abs(int(around[0]) - k)
    return ends, doubts


def _missed(scene: Scene, known: np.ndarray, sure: np.ndarray, apart: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Known frames (m,) and by how far their ends (m, 2) are missed from those that stand `apart` from them."""
    whole = set(sure.tolist())
    those = [k for k in sure if all(k + step in whole for step in apart)]
    off = [np.abs(scene.carried(k, np.array([k + step for step in apart]), known) - known[k]) for k in those]
    found = np.array(off).reshape(-1, 2)
    good = np.isfinite(found).all(axis=1)
    return np.array(those, dtype=int)[good], found[good]


def _usual(missed: np.ndarray, least: float) -> np.ndarray:
    """Two standard deviations of both ends (2,), of normal errors, by the median; infinite where too few were met."""
    return np.maximum(_ROBUST * np.median(missed, axis=0), least) if len(missed) > 2 else np.full(2, np.inf)


def _curving(
    around: np.ndarray, frames: np.ndarray, missed: np.ndarray, beside: np.ndarray, least: float
) -> np.ndarray:
    """What is missed for each further frame squared (2,): the most of what is missed over a wide gap near either of the
    two frames.
    """
    if len(frames) < 3:
        return beside
    near = np.unique([np.argsort(np.abs(frames - k), kind="stable")[:_NEAREST] for k in around])
    return np.maximum(missed[near].max(axis=0) - beside, least / _WIDE) / (_WIDE**2 - 1.0)


def _ends_by(places: np.ndarray, celsius: np.ndarray) -> np.ndarray:
    """Low and high of the straight line through (place, temperature), every band of places counting once."""
    band = np.minimum((places * _BANDS).astype(int), _BANDS - 1)
    met = np.unique(band)
    if len(met) < 3:
        return np.full(2, np.nan)
    x = np.array([np.median(places[band == b]) for b in met])
    y = np.array([np.median(celsius[band == b]) for b in met])
    slope, low = np.polyfit(x, y, 1)
    return np.array([low, low + slope])
