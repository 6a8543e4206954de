"""Marked frames: the first, middle and last frame of each stage with the pins and their temperatures drawn in."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.records import Analysis, PinFinding, Snapshot
from hotspot.tell import look
from hotspot.tell.words import clock
from hotspot.units import SYMBOL, from_celsius

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PICTURES = 12
MAP = "magma"
"""Colours of frames that carry none of their own: lightness only rises."""
_INCHES, _DPI = 4.4, 125
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
    units = analysis.session.units
    found = []
    for shot in shots:
        rows = analysis.readings[analysis.readings["frame"] == shot.index]
        celsius = dict(zip(rows["pin"].astype(str), rows["temperature_c"].astype(float), strict=True))
        figure = _draw(shot, analysis.findings.pins, celsius, limits, units)
        words = (shot.stage, clock(shot.time_s), look.shortened(shot.file, 40))
        found.append(Marked(_pixels(figure), " · ".join(word for word in words if word), shot.stage))
    return found


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


def words_under(analysis: Analysis) -> str:
    """How to find one's way on the pictures: which face is seen, and how to know pin 1."""
    connector = analysis.session.connector
    parts = [f"{connector.face} face seen" if connector.face else "which face is seen: not stated"]
    parts.append(f"pin 1: {look.shortened(connector.pin1, 120)}" if connector.pin1 else "pin 1: not stated")
    if any(shot.picture is not None for shot in analysis.snapshots):
        parts.append("colours as the camera drew them")
    else:
        parts.append("one scale for all pictures")
    return "; ".join(parts)


def contact_sheet(analysis: Analysis, pictures: Sequence[Marked]) -> Figure | None:
    """All marked frames on one sheet, three in a row; None where there are none."""
    from matplotlib.figure import Figure

    if not pictures:
        return None
    across = min(3, len(pictures))
    down = -(-len(pictures) // across)
    tall = max(picture.pixels.shape[0] / picture.pixels.shape[1] for picture in pictures)
    cell = (4.2, 4.2 * tall + 0.35)
    width, height = across * cell[0], down * cell[1] + 0.75
    with look.drawing():
        figure = Figure(figsize=(width, height), facecolor=look.PAPER)
        title = look.shortened(analysis.session.title, 30 * across) or "Load test"
        figure.text(0.1 / width, 1 - 0.28 / height, title, fontsize=12, fontweight="bold", va="center")
        under = look.shortened(words_under(analysis), 50 * across)
        figure.text(0.1 / width, 0.14 / height, under, fontsize=8.5, color=look.SOFT, va="center")
        for place, picture in enumerate(pictures):
            row, column = divmod(place, across)
            left, bottom = column * cell[0] + 0.08, height - 0.5 - (row + 1) * cell[1] + 0.33
            box = (left / width, bottom / height, (cell[0] - 0.16) / width, (cell[1] - 0.4) / height)
            axes = figure.add_axes(box)
            axes.imshow(picture.pixels, interpolation="antialiased")
            axes.set_axis_off()
            caption = look.shortened(picture.caption, 52)
            figure.text(left / width, (bottom - 0.13) / height, caption, fontsize=8, va="center")
    return figure


def data_uri(pixels: np.ndarray) -> str:
    """RGB uint8 -> a JPEG as a data URI, so that a page needs no second file."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=84, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def view(shape: tuple[int, int], pins: Sequence[PinFinding]) -> tuple[float, float, float, float]:
    """Left, right, bottom, top [px] of what is shown: the pins with their surroundings, within the frame."""
    rows, columns = shape
    placed = [pin for pin in pins if pin.x_px is not None and pin.y_px is not None]
    if not placed:
        return -0.5, columns - 0.5, rows - 0.5, -0.5
    radius = max(pin.radius_px or 1.0 for pin in placed)
    x, y = [pin.x_px for pin in placed], [pin.y_px for pin in placed]
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


def _draw(
    shot: Snapshot,
    pins: Sequence[PinFinding],
    celsius: Mapping[str, float],
    limits: tuple[float, float],
    units: str,
) -> Figure:
    from matplotlib.figure import Figure

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
            _scale_bar(figure, shown, units)
        axes.set(xlim=(left, right), ylim=(bottom, top))
        axes.set_axis_off()
        _pins(axes, pins, celsius, units)
    return figure


def _pins(axes: Axes, pins: Sequence[PinFinding], celsius: Mapping[str, float], units: str) -> None:
    """Circles with names; temperatures too where there is room, and always for what is hot."""
    from matplotlib.patches import Circle
    from matplotlib.patheffects import withStroke

    halo = [withStroke(linewidth=2.2, foreground="#000000")]
    placed = [pin for pin in pins if pin.x_px is not None and pin.y_px is not None]
    points = 72 * axes.figure.get_figwidth() / abs(axes.get_xlim()[1] - axes.get_xlim()[0])
    room = _spacing(placed) * points
    for pin in sorted(placed, key=lambda one: one.verdict == "hot"):
        hot, radius = pin.verdict == "hot", pin.radius_px or 1.0
        edge = {"edgecolor": "#ffffff", "linewidth": 2.2 if hot else 1.1, "path_effects": halo}
        axes.add_patch(Circle((pin.x_px, pin.y_px), radius, fill=False, **edge))
        value = celsius.get(pin.name)
        name = look.shortened(pin.name, 8)
        if value is not None and np.isfinite(value) and (room >= 30 or hot):
            name = f"{name}\n{from_celsius(value, units):.0f}{SYMBOL[units][0] if units != 'K' else ' K'}"
        size = min(8.0, room / (0.68 * max(len(part) for part in name.split("\n"))))
        size = max(size, 6.5) if hot else size
        if size < 3.5:
            continue
        words = {"color": "#ffffff", "ha": "center", "va": "bottom", "linespacing": 0.95, "clip_on": True}
        weight = "bold" if hot else "normal"
        spot = (pin.x_px, pin.y_px - radius - 2 / points)
        axes.text(*spot, name, fontsize=size, fontweight=weight, path_effects=halo, **words)


def _spacing(pins: Sequence[PinFinding]) -> float:
    """Distance [px] of the two pins that lie closest; infinite for fewer than two."""
    spots = np.array([(pin.x_px, pin.y_px) for pin in pins], float).reshape(-1, 2)
    if len(spots) < 2:
        return float("inf")
    apart = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    return float(apart[~np.eye(len(spots), dtype=bool)].min())


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
