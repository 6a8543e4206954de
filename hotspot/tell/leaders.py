"""Where the names of pins stand beside a picture, and how their leader lines run. All in points, y upward.

A leader leaves its circle, passes the circles between it and the picture's edge, and ends at its name outside.
Names stand in one row where they fit, else as a stair of flags that fall off to both sides; beside a tall
connector they stand in two columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from hotspot.tell import look
from hotspot.tell.neighbours import spacing

GAP = 7.0
STEP = 1.3
"""Height of a line of text over its size."""
RISE = 13.0
"""Room between the picture's edge and the names, in which leaders slant."""


class Spot(NamedTuple):
    """A pin's circle and its words: name and value, on their own lines or on one."""

    x: float
    y: float
    radius: float
    words: tuple[str, ...]
    bold: bool = False


class Leader(NamedTuple):
    """A line (x, y points) from the circle's rim to the words, and the words with where they stand."""

    path: tuple[tuple[float, float], ...]
    text: str
    at: tuple[float, float]
    ha: str
    va: str
    bold: bool


class Box(NamedTuple):
    """The picture's edges."""

    left: float
    right: float
    bottom: float
    top: float


def leaders(spots: Sequence[Spot], box: Box, wide: float, size: float) -> list[Leader]:
    """Leaders of all spots; `wide` is the width of the whole drawing, `size` that of the text."""
    if not spots:
        return []
    x, y = np.array([spot.x for spot in spots]), np.array([spot.y for spot in spots])
    if np.ptp(y) > 1.3 * np.ptp(x) and len(spots) > 1:
        return _columns(spots, box, size)
    middle = (y.max() + y.min()) / 2
    one_row = _one_row(x, y)
    upper = [spot for spot in spots if one_row or spot.y >= middle - 1e-6]
    lower = [spot for spot in spots if not (one_row or spot.y >= middle - 1e-6)]
    return _side(upper, spots, (box.top, 1), wide, size) + _side(lower, spots, (box.bottom, -1), wide, size)


def room(found: Sequence[Leader], box: Box, wide: float, size: float) -> tuple[float, float, float]:
    """Points that the leaders and names take above and below the picture, and over the sides of the drawing."""
    above, below, over = 0.0, 0.0, 0.0
    for one in found:
        tall = STEP * size * (1 + one.text.count("\n"))
        up = {"bottom": tall, "center": tall / 2}.get(one.va, 0.0)
        down = {"top": tall, "center": tall / 2}.get(one.va, 0.0)
        above = max(above, one.at[1] + up - box.top + 3)
        below = max(below, box.bottom - one.at[1] + down + 3)
        long = max(look.width_of(line, size, "bold") for line in one.text.split("\n"))
        start = one.at[0] - {"left": 0.0, "center": 0.5, "right": 1.0}[one.ha] * long
        over = max(over, -start, start + long - wide)
    return above, below, over


def _one_row(x: np.ndarray, y: np.ndarray) -> bool:
    """True where the spots lie on one straight line, be it tilted."""
    if len(x) < 3:
        return len(x) < 2 or float(np.ptp(y)) < float(np.ptp(x))
    slope = np.polyfit(x, y, 1) if np.ptp(x) > 0 else np.array([0.0, y.mean()])
    return float(np.ptp(y - np.polyval(slope, x))) < 0.5 * spacing(x, y)


def _side(spots: Sequence[Spot], every: Sequence[Spot], edge: tuple[float, int], wide: float, size: float):
    """Leaders upward (1) or downward (-1) over the edge of the picture."""
    if not spots:
        return []
    level, way = edge
    taken: list[float] = []
    paths = []
    for spot in sorted(spots, key=lambda one: (-way * one.y, one.x)):
        out = _way_out(spot, every, edge, taken)
        taken.append(out)
        paths.append((out, spot))
    paths.sort(key=lambda pair: pair[0])
    widths = [max(_width(word, spot, size) for word in spot.words) for _, spot in paths]
    need = sum(widths) + GAP * len(widths)
    if need <= wide:
        return _one_line(paths, widths, edge, wide)
    return _flags(paths, edge, size)


