"""The trend chart: temperature against time, a line per pin, read by its name at the line's end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hotspot.errors import refuse
from hotspot.records import Analysis
from hotspot.tell import look
from hotspot.tell.trend_data import PinLine, TrendData, broken, chosen, thinned, trend_of
from hotspot.tell.words import clock, text
from hotspot.units import DIFFERENCE_SYMBOL, SYMBOL, difference_from_kelvin, from_celsius

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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
    place: int = 0


@dataclass(frozen=True, slots=True)
class Form:
    """Measures of a chart in inches and points, for paper and wide screens or for a narrow one."""

    width_in: float
    least_in: float
    left_in: float
    right_in: float
    size: float
    ends: int
    titled: bool
    points: int
    ticks: int
    marks: int = 9

    def thinner(self, lines: int) -> Form:
        """The same form, each line drawn with fewer points where there are many lines: a page must stay small."""
        marks = self.marks if lines <= MANY else 2
        return replace(self, points=min(self.points, max(24, MOST_POINTS // max(1, lines))), marks=marks)

    @property
    def room(self) -> float:
        """Width in points from the axis to the right edge of the chart."""
        return 72 * (self.width_in - self.left_in) - 8


WIDE = Form(10.0, 5.4, 0.75, 1.5, 8.5, 11, True, 600, 10)
NARROW = Form(4.0, 4.6, 0.58, 0.78, 9.0, 6, False, 160, 5)
BAND_K = 2.0
"""The shaded band is this many standard uncertainties to each side: about 95 % of a normal distribution."""
MOST_BANDS = 6
MANY = 60
"""Lines; beyond that a page shows the wide form only."""
MOST_POINTS = 6000
"""Of all lines of a chart together."""


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
            return text("chart_rise", unit=DIFFERENCE_SYMBOL[self.units])
        return text("chart_temperature", unit=SYMBOL[self.units])


def trend(
    source: TrendData | Analysis,
    units: str | None = None,
    only: Sequence[str] | None = None,
    within: str | None = None,
    as_rise: bool = False,
    form: Form = WIDE,
) -> Figure:
    """The trend of a session: `units` C, F or K (the session's own if None); `only` these pins; `within`
    this stage; `as_rise` over ambient; `form` WIDE or NARROW. Raises InputError for a pin or a stage
    that is not there, and for rises where the ambient is not known.
    """
    from matplotlib.figure import Figure

    data = source if isinstance(source, TrendData) else trend_of(source)
    data = chosen(data, only, within)
    if as_rise and not any(np.isfinite(line.rise_k).any() for line in data.lines):
        raise refuse("--rise", "", "no rise is known without the ambient", "State ambient and run the session again.")
    scale, form = Scale(units or data.units, as_rise), form.thinner(len(data.lines))
    with look.drawing():
        title = look.folded(data.title or text("chart_untitled"), form.room, 12, "bold") if form.titled else []
        notes = look.folded("; ".join(_notes(data)), form.room, form.size - 1, most=3)
        above, below = 0.36 + 0.22 * len(title), 0.5 + 0.16 * len(notes)
        height = min(12.0, max(form.least_in, 1.8 + 0.02 * form.size * len(data.lines)))
        figure = Figure(figsize=(form.width_in, height), facecolor=look.PAPER)
        wide = (form.width_in - form.left_in - form.right_in) / form.width_in
        box = (form.left_in / form.width_in, below / height, wide, 1 - (above + below) / height)
        axes = figure.add_axes(box, facecolor=look.PAPER)
        _frame(axes, data, scale, form)
        _stages(axes, data, form)
        for line in sorted(data.lines, key=lambda one: one.verdict == "hot"):
            draw_line(axes, line, scale, form, line.verdict == "hot" or len(data.lines) <= MOST_BANDS)
        _references(axes, data, scale, form)
        label_ends(axes, _ends(data, scale, form), form)
        _words(figure, title, notes, form)
    return figure


CLIPPED = ((1, "^"), (-1, "v"))
"""Marks of values that the scale clips, at its high and at its low end."""


def draw_line(axes: Axes, line: PinLine, scale: Scale, form: Form, with_band: bool = True) -> None:
    """One pin: band, line with gaps, sparse marks, and arrows where the scale clips the value."""
    style, values = style_of(line), scale.of(line)
    half = BAND_K * difference_from_kelvin(line.uncertainty_k, scale.units)
    half = np.where(line.clipped == 0, half, np.nan)  # a bound has no interval to both sides
    time, middle, half = broken(line.time_s, values, half)
    keep = thinned(middle, form.points)
    time, middle, half = time[keep], middle[keep], half[keep]
    weight = _WEIGHT.get(line.verdict, 1.1)
    if with_band and np.isfinite(half).any():
        low, high = middle - half, middle + half
        axes.fill_between(
            time, low, high, color=style.colour, alpha=0.16, linewidth=0, zorder=2, gid=f"pin{line.place}-band"
        )
    every = max(1, len(time) // form.marks)
    marks = {"marker": style.mark, "markersize": 3.6 if weight < 2 else 4.6, "markevery": (line.place % every, every)}
    axes.plot(time, middle, color=style.colour, linestyle=style.dash, linewidth=weight, zorder=3, **marks)
    axes.lines[-1].set_gid(f"pin{line.place}-line")
    _alone(axes, time, middle, style)
    for side, mark in CLIPPED:
        where = np.flatnonzero((line.clipped == side) & np.isfinite(values))
        where = where[:: max(1, len(where) // 12)]
        places = {"marker": mark, "s": 44, "facecolors": look.PAPER, "edgecolors": style.colour, "zorder": 5}
        if len(where):
            axes.scatter(line.time_s[where], values[where], linewidths=1.3, gid=f"pin{line.place}-{side + 1}", **places)


def style_of(line: PinLine) -> look.LineStyle:
    """The pin's own dash and mark; what is hot is drawn in the alarm ink, and bold, and says so."""
    style = look.style_of(line.place)
    return style._replace(colour=look.ALARM) if line.verdict == "hot" else style


def time_axis(axes: Axes, low: float, high: float, most: int = 10) -> None:
    """Ticks on whole seconds, minutes or hours, worded m:ss."""
    from matplotlib.ticker import FixedLocator, FuncFormatter

    step = next((step for step in _STEPS_S if (high - low) / step <= most), _STEPS_S[-1])
    first, last = math.ceil(low / step), math.floor(high / step)
    every = max(1, (last - first) // most + 1) if last - first > most + 2 else 1
    axes.xaxis.set_major_locator(FixedLocator([step * i for i in range(first, last + 1, every)]))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: clock(value)))
    axes.set_xlim(low, high)


