"""A raster laid along the rows of pins: small, the same for every camera distance, and turned with the connector."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.records import PinMap

CELLS_PER_PITCH = 7
"""Cells from pin to pin, where the picture is fine enough; never finer than a pixel. Ours: with 6 to 8 the fits of
made connectors differ by less than their noise, and the cost grows with the square."""

MARGIN_PITCHES = 1.7
"""How far beyond the outer pins the raster reaches: past the edge of any housing whose rim is not wider."""

RADII_PER_PITCH = 4.0
"""Stands in for the pitch of a lone pin. Ours."""

_PIXELS_PER_CELL = 3


@dataclass(frozen=True)
class Raster:
    """Which pixels to ask for and in which cell each lies. `pin_row`, `pin_column`, `pin_radius` (n,) in cells."""

    shape: tuple[int, int]
    cell_px: float
    rows: np.ndarray  # (k,) pixels of the frame
    columns: np.ndarray
    cell: np.ndarray  # (k,) flat number of the cell of each pixel
    pin_row: np.ndarray
    pin_column: np.ndarray
    pin_radius: np.ndarray

    def means(self, values: np.ndarray) -> np.ndarray:
        """Mean over each cell of `values` (k,): (rows, columns), NaN where no pixel has a value."""
        there = np.isfinite(values)
        size = self.shape[0] * self.shape[1]
        count = np.bincount(self.cell, there, size)
        total = np.bincount(self.cell, np.where(there, values, 0.0), size)
        return np.divide(total, count, out=np.full(size, np.nan), where=count > 0).reshape(self.shape)


def laid_over(pin_map: PinMap, frame_shape: tuple[int, int]) -> Raster | None:
    """The raster of a connector; None where its pins do not lie in the picture or are a pixel small."""
    at = np.stack([np.asarray(pin_map.x_px, float), np.asarray(pin_map.y_px, float)], axis=1)
    radius = np.asarray(pin_map.radius_px, float)
    if not len(at) or not np.isfinite(at).all():
        return None
    pitch, angle = _grid_of(at, radius)
    cell = max(1.0, pitch / CELLS_PER_PITCH)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    along = at @ turn.T  # columns: along the rows of pins, across them
    low = along.min(axis=0) - MARGIN_PITCHES * pitch
    size = np.ceil((np.ptp(along, axis=0) + 2 * MARGIN_PITCHES * pitch) / cell).astype(int) + 1
    shape = (int(size[1]), int(size[0]))
    stride = max(1, int(cell // _PIXELS_PER_CELL))
    corners = (np.array([[0, 0], [size[0], 0], [0, size[1]], size]) * cell + low) @ turn
    spans = [
        np.arange(max(0, int(corners[:, k].min())), min(limit, int(corners[:, k].max()) + 2), stride)
        for k, limit in ((1, frame_shape[0]), (0, frame_shape[1]))
    ]
    rows, columns = (grid.ravel() for grid in np.meshgrid(*spans, indexing="ij"))
    place = np.rint((np.stack([columns, rows], axis=1) @ turn.T - low) / cell).astype(int)
    inside = ((place >= 0) & (place < size)).all(axis=1)
    if not inside.any():
        return None
    where = (along - low) / cell
    return Raster(
        shape, cell, rows[inside], columns[inside], place[inside, 1] * shape[1] + place[inside, 0],
        where[:, 1], where[:, 0], radius / cell,
    )  # fmt: skip


def _grid_of(at: np.ndarray, radius: np.ndarray) -> tuple[float, float]:
    """(pitch in px, angle in radians within +-45 degrees) of pins at (n, 2) x and y, from nearest neighbours."""
    if len(at) < 2:
        return RADII_PER_PITCH * float(np.median(radius)), 0.0
    apart = at[:, None] - at[None]
    distance = np.hypot(apart[..., 0], apart[..., 1])
    np.fill_diagonal(distance, np.inf)
    nearest = apart[np.arange(len(at)), distance.argmin(axis=1)]
    quarter = 4.0 * np.arctan2(nearest[:, 1], nearest[:, 0])
    angle = float(np.arctan2(np.sin(quarter).mean(), np.cos(quarter).mean())) / 4.0
    return float(np.median(distance.min(axis=1))), angle
