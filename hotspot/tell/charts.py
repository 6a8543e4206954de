"""The trend chart: temperature against time, a line per pin, read by its name at the line's end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hotspot.errors import refuse
from hotspot.records import Analysis
from hotspot.tell import look
from hotspot.tell.trend_data import PinLine, TrendData, broken, chosen, thinned, trend_of
from hotspot.tell.words import clock
from hotspot.units import DIFFERENCE_SYMBOL, SYMBOL, difference_from_kelvin, from_celsius

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN = 10.0
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400)
_WEIGHT = {"hot": 2.4, "watch": 1.7}


class LineEnd(NamedTuple):
    """The last reading of a line, on the axes' own scale, and how it is labelled."""

    time_s: float
    value: float
    name: str
    colour: str
    mark: str
    stands_out: bool


BAND_K = 2.0
"""The shaded band is this many standard uncertainties to each side: about 95 % of a normal distribution."""
MOST_BANDS = 6


@dataclass(frozen=True, slots=True)
class Scale:
    """How a temperature is drawn: in which unit, as a value or as a rise over ambient."""

    units: str
    as_rise: bool = False

    def of(self, line: PinLine) -> np.ndarray:
        """The line's values on the axis (n,)."""
        if self.as_rise:
            return difference_from_kelvin(line.rise_k, self.units)
        return from_celsius(line.celsius, self.units)

    @property
    def label(self) -> str:
        """The axis' words."""
        if self.as_rise:
            return f"rise over ambient [{DIFFERENCE_SYMBOL[self.units]}]"
        return f"temperature [{SYMBOL[self.units]}]"


def trend(
    source: TrendData | Analysis,
    units: str | None = None,
    only: Sequence[str] | None = None,
    within: str | None = None,
    as_rise: bool = False,
) -> Figure:
    """The trend of a session: `units` C, F or K (the session's own if None); `only` these pins; `within`
    this stage; `as_rise` over ambient. Raises InputError for a pin or a stage that is not there, and for rises
    where the ambient is not known.
    """
    from matplotlib.figure import Figure

    data = source if isinstance(source, TrendData) else trend_of(source)
    data = chosen(data, only, within)
    if as_rise and not any(np.isfinite(line.rise_k).any() for line in data.lines):
        raise refuse("--rise", "", "no rise is known without the ambient", "State ambient and run the session again.")
    scale = Scale(units or data.units, as_rise)
    with look.drawing():
        height = min(12.0, max(5.4, 1.8 + 0.17 * len(data.lines)))
        figure = Figure(figsize=(WIDTH_IN, height), facecolor=look.PAPER)
        axes = figure.add_axes((0.075, 0.62 / height, 0.775, 1 - 1.32 / height), facecolor=look.PAPER)
        _frame(axes, data, scale)
        _stages(axes, data)
        for line in sorted(data.lines, key=lambda one: one.verdict == "hot"):
            draw_line(axes, line, scale, with_band=line.verdict == "hot" or len(data.lines) <= MOST_BANDS)
        _references(axes, data, scale)
        label_ends(axes, _ends(data, scale))
        _heading(figure, data, height)
    return figure


