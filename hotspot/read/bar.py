"""The colour bar that a camera draws into its picture: found, or read where the person says it is.

A bar is a strip of at least four pixels that are alike across and run steadily along; what tells it from
any other such strip is that one of the known maps fits it from end to end. The ends are then moved to where
that map fits best.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np

from hotspot.errors import refuse
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import ENTRIES, ColourMap, from_strip, known_map, known_names, repeats

End = Literal["top", "bottom", "left", "right"]
MOST_MISFIT = 25.0  # levels of RGB: simulated bars fit to 10 at most, strips that are no bar miss by 87 and more
_ACROSS = 4  # px that must be alike
# Levels across those pixels, and from one pixel along to the next: for clean pictures, and for hard compressed ones.
_ALIKE_STEADY = ((16, 40), (32, 64))
_SHORTEST, _LEAST_PATH = 40, 150  # px along, and levels of colour passed on the way
_LONGER = 3  # times its width: a ground that shades off over the whole picture is no bar
_LUMA = np.array([0.299, 0.587, 0.114])  # ITU-R BT.601
_AS_LIGHT, _APART, _BESIDE = (
    8.0,
    20.0,
    3,
)  # mean levels: of columns of one bar, and of what lies beside it; px looked at
_PROBES = 33
_PARTS = 12  # of a run, at whose edges a bar may begin or end before its ends are moved
_REFINED = 16  # candidates whose ends are moved
_COARSE = 3.0  # times MOST_MISFIT before the ends are moved
_PREFERRED = (
    *("inferno", "magma", "plasma", "viridis", "cividis", "turbo", "jet", "hot", "gray", "rainbow", "bone", "CMRmap"),
    *("gnuplot2", "nipy_spectral", "hsv", "afmhot", "gist_heat", "copper", "gnuplot", "coolwarm", "seismic", "bwr"),
)  # of maps that fit alike the first is named


@dataclass(frozen=True, slots=True)
class Bar:
    """A colour bar. `box` is x, y, width, height in pixels; `colours` its own, from cold to hot; `known` the
    map of matplotlib that fits it best (None if none does) and `misfit` their mean distance in levels of RGB.
    """

    box: tuple[int, int, int, int]
    high_end: End
    colours: ColourMap
    known: str | None
    misfit: float


def find_bar(image: ColourImage, high_end: str | None = None) -> Bar | None:
    """The bar that a known map fits best, or None where no strip of the picture is one.

    `high_end` is where its hot end is; without it right or top, so that a map drawn the other way round
    comes back as its reversed namesake (inferno as inferno_r).
    """
    rgb = image.as_rgb()
    best: Bar | None = None
    for lying in (False, True):
        if high_end is not None and (high_end in ("left", "right")) != lying:
            continue
        hot = high_end or ("right" if lying else "top")
        for strip in _likely(rgb.transpose(1, 0, 2) if lying else rgb):
            bar = _bar_of(rgb, strip, lying, hot)
            if bar is not None and (best is None or _score(bar) < _score(best)):
                best = bar
    return best


def _score(bar: Bar) -> float:
    """Less is better. A part of a bar may fit a smaller map well (hot holds autumn): the longer one counts."""
    return bar.misfit / max(bar.box[2:])


def bar_at(image: ColourImage, box: list[float], high_end: str | None = None) -> Bar:
    """The bar in `box` (x, y, width, height); its ends may move by a few pixels to shed a frame around it.

    Raises InputError for a box that leaves the picture, is too small, or lies across `high_end`.
    """
    x, y, width, height = (round(value) for value in box)
    rows, columns = image.shape
    key = "scale.bar"
    if x < 0 or y < 0 or width < 1 or height < 1 or x + width > columns or y + height > rows:
        found = f"{[x, y, width, height]} does not lie in the picture of {columns} x {rows} pixels"
        raise refuse("session.toml", key, found, "Give x, y, width and height of the bar in pixels.")
    lying = width > height
    if max(width, height) < _PROBES:
        raise refuse(
            "session.toml", key, f"{max(width, height)} pixels are too few", f"Give a bar of {_PROBES} or more."
        )
    allowed = ("left", "right") if lying else ("top", "bottom")
    if high_end is not None and high_end not in allowed:
        found = f"{high_end!r}, but the bar is {width} wide and {height} high"
        raise refuse("session.toml", "scale.high_end", found, f"Give {' or '.join(allowed)}.")
    hot = high_end or ("right" if lying else "top")
    rgb = image.as_rgb()
    strip = _Strip(y, y + height, x, x + width) if lying else _Strip(x, x + width, y, y + height)
    along = _colours_along(rgb.transpose(1, 0, 2) if lying else rgb, strip)
    first, last = _without_frame(along)
    name, backwards, _ = _nearest_map(along[first:last])
    first, last, misfit = _moved(along, first, last, _table(name, backwards), reach=4)
    strip = replace(strip, start=strip.start + first, stop=strip.start + last)
    found = name if misfit <= MOST_MISFIT else None
    return _made(strip, along[first:last], (lying, hot), (found, backwards, misfit))


@dataclass(frozen=True, slots=True)
class _Strip:
    """Pixels left to right (of the upright picture) and start to stop along."""

    left: int
    right: int
    start: int
    stop: int


def _colours_along(upright: np.ndarray, strip: _Strip) -> np.ndarray:
    """Median colour (n, 3) of the middle half of a strip: chroma bleeds in at its sides."""
    margin = (strip.right - strip.left) // 4
    inner = upright[strip.start : strip.stop, strip.left + margin : strip.right - margin]
    return np.median(inner.astype(float), axis=1)


def _likely(upright: np.ndarray) -> list[_Strip]:
    """Strips that run downwards, with the best coarse fits to known maps first, for their length."""
    strips = list(dict.fromkeys(strip for limits in _ALIKE_STEADY for strip in _grouped(upright, *limits)))
    found = [_best_part(strip, _colours_along(upright, strip)) for strip in strips]
    good = [(misfit / (part.stop - part.start), part) for misfit, part in found if misfit < _COARSE * MOST_MISFIT]
    good.sort(key=lambda one: one[0])
    return list(dict.fromkeys(part for _, part in good))[:_REFINED]


def _best_part(strip: _Strip, along: np.ndarray) -> tuple[float, _Strip]:
    """The part of a run of colours (n, 3) that fits a known map best for its length, and its root mean square misfit,
    levels: a run goes on into the ground around the bar where that begins with the colour that the bar ends with.
    """
    edges = np.unique(np.linspace(0, len(along), _PARTS + 1).astype(int))
    first, last = (each.ravel() for each in np.meshgrid(edges[:-1], edges[1:], indexing="ij"))
    long = last - first >= min(_SHORTEST, len(along))
    first, last = first[long], last[long]
    at = first[:, None] + ((np.arange(_PROBES) + 0.5) * (last - first)[:, None] / _PROBES).astype(int)
    probes = along[at].reshape(len(at), -1)
    wanted = _wanted().reshape(len(_ways()), -1)
    squared = (probes**2).sum(axis=1)[:, None] - 2.0 * probes @ wanted.T + (wanted**2).sum(axis=1)[None]
    misfit = np.sqrt(np.maximum(squared.min(axis=1), 0.0) / _PROBES)
    best = int(np.argmin((misfit + 1.0) / (last - first)))
    return float(misfit[best]), replace(strip, start=strip.start + int(first[best]), stop=strip.start + int(last[best]))


def _grouped(upright: np.ndarray, alike: int, steady: int) -> Iterator[_Strip]:
    """Neighbouring columns whose runs begin and end alike."""
    open_groups: list[list[int]] = []  # left, right, start, stop of the last column
    for column, runs in enumerate(_runs(upright, alike, steady)):
        still = []
        for start, stop in runs:
            same = next((g for g in open_groups if abs(g[2] - start) <= 4 and abs(g[3] - stop) <= 4), None)
            if same is None:
                still.append([column, column + _ACROSS, start, stop])
            else:
                open_groups.remove(same)
                still.append([same[0], column + _ACROSS, start, stop])
        for left, right, start, stop in open_groups:
            if stop - start >= _LONGER * (right - left):
                yield _Strip(left, right, start, stop)
        open_groups = still
    for left, right, start, stop in open_groups:
        if stop - start >= _LONGER * (right - left):
            yield _Strip(left, right, start, stop)


def _runs(upright: np.ndarray, most_across: int, most_along: int) -> Iterator[list[tuple[int, int]]]:
    """For each column the runs [start, stop) that could be a bar four pixels wide beginning there."""
    whole = upright.astype(np.int16)
    if whole.shape[0] < _SHORTEST or whole.shape[1] < _ACROSS:
        return
    shifted = [whole[:, k : whole.shape[1] - _ACROSS + 1 + k] for k in range(_ACROSS)]
    spread = np.maximum.reduce(shifted) - np.minimum.reduce(shifted)
    alike = (spread <= most_across).all(axis=2)
    change = np.abs(np.diff(shifted[1], axis=0))
    going_on = alike[1:] & alike[:-1] & (change <= most_along).all(axis=2)
    path = np.cumsum(np.pad(change.sum(axis=2), ((1, 0), (0, 0))), axis=0)
    edges = np.diff(np.pad(going_on.astype(np.int8), ((1, 1), (0, 0))), axis=0)
    for column in range(alike.shape[1]):
        starts = np.flatnonzero(edges[:, column] == 1)
        stops = np.flatnonzero(edges[:, column] == -1)
        long = (stops - starts >= _SHORTEST) & (path[stops, column] - path[starts, column] >= _LEAST_PATH)
        yield [
            _without_plain_ends(shifted[1][:, column], int(start), int(stop) + 1)
            for start, stop in zip(starts[long], stops[long], strict=True)
        ]


def _without_plain_ends(colours: np.ndarray, start: int, stop: int) -> tuple[int, int]:
    """A run less the plain ground that it begins and ends with (a white end on a white page)."""
    run = colours[start:stop]
    from_first = np.flatnonzero((np.abs(run - run[0]) > 4).any(axis=1))
    from_last = np.flatnonzero((np.abs(run - run[-1]) > 4).any(axis=1))
    if not len(from_first) or not len(from_last):
        return start, stop
    return start + max(int(from_first[0]) - 1, 0), start + min(int(from_last[-1]) + 2, len(run))


def _bar_of(rgb: np.ndarray, strip: _Strip, lying: bool, hot: str) -> Bar | None:
    upright = rgb.transpose(1, 0, 2) if lying else rgb
    slack = max(8, (strip.stop - strip.start) // 8)
    wide = replace(strip, start=max(strip.start - slack, 0), stop=min(strip.stop + slack, len(upright)))
    along = _colours_along(upright, wide)
    first, last = strip.start - wide.start, strip.stop - wide.start
    name, backwards, _ = _nearest_map(along[first:last])
    first, last, _ = _moved(along, first, last, _table(name, backwards), reach=slack)
    name, backwards, _ = _nearest_map(along[first:last])
    first, last, misfit = _moved(along, first, last, _table(name, backwards), reach=2)
    if misfit > MOST_MISFIT or last - first < _SHORTEST:
        return None
    found = _widened(upright, replace(wide, start=wide.start + first, stop=wide.start + last), along[first:last])
    if found is None:
        return None
    return _made(found, along[first:last], (lying, hot), (name, backwards, misfit))


def _widened(upright: np.ndarray, strip: _Strip, along: np.ndarray) -> _Strip | None:
    """The strip with all columns that are as light as it along its length; None where the picture goes on beside it
    nearly as before: a smooth part of the scene, which no camera drew.
    """
    part = upright[strip.start : strip.stop].astype(float)
    away = np.abs(part - along[:, None]).mean(axis=(0, 2))
    lighter = np.abs((part - along[:, None]) @ _LUMA).mean(axis=0)
    left, right = strip.left, strip.right
    while left > 0 and lighter[left - 1] < _AS_LIGHT:
        left -= 1
    while right < len(lighter) and lighter[right] < _AS_LIGHT:
        right += 1
    beside = [each for each in (away[max(left - _BESIDE, 0) : left], away[right : right + _BESIDE]) if len(each)]
    if right - left > len(along) / _LONGER or not beside or min(each.max() for each in beside) < _APART:
        return None
    return replace(strip, left=left, right=right)


def _made(
    strip: _Strip,
    along: np.ndarray,
    way: tuple[bool, str],
    fit: tuple[str | None, bool, float],
) -> Bar:
    """The record, with colours from cold to hot and the map's name as seen from the cold end."""
    lying, hot = way
    name, backwards, misfit = fit
    left, right, start, stop = strip.left, strip.right, strip.start, strip.stop
    box = (start, left, stop - start, right - left) if lying else (left, start, right - left, stop - start)
    hot_last = hot in ("right", "bottom")
    if name is not None and backwards == hot_last:
        name = f"{name}_r"
    colours = from_strip("bar", along if hot_last else along[::-1])
    return Bar(box, hot, colours, name, misfit)


