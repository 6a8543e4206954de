"""The large marked frame: the hottest one, every pin circled, its name and temperature outside at a leader line."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from hotspot.records import Analysis, PinFinding, Snapshot
from hotspot.tell import look, pages
from hotspot.tell.leaders import Box, Leader, Spot, leaders, room
from hotspot.tell.marked import MAP, common_scale, draw_lattice, placed, read_in, seen_in, view, words_under
from hotspot.tell.outline import Outline, draw_outline, outline_in
from hotspot.tell.report_parts import ambient_in
from hotspot.tell.trend_data import load_text
from hotspot.tell.words import text, whole
from hotspot.units import SYMBOL, from_celsius

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

MOST_NAMED = 60
"""With more pins than this only those that stand out, the first and the last get a name."""
_BAR = 46.0
"""Points kept for the colour scale of frames that carry none."""
_WIDEST_PX = 480
"""A wider cut-out is made smaller: more than a thermal camera resolves, and a page stays small."""


@dataclass(frozen=True, slots=True)
class Form:
    """Width, greatest height of the picture [in], size of the words [pt], length of names, with a scale or not."""

    width_in: float
    most_in: float
    size: float
    name: int
    scale: bool


WIDE = Form(9.4, 4.6, 9.5, 18, True)
NARROW = Form(4.0, 4.4, 9.5, 12, False)
"""Without a colour scale: the values stand at the pins."""


def large_frame(analysis: Analysis, form: Form = WIDE) -> Figure | None:
    """The frame in which a pin was hottest, with all pins; None where no frame was kept."""
    from matplotlib.figure import Figure

    shot = hottest(analysis)
    if shot is None:
        return None
    pins = seen_in(shot, analysis.findings.pins)
    cut = view(shot.celsius.shape, pins)
    with look.drawing():
        plan = _planned(analysis, pins, shot, form)
        box, wide = plan.box, 72 * form.width_in
        figure = Figure(figsize=(form.width_in, (box.top + plan.above + plan.below) / 72), facecolor=look.PAPER)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set(xlim=(0, wide), ylim=(-plan.below, box.top + plan.above))
        axes.set_axis_off()
        limits = common_scale(analysis.snapshots)
        frame = _picture(axes, shot, cut, box, limits)
        if _barred(shot, form):
            _bar(figure, (wide - _BAR + 8, plan.below, box.top), limits, analysis.session.units)
        outline = outline_in(analysis, shot, pins)
        if outline is not None:
            draw_outline(axes, _laid(outline, cut, box), 1.1, frame)
        _marks(axes, plan.spots, pins)
        for one in plan.leaders:
            _leader(axes, one, form, frame)
    return figure


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where everything goes, in points: the picture's box, circles, leaders, room above and below the box."""

    box: Box
    spots: list[Spot]
    leaders: list[Leader]
    above: float
    below: float


def _planned(analysis: Analysis, pins: Sequence[PinFinding], shot: Snapshot, form: Form) -> _Plan:
    """The picture as large as it can be with all names beside it; names alone where values have no room."""
    with_values = _words(analysis, pins, shot, form)
    plan = _plan(pins, with_values, shot, form)
    if plan is None:
        plan = _plan(pins, [text[:1] for text in with_values], shot, form)
    return plan or _plan(pins, [(text[0][:6],) for text in with_values], shot, form) or _bare(pins, shot, form)


def _plan(pins: Sequence[PinFinding], words: Sequence[tuple[str, ...]], shot: Snapshot, form: Form) -> _Plan | None:
    """None where the names need more than half of the width."""
    wide = 72 * form.width_in - (_BAR if _barred(shot, form) else 0.0)
    sides = 0.0
    for _ in range(4):
        box, spots = _placed(pins, words, shot, (wide - 2 * sides, sides), form)
        lines = leaders(_named(spots, pins), box, wide, form.size)
        above, below, over = room(lines, box, wide, form.size)
        if over <= 0.5:
            return _Plan(box, spots, lines, above, below)
        sides += over + 1
        if sides > 0.27 * wide:
            return None
    return None


def _barred(shot: Snapshot, form: Form) -> bool:
    return form.scale and shot.picture is None


def _bare(pins: Sequence[PinFinding], shot: Snapshot, form: Form) -> _Plan:
    wide = 72 * form.width_in - (_BAR if _barred(shot, form) else 0.0)
    box, spots = _placed(pins, [("",)] * len(pins), shot, (wide, 0.0), form)
    return _Plan(box, spots, [], 0.0, 0.0)


