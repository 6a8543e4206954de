"""A colour picture as rough temperatures, quickly: for laying frames over each other, not for reading them.

In a map whose lightness only rises or only falls one luma is one temperature. In any other the colours are looked up
in a table of 64 steps per channel: a fraction of a level of the scale is lost, which no edge is missed for.
"""

from __future__ import annotations

import numpy as np

from hotspot.read.colour_image import LIMITED_LUMA, ColourImage, Matrix, rgb_to_ycc
from hotspot.read.colour_maps import ColourMap

_FINER = 4  # entries of the luma table per level
_STEPS = 64
_BACK = 0.3  # levels that lightness may go back without counting: tables are rounded


class QuickMap:
    """Colours -> place along the map 0-1, float32."""

    def __init__(self, colours: ColourMap, matrix: Matrix) -> None:
        self._weights = (rgb_to_ycc(np.eye(3), matrix)[:, 0] - rgb_to_ycc(np.zeros((1, 3)), matrix)[0, 0]).astype(
            np.float32
        )
        self._matrix = matrix
        luma = rgb_to_ycc(colours.rgb, matrix)[:, 0]
        way = np.sign(luma[-1] - luma[0])
        self.one_way = bool(way) and bool((way * np.diff(luma) > -_BACK).all())
        if self.one_way:
            order = np.argsort(luma)
            levels = np.arange(256 * _FINER) / _FINER
            self._table = np.interp(levels, luma[order], colours.places[order]).astype(np.float32)
        else:
            self._table = _nearest(rgb_to_ycc(colours.rgb, matrix), colours.places)

    def places(self, image: ColourImage, rows: np.ndarray | None, columns: np.ndarray | None) -> np.ndarray:
        """For n pixels, or for the whole picture (rows, columns)."""
        where = (slice(None), slice(None)) if rows is None else (rows, columns)
        if self.one_way:
            return self._table[np.clip(np.rint(_FINER * self._luma(image, where)), 0, 256 * _FINER - 1).astype(np.intp)]
        channels = _channels(image, where, self._matrix)
        red, green, blue = (np.clip(one, 0, 255).astype(np.intp) * _STEPS // 256 for one in channels)
        return self._table[(red * _STEPS + green) * _STEPS + blue]

    def _luma(self, image: ColourImage, where: tuple) -> np.ndarray:
        if image.planes is not None:
            luma = image.planes[0][where].astype(np.float32)
            return (luma - 16.0) * LIMITED_LUMA if image.limited_range else luma
        if image.ycc is not None:
            return image.ycc[(*where, 0)].astype(np.float32)
        return image.rgb[where].astype(np.float32) @ self._weights


def _channels(image: ColourImage, where: tuple, matrix: Matrix) -> tuple[np.ndarray, ...]:
    """Y, Cb, Cr of the pixels, chroma of the nearest sample."""
    if image.planes is None:
        ycc = rgb_to_ycc(image.rgb[where], matrix) if image.ycc is None else image.ycc[where]
        return tuple(np.moveaxis(ycc, -1, 0))
    luma, cb, cr = image.planes
    near = tuple(np.arange(size) * count // size for size, count in zip(luma.shape, cb.shape, strict=True))
    rows, columns = np.ix_(*near) if isinstance(where[0], slice) else (near[0][where[0]], near[1][where[1]])
    full = image.full_range(
        np.stack([luma[where], cb[rows, columns], cr[rows, columns]], axis=-1).astype(float).reshape(-1, 3)
    )
    return tuple(full[:, k].reshape(luma[where].shape) for k in range(3))


def _nearest(points: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Place of the nearest colour for every cell of the table, flat."""
    from scipy.spatial import cKDTree

    steps = (np.arange(_STEPS) + 0.5) * 256.0 / _STEPS
    cells = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    return places[cKDTree(points).query(cells)[1]].astype(np.float32)
