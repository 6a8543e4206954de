"""Which pins lie beside each other: the lines that show at a glance whether circles sit on their lattice."""

from __future__ import annotations

import numpy as np

_TOUCH = 1.08
"""A pin as near as this to the rim of another two's circle parts them, or a lattice would gain its diagonals."""


def neighbours(x: np.ndarray, y: np.ndarray) -> list[tuple[int, int]]:
    """Pairs of places whose circle of diameter holds no third one: the Gabriel graph. x, y (n,) in any one unit.

    On a lattice these are the sides of its cells; a circle out of its place bends them.
    Source: K. R. Gabriel and R. R. Sokal, A new statistical approach to geographic variation analysis, 1969.
    """
    spots = np.column_stack([np.asarray(x, float), np.asarray(y, float)])
    pairs = []
    for one in range(len(spots)):
        for two in range(one + 1, len(spots)):
            middle, reach = (spots[one] + spots[two]) / 2, np.hypot(*(spots[one] - spots[two])) / 2
            apart = np.hypot(*(spots - middle).T)
            apart[[one, two]] = np.inf
            if reach > 0 and not (apart < _TOUCH * reach).any():
                pairs.append((one, two))
    return pairs


def joint(one: tuple[float, float], two: tuple[float, float], reach: tuple[float, float]) -> np.ndarray:
    """The line (2, 2) x, y between two circles of radius `reach`, from rim to rim."""
    ends = np.array([one, two], float)
    apart = np.hypot(*(ends[1] - ends[0]))
    if apart <= sum(reach):
        return np.full((2, 2), np.nan)
    along = (ends[1] - ends[0]) / apart
    return np.array([ends[0] + along * reach[0], ends[1] - along * reach[1]])


def spacing(x: np.ndarray, y: np.ndarray) -> float:
    """Distance of the two that lie closest; infinite for fewer than two."""
    spots = np.column_stack([np.asarray(x, float), np.asarray(y, float)])
    if len(spots) < 2:
        return float("inf")
    apart = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    return float(apart[~np.eye(len(spots), dtype=bool)].min())
