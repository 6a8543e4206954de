"""Marked frames: the first, middle and last frame of each stage with the pins and their lattice drawn in."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from hotspot.records import Analysis, PinFinding, Snapshot, bounded
from hotspot.tell import look
from hotspot.tell.neighbours import joint, neighbours, spacing
from hotspot.tell.outline import draw_outline, outline_in
from hotspot.tell.words import clock, text, whole
from hotspot.units import SYMBOL, from_celsius

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PICTURES = 12
MAP = "magma"
"""Colours of frames that carry none of their own: lightness only rises."""
_INCHES, _DPI = 4.4, 125
_ACROSS = 3
SHEET_DPI = 110
_RATIO = (0.4, 1.1)
"""Least and greatest height over width of a picture; a narrower patch gets more of its surroundings."""


@dataclass(frozen=True, slots=True)
class Marked:
    """One drawn frame: RGB uint8 (rows, columns, 3), and what is said under it."""

    pixels: np.ndarray
    caption: str
    stage: str


def marked_frames(analysis: Analysis) -> list[Marked]:
    """Frames of each stage, drawn; empty where no frame was kept (a logger's table)."""
    shots = chosen_snapshots(analysis)
    limits = common_scale(shots)
    found = []
    for shot in shots:
        figure = _draw(analysis, shot, limits)
        words = (shot.stage, clock(shot.time_s), look.shortened(shot.file, 40))
        found.append(Marked(_pixels(figure), " · ".join(word for word in words if word), shot.stage))
    return found


def _values(analysis: Analysis, shot: Snapshot) -> dict[str, str]:
    """Temperature of each pin in a frame, whole degrees in the reader's unit; pins without one are left out."""
    read = read_in(analysis, shot)
    return {name: f"{whole(value)}°" for name, value in read.items()}


def read_in(analysis: Analysis, shot: Snapshot) -> dict[str, float]:
    """Temperature of each pin in a frame in the reader's unit, a Bound where the scale ends there; none, no entry."""
    rows = analysis.readings[analysis.readings["frame"] == shot.index]
    shown = from_celsius(rows["temperature_c"].to_numpy(float), analysis.session.units)
    told = zip(rows["pin"].astype(str), shown.tolist(), rows["clipped"], strict=True)
    return {name: bounded(value, side) for name, value, side in told if np.isfinite(value)}


def chosen_snapshots(analysis: Analysis) -> list[Snapshot]:
    """First, middle and last kept frame of each stage, at most `MOST_PICTURES`, evenly, the last always."""
    chosen: dict[int, Snapshot] = {}
    for stage in dict.fromkeys(shot.stage for shot in analysis.snapshots):
        shots = [shot for shot in analysis.snapshots if shot.stage == stage]
        for shot in (shots[0], shots[len(shots) // 2], shots[-1]):
            chosen[shot.index] = shot
    ordered = [chosen[index] for index in sorted(chosen)]
    if len(ordered) <= MOST_PICTURES:
        return ordered
    places = np.linspace(0, len(ordered) - 1, MOST_PICTURES).round().astype(int)
    return [ordered[place] for place in places]


def common_scale(shots: Sequence[Snapshot]) -> tuple[float, float]:
    """One scale [°C] for all pictures; the hundredth part that is most extreme may lie outside it."""
    finite = [shot.celsius[np.isfinite(shot.celsius)] for shot in shots]
    together = np.concatenate(finite) if finite else np.zeros(0)
    if not together.size:
        return 0.0, 1.0
    low, high = np.percentile(together, (0.5, 99.9)).astype(float)
    return (low, high) if high - low >= 1.0 else (low - 0.5, high + 0.5)


def face_words(analysis: Analysis) -> str:
    """Which face is seen, and how to know pin 1."""
    connector = analysis.session.connector
    face = text("marked_face", face=connector.face.capitalize()) if connector.face else text("marked_face_unknown")
    one = (
        text("marked_pin1", how=look.shortened(connector.pin1, 120)) if connector.pin1 else text("marked_pin1_unknown")
    )
    return f"{face}; {one}"


def words_under(analysis: Analysis) -> str:
    """How to find one's way on the pictures: `face_words`, what the colours are and what the outline is."""
    own = any(shot.picture is not None for shot in analysis.snapshots)
    parts = [face_words(analysis), text("marked_own_colours") if own else text("marked_one_scale")]
    if placed(analysis.findings.pins):
        seen = analysis.pin_map is not None and analysis.pin_map.outline_px is not None
        parts.append(text("marked_outline_seen") if seen else text("marked_outline_own"))
    return "; ".join(parts)


def contact_sheet(analysis: Analysis, pictures: Sequence[Marked], large: Figure | None = None) -> Figure | None:
    """The large marked frame, and all others under it, three in a row; None where there are none."""
    from matplotlib.figure import Figure

    if not pictures:
        return None
    width, cell = 12.6, _cell(pictures)
    if large is not None:
        large.set_dpi(SHEET_DPI * (width - 0.2) / large.get_figwidth())
    top = _pixels(large) if large is not None else None
    first = 0.0 if top is None else (width - 0.2) * top.shape[0] / top.shape[1] + 0.25
    height = -(-len(pictures) // _ACROSS) * cell[1] + first + 0.8
    with look.drawing():
        figure = Figure(figsize=(width, height), facecolor=look.PAPER)
        title = look.fitted(analysis.session.title or text("report_untitled"), 72 * width - 14, 13, "bold")
        figure.text(0.1 / width, 1 - 0.28 / height, title, fontsize=13, fontweight="bold", va="center")
        under = look.fitted(words_under(analysis), 72 * width - 14, 9.5)
        figure.text(0.1 / width, 0.16 / height, under, fontsize=9.5, color=look.SOFT, va="center")
        if top is not None:
            _show(figure, top, (0.1, height - 0.5 - first + 0.25, width - 0.2, first - 0.25))
        for place, picture in enumerate(pictures):
            row, column = divmod(place, _ACROSS)
            left, bottom = column * cell[0] + 0.08, height - 0.5 - first - (row + 1) * cell[1] + 0.33
            _show(figure, picture.pixels, (left, bottom, cell[0] - 0.16, cell[1] - 0.4))
            caption = look.fitted(picture.caption, 72 * (cell[0] - 0.2), 9)
            figure.text(left / width, (bottom - 0.14) / height, caption, fontsize=9, va="center")
    return figure


def _cell(pictures: Sequence[Marked]) -> tuple[float, float]:
    """Width and height in inches that a picture and its words take on the sheet."""
    tall = max(picture.pixels.shape[0] / picture.pixels.shape[1] for picture in pictures)
    return 12.6 / _ACROSS, 12.6 / _ACROSS * tall + 0.35


def _show(figure: Figure, pixels: np.ndarray, place: tuple[float, float, float, float]) -> None:
    """Pixels at left, bottom, width, height in inches."""
    width, height = figure.get_size_inches()
    axes = figure.add_axes((place[0] / width, place[1] / height, place[2] / width, place[3] / height))
    axes.imshow(pixels, interpolation="antialiased")
    axes.set_axis_off()


def data_uri(pixels: np.ndarray) -> str:
    """RGB uint8 -> a JPEG as a data URI, so that a page needs no second file."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=84, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def view(shape: tuple[int, int], pins: Sequence[PinFinding]) -> tuple[float, float, float, float]:
    """Left, right, bottom, top [px] of what is shown: the pins with their surroundings, within the frame."""
    rows, columns = shape
    pins = placed(pins)
    if not pins:
        return -0.5, columns - 0.5, rows - 0.5, -0.5
    radius = max(pin.radius_px or 1.0 for pin in pins)
    x, y = [pin.x_px for pin in pins], [pin.y_px for pin in pins]
    margin = max(4.0 * radius, 0.35 * (max(x) - min(x)), 0.35 * (max(y) - min(y)))
    wide, tall = max(x) - min(x) + 2 * margin, max(y) - min(y) + 2 * margin
    wide, tall = max(wide, tall / _RATIO[1]), max(tall, wide * _RATIO[0])
    left, right = _within((max(x) + min(x)) / 2, wide, columns)
    top, bottom = _within((max(y) + min(y)) / 2, tall, rows)
    return left, right, bottom, top


def _within(middle: float, length: float, most: int) -> tuple[float, float]:
    """A stretch of `length` about `middle`, moved into [-0.5, most - 0.5], or all of that."""
    if length >= most:
        return -0.5, most - 0.5
    start = min(max(middle - length / 2, -0.5), most - 0.5 - length)
    return start, start + length


def _draw(analysis: Analysis, shot: Snapshot, limits: tuple[float, float]) -> Figure:
    from matplotlib.figure import Figure

    pins = seen_in(shot, analysis.findings.pins)
    outline = outline_in(analysis, shot, pins)
    left, right, bottom, top = view(shot.celsius.shape, pins)
    share = 1.0 if shot.picture is not None else 0.86
    tall = _INCHES * share * (bottom - top) / (right - left)
    with look.drawing():
        figure = Figure(figsize=(_INCHES, max(0.6, tall)), dpi=_DPI, facecolor="#0b0f12")
        axes = figure.add_axes((0, 0, share, 1))
        if shot.picture is not None:
            axes.imshow(shot.picture, interpolation="antialiased", aspect="equal")
        else:
            shown = axes.imshow(shot.celsius, cmap=MAP, vmin=limits[0], vmax=limits[1], aspect="equal")
            _scale_bar(figure, shown, analysis.session.units)
        axes.set(xlim=(left, right), ylim=(bottom, top))
        axes.set_axis_off()
        if outline is not None and outline.seen:  # the other kind would run through the names here
            draw_outline(axes, outline, 0.8)
        _pins(axes, pins, _values(analysis, shot))
    return figure


def placed(pins: Sequence[PinFinding]) -> list[PinFinding]:
    """Those pins that have a place in the picture."""
    return [pin for pin in pins if pin.x_px is not None and pin.y_px is not None]


def seen_in(shot: Snapshot, pins: Sequence[PinFinding]) -> list[PinFinding]:
    """The placed pins where they lie in this frame: a camera that moved has moved them too."""
    if shot.pose is None:
        return placed(pins)
    found = []
    for pin in placed(pins):
        y, x = shot.pose.at(pin.y_px, pin.x_px)
        radius = None if pin.radius_px is None else pin.radius_px * shot.pose.scale
        found.append(replace(pin, x_px=float(x), y_px=float(y), radius_px=radius))
    return found


def draw_lattice(axes: Axes, circles: Sequence[tuple[float, float, float]], wide: float) -> None:
    """Thin lines between neighbouring circles (x, y, radius), from rim to rim, light on dark."""
    x, y, radius = (np.array([circle[k] for circle in circles], float) for k in range(3))
    for one, two in neighbours(x, y):
        ends = joint((x[one], y[one]), (x[two], y[two]), (radius[one], radius[two]))
        for colour, line in (("#000000", wide + 1.4), ("#fefefe", wide)):
            axes.plot(ends[:, 0], ends[:, 1], color=colour, linewidth=line, alpha=0.75, zorder=3)


def _pins(axes: Axes, pins: Sequence[PinFinding], values: dict[str, str]) -> None:
    """Lattice and circles, a square about the first pin; names where all of them fit uncut, and under the circles
    what `values` says where that fits too."""
    from matplotlib.patches import Circle, Rectangle
    from matplotlib.patheffects import withStroke

    halo = [withStroke(linewidth=2.2, foreground="#000000")]
    points = 72 * axes.figure.get_figwidth() / abs(axes.get_xlim()[1] - axes.get_xlim()[0])
    draw_lattice(axes, [(pin.x_px, pin.y_px, pin.radius_px or 1.0) for pin in pins], 0.6)
    size = _name_size(pins, points)
    values = values if size is not None and _values_fit(pins, values, (size, points)) else {}
    for pin in sorted(pins, key=lambda one: one.verdict == "hot"):
        hot, radius = pin.verdict == "hot", pin.radius_px or 1.0
        edge = {"edgecolor": "#ffffff", "linewidth": 2.2 if hot else 1.1, "path_effects": halo, "zorder": 4}
        axes.add_patch(Circle((pin.x_px, pin.y_px), radius, fill=False, **edge))
        if pin is pins[0]:
            half = radius + 2.5 / points
            square = (pin.x_px - half, pin.y_px - half)
            axes.add_patch(Rectangle(square, 2 * half, 2 * half, fill=False, **edge))
        if size is None:
            continue
        words = {"color": "#ffffff", "ha": "center", "va": "bottom", "clip_on": True, "zorder": 5}
        spot = (pin.x_px, pin.y_px - radius - 3.5 / points)
        weight = "bold" if hot else "normal"
        axes.text(*spot, pin.name, fontsize=size, fontweight=weight, path_effects=halo, **words)
        below = (pin.x_px, pin.y_px + radius + 5.0 / points)  # clear of the square about the first pin
        text = values.get(pin.name, "")
        axes.text(*below, text, fontsize=size, fontweight=weight, path_effects=halo, **{**words, "va": "top"})


def _name_size(pins: Sequence[PinFinding], points: float) -> float | None:
    """The size at which every name fits over its circle and under those of the row above; None if none does."""
    if not pins:
        return None
    room = spacing(np.array([pin.x_px for pin in pins]), np.array([pin.y_px for pin in pins])) * points
    radius = max(pin.radius_px or 1.0 for pin in pins) * points
    for size in (8.0, 7.0, 6.0):
        widest = max(look.width_of(pin.name, size, "bold") for pin in pins)
        if widest + 3 <= room and 1.2 * size + 5 <= room - radius:
            return size
    return None


def _values_fit(pins: Sequence[PinFinding], values: dict[str, str], drawn: tuple[float, float]) -> bool:
    """Whether a line under every circle stays clear of its neighbours and of the names of the row below.

    `drawn`: size of the letters, points on the paper for a pixel.
    """
    size, points = drawn
    x, y = np.array([pin.x_px for pin in pins]), np.array([pin.y_px for pin in pins])
    over, under = np.abs(x[:, None] - x) * points, np.abs(y[:, None] - y) * points
    radius = max(pin.radius_px or 1.0 for pin in pins) * points
    widest = max((look.width_of(text, size, "bold") for text in values.values()), default=0.0)
    below = under[(under > over) & (over < widest + 3)]
    return widest + 3 <= spacing(x, y) * points and below.min(initial=np.inf) - 2 * radius >= 2.4 * size + 11.5


def _scale_bar(figure: Figure, shown: object, units: str) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    box = figure.add_axes((0.875, 0.08, 0.022, 0.8))
    bar = figure.colorbar(shown, cax=box)
    bar.outline.set_visible(False)
    bar.locator = MaxNLocator(5)
    bar.formatter = FuncFormatter(lambda value, _: f"{from_celsius(value, units):.0f}")
    box.tick_params(colors="#ffffff", labelsize=7.5, length=2)
    bar.update_ticks()
    figure.text(0.875, 0.935, SYMBOL[units], color="#ffffff", fontsize=8, va="center")


def _pixels(figure: Figure) -> np.ndarray:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure)
    with look.drawing():
        canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3].copy()
