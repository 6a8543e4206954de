"""A colour map as a curve through luma and chroma, and the place on it that a colour stands for.

Luma leads: it has the picture's full resolution and the finer quantisation, while chroma is halved in most
JPEGs and videos (ITU-T T.81 with 2x2 sampling) and is blurred exactly where a small hot pin stands out of
its surroundings. Chroma with a small weight chooses the branch where a map passes the same luma twice.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

LUMA_LED = 0.1
"""Weight of a chroma level against a luma level when the branch is chosen."""
_CHUNK = 2048
_REACH = 2


@dataclass(slots=True)
class Curve:
    """A polyline through Y, Cb, Cr: `points` (n, 3) full range, at `places` (n,) 0-1 along the scale.

    Which segment is nearest is worked out once per colour met and kept: full-depth luma, chroma in `1 <<
    chroma_bits` steps (6: 2 MB; 8: 32 MB, of which only the pages of colours met are ever held); the
    projection on the segments around it is then exact.
    """

    points: np.ndarray
    places: np.ndarray
    weight: float = LUMA_LED
    chroma_bits: int = 6
    _table: np.ndarray = field(init=False, repr=False)  # number of the segment + 1; 0 is not worked out yet

    def __post_init__(self) -> None:
        self._table = np.zeros(256 << (2 * self.chroma_bits), np.int16)

    @property
    def segments(self) -> int:
        """Number of segments."""
        return len(self.points) - 1

    def nearest_segment(self, ycc: np.ndarray) -> np.ndarray:
        """Number of the segment nearest to each colour (n, 3) at the curve's own chroma weight."""
        cells = self._cells(ycc)
        found = self._table[cells]
        new = np.unique(cells[found == 0])
        if len(new):
            self._table[new] = self._search(self._centres(new)) + 1
            found = self._table[cells]
        return found.astype(np.intp) - 1

    def project(self, ycc: np.ndarray, weight: np.ndarray | float | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Place along the scale, 0-1 (n,), of colours (n, 3), and the segment it lies on.

        `weight` is the chroma weight, one for all or one each; the curve's own where it is None. Only the
        segments around the nearest one are tried, so that a weight moves the place but not the branch.
        """
        weight = self.weight if weight is None else weight
        nearest = self.nearest_segment(ycc)
        best = np.full(len(ycc), np.inf)
        place = np.zeros(len(ycc))
        segment = nearest.copy()
        for offset in range(-_REACH, _REACH + 1):
            tried = np.clip(nearest + offset, 0, self.segments - 1)
            share, distance = self._on_segment(ycc, tried, weight)
            nearer = distance < best
            best = np.where(nearer, distance, best)
            step = self.places[tried + 1] - self.places[tried]
            place = np.where(nearer, self.places[tried] + share * step, place)
            segment = np.where(nearer, tried, segment)
        return place, segment

    def colours_at(self, place: np.ndarray) -> np.ndarray:
        """Y, Cb, Cr (..., 3) at places 0-1 along the scale."""
        return np.stack([np.interp(place, self.places, self.points[:, k]) for k in range(3)], axis=-1)

    def slopes_at(self, segment: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Change of luma and of chroma (length of the two) in levels per whole scale, on each segment.

        Taken over five segments, so that an 8-bit step does not stand for a slope of nothing.
        """
        first = np.clip(segment - 2, 0, self.segments)
        last = np.clip(segment + 3, 0, self.segments)
        change = (self.points[last] - self.points[first]) / (self.places[last] - self.places[first])[..., None]
        return np.abs(change[..., 0]), np.hypot(change[..., 1], change[..., 2])

    def _cells(self, ycc: np.ndarray) -> np.ndarray:
        codes = np.clip(np.rint(ycc), 0, 255).astype(np.int32)
        bits, lost = self.chroma_bits, 8 - self.chroma_bits
        return (codes[:, 0] << (2 * bits)) | ((codes[:, 1] >> lost) << bits) | (codes[:, 2] >> lost)

    def _centres(self, cells: np.ndarray) -> np.ndarray:
        bits, step = self.chroma_bits, 256 >> self.chroma_bits
        below = (1 << bits) - 1
        codes = np.stack([cells >> (2 * bits), (cells >> bits) & below, cells & below], axis=1).astype(float)
        codes[:, 1:] = codes[:, 1:] * step + (step - 1) / 2.0
        return codes

    def _search(self, ycc: np.ndarray) -> np.ndarray:
        """Nearest segment of each colour, all segments tried."""
        scaled = np.array([1.0, self.weight, self.weight])
        start = self.points[:-1] * scaled
        along = np.diff(self.points * scaled, axis=0)
        length = np.maximum((along**2).sum(axis=1), 1e-12)
        found = np.empty(len(ycc), np.int16)
        for first in range(0, len(ycc), _CHUNK):
            colours = ycc[first : first + _CHUNK] * scaled
            share = np.clip((colours @ along.T - (start * along).sum(axis=1)) / length, 0.0, 1.0)
            distance = np.zeros_like(share)
            for k in range(3):
                distance += (colours[:, k : k + 1] - start[:, k] - share * along[:, k]) ** 2
            found[first : first + _CHUNK] = distance.argmin(axis=1)
        return found

    def _on_segment(
        self, ycc: np.ndarray, segment: np.ndarray, weight: np.ndarray | float
    ) -> tuple[np.ndarray, np.ndarray]:
        start = self.points[segment]
        along = self.points[segment + 1] - start
        off = ycc - start
        square = np.square(weight)
        length = along[:, 0] ** 2 + square * (along[:, 1] ** 2 + along[:, 2] ** 2)
        share = off[:, 0] * along[:, 0] + square * (off[:, 1] * along[:, 1] + off[:, 2] * along[:, 2])
        share = np.clip(share / np.maximum(length, 1e-12), 0.0, 1.0)
        rest = off - share[:, None] * along
        return share, rest[:, 0] ** 2 + square * (rest[:, 1] ** 2 + rest[:, 2] ** 2)
