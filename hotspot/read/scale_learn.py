"""Where the two ends of a scale are printed: lines of print near the ends of the bar, found from many frames."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hotspot.read.bar import Bar
from hotspot.read.scale_digits import ENLARGED, SCRAP, TALL, Line, characters, inked, strokes

_REACH = (0.34, 0.13)  # of the picture's width and height: how far from the bar's end a number may begin or end
_LOWEST, _HIGHEST = 5.0, 48.0  # px, heights of digits
# Cut, widest stroke of the height, share of the frames in which a line shows: as a rule; fainter print, and touching;
# numbers of one digit that breaks.
LOOKS = ((0.5, 1.1, 0.85), (0.35, 4.0, 0.85), (0.35, 4.0, 0.4))
_CUTS = (0.5, 0.42, 0.58, 0.35, 0.66)
_MOST_CANDIDATES = 8
_CONTRAST = 40.0  # levels between ink and ground


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of the picture around one end of the bar: x, y, width, height; the bar's end and the bar in it, in px
    of the zone (the bar as left, top, right, bottom).
    """

    box: tuple[int, int, int, int]
    end: tuple[float, float]
    bar: tuple[int, int, int, int]

    def of(self, picture: np.ndarray) -> np.ndarray:
        """Its part of a picture (rows, columns, ...)."""
        x, y, width, height = self.box
        return picture[y : y + height, x : x + width]


def zones_of(bar: Bar, shape: tuple[int, int]) -> tuple[Zone, Zone]:
    """The zones around the cold and the hot end of the bar, in a picture of `shape` (rows, columns)."""
    x, y, width, height = bar.box
    middle = (x + width / 2.0, y + height / 2.0)
    ends = {
        "top": (middle[0], float(y)),
        "bottom": (middle[0], float(y + height)),
        "left": (float(x), middle[1]),
        "right": (float(x + width), middle[1]),
    }
    opposite = {"top": "bottom", "bottom": "top", "left": "right", "right": "left"}
    return _zone(bar.box, ends[opposite[bar.high_end]], shape), _zone(bar.box, ends[bar.high_end], shape)


def _zone(bar: tuple[int, int, int, int], end: tuple[float, float], shape: tuple[int, int]) -> Zone:
    rows, columns = shape
    x, y, width, height = bar
    across, down = max(_REACH[0] * columns, 60.0), max(_REACH[1] * rows, 28.0)
    # Along the bar a zone ends at its middle, so that the two never meet.
    if width > height:
        outer, inner = across, min(across, width / 2.0)
        left, right = (end[0] - outer, end[0] + inner) if end[0] <= x else (end[0] - inner, end[0] + outer)
        top, bottom = y - down, y + height + down
    else:
        outer, inner = down, min(down, height / 2.0)
        left, right = x - across, x + width + across
        top, bottom = (end[1] - outer, end[1] + inner) if end[1] <= y else (end[1] - inner, end[1] + outer)
    left, top = max(math.floor(left), 0), max(math.floor(top), 0)
    right, bottom = min(math.ceil(right), columns), min(math.ceil(bottom), rows)
    within = (x - left, y - top, x + width - left, y + height - top)
    return Zone((left, top, right - left, bottom - top), (end[0] - left, end[1] - top), within)


def without_bar(luma: np.ndarray, zone: Zone, fill: float, beside: int = 2) -> np.ndarray:
    """The zone's luma (rows, columns) with the bar and its frame, `beside` px wide, painted over."""
    left, top, right, bottom = zone.bar
    out = luma.copy()
    out[max(top - 2, 0) : max(bottom + 2, 0), max(left - beside, 0) : max(right + beside, 0)] = fill
    return out


@dataclass(frozen=True, slots=True)
class _Seen:
    """A stroke as tall as a digit may be: in which frame, top, bottom [px], distance to the bar's end [px]."""

    frame: int
    top: float
    bottom: float
    away: float


