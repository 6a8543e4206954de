"""A colour map as a curve through three numbers, and the place on it that a colour stands for.

For pictures that keep every colour as it was drawn the three numbers are R, G, B. For compressed ones they are
luma and chroma, and luma leads: it has the picture's full resolution and the finer quantisation, while chroma is
halved in most JPEGs and videos (ITU-T T.81 with 2x2 sampling) and is blurred exactly where a small hot pin stands out
of its surroundings. Chroma with a small weight chooses the branch where a map passes the same luma twice, and
helps where luma hardly changes.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

_CHUNK = 2048
_FINE = 4096  # places at which colours and slopes are kept
_AROUND = np.linspace(-0.03, 0.03, 61)  # of the scale: places that noise may have moved a colour from
_BACK = 0.6  # levels that luma may go back without turning
_EVEN = 0.76  # least over greatest slope within reach: there the nearest place is the mean already


@dataclass(slots=True)
class Curve:
    """A polyline through `points` (n, 3), 0-255, at `places` (n,) 0-1 along the scale.

    `weight` is that of a level of the second and third number against one of the first. The place of a colour
    is worked out once per cell of colours met and kept: the first number in steps of 1 / `first_scale`, the
    others in `1 << bits` steps. Only the pages of the table that are met are ever held in memory.

    With `noise`, the standard deviation of the first number, the place is not the nearest one but the mean of those
    around it, as likely as the colour makes them. Where the first number hardly changes over a stretch, the nearest
    place is off by far more to the flat side than to the steep one, and a whole surface there would read low or high.
    """

    points: np.ndarray
    places: np.ndarray
    weight: float = 1.0
    bits: int = 8
    first_scale: float = 1.0
    noise: float = 0.0
    _table: np.ndarray = field(init=False, repr=False)  # place + 1; 0 is not worked out yet
    _fine: np.ndarray = field(init=False, repr=False)
    _slopes: np.ndarray = field(init=False, repr=False)
    _runs: np.ndarray = field(init=False, repr=False)  # which stretch, between turns of the first number
    _uneven: np.ndarray = field(init=False, repr=False)  # whether slopes of the first number differ nearby

    def __post_init__(self) -> None:
        self._table = np.zeros(int(np.ceil(256 * self.first_scale)) << (2 * self.bits), np.float32)
        fine = np.linspace(0.0, 1.0, _FINE)
        self._fine = np.stack([np.interp(fine, self.places, self.points[:, k]) for k in range(3)], axis=1)
        # Over about six of 256 steps, so that rounding to 8 bits does not make a slope of nothing.
        reach = _FINE // 85
        after, before = np.minimum(np.arange(_FINE) + reach, _FINE - 1), np.maximum(np.arange(_FINE) - reach, 0)
        change = (self._fine[after] - self._fine[before]) / (fine[after] - fine[before])[:, None]
        self._runs = _runs_between_turns(self._fine[:, 0])
        self._fine = self._fine.astype(np.float32)
        self._slopes = np.stack([np.abs(change[:, 0]), np.hypot(change[:, 1], change[:, 2])], axis=1)
        self._uneven = _differ_nearby(self._slopes[:, 0])

    def place_of(self, colours: np.ndarray) -> np.ndarray:
        """Places along the scale, 0-1 (n,), nearest to colours (n, 3)."""
        cells = self._cells(colours)
        found = self._table[cells]
        if not found.all():
            new = np.unique(cells[found == 0])
            centres = self._centres(new)
            place = self._search(centres)
            if self.noise:
                uneven = self._uneven[_fine_of(place)]
                place[uneven] = self._likely(centres[uneven], place[uneven])
            self._table[new] = place + 1.0
            found = self._table[cells]
        return found.astype(np.float64) - 1.0

    def colours_at(self, place: np.ndarray) -> np.ndarray:
        """Colours (n, 3) at places 0-1 along the scale."""
        return self._fine[_fine_of(place)]

    def slopes_at(self, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Change of the first number, and of the two others together, in levels per whole scale."""
        slopes = self._slopes[_fine_of(place)]
        return slopes[:, 0], slopes[:, 1]

    def _cells(self, colours: np.ndarray) -> np.ndarray:
        bits = self.bits
        top = (1 << bits) - 1
        highest = (len(self._table) >> (2 * bits)) - 1
        cells = np.clip(np.rint(colours[:, 0] * self.first_scale), 0, highest).astype(np.int32) << (2 * bits)
        for k, shift in ((1, bits), (2, 0)):
            cells |= np.clip(np.floor((colours[:, k] + 0.5) * ((top + 1) / 256)), 0, top).astype(np.int32) << shift
        return cells

    def _centres(self, cells: np.ndarray) -> np.ndarray:
        bits, step = self.bits, 256 >> self.bits
        below = (1 << bits) - 1
        codes = np.stack([cells >> (2 * bits), (cells >> bits) & below, cells & below], axis=1).astype(float)
        codes[:, 0] /= self.first_scale
        codes[:, 1:] = codes[:, 1:] * step + (step - 1) / 2.0
        return codes

    def _search(self, colours: np.ndarray) -> np.ndarray:
        """The nearest place of each colour by projection on every segment."""
        scaled = np.array([1.0, self.weight, self.weight])
        start = self.points[:-1] * scaled
        along = np.diff(self.points * scaled, axis=0)
        length = np.maximum((along**2).sum(axis=1), 1e-12)
        found = np.empty(len(colours))
        for first in range(0, len(colours), _CHUNK):
            part = colours[first : first + _CHUNK] * scaled
            share = np.clip((part @ along.T - (start * along).sum(axis=1)) / length, 0.0, 1.0)
            # |c - s - u a|2 less |c|2, which is the same for every segment.
            distance = share * (share * length - 2.0 * (part @ along.T - (start * along).sum(axis=1)))
            distance += (start**2).sum(axis=1) - 2.0 * part @ start.T
            best = distance.argmin(axis=1)
            along_best = share[np.arange(len(part)), best] * (self.places[best + 1] - self.places[best])
            found[first : first + _CHUNK] = self.places[best] + along_best
        return found

    def _likely(self, colours: np.ndarray, nearest: np.ndarray) -> np.ndarray:
        """Mean of the places around the nearest ones, each by its likelihood: every place of the scale is as likely as
        any other beforehand, noise is normal, and no turn of the first number is crossed.
        """
        found = np.empty(len(colours))
        scaled = np.array([1.0, self.weight, self.weight], np.float32)
        for first in range(0, len(colours), _CHUNK):
            part = slice(first, first + _CHUNK)
            around = nearest[part, None] + _AROUND
            fine = _fine_of(around)
            off = (((self._fine[fine] - colours[part, None].astype(np.float32)) * scaled) ** 2).sum(axis=2)
            same_run = self._runs[fine] == self._runs[_fine_of(nearest[part])][:, None]
            off = np.where(same_run & (around >= 0.0) & (around <= 1.0), off, np.inf)
            likely = np.exp((off.min(axis=1, keepdims=True) - off) / (2.0 * self.noise**2))
            found[part] = (likely * around).sum(axis=1) / likely.sum(axis=1)
        return found