def label_ends(axes: Axes, ends: list[LineEnd], form: Form) -> None:
    """Names and marks at the line ends, moved apart, joined to their lines by thin leaders."""
    tall = axes.get_position().height * axes.figure.get_figheight() * 72
    size = min(form.size, 0.47 * tall / max(1, len(ends)))
    low, high = axes.get_ylim()
    right = axes.get_xlim()[1]
    places = _spread_within(axes, [end.value for end in ends], size * 1.25 / tall * (high - low))
    beside = {"transform": axes.get_yaxis_transform(), "clip_on": False}
    wide = axes.get_position().width * form.width_in
    near, mark, word = (inch / wide for inch in (0.13, 0.19, 0.26))
    room = 72 * (form.right_in - 0.3)
    for end, place in zip(ends, places, strict=True):
        thin = {"color": end.colour, "linewidth": 0.7}
        own = f"pin{end.place}"
        axes.plot([end.time_s, right], [end.value] * 2, linestyle=(0, (1, 3)), zorder=1, gid=f"{own}-tail", **thin)
        axes.plot([1.0, 1.0 + near], [end.value, place], gid=f"{own}-lead", **thin, **beside)
        dot = {"color": end.colour, "markersize": size * 0.5, "gid": f"{own}-mark"}
        axes.plot(1.0 + mark, place, end.mark, **dot, **beside)
        weight = "bold" if end.stands_out else "normal"
        words = {"fontsize": size, "fontweight": weight, "color": look.INK, "va": "center_baseline"}
        axes.text(1.0 + word, place, look.fitted(end.name, room, size, weight), gid=f"{own}-name", **words, **beside)


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


def _frame(axes: Axes, data: TrendData, scale: Scale, form: Form) -> None:
    style_axes(axes)
    axes.patch.set_gid("plot")
    axes.tick_params(labelsize=form.size)
    axes.set_ylabel(scale.label)
    axes.set_xlabel(text("chart_time"))
    times = np.concatenate([line.time_s for line in data.lines] or [np.zeros(0)])
    low, high = (float(times.min()), float(times.max())) if len(times) else (0.0, 60.0)
    if high <= low:
        low, high = low - 30.0, high + 30.0
    planned = [band.end_s for band in data.stages if math.isfinite(band.end_s)]
    high = min(max([high, *planned]), high + 0.15 * (high - low))
    time_axis(axes, low, high, form.ticks)
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


def _stages(axes: Axes, data: TrendData, form: Form) -> None:
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
        room = (end - start) / (high - low) * inches * 72 - 6
        shown = next((said for said in (words, band.name) if look.width_of(said, form.size) <= room), "")
        if shown or room > 30:
            shown = shown or look.fitted(words, room, form.size)
            at = {"xytext": (4, 4), "textcoords": "offset points", "xycoords": axes.get_xaxis_transform()}
            axes.annotate(shown, (start, 1.0), fontsize=form.size, color=look.SOFT, **at)


