"""The heat made at each pin, drawn where the pin sits in the connector: a ring for the peers, a disc for the pin.

The disc's area is the heat ratio and the ring's is 1, so a pin that makes more heat than its peers fills its ring
and goes beyond it. Under each disc lies the 95 % interval on a log scale with a tick at 1. What stands out is told by
size, weight and a word, never by a colour alone.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.records import Analysis
from hotspot.tell import look, pages, words
from hotspot.tell.marked import face_words
from hotspot.tell.words import text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_DISC = 0.36
"""Radius of the largest disc over the width of its cell."""
MOST_RATIO = 16.0
"""Discs stop growing here, and intervals end in an arrow; the number says how much it is."""
_CELL = (40.0, 92.0)
"""The least and the greatest width of a cell, in points."""
MOST_DRAWN = 60
"""With more pins the page gets a picture instead of a drawing, which would make it large."""
_EDGE, _USUAL = 16.0, 70.0


@dataclass(frozen=True, slots=True)
class HeatOf:
    """One pin: name, verdict, heat against its peers with its 95 % interval; None where it was not worked out."""

    name: str
    verdict: str
    ratio: float | None = None
    low: float | None = None
    high: float | None = None
    judged: bool = True


def heats(analysis: Analysis) -> list[HeatOf]:
    """Every pin in the order of numbering; the ratio is the same in each stage that has one."""
    table, found = analysis.findings.pin_table, {}
    for row in table[table["heat_ratio"].notna()].drop_duplicates("pin").to_dict("records"):
        ends = [row[f"heat_ratio{end}"] for end in ("", "_low", "_high")]
        found[row["pin"]] = [float(end) if end is not None and math.isfinite(end) else None for end in ends]
    left_out = {entry["pin"] for entry in analysis.findings.not_judged}
    return [
        HeatOf(pin.name, pin.verdict, *found.get(pin.name, (None,) * 3), pin.name not in left_out)
        for pin in analysis.findings.pins
    ]


@dataclass(frozen=True, slots=True)
class Form:
    """Points across that the pins share, and the least width of the whole. Many columns make it wider."""

    room: float
    least: float


WIDE = Form(690.0, 420.0)
NARROW = Form(280.0, 280.0)


def heat_picture(analysis: Analysis, form: Form = WIDE) -> Figure | None:
    """The chart on light paper; None where no pin's heat was worked out against its peers."""
    from matplotlib.figure import Figure

    told = heats(analysis)
    if not any(one.ratio for one in told):
        return None
    x, y, width = _laid_out(analysis, len(told), form)
    tall = _tall(width)
    notes_room = max(float(np.ptp(x)) + width + 2 * _EDGE, form.least)
    title = look.folded(text("heat_title"), notes_room - 12, 12, "bold")
    with look.drawing():
        notes = [line for note in _notes(analysis, told) for line in look.folded(note, notes_room - 12, 8.5, most=3)]
        above, below = 14.0 + 17 * len(title), 14.0 + 12.5 * len(notes)
        size = (notes_room, float(np.ptp(y)) + tall + 2 * _EDGE + above + below)
        figure = Figure(figsize=(size[0] / 72, size[1] / 72), facecolor=look.PAPER)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set(xlim=(0, size[0]), ylim=(0, size[1]))
        axes.set_axis_off()
        shift = (size[0] - np.ptp(x)) / 2
        left, top = x - x.min() + shift, size[1] - above - _EDGE - tall / 2 - (y - y.min())
        _housing(axes, (left.min(), left.max(), top.min(), top.max()), (width, tall))
        reach = _reach(told)
        for one, across, up in zip(told, left, top, strict=True):
            _cell(axes, one, (float(across), float(up)), width, reach)
        for place, said in enumerate(title):
            axes.text(6, size[1] - 16 - 17 * place, said, fontsize=12, fontweight="bold", va="center")
        for place, said in enumerate(notes):
            axes.text(6, below - 10 - 12.5 * place, said, fontsize=8.5, color=look.SOFT, va="center")
    return figure


def heat_html(analysis: Analysis) -> str:
    """The chart for a page, for wide and for narrow screens, as wide as its words need; empty where there is none."""
    wide = heat_picture(analysis, WIDE)
    if wide is None:
        return ""
    if len(analysis.findings.pins) > MOST_DRAWN:
        raw = base64.b64encode(look.flat_png(wide, 100)).decode("ascii")
        return f'<img class="paper" style="{_least(wide)}" src="data:image/png;base64,{raw}" alt="">'
    drawn = pages.inline_svg(look.svg_text(wide), "hw-")
    narrow = heat_picture(analysis, NARROW)
    if _least(narrow) == _least(wide):
        return f'<div style="{_least(wide)}">{drawn}</div>'
    other = pages.inline_svg(look.svg_text(narrow), "hn-")
    return (
        f'<div class="on-wide" style="{_least(wide)}">{drawn}</div>'
        f'<div class="on-narrow" style="{_least(narrow)}">{other}</div>'
    )