def lines_of(lumas: Sequence[np.ndarray], zone: Zone, look: tuple[float, ...] = LOOKS[0]) -> list[Line]:
    """Lines of print in a zone, seen in most of some frames, those next to the bar's end first, light print first.
    `look` is one of `LOOKS`.
    """
    found: list[tuple[float, Line]] = []
    whole = np.stack(lumas)
    dark, bright = np.percentile(whole, 1.0), np.percentile(whole, 99.5)
    for ink, ground in ((bright, dark), (dark, bright)):
        if abs(ink - ground) < _CONTRAST:
            continue
        cleared = [without_bar(luma, zone, ground) for luma in lumas]
        for line, away in _rows_of_print(cleared, zone, (ink, ground), look):
            better = _adjusted(cleared, line)
            if better is not None:
                found.append((away + (0.0 if ink > ground else 2.0), better))
    found.sort(key=lambda one: one[0])
    return [line for _, line in found[:_MOST_CANDIDATES]]


def _rows_of_print(
    lumas: Sequence[np.ndarray], zone: Zone, levels: tuple[float, float], look: tuple[float, ...]
) -> list[tuple[Line, float]]:
    """Pairs of top and bottom at which strokes stand in most frames, with their distance to the bar's end. `levels`
    are ink and ground, `look` one of `LOOKS`.
    """
    (ink, ground), (cut, widest, often) = levels, look
    seen: list[_Seen] = []
    for frame, luma in enumerate(lumas):
        _, boxes = strokes(inked(luma, ink, ground), cut)
        for left, top, right, bottom, _ in boxes[1:] / ENLARGED:
            high, wide = bottom - top, right - left
            if _LOWEST <= high <= _HIGHEST and 0.12 * high < wide < widest * high:
                gap_x = max(left - zone.end[0], zone.end[0] - right, 0.0)
                gap_y = max(top - zone.end[1], zone.end[1] - bottom, 0.0)
                seen.append(_Seen(frame, top, bottom, math.hypot(gap_x, gap_y)))
    out = []
    while seen:
        counts = [len({b.frame for b in seen if _same(a, b)}) if k < 400 else 0 for k, a in enumerate(seen)]
        best = seen[int(np.argmax(counts))]
        if max(counts) < often * len(lumas) or len(out) >= _MOST_CANDIDATES:
            break
        mine = [one for one in seen if _same(best, one)]
        seen = [one for one in seen if not _same(best, one)]
        top, bottom = (float(np.median([getattr(one, side) for one in mine])) for side in ("top", "bottom"))
        nearest = [min(one.away for one in mine if one.frame == k) for k in {one.frame for one in mine}]
        out.append((Line(top, bottom, ink, ground, 0.5, zone.end), float(np.median(nearest))))
    return out


def _same(one: _Seen, other: _Seen) -> bool:
    slack = max(0.8, 0.08 * (one.bottom - one.top))
    return abs(one.top - other.top) <= slack and abs(one.bottom - other.bottom) <= slack


def _adjusted(lumas: Sequence[np.ndarray], line: Line) -> Line | None:
    """The line with the levels of its own ink and ground, and the cut at which its characters come apart best."""
    inks, grounds = [], []
    for luma in lumas:
        for one in characters(luma, line):
            rows = slice(max(int(line.top) - 1, 0), math.ceil(line.bottom) + 1)
            part = luma[rows, max(int(one.left) - 2, 0) : math.ceil(one.right) + 2]
            if one.kind == TALL and part.size:
                ends = np.percentile(part, (5.0, 97.0))
                inks.append(ends[1] if line.ink > line.ground else ends[0])
                grounds.append(ends[0] if line.ink > line.ground else ends[1])
    if not inks:
        return None
    line = replace(line, ink=float(np.median(inks)), ground=float(np.median(grounds)))
    if abs(line.ink - line.ground) < _CONTRAST:
        return None
    tried = [replace(line, cut=cut) for cut in _CUTS]
    worth = [_worth(lumas, one) for one in tried]
    return tried[int(np.argmax(worth))]


def _worth(lumas: Sequence[np.ndarray], line: Line) -> float:
    """Share of the frames whose characters stand apart and whole: none wider than a digit usually is, no scraps; less
    a little for every character more or fewer than usual.
    """
    runs = [characters(luma, line) for luma in lumas]
    wide = [one.right - one.left for run in runs for one in run if one.kind == TALL]
    if not wide:
        return 0.0
    usual = float(np.percentile(wide, 60))
    good = 0.0
    for run in runs:
        apart = all(one.right - one.left < 1.35 * usual for one in run if one.kind == TALL)
        good += bool(run) and apart and all(one.kind != SCRAP for one in run)
    counts = np.array([len(run) for run in runs])
    return good / len(runs) - 0.1 * float(np.abs(counts - np.median(counts)).mean())