def _placed(
    pins: Sequence[PinFinding],
    words: Sequence[tuple[str, ...]],
    shot: Snapshot,
    place: tuple[float, float],
    form: Form,
) -> tuple[Box, list[Spot]]:
    """Box and circles for a picture of the width and left edge `place`, in points."""
    left, right, bottom, top = view(shot.celsius.shape, pins)
    across = min(place[0], 72 * form.most_in * (right - left) / (bottom - top))
    unit, start = across / (right - left), place[1] + (place[0] - across) / 2
    box = Box(start, start + across, 0.0, across * (bottom - top) / (right - left))
    spots = []
    for pin, told in zip(pins, words, strict=True):
        x, y, radius = start + (pin.x_px - left) * unit, (bottom - pin.y_px) * unit, (pin.radius_px or 1.0) * unit
        spots.append(Spot(x, y, radius, told, pin.verdict == "hot"))
    return box, spots


def hottest(analysis: Analysis) -> Snapshot | None:
    """The kept frame with the hottest reading of a pin; the last one where nothing was read."""
    if not analysis.snapshots:
        return None
    table = analysis.readings
    peaks = table.groupby("frame")["temperature_c"].max().to_dict()
    known = {index: float(value) for index, value in peaks.items() if value == value}
    return max(analysis.snapshots, key=lambda shot: (known.get(shot.index, -math.inf), shot.index))


def large_html(analysis: Analysis) -> str:
    """The frame for a page, for wide and for narrow screens, as a picture where the pins are many; empty for none."""
    forms = [large_frame(analysis, form) for form in (WIDE, NARROW)]
    if None in forms:
        return ""
    if len(analysis.findings.pins) <= MOST_NAMED:
        return pages.inline_both("f", *map(look.svg_text, forms))
    drawn = [
        base64.b64encode(look.flat_png(form, dpi)).decode("ascii") for form, dpi in zip(forms, (95, 110), strict=True)
    ]
    named = zip(("wide", "narrow"), drawn, strict=True)
    return "".join(
        f'<div class="on-{word}"><img class="large" src="data:image/png;base64,{raw}" alt=""></div>'
        for word, raw in named
    )


def caption(analysis: Analysis) -> str:
    """What the large frame shows, and how to see that the circles are in their places."""
    shot, pins = hottest(analysis), placed(analysis.findings.pins)
    if shot is None:
        return ""
    told = {"at": shot.time_s, "words": words_under(analysis), "stage": shot.stage, "load": _load(analysis, shot)}
    parts = [text("marked_when_stage" if shot.stage else "marked_when", **told)]
    if pins:
        parts.append(text("marked_square", pin=look.shortened(pins[0].name, 20)))
    if len(pins) > 1:
        parts.append(text("marked_lattice"))
    if len(pins) > MOST_NAMED:
        parts.append(text("marked_some"))
    return " ".join(parts)


def _load(analysis: Analysis, shot: Snapshot) -> str:
    """Load and ambient of the stage of a frame, in words."""
    told = []
    for stage in analysis.stages:
        if stage.name == shot.stage:
            told.append(load_text(stage.stage.amps if stage.stage else None))
            ambient = ambient_in(analysis, stage)
            told += (
                [text("report_stage_ambient", analysis.session.units, ambient=ambient)] if ambient is not None else []
            )
    return ", ".join(told)


def _words(analysis: Analysis, pins: Sequence[PinFinding], shot: Snapshot, form: Form) -> list[tuple[str, ...]]:
    """Name and temperature of each pin in this frame."""
    read, unit = read_in(analysis, shot), SYMBOL[analysis.session.units]
    found = []
    for pin in pins:
        name = look.shortened(pin.name, form.name) + (" hot" if pin.verdict == "hot" else "")
        found.append((name, f"{whole(read[pin.name])} {unit}") if pin.name in read else (name,))
    return found


def _named(spots: Sequence[Spot], pins: Sequence[PinFinding]) -> list[Spot]:
    if len(spots) <= MOST_NAMED:
        return list(spots)
    last = len(spots) - 1
    keep = [k in (0, last) or pin.verdict in ("hot", "watch") for k, pin in enumerate(pins)]
    return [spot for spot, kept in zip(spots, keep, strict=True) if kept][:MOST_NAMED]