def _differ_nearby(slopes: np.ndarray) -> np.ndarray:
    """Whether `slopes` (n,) within the reach of _AROUND differ by more than _EVEN allows (n,)."""
    import cv2

    line, reach = slopes.astype(np.float32)[None], np.ones((1, 2 * int(_fine_of(_AROUND[-1])) + 1), np.uint8)
    return (cv2.erode(line, reach) < _EVEN * cv2.dilate(line, reach))[0]


def _runs_between_turns(values: np.ndarray) -> np.ndarray:
    """Numbers (n,) of the stretches over which `values` (n,) only rise or only fall, wiggles of _BACK left out."""
    runs = np.zeros(len(values), np.int32)
    way, extreme, at = 0.0, float(values[0]), 0
    for k, value in enumerate(values.tolist()):
        runs[k] = runs[k - 1] if k else 0
        if way and way * (value - extreme) >= 0.0:
            extreme, at = value, k
        elif abs(value - extreme) > _BACK:
            if way:
                runs[at + 1 : k + 1] += 1
            way, extreme, at = np.sign(value - extreme), value, k
    return runs


def _fine_of(place: np.ndarray) -> np.ndarray:
    return np.rint(np.clip(place, 0.0, 1.0) * (_FINE - 1)).astype(np.intp)
