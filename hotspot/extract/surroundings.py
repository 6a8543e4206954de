"""What the surroundings of the connector moved by, where nobody marked or logged the air: tiles all over the picture.

What lies about a connector follows the air, is seen with the camera's own drift and shutter steps, and is warmed by the
load less the farther off it lies. So the quarter of the tiles that warms least over the whole test tells what air and
camera moved by; how far the usual tile lies over it tells how much warmth may still be in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.doubts import BIT
from hotspot.poses import Pose
from hotspot.records import PinMap

ACROSS, DOWN, PIXELS = 8, 6, 4
"""Tiles along a picture's two sides, and the pixels asked of each: few, for every pixel of a picture costs."""

LEAST_TILES = 8
KEPT_OFF_RADII, KEPT_OFF_PITCHES = 3.0, 1.5
"""How far tiles stay off the pins, and off the box about them all: the housing lies there."""

PAINTED_SHARE = 0.2
"""A tile that changes from frame to frame by less than this share of the usual one is printed (a bar, a rim)."""

LEAST_COOLEST = 4
LEAST_UNSURE_K, BEYOND_SPREADS = 0.05, 1.5
"""Standard uncertainty of what they moved by: at least so much, and so many times what the usual tile lies over the
quarter that warms least; tests/benchmarks/ambient.py shows what is held."""

WARMS_SHARE, WARMS_K = 0.25, 2.0
"""Surroundings that move by more than this share of what the pins move, and by this much, may be warmed. All bounds
here are ours."""

UNREADABLE = sum(
    BIT[name]
    for name in ("clipped_low", "clipped_high", "printed_over", "off_map", "no_value", "glare", "ambiguous_colour")
)


