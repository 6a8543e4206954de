"""The colour bar on a photographed screen: found, its ends set, and how well it bears out a map.

A phone changes colours by its exposure, white balance and tone curve, alike for all pixels of one colour. So a
known map is laid on the bar with one power for all channels and a gain and an offset for each; what is left over,
turned into a shift along the scale, is the bar's misfit. Temperatures are read by the bar's own colours.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from math import ceil

import numpy as np

from hotspot.read.bar import End, known_tables, moved_ends, strips
from hotspot.read.colour_maps import ColourMap

_POWERS = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.4)
_PROBES = 33
_WORST = 16.0  # levels left over: more is no bar
_LEAST_COLOUR = 25.0  # levels, standard deviation along a bar over its three channels
_STEP, _ALIKE = 8.0, 6.0  # levels: a bar's end over two pixels; two lines of one bar, on average
_FASTER, _STEP_REACH = 2.0, 11  # times the map's own steps about there, px
_BESIDE, _LEAST_OF = 0.04, 0.4  # of the bar's length; of the highest step so near
_RIM = 2  # px left out at either end
_SHORTEST = 40  # px
_LOOK = 400.0  # px: longer side of the copy in which a bar is looked for
_NODES = 192  # of the curve that is read by
_SMOOTH = 1 / 120  # of the bar's length


@dataclass(frozen=True, slots=True)
class ScreenBar:
    """`box` is x, y, width, height in pixels of the straightened screen. `rgb` (n, 3) are the bar's own colours from
    cold to hot at `places` (n,), and `x`, `y` (n,) where on the screen they were taken. `known` is the map that fits
    best (with `_r` where it runs the other way) and `misfit` what is left over, as a share of the scale (RMS).
    """

    box: tuple[int, int, int, int]
    high_end: End
    rgb: np.ndarray
    places: np.ndarray
    x: np.ndarray
    y: np.ndarray
    known: str
    misfit: float


def find_screen_bar(rgb: np.ndarray, high_end: str | None, only: ColourMap | None = None) -> ScreenBar | None:
    """The strip of a straightened screen uint8 (rows, columns, 3) that a map fits best; `only` leaves one map."""
    import cv2

    shrink = min(_LOOK / max(rgb.shape[:2]), 1.0)
    size = tuple(max(round(side * shrink), 1) for side in rgb.shape[1::-1])
    small = cv2.GaussianBlur(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), (0, 0), 0.7)
    best, least = None, np.inf
    for lying in (False, True):
        if high_end is not None and (high_end in ("left", "right")) != lying:
            continue
        upright = small.transpose(1, 0, 2) if lying else small
        for left, right, start, stop in strips(upright):
            along = _along(upright, left, right, start, stop)
            if np.hypot.reduce(along.std(axis=0)) < _LEAST_COLOUR:  # a panel that shades off
                continue
            score = _least_left_over(along, only) / np.hypot.reduce(along.std(axis=0)) / (stop - start)
            if score < least:
                best, least = (lying, left, right, start, stop), score
    if best is None:
        return None
    lying, *sides = best
    left, right, start, stop = (round(side / shrink) for side in sides)
    box = (start, left, stop - start, right - left) if lying else (left, start, right - left, stop - start)
    return bar_in(rgb, _widened(rgb, box, lying), high_end, only, reach=max(6, (stop - start) // 5))


def bar_in(
    rgb: np.ndarray, box: tuple[int, int, int, int], high_end: str | None, only: ColourMap | None, reach: int = 4
) -> ScreenBar | None:
    """The bar at `box`, its ends moved by at most `reach` pixels; None where no map fits at all."""
    x, y, width, height = box
    lying = width > height
    upright = rgb.transpose(1, 0, 2) if lying else rgb
    left, right, start, stop = (y, y + height, x, x + width) if lying else (x, x + width, y, y + height)
    wide = max(start - reach, 0), min(stop + reach, len(upright))
    if stop - start < _SHORTEST or right - left < 3 or right > upright.shape[1] or start < 0 or left < 0:
        return None
    along = _along(upright, left, right, *wide)
    first, last = start - wide[0], min(stop, wide[1]) - wide[0]
    name, backwards = _nearest(along[first:last], only)
    table = _table(name, backwards, only)
    first, last, left_over = _moved(along, (first, last), table, reach)
    first, last = _to_steps(along, first, last, table)
    if left_over > _WORST:
        return None
    hot: End = high_end or ("right" if lying else "top")
    hot_last = hot in ("right", "bottom")
    inner = np.arange(first + _RIM, last - _RIM)  # its end pixels are mixed with what is around the bar
    middle = np.full(len(inner), (left + right - 1) / 2.0)
    running = wide[0] + inner.astype(float)
    places = (inner - first + 0.5) / (last - first)
    made = ScreenBar(
        box=(wide[0] + first, left, last - first, right - left)
        if lying
        else (left, wide[0] + first, right - left, last - first),
        high_end=hot,
        rgb=along[inner],
        places=places,
        x=running if lying else middle,
        y=middle if lying else running,
        known=f"{name}_r" if backwards == hot_last else name,
        misfit=_misfit(along[inner], table, places),
    )
    if not hot_last:
        made = replace(made, rgb=made.rgb[::-1], x=made.x[::-1], y=made.y[::-1])  # places are even about the middle
    return _smoothed(made)


def _smoothed(bar: ScreenBar) -> ScreenBar:
    """The same bar with its colours evened out along it, at evenly spaced places from end to end."""
    from scipy.ndimage import gaussian_filter1d

    n = len(bar.rgb)
    width = max(n * _SMOOTH, 0.8)
    margin = ceil(4 * width)
    # Mirrored through its end colours, so that a slope goes on beyond the ends and is not flattened there.
    grown = np.pad(bar.rgb, ((margin, margin), (0, 0)), mode="reflect", reflect_type="odd")
    even = gaussian_filter1d(grown, width, axis=0)[margin : margin + n]
    places = np.linspace(bar.places[0], bar.places[-1], _NODES)
    rgb = np.stack([np.interp(places, bar.places, even[:, k]) for k in range(3)], axis=1)
    x, y = (np.interp(places, bar.places, each) for each in (bar.x, bar.y))
    return replace(bar, rgb=rgb, places=places, x=x, y=y)


def _along(upright: np.ndarray, left: int, right: int, start: int, stop: int) -> np.ndarray:
    """Mean colours (n, 3) of the middle half of a strip that runs downwards."""
    margin = (right - left) // 4
    return upright[start:stop, left + margin : right - margin].astype(float).mean(axis=1)


def _toned(along: np.ndarray, tables: np.ndarray) -> np.ndarray:
    """Tables (maps, n, 3) with the powers, gains and offsets that bring each nearest to `along` (n, 3)."""
    base = np.stack([(tables / 255.0) ** power for power in _POWERS], axis=1)  # (maps, powers, n, 3)
    centred = base - base.mean(axis=2, keepdims=True)
    own = along - along.mean(axis=0)
    gain = (centred * own).sum(axis=2) / np.maximum((centred**2).sum(axis=2), 1e-9)
    fitted = along.mean(axis=0) + np.clip(gain, 0.0, None)[:, :, None] * centred
    best = ((fitted - along) ** 2).sum(axis=(2, 3)).argmin(axis=1)
    return fitted[np.arange(len(tables)), best]


def _left_over(along: np.ndarray, tables: np.ndarray) -> np.ndarray:
    """Mean distance in levels (maps,) from toned tables."""
    return np.sqrt(((_toned(along, tables) - along) ** 2).sum(axis=2)).mean(axis=1)


def _least_left_over(along: np.ndarray, only: ColourMap | None) -> float:
    return float(_left_over(_spread(along, _PROBES), _ways(only)[1]).min())


def _nearest(along: np.ndarray, only: ColourMap | None) -> tuple[str, bool]:
    names, tables = _ways(only)
    over = _left_over(_spread(along, _PROBES), tables)
    return names[int(np.argmax(over <= over.min() + 0.3))]  # of equals the one that comes first in the list


def _moved(along: np.ndarray, ends: tuple[int, int], table: np.ndarray, reach: int) -> tuple[int, int, float]:
    """The ends where the toned map is left over least."""

    def left(a: int, b: int) -> float:
        return float(_left_over(along[a:b], _spread(table, b - a)[None])[0])

    return moved_ends(ends, reach, (_SHORTEST, len(along)), left)


def _to_steps(along: np.ndarray, first: int, last: int, table: np.ndarray) -> tuple[int, int]:
    """The ends on the steps from the bar's colours to what is around it; where there is none, as they were.

    With a power, a gain and an offset free, a piece of a grey bar fits as well as the whole of it. A step is higher
    than what the map itself makes about there, for some run fast towards an end, and not far below the highest beside.
    """
    from scipy.ndimage import maximum_filter1d

    step = np.abs(along[2:] - along[:-2]).max(axis=1)  # step[i] is at i + 1
    quarter = (last - first) // 6
    inner = step[first + quarter : last - quarter]
    if not len(inner):
        return first, last
    own = _toned(along[first:last], _spread(table, last - first)[None])[0]
    fastest = np.zeros(len(step))
    fastest[first : last - 2] = maximum_filter1d(np.abs(own[2:] - own[:-2]).max(axis=1), _STEP_REACH)
    highest = maximum_filter1d(step, 2 * round(_BESIDE * (last - first)) + 1)
    high = np.maximum(max(_STEP, 2.5 * float(np.percentile(inner, 95))), _FASTER * fastest)
    high = np.maximum(high, _LEAST_OF * highest)
    after = np.flatnonzero((step > high)[last - quarter :])
    before = np.flatnonzero((step > high)[: first + quarter])
    if len(after):
        at = last - quarter + int(after[0])
        last = at + 1 + int(np.argmax(step[at : at + 4])) + 1
    if len(before):
        at = int(before[-1])
        low = max(at - 3, 0)
        first = low + int(np.argmax(step[low : at + 1])) + 1
    return first, min(last, len(along))


def _widened(rgb: np.ndarray, box: tuple[int, int, int, int], lying: bool) -> tuple[int, int, int, int]:
    """The box with the lines beside it that have the same colours."""
    x, y, width, height = box
    upright = (rgb.transpose(1, 0, 2) if lying else rgb).astype(float)
    left, right, start, stop = (y, y + height, x, x + width) if lying else (x, x + width, y, y + height)
    own = _along(upright, left, right, start, stop)
    alike = np.abs(upright[start:stop] - own[:, None]).mean(axis=(0, 2)) < _ALIKE
    while left > 0 and alike[left - 1]:
        left -= 1
    while right < len(alike) and alike[right]:
        right += 1
    return (start, left, stop - start, right - left) if lying else (left, start, right - left, stop - start)


def _misfit(along: np.ndarray, table: np.ndarray, places: np.ndarray) -> float:
    """How far the bar's colours lie along the toned map from where they should, RMS, as a share of the scale."""
    wanted = np.stack([np.interp(places * (len(table) - 1), np.arange(len(table)), table[:, k]) for k in range(3)], 1)
    toned = _toned(along, wanted[None])[0]
    found = nearest_place(along, toned, places)
    return float(np.sqrt(np.mean((found - places) ** 2)))


