"""Where the housing ends: the rectangle, along the rows of pins, beyond which the picture no longer rises."""

from __future__ import annotations

import numpy as np

from hotspot.records import RisePictures

LEAST_DROP = 0.3
"""Share of the rise just inside that must be lost across the edge; plastic loses less than that in two cells."""

_QUANTILE = 0.3
"""Of the cells along an edge: low, because warm wires may leave the housing there and hide most of it."""


def outline_of(pictures: RisePictures) -> tuple[np.ndarray, tuple[bool, ...]]:
    """(inside, found): bool (rows, columns), and for top, bottom, left, right whether that edge was seen.

    An edge that is not seen is put as far beyond the pins as the seen ones are, or at the raster's rim.
    """
    warm = np.sqrt(np.nanmean(np.where(np.isfinite(pictures.rise_k), pictures.rise_k, 0.0) ** 2, axis=0))
    across = [_side(warm, pictures, side) for side in range(4)]
    seen = [reach for reach in across if reach is not None]
    rows, columns = warm.shape
    assumed = float(np.median(seen)) if seen else float(max(rows, columns))
    reach = [assumed if each is None else each for each in across]
    row, column, radius = pictures.pin_row, pictures.pin_column, pictures.pin_radius
    top, bottom = (row - radius).min() - reach[0], (row + radius).max() + reach[1]
    left, right = (column - radius).min() - reach[2], (column + radius).max() + reach[3]
    r, c = np.indices(warm.shape)
    inside = (r > top) & (r < bottom) & (c > left) & (c < right)
    return inside, tuple(each is not None for each in across)


def _side(warm: np.ndarray, pictures: RisePictures, side: int) -> float | None:
    """Cells from the outer pins' edges to the housing's edge on one side (top, bottom, left, right)."""
    at, along = (pictures.pin_row, pictures.pin_column) if side < 2 else (pictures.pin_column, pictures.pin_row)
    picture = warm if side < 2 else warm.T
    if side in (1, 3):
        picture, at = picture[::-1], picture.shape[0] - 1 - at
    edge = float((at - pictures.pin_radius).min())
    start = int(np.ceil(edge))
    low, high = int(np.floor(along.min())), int(np.ceil(along.max())) + 1
    if start < 3:
        return None
    lines = picture[: start + 1, max(low, 0) : high]
    bright = lines[-1] >= 0.5 * lines[-1].max()
    profile = np.quantile(lines[:, bright], _QUANTILE, axis=1)[::-1]  # outwards from the pins' edges
    best, place = 0.0, None
    for k in range(1, profile.size - 1):
        inside, outside = profile[k - 1], profile[k + 1]
        drop = inside - outside
        if inside > 0.05 * profile[0] and drop > LEAST_DROP * inside and drop > best:
            best, place = drop, k
    if place is None:
        return None
    inner, outer = profile[place - 1], float(np.median(profile[place + 1 :]))
    share = np.clip((profile[place] - outer) / max(inner - outer, 1e-9), 0.0, 1.0)
    return edge - start + place - 0.5 + float(share)