@dataclass(frozen=True, slots=True)
class Tiles:
    """`PIXELS` pixels (k,) of each of n tiles, tile by tile, on the first good frame."""

    rows: np.ndarray
    columns: np.ndarray

    def seen(self, pose: Pose, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Rows and columns (k,) in a frame of that pose and shape, and which of them lie inside it."""
        rows, columns = (np.rint(each).astype(int) for each in pose.at(self.rows, self.columns))
        inside = (rows >= 0) & (rows < shape[0]) & (columns >= 0) & (columns < shape[1])
        return np.clip(rows, 0, shape[0] - 1), np.clip(columns, 0, shape[1] - 1), inside

    def means(self, values: np.ndarray, bits: np.ndarray, inside: np.ndarray) -> np.ndarray:
        """Means (frames, n) of `values` (frames, k); NaN where a pixel of the tile tells nothing."""
        good = inside & np.isfinite(values) & ((bits & np.uint32(UNREADABLE)) == 0)
        return np.where(good, values, np.nan).reshape(len(values), -1, PIXELS).mean(axis=2)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """`moved_k` (frames,): K by which they lie over where they were in the frames of the start, with its standard
    uncertainty `unsure_k` over the whole test; `level_c` °C then, half of the tiles within `level_k` of it."""

    moved_k: np.ndarray
    unsure_k: float
    level_c: float
    level_k: float
    tiles: int

    @property
    def reach_k(self) -> float:
        """From the lowest to the highest of `moved_k`."""
        return float(np.ptp(self.moved_k))

    def warmed(self, pins_moved_k: float) -> bool:
        """Whether something may warm them, pins having moved by so much."""
        return self.reach_k > max(WARMS_K, WARMS_SHARE * pins_moved_k)


def tiles_of(pin_map: PinMap, shape: tuple[int, int]) -> Tiles | None:
    """Tiles of a picture (rows, columns) away from the pins and from every marked region; None where few are left, and
    where a region of reference shows it better.
    """
    if any(region.kind == "reference" for region in pin_map.regions):
        return None
    down, across = (np.arange(n) + 0.5 for n in (DOWN, ACROSS))
    quarter = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) / 4.0
    middles = np.stack(np.meshgrid(down, across, indexing="ij"), axis=-1).reshape(-1, 1, 2)
    places = (middles + quarter) * np.array([shape[0] / DOWN, shape[1] / ACROSS]) - 0.5
    rows, columns = np.rint(places).astype(int)[..., 0], np.rint(places).astype(int)[..., 1]
    free = ~(_about_pins(pin_map, rows, columns) | _marked(pin_map, rows, columns)).any(axis=1)
    if free.sum() < LEAST_TILES:
        return None
    return Tiles(rows[free].ravel(), columns[free].ravel())


def _about_pins(pin_map: PinMap, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Which pixels are likely the housing's."""
    x, y, radius = (np.asarray(each, dtype=float) for each in (pin_map.x_px, pin_map.y_px, pin_map.radius_px))
    apart = np.hypot(x[:, None] - x, y[:, None] - y) + np.where(np.eye(len(x)) > 0, np.inf, 0.0)
    pitch = float(np.median(apart.min(axis=1))) if len(x) > 1 else 0.0
    off = max(KEPT_OFF_RADII * float(radius.max()), KEPT_OFF_PITCHES * pitch)
    in_rows = (rows >= y.min() - off) & (rows <= y.max() + off)
    return in_rows & (columns >= x.min() - off) & (columns <= x.max() + off)


def _marked(pin_map: PinMap, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    inside = np.zeros(rows.shape, dtype=bool)
    for region in pin_map.regions:
        x, y, width, height = region.box
        inside |= (columns > x - 1) & (columns < x + width) & (rows > y - 1) & (rows < y + height)
    return inside


def surroundings_of(times_s: np.ndarray, tiles_c: np.ndarray, start: Sequence[int]) -> Surroundings | None:
    """What the tiles (frames, n) show; `start` are the places of the frames that the others are held against.

    `times_s` [s] (frames,) rising. None where fewer than eight tiles are read in most frames. A frame that shows too
    few has what lies between its neighbours.
    """
    if not len(start) or not tiles_c.shape[1]:
        return None
    tiles = tiles_c[:, _usable(tiles_c, start)]
    if tiles.shape[1] < LEAST_TILES:
        return None
    first = _nanmean(tiles[list(start)])
    away = tiles - first
    middle = _nanmedian(away)
    seen = np.isfinite(middle)
    if seen.mean() < 0.5:
        return None
    later = np.flatnonzero(seen)[-max(1, int(seen.sum()) // 2) :]
    warmth = _nanmedian((away[later] - middle[later, None]).T)
    coolest = np.argsort(np.nan_to_num(warmth, nan=np.inf), kind="stable")[: max(LEAST_COOLEST, tiles.shape[1] // 4)]
    moved = _nanmedian(away[:, coolest])
    seen &= np.isfinite(moved)
    if not seen.any():
        return None
    spread = float(np.quantile(np.abs(middle - moved)[seen], 0.9))
    quarters = np.percentile(first, [25, 75])
    moved = np.interp(times_s, times_s[seen], moved[seen])
    unsure = float(np.hypot(LEAST_UNSURE_K, BEYOND_SPREADS * spread))
    return Surroundings(moved, unsure, float(np.median(first)), float(np.ptp(quarters)) / 2.0, tiles.shape[1])


def _usable(tiles: np.ndarray, start: Sequence[int]) -> np.ndarray:
    """Tiles (n,) that are read at the start and in most frames, and are not printed."""
    read = (np.isfinite(tiles).mean(axis=0) >= 0.8) & np.isfinite(tiles[list(start)]).any(axis=0)
    changes = np.full(tiles.shape[1], np.nan)
    if len(tiles) > 1 and read.any():
        changes[read] = _nanmean(np.abs(np.diff(tiles[:, read], axis=0)))
    usual = float(np.median(changes[np.isfinite(changes)])) if np.isfinite(changes).any() else 0.0
    return read & ~(changes < PAINTED_SHARE * usual)


def _nanmean(values: np.ndarray) -> np.ndarray:
    """Mean over the first axis of what is there; NaN where nothing is."""
    there = np.isfinite(values)
    count = there.sum(axis=0)
    total = np.where(there, values, 0.0).sum(axis=0)
    return np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)


def _nanmedian(values: np.ndarray) -> np.ndarray:
    """Median of each row of what is there; NaN where nothing is."""
    result = np.full(len(values), np.nan)
    there = np.isfinite(values).any(axis=1)
    if there.any():
        result[there] = np.nanmedian(values[there], axis=1)
    return result
