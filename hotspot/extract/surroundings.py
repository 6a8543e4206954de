"""What the surroundings of the connector moved by, where nobody marked or logged the air: tiles all over the picture.

Most of what lies about a connector is not warmed by its load. What the largest part of it has in common is the air's
drift and the camera's own, as the pins feel both. That part is found frame by frame as the shortest half of the tiles
(P. J. Rousseeuw and A. M. Leroy, Robust Regression and Outlier Detection, 1987, chapter 4; cited from memory): a wire,
a warm housing or a hand may spoil nearly half of them.
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

LEAST_UNSURE_K = 0.05
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


def tiles_of(pin_map: PinMap, shape: tuple[int, int], air_wanted: bool) -> Tiles | None:
    """Tiles of a picture (rows, columns) away from the pins and from every marked region; None where few are left, and
    where a region shows it better: a reference, or the air itself if `air_wanted` (nobody told it otherwise).
    """
    kinds = {region.kind for region in pin_map.regions}
    if "reference" in kinds or (air_wanted and "ambient" in kinds):
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
    moved, half = shortest_half(tiles - first)
    seen = np.isfinite(moved)
    if seen.mean() < 0.5:
        return None
    level, spread = shortest_half(first[None, :])
    unsure = max(LEAST_UNSURE_K, float(np.quantile(half[seen], 0.9)))
    moved = np.interp(times_s, times_s[seen], moved[seen])
    return Surroundings(moved, unsure, float(level[0]), float(spread[0]), tiles.shape[1])


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


def shortest_half(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and half-width (rows,) of the shortest stretch that holds more than half of each row's values.

    `values` (rows, n), NaN where there is none; NaN from rows with fewer than LEAST_TILES.
    """
    middle, half = np.full(len(values), np.nan), np.full(len(values), np.nan)
    ordered = np.sort(values, axis=1)  # NaN last
    counts = np.isfinite(values).sum(axis=1)
    for count in np.unique(counts[counts >= LEAST_TILES]):
        rows = np.flatnonzero(counts == count)
        held = count // 2 + 1
        part = ordered[rows, :count]
        widths = part[:, held - 1 :] - part[:, : count - held + 1]
        at = widths.argmin(axis=1)
        sums = np.cumsum(np.pad(part, ((0, 0), (1, 0))), axis=1)
        every = np.arange(len(rows))
        middle[rows] = (sums[every, at + held] - sums[every, at]) / held
        half[rows] = widths[every, at] / 2.0
    return middle, half