def _least(figure: Figure) -> str:
    """A chart is shown no smaller than it was drawn: its words would not be read."""
    return f"min-width:{round(72 * figure.get_figwidth())}px"


def caption(analysis: Analysis) -> str:
    """What the chart shows in words: what stands out, and what has no value."""
    told = heats(analysis)
    known = sorted((one for one in told if one.ratio), key=lambda one: -one.ratio)
    if not known:
        return text("heat_caption_none")
    said = [text("heat_caption", pin=known[0].name, ratio=_interval(known[0]))]
    if len(known) > 1:
        others = "; ".join(f"{one.name}: {_interval(one)}" for one in known[1:12])
        if len(known) > 12:
            others = text("heat_caption_more", told=others, count=len(known) - 12)
        said.append(text("heat_caption_others", count=len(known) - 1, told=others))
    without = [one.name for one in told if not one.ratio]
    return " ".join([*said, *([text("heat_caption_without", pins=words.pins_named(without))] if without else [])])


def _interval(one: HeatOf) -> str:
    if one.low is None or one.high is None:
        return words.ratio(one.ratio)
    return text("heat_range", **{word: words.ratio(getattr(one, word)) for word in ("ratio", "low", "high")})


def _notes(analysis: Analysis, told: Sequence[HeatOf]) -> list[str]:
    """How to read it, and how the connector lies."""
    notes = [text("heat_how")]
    if any(not one.ratio for one in told):
        notes.append(text("heat_dotted"))
    if any((one.high or 0.0) > MOST_RATIO for one in told):
        notes.append(text("heat_stop", most=MOST_RATIO))
    if _seen(analysis) is None:
        return [*notes, text("heat_unseen")]
    return [*notes, text("heat_seen", words=face_words(analysis))]


def _seen(analysis: Analysis) -> tuple[np.ndarray, np.ndarray] | None:
    """Pixels of the pins on the first good frame; None unless all have their place."""
    pins = analysis.findings.pins
    if not pins or any(pin.x_px is None or pin.y_px is None for pin in pins):
        return None
    return np.array([float(pin.x_px) for pin in pins]), np.array([float(pin.y_px) for pin in pins])


