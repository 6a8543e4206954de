"""Temperatures of one photographed screen, through the bar in the same photo."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hotspot.doubts import BIT
from hotspot.read.scale import Ends
from hotspot.read.screen_bar import ScreenBar
from hotspot.read.screen_light import Gain

_OFF = 30.0  # levels off the bar's colours
_PALE = 12.0  # levels brighter than the bar's colours: light that was added
_PATTERN = 0.008  # share of the level: moire that no second-order surface follows (ours)
_NEAR_END = 0.02  # of the scale: a colour this near to a fixed end counts as clipped
_CHUNK = 4096
_STEPS = 32
_ALIKE = 0.8  # correlation of the errors of a pin's pixels: gain, bar and veil are common to them (ours)


@dataclass(slots=True)
class ScreenPixels:
    """Pixels of one straightened screen (see hotspot.records.Pixels). `striped` is the strength of moving stripes,
    `misfit` the standard uncertainty from the bar, both as shares (of the level, of the scale).
    """

    rgb: np.ndarray
    bar: ScreenBar
    gain: Gain
    ends: Ends
    glare: np.ndarray
    misfit: float
    striped: float = 0.0
    _table: np.ndarray | None = field(default=None, repr=False)

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns) of the straightened screen."""
        return self.rgb.shape[:2]

    def picture(self) -> np.ndarray:
        """The straightened screen."""
        return self.rgb

    def grey(self, rows: np.ndarray | None = None, columns: np.ndarray | None = None) -> np.ndarray:
        """See hotspot.records.Pixels: by a table of 32 steps a channel, without the gain."""
        if self._table is None:
            from scipy.spatial import cKDTree

            steps = (np.arange(_STEPS) + 0.5) * 256.0 / _STEPS
            cells = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
            self._table = self.bar.places[cKDTree(self.bar.rgb).query(cells)[1]].astype(np.float32)
        colours = self.rgb if rows is None else self.rgb[rows, columns]
        red, green, blue = np.moveaxis(colours.astype(np.intp) * _STEPS // 256, -1, 0)
        place = self._table[(red * _STEPS + green) * _STEPS + blue]
        return (self.ends.low + place * self.ends.span).astype(np.float32)

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Apparent °C, doubt bits, standard uncertainty K of n pixels; NaN in glare and where no scale is known."""
        rows, columns = np.asarray(rows, dtype=np.intp), np.asarray(columns, dtype=np.intp)
        place, share, left = (np.empty(len(rows)), np.empty(len(rows)), np.empty((len(rows), 3)))
        for first in range(0, len(rows), _CHUNK):
            part = slice(first, first + _CHUNK)
            place[part], share[part], left[part] = self._placed(rows[part], columns[part])
        doubt = np.full(len(rows), self.ends.doubts, np.uint32)
        off = np.linalg.norm(left, axis=1)
        hidden = self.glare[rows, columns]
        pale = (left.min(axis=1) > _PALE) | hidden
        doubt[pale] |= BIT["glare"]
        doubt[(off > _OFF) & ~pale] |= BIT["off_map"]
        clean = ~pale & (off <= _OFF)
        if self.ends.low_clips:
            doubt[(place < _NEAR_END) & clean] |= BIT["clipped_low"]
        if self.ends.high_clips:
            doubt[(place > 1.0 - _NEAR_END) & clean] |= BIT["clipped_high"]
        usable = ~hidden & np.isfinite(self.ends.low)
        celsius = np.where(usable, self.ends.low + place * self.ends.span, np.nan)
        return celsius, doubt, np.where(usable, np.hypot(share, self.misfit) * self.ends.span, np.nan)

    def in_parts(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """As `at`, but two standard uncertainties: what averages out over the pixels of a pin, and what does not."""
        celsius, doubt, reading_k = self.at(rows, columns)
        return celsius, doubt, np.sqrt(1.0 - _ALIKE) * reading_k, np.sqrt(_ALIKE) * reading_k

    def _placed(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Place (n,), its standard uncertainty without the bar's misfit (n,), distance to the bar's colours (n, 3).

        The nearest place in the metric of the errors' covariance s^2 I + u^2 c c^T: s are levels left over, u the
        share of the level by which gain, moire and stripes may move the whole colour c.
        """
        curve = self.bar.rgb / self.gain.at(self.bar.x, self.bar.y)[:, None]
        terms = self.gain.terms(columns, rows)
        colours = self.rgb[rows, columns] / np.exp(terms @ self.gain.theta)[:, None]
        spread = np.sqrt(np.maximum(np.einsum("ni,ij,nj->n", terms, self.gain.covariance, terms), 0.0))
        moved = np.sqrt(spread**2 + _PATTERN**2 + self.striped**2)
        level = np.maximum(np.linalg.norm(colours, axis=1), 1.0)
        noise = self.gain.off
        less = moved**2 / (noise**2 + (moved * level) ** 2)  # of the inverse covariance, by Sherman and Morrison
        squares = (colours**2).sum(axis=1)[:, None] - 2.0 * colours @ curve.T + (curve**2).sum(axis=1)
        along = (colours**2).sum(axis=1)[:, None] - colours @ curve.T
        distance = squares - less[:, None] * along**2
        best = np.clip(distance.argmin(axis=1), 1, len(curve) - 2)
        way = (curve[best + 1] - curve[best - 1]) / (self.bar.places[best + 1] - self.bar.places[best - 1])[:, None]
        left = colours - curve[best]
        toward = (way * colours).sum(axis=1)
        information = (way**2).sum(axis=1) - less * toward**2
        step = ((way * left).sum(axis=1) - less * toward * (colours * left).sum(axis=1)) / np.maximum(information, 1.0)
        room = 1.5 * (self.bar.places[1] - self.bar.places[0])
        place = self.bar.places[best] + np.clip(step, -room, room)
        place = np.clip(place, 0.0, 1.0)
        return place, noise / np.sqrt(np.maximum(information, 100.0)), left - way * step[:, None]