def _picture(axes: Axes, shot: Snapshot, cut: tuple[float, ...], box: Box, limits: tuple[float, float]) -> Rectangle:
    """The cut-out of the frame, at its own resolution; gives its outline."""
    from matplotlib.patches import Rectangle

    left, right, bottom, top = cut
    rows, columns = shot.celsius.shape
    first_row, last_row = max(0, math.floor(top + 0.5)), min(rows, math.ceil(bottom + 0.5))
    first, last = max(0, math.floor(left + 0.5)), min(columns, math.ceil(right + 0.5))
    shown = shot.celsius if shot.picture is None else shot.picture
    shown = shown[first_row:last_row, first:last]
    step = -(-shown.shape[1] // _WIDEST_PX)
    shown = shown[::step, ::step]
    unit = (box.right - box.left) / (right - left)
    extent = (
        box.left + (first - 0.5 - left) * unit,
        box.left + (last - 0.5 - left) * unit,
        (bottom - (last_row - 0.5)) * unit,
        (bottom - (first_row - 0.5)) * unit,
    )
    colours = {"cmap": MAP, "vmin": limits[0], "vmax": limits[1]} if shot.picture is None else {}
    axes.set_autoscale_on(False)
    drawn = axes.imshow(shown, extent=extent, aspect="auto", interpolation="none", zorder=1, **colours)
    edges = ((box.left, box.bottom), (box.right - box.left), (box.top - box.bottom))
    frame = Rectangle(*edges, transform=axes.transData)
    drawn.set_clip_path(frame)
    return frame


def _laid(outline: Outline, cut: tuple[float, ...], box: Box) -> Outline:
    """An outline in pixels of the frame, laid into the box, in points."""
    left, right, bottom, _ = cut
    unit = (box.right - box.left) / (right - left)
    x, y = outline.corners.T
    return replace(outline, corners=np.column_stack([box.left + (x - left) * unit, (bottom - y) * unit]))


def _marks(axes: Axes, spots: Sequence[Spot], pins: Sequence[PinFinding]) -> None:
    """Lattice, circles, and the square about the first pin."""
    from matplotlib.patches import Circle, Rectangle

    draw_lattice(axes, [(spot.x, spot.y, spot.radius) for spot in spots], 0.9)
    for place, (spot, pin) in enumerate(zip(spots, pins, strict=True)):
        wide = 2.6 if pin.verdict == "hot" else 1.3
        for colour, line in (("#000000", wide + 1.8), ("#fefefe", wide)):
            edge = {"fill": False, "edgecolor": colour, "linewidth": line, "zorder": 4}
            axes.add_patch(Circle((spot.x, spot.y), spot.radius, **edge))
            if place == 0:
                half = spot.radius + 4
                axes.add_patch(Rectangle((spot.x - half, spot.y - half), 2 * half, 2 * half, **edge))


def _leader(axes: Axes, one: Leader, form: Form, frame: Rectangle) -> None:
    """The line: dark with a light core over the picture, in plain ink beside it; and the words at its end."""
    x, y = zip(*one.path, strict=True)
    axes.plot(x, y, color=look.SOFT, linewidth=0.9, zorder=2)
    for colour, wide in (("#000000", 2.4), ("#fefefe", 0.9)):
        axes.plot(x, y, color=colour, linewidth=wide, zorder=3)[0].set_clip_path(frame)
    weight = "bold" if one.bold else "normal"
    words = {"ha": one.ha, "va": one.va, "fontsize": form.size, "fontweight": weight, "linespacing": 1.15}
    axes.text(*one.at, one.text, color=look.INK, zorder=6, **words)


def _bar(figure: Figure, place: tuple[float, float, float], limits: tuple[float, float], units: str) -> None:
    """The scale of a frame that carries none, beside the picture."""
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    left, low, tall = place
    wide, high = 72 * figure.get_figwidth(), 72 * figure.get_figheight()
    box = figure.add_axes((left / wide, low / high, 9 / wide, 0.86 * tall / high))
    shown = ScalarMappable(Normalize(*limits), colormaps[MAP])
    bar = figure.colorbar(shown, cax=box)
    bar.outline.set_visible(False)
    bar.locator = MaxNLocator(5)
    bar.formatter = FuncFormatter(lambda value, _: f"{from_celsius(value, units):.0f}")
    box.tick_params(colors=look.INK, labelsize=8.5, length=2)
    bar.update_ticks()
    box.set_title(SYMBOL[units], fontsize=8.5, color=look.SOFT, loc="left")