def _laid_out(analysis: Analysis, count: int, form: Form) -> tuple[np.ndarray, np.ndarray, float]:
    """Where the middles of the cells lie [points, y down], and how wide a cell is.

    One scale for both directions, the smallest at which no two cells touch, so that rows stay rows and a staggered
    connector stays staggered. Without places, or with two pins at one: rows in the order of numbering.
    """
    seen = _seen(analysis)
    if seen is not None and count > 1:
        x, y = seen
        across = 1 + np.ptp(x) * _scale_of(x, y, _USUAL, _tall(_USUAL)) / _USUAL
        width = float(np.clip((form.room - 2 * _EDGE) / across, *_CELL))
        scale = _scale_of(x, y, width, _tall(width))
        if np.ptp(x) * scale <= 2 * count * width and np.ptp(y) * scale <= 2 * count * _tall(width):
            return x * scale, y * scale, width
    columns = analysis.session.connector.columns or math.ceil(math.sqrt(3 * count))
    width = float(np.clip((form.room - 2 * _EDGE) / min(columns, count), *_CELL))
    place = np.arange(count)
    return (place % columns) * width, (place // columns) * _tall(width), width


def _scale_of(x: np.ndarray, y: np.ndarray, width: float, tall: float) -> float:
    """The smallest scale at which every two cells are apart by their width or by their height."""
    one, two = np.triu_indices(len(x), 1)
    right, down = np.abs(x[one] - x[two]), np.abs(y[one] - y[two])
    with np.errstate(divide="ignore"):
        return float(np.minimum(width / right, tall / down).max())


def _tall(width: float) -> float:
    """A cell's height: name, disc, number and bar, with room to the next name."""
    return 2 * _DISC * width + 2 * _size(width) + 25


def _size(width: float) -> float:
    """Points of the words in a cell."""
    return float(np.clip(0.125 * width, 7.0, 10.0))


def _reach(told: Sequence[HeatOf]) -> tuple[float, float, float]:
    """Ratio whose disc fills a cell, and the ends of the bars' scale."""
    ratios = [min(one.ratio, MOST_RATIO) for one in told if one.ratio]
    ends = [end for one in told for end in (one.low, one.high, one.ratio) if end and end > 0]
    low, high = max(min([*ends, 0.5]), 0.1), min(max([*ends, 2.0]), MOST_RATIO)
    return max([*ratios, 2.5]), low / 1.1, high * 1.1


def _housing(axes: Axes, box: tuple[float, float, float, float], cell: tuple[float, float]) -> None:
    from matplotlib.patches import FancyBboxPatch

    left, right, low, high = box
    corner = (left - cell[0] / 2 - 3, low - cell[1] / 2 - 3)
    size = (right - left + cell[0] + 6, high - low + cell[1] + 6)
    form = {"boxstyle": "round,pad=0,rounding_size=9", "facecolor": look.BAND, "edgecolor": look.FAINT}
    axes.add_patch(FancyBboxPatch(corner, *size, linewidth=1.2, zorder=0, **form))


def _cell(axes: Axes, one: HeatOf, spot: tuple[float, float], width: float, reach: tuple[float, float, float]) -> None:
    """Name, ring and disc, number, bar with its tick; a cross where there is no value."""
    from matplotlib.patches import Circle

    size, most = _size(width), _DISC * width
    x, top = spot[0], spot[1] + _tall(width) / 2
    hot, ring = one.verdict == "hot", most / math.sqrt(reach[0])
    middle = (x, top - size - 4 - most)
    word = {"ha": "center", "va": "center", "zorder": 5}
    name = _named(one, width, size)
    heavy = "bold" if hot or one.verdict == "watch" else "normal"
    axes.text(x, top - size / 2 - 1, name, fontsize=size, fontweight=heavy, color=look.INK, **word)
    if one.ratio:
        colour = look.ALARM if hot else look.SOFT
        radius = ring * math.sqrt(min(one.ratio, MOST_RATIO))
        axes.add_patch(Circle(middle, radius, facecolor=colour, edgecolor=look.INK, linewidth=1.8 * hot, zorder=2))
        for line, shade in ((2.4, look.BAND), (1.1, look.INK)):
            axes.add_patch(Circle(middle, ring, fill=False, edgecolor=shade, linewidth=line, zorder=3))
    else:
        dotted = {"edgecolor": look.SOFT, "linewidth": 1.0, "linestyle": (0, (1, 2))}
        axes.add_patch(Circle(middle, ring, fill=False, zorder=3, **dotted))
        axes.plot(*middle, marker="x", color=look.SOFT, markersize=0.9 * ring, markeredgewidth=1.2, zorder=3)
    foot = top - size - 7 - 2 * most
    number = words.ratio(one.ratio) if one.ratio else text("heat_no_value" if one.judged else "heat_not_judged")
    number = look.fitted(number, width - 2, size) if width > 48 or one.ratio else "–"
    axes.text(x, foot - size / 2, number, fontsize=size, fontweight="bold" if hot else "normal", **word)
    if one.low and one.high:
        _bar(axes, one, (x, foot - size - 7), 0.84 * width, reach[1:])


def _named(one: HeatOf, width: float, size: float) -> str:
    """The pin's name, with its verdict where that stands out and has room."""
    if one.verdict in ("hot", "watch"):
        name = text("heat_watched", name=look.shortened(one.name, 12), verdict=one.verdict)
        if look.width_of(name, size, "bold") <= width - 2:
            return name
    return look.fitted(one.name, width - 2, size, "bold")


def _bar(axes: Axes, one: HeatOf, spot: tuple[float, float], wide: float, ends: tuple[float, float]) -> None:
    """The 95 % interval on a log scale: a thin scale, a tick at 1, a thick bar, a dot at the value."""

    def at(value: float) -> float:
        share = math.log(min(max(value, ends[0]), ends[1]) / ends[0]) / math.log(ends[1] / ends[0])
        return spot[0] + wide * (share - 0.5)

    y, colour = spot[1], look.ALARM if one.verdict == "hot" else look.INK
    axes.plot([at(ends[0]), at(ends[1])], [y, y], color=look.SOFT, linewidth=0.5, zorder=1)
    axes.plot([at(1.0)] * 2, [y - 4, y + 4], color=look.INK, linewidth=0.9, zorder=2)
    axes.plot([at(one.low), at(one.high)], [y, y], color=colour, linewidth=2.4, solid_capstyle="butt", zorder=3)
    axes.plot(at(one.ratio), y, marker="D", markersize=3.4, color=colour, zorder=4)
    for end, mark in ((one.high > MOST_RATIO, ">"), (one.low < ends[0], "<")):
        if end:
            axes.plot(at(ends[1] if mark == ">" else ends[0]), y, marker=mark, color=colour, markersize=4.5, zorder=4)