def nearest_place(colours: np.ndarray, curve: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Places (n,) on a polyline `curve` (m, 3) at `places` (m,) that are nearest to colours (n, 3)."""
    start, way = curve[:-1], np.diff(curve, axis=0)
    length = np.maximum((way**2).sum(axis=1), 1e-9)
    share = np.clip(((colours @ way.T) - (start * way).sum(axis=1)) / length, 0.0, 1.0)
    reach = (colours**2).sum(axis=1)[:, None] - 2 * colours @ start.T + (start**2).sum(axis=1)
    distance = reach + share * share * length - 2 * share * (colours @ way.T - (start * way).sum(axis=1))
    best = distance.argmin(axis=1)
    return places[best] + share[np.arange(len(colours)), best] * np.diff(places)[best]


def _spread(rows: np.ndarray, count: int) -> np.ndarray:
    """`count` rows evenly from (n, 3), each the one at its middle."""
    at = (np.arange(count) + 0.5) * len(rows) / count - 0.5
    return np.stack([np.interp(at, np.arange(len(rows)), rows[:, k]) for k in range(3)], axis=1)


def _ways(only: ColourMap | None) -> tuple[list[tuple[str, bool]], np.ndarray]:
    """Names and directions, and probed tables (ways, probes, 3)."""
    if only is None:
        return _all_ways()
    table = _even(only)
    both = np.stack([_spread(table, _PROBES), _spread(table[::-1], _PROBES)])
    return [(only.name, False), (only.name, True)], both


@cache
def _all_ways() -> tuple[list[tuple[str, bool]], np.ndarray]:
    tables = known_tables()
    names = [(name, backwards) for name in tables for backwards in (False, True)]
    probed = [_spread(tables[name][::-1] if backwards else tables[name], _PROBES) for name, backwards in names]
    return names, np.stack(probed)


def _table(name: str, backwards: bool, only: ColourMap | None) -> np.ndarray:
    table = known_tables()[name] if only is None else _even(only)
    return table[::-1] if backwards else table


def _even(colours: ColourMap) -> np.ndarray:
    places = np.linspace(0.0, 1.0, 256)
    return np.stack([np.interp(places, colours.places, colours.rgb[:, k]) for k in range(3)], axis=1)
