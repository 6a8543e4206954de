"""Whether the ends of a scale that were read can be true: the scene does not jump, and the bar stays as it is.

What does not warm in the picture has the same temperature in two frames that follow each other, whatever the
scale does between them. Wrong ends move the whole picture.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

_LINKS = (1, 2, 3, 4, 6, 9, 14, 20, 30)  # frames apart
_LOOSER, _LOOSEST = 0.25, 2.5  # of the limit, for each further frame; at most
_ROBUST = 6 * 1.4826  # standard deviations, from the median of absolute deviations (normal errors)
_OF_SPAN = 0.012
_STEPS = 1.2  # steps of the printed numbers: two roundings to the nearest
_TOP, _BOTTOM = 0.92, 0.5  # quantiles: the warmest pixels and the cooler half
_BAR_LEVELS = 12.0
_AROUND = 4  # steps before and after, for what is usual


def jumps(places: np.ndarray, low: np.ndarray, high: np.ndarray, step: float, known: Sequence[int]) -> np.ndarray:
    """Mask (n,) of frames whose scene does not go on from the frames that are `known` to be right.

    `places` (n, pixels) are places along the scale 0-1 in time order, `low` and `high` (n,) the ends, NaN where not
    read (never in the mask), `step` of the last printed digit. Frames that go on from each other, over gaps too,
    hang together; those that do not hang together with a known one are the ones that jump.
    """
    usable = np.flatnonzero(np.isfinite(low) & np.isfinite(high))
    parent = list(range(len(low)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    by_gap = {gap: _changes(places, low, high, usable, gap) for gap in _LINKS}
    rate = _usual_rate(by_gap[1], usable)
    expected = np.concatenate([np.zeros((1, 2)), np.cumsum(rate * np.diff(usable)[:, None], axis=0)])
    beyond = {gap: change - (expected[gap:] - expected[:-gap]) for gap, change in by_gap.items()}
    limits = _limits(beyond[1], high[usable] - low[usable], step)
    for gap, change in beyond.items():
        wide = min(1.0 + _LOOSER * (gap - 1), _LOOSEST) * limits
        for k in np.flatnonzero((np.abs(change) <= wide).all(axis=1)):
            parent[root(int(usable[k + gap]))] = root(int(usable[k]))
    right = {root(int(k)) for k in known}
    out = np.zeros(len(low), dtype=bool)
    out[usable] = [root(int(k)) not in right for k in usable]
    return out


def _changes(places: np.ndarray, low: np.ndarray, high: np.ndarray, usable: np.ndarray, gap: int) -> np.ndarray:
    """Change of the cooler half and of the warmest pixels, in units of the ends, from usable k to k + gap (m, 2)."""
    out = np.zeros((max(len(usable) - gap, 0), 2))
    for k, (one, other) in enumerate(zip(usable[:-gap], usable[gap:], strict=True)):
        before, after = places[one].astype(float), places[other].astype(float)
        change = (low[other] + after * (high[other] - low[other])) - (low[one] + before * (high[one] - low[one]))
        both = before + after
        cool, warm = both <= np.quantile(both, _BOTTOM), both >= np.quantile(both, _TOP)
        out[k] = np.median(change[cool]), np.median(change[warm])
    return out


def _usual_rate(change: np.ndarray, usable: np.ndarray) -> np.ndarray:
    """Change per frame around each step from one usable frame to the next, (m, 2): the line by the median of slopes
    (Theil 1950, Sen 1968) through the steps around it, which a few wrong ones do not move.
    """
    rates = change / np.maximum(np.diff(usable), 1)[:, None]
    out = np.zeros_like(rates)
    for k in range(len(rates)):
        near = np.arange(max(k - _AROUND, 0), min(k + _AROUND + 1, len(rates)))
        one, other = np.triu_indices(len(near), 1)
        slope = np.zeros(2)
        if len(one):
            slope = np.median((rates[near[other]] - rates[near[one]]) / (other - one)[:, None], axis=0)
        out[k] = np.median(rates[near] - slope * (near - k)[:, None], axis=0)
    return out


def _limits(change: np.ndarray, spans: np.ndarray, step: float) -> np.ndarray:
    """What may pass from one frame to the next beyond what is usual, for the cooler half and the warmest pixels."""
    least = max(_STEPS * step, _OF_SPAN * float(np.median(spans)) if len(spans) else 0.0)
    if not len(change):
        return np.full(2, least)
    return np.maximum(_ROBUST * np.median(np.abs(change), axis=0), least)


def bar_changed(bars: np.ndarray) -> np.ndarray:
    """Mask (n,) of frames whose bar differs from the usual one: `bars` (n, pixels, 3) are its colours along it."""
    usual = np.median(bars, axis=0)
    off = np.abs(bars - usual).mean(axis=(1, 2))
    return off > max(_BAR_LEVELS, 4.0 * float(np.median(off)))