def _without_frame(along: np.ndarray) -> tuple[int, int]:
    """First and last + 1 of a strip without up to three pixels of a frame at either end."""
    step = np.abs(np.diff(along, axis=0)).max(axis=1)
    jump = max(12.0, 8.0 * float(np.median(step)))
    first = max((k + 1 for k in range(3) if step[k] > jump), default=0)
    last = min((len(along) - 1 - k for k in range(3) if step[-1 - k] > jump), default=len(along))
    return first, last


def _moved(along: np.ndarray, first: int, last: int, table: np.ndarray, reach: int) -> tuple[int, int, float]:
    """The ends [first, last), moved by at most `reach` to where `table` (256, 3) fits best; and the misfit."""
    return moved_ends((first, last), reach, (_PROBES, len(along)), lambda a, b: _misfit(along[a:b], table))


def moved_ends(
    ends: tuple[int, int], reach: int, lengths: tuple[int, int], misfit: Callable[[int, int], float]
) -> tuple[int, int, float]:
    """Ends [first, last) of a strip where `misfit` is least, coarse steps first; and what it is there.

    No end moves by more than `reach`; `lengths`: the shortest strip that counts, and how long the whole is. Pixels.
    """
    first, last = ends
    best = misfit(first, last)
    step = max(reach // 2, 1)
    while step:
        tries = [(first + a * step, last + b * step) for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b]
        fits = [
            (misfit(a, b), a, b)
            for a, b in tries
            if a >= 0 and b <= lengths[1] and b - a >= lengths[0] and max(abs(a - ends[0]), abs(b - ends[1])) <= reach
        ]
        nearest = min(fits, default=None)
        if nearest is None or nearest[0] >= best:
            step //= 2
        else:
            best, first, last = nearest
    return first, last, best


def _misfit(along: np.ndarray, table: np.ndarray) -> float:
    """Mean distance, levels of RGB, of colours (n, 3) and the table spread evenly over them."""
    wanted = table[np.minimum((np.arange(len(along)) + 0.5) * ENTRIES / len(along), ENTRIES - 1).astype(int)]
    return float(np.sqrt(((along - wanted) ** 2).sum(axis=1)).mean())


def _nearest_map(along: np.ndarray) -> tuple[str, bool, float]:
    """Name, whether it runs backwards, and coarse misfit of the known map nearest to a strip."""
    misfit = _misfits(_probed(along)[None])[0]
    nearest = int(np.argmax(misfit <= misfit.min() + 0.5))  # of equals the one that comes first in the list
    name, backwards = _ways()[nearest]
    return name, backwards, float(misfit[nearest])


def _probed(along: np.ndarray) -> np.ndarray:
    return along[((np.arange(_PROBES) + 0.5) * len(along) / _PROBES).astype(int)]


@cache
def _wanted() -> np.ndarray:
    """Every known map both ways, probed (ways, probes, 3)."""
    return np.stack([_probed(_table(name, backwards)) for name, backwards in _ways()])


def _misfits(probes: np.ndarray) -> np.ndarray:
    """Mean distances (strips, ways) of probed strips (strips, probes, 3) and every known map, both ways."""
    wanted = _wanted()
    return np.stack([np.sqrt(((strip - wanted) ** 2).sum(axis=2)).mean(axis=1) for strip in probes])


def _table(name: str, backwards: bool) -> np.ndarray:
    table = _tables()[name]
    return table[::-1] if backwards else table


@cache
def _ways() -> tuple[tuple[str, bool], ...]:
    return tuple((name, backwards) for name in _tables() for backwards in (False, True))


@cache
def _tables() -> dict[str, np.ndarray]:
    """Full tables (256, 3) of the known maps that are scales: neither striped nor mere labels."""
    from matplotlib import colormaps

    rest = [name for name in known_names() if not name.endswith("_r") and name not in _PREFERRED]
    scale = [name for name in (*_PREFERRED, *rest) if colormaps[name].N >= ENTRIES and _steady(name)]
    shades = np.linspace(0.0, 1.0, ENTRIES)
    return {name: colormaps[name](shades, bytes=True)[:, :3].astype(float) for name in scale}


def _steady(name: str) -> bool:
    from hotspot.errors import InputError

    try:
        repeats(known_map(name))
    except InputError:
        return False
    return True


def strips(upright: np.ndarray) -> list[tuple[int, int, int, int]]:
    """Strips that run downwards in a picture uint8 (rows, columns, 3) and could be a bar: left, right, start, stop."""
    found = {strip for limits in _ALIKE_STEADY for strip in _grouped(upright, *limits)}
    return sorted((strip.left, strip.right, strip.start, strip.stop) for strip in found)


def known_tables() -> dict[str, np.ndarray]:
    """Full tables (256, 3) of the known maps that are scales, the most usual first."""
    return _tables()