def _one_line(paths, widths, edge: tuple[float, int], wide: float) -> list[Leader]:
    """Names in one row, moved apart, value under the name."""
    level, way = edge
    places = _apart([out for out, _ in paths], widths, wide)
    found = []
    for (out, spot), place in zip(paths, places, strict=True):
        end = (place, level + way * RISE)
        text = "\n".join(spot.words)
        va = "bottom" if way > 0 else "top"
        path = (*_start(spot, out, way), (out, level), end)
        found.append(Leader(path, text, (place, end[1] + way * 2), "center", va, spot.bold))
    return found


def _apart(wanted: Sequence[float], widths: Sequence[float], wide: float) -> list[float]:
    """Middles of names of different widths, in order, near the wanted places, within the drawing."""
    widest = max(widths) + GAP
    if widest * len(widths) <= wide:
        return look.spread(list(wanted), widest, widest / 2, wide - widest / 2)
    left, places = (wide - sum(widths) - GAP * len(widths)) / 2, []
    for width in widths:
        places.append(left + (width + GAP) / 2)
        left += width + GAP
    return places


def _flags(paths, edge: tuple[float, int], size: float) -> list[Leader]:
    """A stair of names on one line each, highest in the middle: no leader crosses a name."""
    level, way = edge
    half = (len(paths) + 1) // 2
    found = []
    for place, (out, spot) in enumerate(paths):
        to_left = place < half
        step = place if to_left else len(paths) - 1 - place
        height = level + way * (RISE * 0.5 + STEP * size * (step + 0.7))
        text = "  ".join(spot.words)
        start = out - 3 if to_left else out + 3
        ha = "right" if to_left else "left"
        path = (*_start(spot, out, way), (out, level), (out, height), (start, height))
        found.append(Leader(path, text, (start + (-2 if to_left else 2), height), ha, "center", spot.bold))
    return found


def _columns(spots: Sequence[Spot], box: Box, size: float) -> list[Leader]:
    """Names to the left and the right of a tall connector."""
    middle = float(np.median([spot.x for spot in spots]))
    found = []
    for way in (-1, 1):
        side = [spot for spot in spots if (spot.x >= middle) == (way > 0)]
        places = look.spread([spot.y for spot in side], STEP * size, box.bottom + size, box.top - size)
        edge = box.right if way > 0 else box.left
        for spot, place in zip(side, places, strict=True):
            path = ((spot.x + way * spot.radius, spot.y), (edge, place), (edge + way * 6, place))
            ha = "left" if way > 0 else "right"
            found.append(Leader(path, "  ".join(spot.words), (edge + way * 8, place), ha, "center", spot.bold))
    return found


def _way_out(spot: Spot, every: Sequence[Spot], edge: tuple[float, int], taken: Sequence[float]) -> float:
    """Where the leader meets the edge: straight over the pin, or the nearest place where no circle is in the way."""
    level, way = edge
    ahead = [one for one in every if one is not spot and way * (one.y - spot.y) > 0.5 * spot.radius]
    step = max(spot.radius / 2, 1.0)
    for k in range(40):
        for away in {k * step, -k * step}:
            out = spot.x + away
            free = all(abs(one.x - out) > one.radius * 1.25 for one in ahead)
            if free and all(abs(other - out) > 4 for other in taken):
                return out
    return spot.x


def _start(spot: Spot, out: float, way: int) -> tuple[tuple[float, float], ...]:
    """The leader's first points: off the rim, aslant to where it runs straight to the edge."""
    away = out - spot.x
    if abs(away) < 0.5:
        return ((spot.x, spot.y + way * spot.radius),)
    turn = (out, spot.y + way * max(abs(away), spot.radius))
    length = float(np.hypot(away, turn[1] - spot.y))
    rim = (spot.x + away / length * spot.radius, spot.y + (turn[1] - spot.y) / length * spot.radius)
    return (rim, turn)


def _width(text: str, spot: Spot, size: float) -> float:
    return look.width_of(text, size, "bold" if spot.bold else "normal")