def _references(axes: Axes, data: TrendData, scale: Scale, form: Form) -> None:
    """Ambient, ratings, events."""
    low, high = axes.get_ylim()
    if scale.as_rise:
        axes.axhline(0.0, color=look.SOFT, linewidth=0.9, linestyle=(0, (1, 2)), zorder=1)
    elif data.ambient.shape[1]:
        time, value = broken(data.ambient[0], from_celsius(data.ambient[1], scale.units))
        axes.plot(time, value, color=look.SOFT, linewidth=0.9, linestyle=(0, (1, 2)), zorder=1)
        at = {"xytext": (-3, -1.1 * form.size), "textcoords": "offset points", "ha": "right"}
        word = text("chart_ambient_estimated" if data.guessed else "chart_ambient")
        axes.annotate(word, (axes.get_xlim()[1], value[-1]), fontsize=form.size - 0.5, color=look.SOFT, **at)
    away = 0
    for word, celsius in () if scale.as_rise else data.ratings:
        value = from_celsius(celsius, scale.units)
        if low <= value <= high:
            axes.axhline(value, color=look.ALARM, linewidth=1.0, linestyle=(0, (9, 3)), zorder=1)
            _aside(axes, value, word, form)
        else:
            away += 1
            shown = text("chart_off", what=word, value=f"{value:.0f}", unit=SYMBOL[scale.units])
            _aside(axes, high - 0.055 * away * (high - low), shown, form)
    for place, (time, what) in enumerate(data.events):
        _event(axes, time, what, place, form)


def _event(axes: Axes, time: float, what: str, place: int, form: Form) -> None:
    """A dotted line and its words at the foot, on the side of the line that has more room."""
    first, last = axes.get_xlim()
    if not first <= time <= last:
        return
    axes.axvline(time, ymax=0.94, color=look.INK, linewidth=0.8, linestyle=(0, (2, 3)), zorder=1)
    wide = 72 * axes.get_position().width * form.width_in
    size, right = form.size - 1, (last - time) / (last - first) * wide - 6
    to_the_left = look.width_of(what, size) > right and wide - right - 12 > right
    said = "\n".join(look.folded(what, wide - right - 12 if to_the_left else right, size))
    at = {"xytext": (-3 if to_the_left else 3, 3 + 2.6 * size * (place % 3)), "textcoords": "offset points"}
    at |= {"ha": "right" if to_the_left else "left", "annotation_clip": True, "zorder": 6}
    axes.annotate(said, (time, axes.get_ylim()[0]), fontsize=size, color=look.INK, **at)


def _aside(axes: Axes, value: float, word: str, form: Form) -> None:
    at = {"xytext": (4, 3), "textcoords": "offset points", "xycoords": axes.get_yaxis_transform()}
    axes.annotate(word, (0.0, value), fontsize=form.size - 0.5, color=look.ALARM, zorder=6, **at)


def _ends(data: TrendData, scale: Scale, form: Form) -> list[LineEnd]:
    """Where each line ends; a pin without a single value has no end."""
    found = []
    for line in data.lines:
        values, hot, style = scale.of(line), line.verdict == "hot", style_of(line)
        good = np.flatnonzero(np.isfinite(values))
        if len(good):
            end, value = float(line.time_s[good[-1]]), float(values[good[-1]])
            name = text("chart_hot", name=look.shortened(line.name, form.ends)) if hot else line.name
            found.append(LineEnd(end, value, name, style.colour, style.mark, hot, line.place))
    return found


def _notes(data: TrendData) -> list[str]:
    """What shading and arrows mean, where there are any."""
    banded = any(line.verdict == "hot" for line in data.lines) or len(data.lines) <= MOST_BANDS
    notes = [text("chart_shaded")] if banded and data.lines else []
    if any((line.clipped != 0).any() for line in data.lines):
        notes.append(text("chart_arrows"))
    return notes if data.lines else [text("chart_no_reading")]


def _words(figure: Figure, title: list[str], notes: list[str], form: Form) -> None:
    """Title above, notes below, and the word over the names at the line ends."""
    height, left = figure.get_figheight(), form.left_in / form.width_in
    for place, said in enumerate(title):
        at = {"fontsize": 12, "fontweight": "bold", "color": look.INK, "va": "center"}
        figure.text(left, 1 - (0.26 + 0.22 * place) / height, said, **at)
    beside = 1 - (form.right_in - 0.26) / form.width_in
    top = 1 - (0.24 + 0.22 * len(title)) / height
    figure.text(beside, top, text("chart_pin"), fontsize=form.size, color=look.SOFT, va="center")
    for place, said in enumerate(reversed(notes)):
        figure.text(left, (0.1 + 0.16 * place) / height, said, fontsize=form.size - 1, color=look.SOFT)