def draw_line(axes: Axes, line: PinLine, scale: Scale, with_band: bool = True) -> None:
    """One pin: band, line with gaps, sparse marks, and arrows where the scale clips the value."""
    style, values = style_of(line), scale.of(line)
    half = BAND_K * difference_from_kelvin(line.uncertainty_k, scale.units)
    time, middle, half = broken(line.time_s, values, half)
    keep = thinned(middle)
    time, middle, half = time[keep], middle[keep], half[keep]
    weight = _WEIGHT.get(line.verdict, 1.1)
    if with_band and np.isfinite(half).any():
        low, high = middle - half, middle + half
        axes.fill_between(time, low, high, color=style.colour, alpha=0.16, linewidth=0, zorder=2)
    every = max(1, len(time) // 9)
    marks = {"marker": style.mark, "markersize": 3.6 if weight < 2 else 4.6, "markevery": (line.place % every, every)}
    axes.plot(time, middle, color=style.colour, linestyle=style.dash, linewidth=weight, zorder=3, **marks)
    _alone(axes, time, middle, style)
    for side, mark in ((1, "^"), (-1, "v")):
        where = np.flatnonzero((line.clipped == side) & np.isfinite(values))
        where = where[:: max(1, len(where) // 12)]
        places = {"marker": mark, "s": 44, "facecolors": look.PAPER, "edgecolors": style.colour, "zorder": 5}
        if len(where):
            axes.scatter(line.time_s[where], values[where], linewidths=1.3, **places)


def style_of(line: PinLine) -> look.LineStyle:
    """The pin's own dash and mark; what is hot is drawn in the alarm ink, and bold, and says so."""
    style = look.style_of(line.place)
    return style._replace(colour=look.ALARM) if line.verdict == "hot" else style


def time_axis(axes: Axes, low: float, high: float) -> None:
    """Ticks on whole seconds, minutes or hours, worded m:ss."""
    from matplotlib.ticker import FixedLocator, FuncFormatter

    step = next((step for step in _STEPS_S if (high - low) / step <= 10), _STEPS_S[-1])
    first, last = math.ceil(low / step), math.floor(high / step)
    every = max(1, (last - first) // 10 + 1) if last - first > 12 else 1
    axes.xaxis.set_major_locator(FixedLocator([step * i for i in range(first, last + 1, every)]))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: clock(value)))
    axes.set_xlim(low, high)


def label_ends(axes: Axes, ends: list[LineEnd]) -> None:
    """Names and marks at the line ends, moved apart, joined to their lines by thin leaders."""
    tall = axes.get_position().height * axes.figure.get_figheight() * 72
    size = min(8.5, 0.47 * tall / max(1, len(ends)))
    low, high = axes.get_ylim()
    right = axes.get_xlim()[1]
    places = _spread_within(axes, [end.value for end in ends], size * 1.25 / tall * (high - low))
    beside = {"transform": axes.get_yaxis_transform(), "clip_on": False}
    for end, place in zip(ends, places, strict=True):
        thin = {"color": end.colour, "linewidth": 0.7}
        axes.plot([end.time_s, right], [end.value] * 2, linestyle=(0, (1, 3)), zorder=1, **thin)
        axes.plot([1.0, 1.02], [end.value, place], **thin, **beside)
        axes.plot(1.027, place, end.mark, color=end.colour, markersize=size * 0.5, **beside)
        weight = "bold" if end.stands_out else "normal"
        words = {"fontsize": size, "fontweight": weight, "color": look.INK, "va": "center_baseline"}
        axes.text(1.036, place, look.shortened(end.name, 20), **words, **beside)


def _spread_within(axes: Axes, wanted: list[float], gap: float) -> list[float]:
    """Heights for labels within the axes, apart by `gap` in data units."""
    low, high = axes.get_ylim()
    return look.spread(wanted, gap, low + gap / 2, high - gap / 2)


def style_axes(axes: Axes) -> None:
    """Two spines, faint horizontal lines: nothing that competes with the data."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(axis="y", color=look.FAINT, linewidth=0.7, zorder=0)
    axes.set_axisbelow(True)
    axes.tick_params(length=3, labelsize=8.5)


def _alone(axes: Axes, time: np.ndarray, values: np.ndarray, style: look.LineStyle) -> None:
    """A reading between two gaps has no line: it gets a mark of its own."""
    good = np.isfinite(values)
    before, after = np.r_[False, good[:-1]], np.r_[good[1:], False]
    alone = good & ~before & ~after
    if alone.any():
        axes.plot(time[alone], values[alone], style.mark, color=style.colour, markersize=4.2, zorder=4)


def _frame(axes: Axes, data: TrendData, scale: Scale) -> None:
    style_axes(axes)
    axes.set_ylabel(scale.label)
    axes.set_xlabel("time of the test [minutes:seconds]")
    times = np.concatenate([line.time_s for line in data.lines] or [np.zeros(0)])
    low, high = (float(times.min()), float(times.max())) if len(times) else (0.0, 60.0)
    if high <= low:
        low, high = low - 30.0, high + 30.0
    planned = [band.end_s for band in data.stages if math.isfinite(band.end_s)]
    high = min(max([high, *planned]), high + 0.15 * (high - low))
    time_axis(axes, low, high)
    axes.set_ylim(*_reach(data, scale))


def _reach(data: TrendData, scale: Scale) -> tuple[float, float]:
    """The axis holds the readings and the ambient; a rating only where it lies near."""
    values = [scale.of(line) for line in data.lines]
    values = np.concatenate([v[np.isfinite(v)] for v in values] or [np.zeros(0)])
    if not len(values):
        return from_celsius(0.0, scale.units), from_celsius(50.0, scale.units)
    ground = [0.0] if scale.as_rise else list(from_celsius(data.ambient[1], scale.units))
    low, high = min([values.min(), *ground]), max([values.max(), *ground])
    span = max(high - low, difference_from_kelvin(4.0, scale.units))
    near = [] if scale.as_rise else [from_celsius(v, scale.units) for _, v in data.ratings]
    high = max([high, *(value for value in near if value <= high + 0.6 * span)])
    return low - 0.09 * span, high + 0.1 * span


def _stages(axes: Axes, data: TrendData) -> None:
    low, high = axes.get_xlim()
    inches = axes.get_position().width * axes.figure.get_figwidth()
    for place, band in enumerate(data.stages):
        start, end = max(band.start_s, low), min(band.end_s, high)
        if end <= start:
            continue
        if place % 2 == 0:
            axes.axvspan(start, end, color=look.BAND, linewidth=0, zorder=0)
        axes.axvline(start, color=look.FAINT, linewidth=0.9, zorder=1)
        words = " · ".join(word for word in (band.name, band.load) if word)
        room = int((end - start) / (high - low) * inches * 72 / 4.9)
        if room >= 3:
            at = {"xytext": (4, 4), "textcoords": "offset points", "xycoords": axes.get_xaxis_transform()}
            axes.annotate(look.shortened(words, room), (start, 1.0), fontsize=8.5, color=look.SOFT, **at)


def _references(axes: Axes, data: TrendData, scale: Scale) -> None:
    """Ambient, ratings, events."""
    low, high = axes.get_ylim()
    if scale.as_rise:
        axes.axhline(0.0, color=look.SOFT, linewidth=0.9, linestyle=(0, (1, 2)), zorder=1)
    elif data.ambient.shape[1]:
        time, value = broken(data.ambient[0], from_celsius(data.ambient[1], scale.units))
        axes.plot(time, value, color=look.SOFT, linewidth=0.9, linestyle=(0, (1, 2)), zorder=1)
        at = {"xytext": (-3, -9), "textcoords": "offset points", "ha": "right"}
        axes.annotate("ambient", (axes.get_xlim()[1], value[-1]), fontsize=8, color=look.SOFT, **at)
    away = 0
    for word, celsius in () if scale.as_rise else data.ratings:
        value = from_celsius(celsius, scale.units)
        if low <= value <= high:
            axes.axhline(value, color=look.ALARM, linewidth=1.0, linestyle=(0, (9, 3)), zorder=1)
            _aside(axes, value, word, look.ALARM)
        else:
            shown = f"{word} {value:.0f} {SYMBOL[scale.units]}: off this chart"
            away += 1
            _aside(axes, high - 0.05 * away * (high - low), shown, look.ALARM)
    for place, (time, what) in enumerate(data.events):
        axes.axvline(time, ymax=0.94, color=look.INK, linewidth=0.8, linestyle=(0, (2, 3)), zorder=1)
        at = {"xytext": (3, 3 + 11 * (place % 3)), "textcoords": "offset points"}
        text = look.shortened(what, 34)
        axes.annotate(text, (time, low), fontsize=7.5, color=look.INK, annotation_clip=True, zorder=6, **at)


def _aside(axes: Axes, value: float, word: str, colour: str) -> None:
    at = {"xytext": (4, 3), "textcoords": "offset points", "xycoords": axes.get_yaxis_transform()}
    axes.annotate(word, (0.0, value), fontsize=8, color=colour, zorder=6, **at)


def _ends(data: TrendData, scale: Scale) -> list[LineEnd]:
    """Where each line ends; a pin without a single value has no end."""
    found = []
    for line in data.lines:
        values, hot, style = scale.of(line), line.verdict == "hot", style_of(line)
        good = np.flatnonzero(np.isfinite(values))
        if len(good):
            end, value = float(line.time_s[good[-1]]), float(values[good[-1]])
            name = f"{look.shortened(line.name, 15)} hot" if hot else line.name
            found.append(LineEnd(end, value, name, style.colour, style.mark, hot))
    return found


def _heading(figure: Figure, data: TrendData, height: float) -> None:
    title = look.shortened(data.title, 96) or "Load test"
    figure.text(0.075, 1 - 0.3 / height, title, fontsize=12, fontweight="bold", color=look.INK, va="center")
    figure.text(0.875, 1 - 0.55 / height, "pin", fontsize=8.5, color=look.SOFT, va="center")
    banded = any(line.verdict == "hot" for line in data.lines) or len(data.lines) <= MOST_BANDS
    notes = ["shaded: two standard uncertainties to each side"] if banded and data.lines else []
    if any((line.clipped != 0).any() for line in data.lines):
        notes.append("arrows: the scale ends here, the true value lies beyond")
    if not data.lines:
        notes.append("no pin has a reading")
    figure.text(0.075, 0.12 / height, "; ".join(notes), fontsize=7.5, color=look.SOFT)
