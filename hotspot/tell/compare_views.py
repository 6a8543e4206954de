"""Frames of both tests laid over each other, side by side on one scale, and what changed between them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.records import Comparison, Results
from hotspot.tell import look, pages, words
from hotspot.tell.compare_page import main_stage
from hotspot.tell.neighbours import spacing
from hotspot.tell.tables import units_of
from hotspot.units import DIFFERENCE_SYMBOL, SYMBOL, difference_from_kelvin, from_celsius
from hotspot.views import Overlay, View

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MAP, CHANGE_MAP = "magma", "RdBu_r"
"""Lightness only rises; and red for warmer than before, blue for cooler, pale where nothing changed."""
_WIDE_IN, _BAR_IN = 3.7, 0.62
_LEAST_K = 2.0
"""The least end of the scale of changes: noise is not blown up to a picture."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One picture (rows, columns) in the reader's unit with its pins (x, y, radius) and the ends of its scale."""

    values: np.ndarray
    pins: tuple[str, ...]
    places: np.ndarray
    ends: tuple[float, float]
    colours: str
    symbol: str


def section(comparison: Comparison, prefix: str) -> dict[str, Any]:
    """What the page's part needs: `pictures` (svg, caption, words for those who cannot see it), `said`, `note`.

    `prefix` parts the ids of several comparisons on one page.
    """
    overlay = _chosen(comparison)
    if overlay is None:
        return {"stage": "", "pictures": [], "said": _no_frames(comparison), "note": ""}
    units = units_of(comparison)
    said = words.say(overlay.why, units) if overlay.why else ""
    captions, pictures = _captions(comparison, overlay), []
    for place, (word, panel) in enumerate(panels(overlay, units).items()):
        svg = pages.inline_svg(look.svg_text(_drawn(panel)), f"{prefix}v{place}-")
        pictures.append({"svg": svg, "caption": captions[word], "word": word})
    return {"stage": overlay.stage, "pictures": pictures, "said": said, "note": _note(overlay)}


def panels(overlay: Overlay, units: str) -> dict[str, Panel]:
    """`before`, `after` and, where it can be had, `change`, each as a picture; one scale for the first two.

    Where the two can be laid over each other, all are seen as the later camera saw it. Over ambient where both
    ambients are known, else as read.
    """
    both = {word: view for word, view in (("before", overlay.before), ("after", overlay.after)) if view is not None}
    risen = bool(both) and all(view.ambient_c is not None for view in both.values())
    symbol = words.text("cmp_view_over", unit=DIFFERENCE_SYMBOL[units]) if risen else SYMBOL[units]
    values = {word: _values(view, risen, units) for word, view in both.items()}
    if overlay.to_before is not None:
        values["before"] = resampled(values["before"], overlay.to_before, values["after"].shape)
    ends = _common_ends(list(values.values()))
    found = {}
    for word, view in both.items():
        seen = overlay.after if overlay.to_before is not None else view
        found[word] = Panel(values[word], view.pins, _places_on(view, seen, overlay), ends, MAP, symbol)
    if overlay.why is None and overlay.to_before is not None and risen:
        change = values["after"] - values["before"]
        most = _symmetric(change, difference_from_kelvin(_LEAST_K, units))
        after = found["after"]
        ends = (-most, most)
        found["change"] = Panel(change, after.pins, after.places, ends, CHANGE_MAP, DIFFERENCE_SYMBOL[units])
    together = [found] if overlay.to_before is not None else [{word: panel} for word, panel in found.items()]
    return {word: panel for group in together for word, panel in _trimmed(group).items()}


def _trimmed(group: Mapping[str, Panel]) -> dict[str, Panel]:
    """Pictures of one raster without the rows and columns at the rim in which none of them has a value."""
    filled = np.any([np.isfinite(panel.values) for panel in group.values()], axis=0)
    if not filled.any():
        return dict(group)
    rows, columns = (np.flatnonzero(filled.any(axis=axis)) for axis in (1, 0))
    part = (slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1))
    corner = np.array([columns[0], rows[0], 0.0])
    return {
        word: replace(panel, values=panel.values[part], places=panel.places - corner) for word, panel in group.items()
    }


def resampled(picture: np.ndarray, to_picture: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """`picture` on a raster of `shape`, whose x, y, 1 the matrix (2, 3) takes to x, y of the picture.

    Between four pixels by straight lines; NaN outside it and beside pixels without a value.
    """
    from scipy.ndimage import map_coordinates

    rows, columns = np.indices(shape, dtype=float)
    x, y = np.einsum("ij,jrc->irc", to_picture, np.stack([columns, rows, np.ones(shape)]))
    return map_coordinates(picture.astype(float), [y, x], order=1, cval=np.nan)


def _chosen(comparison: Comparison) -> Overlay | None:
    """The charted stage; where it has no two frames, the first stage that has; where none has any, None."""
    overlays = comparison.overlays
    main = [one for one in overlays if one.stage == main_stage(comparison)]
    both = [one for one in (*main, *overlays) if one.before is not None and one.after is not None]
    some = [one for one in (*main, *overlays) if one.before is not None or one.after is not None]
    return next(iter([*both, *some]), None)


def _no_frames(comparison: Comparison) -> str:
    lacking = [results.name for results in (comparison.before, comparison.after) if not results.views]
    if not lacking:
        return words.text("cmp_view_no_stage")
    return words.text("cmp_view_lacks_one" if len(lacking) < 2 else "cmp_view_lacks", names=lacking)


def _values(view: View, risen: bool, units: str) -> np.ndarray:
    if risen:
        return difference_from_kelvin(view.celsius.astype(float) - view.ambient_c, units)
    return from_celsius(view.celsius.astype(float), units)


def _places_on(view: View, seen: View | None, overlay: Overlay) -> np.ndarray:
    """Places (n, 3) of the view's pins on the picture shown: its own, or that of the later test."""
    if seen is view or overlay.to_before is None:
        return view.places
    linear, shift = overlay.to_before[:, :2], overlay.to_before[:, 2]
    spots = np.linalg.solve(linear, (view.places[:, :2] - shift).T).T
    return np.column_stack([spots, view.places[:, 2] / math.sqrt(abs(np.linalg.det(linear)))])


def _common_ends(pictures: Sequence[np.ndarray]) -> tuple[float, float]:
    """One scale for all; the hundredth part that is most extreme may lie outside it."""
    finite = [picture[np.isfinite(picture)] for picture in pictures]
    together = np.concatenate(finite) if finite else np.zeros(0)
    if not together.size:
        return 0.0, 1.0
    low, high = (float(end) for end in np.percentile(together, (0.5, 99.9)))
    return (low, high) if high - low >= 1.0 else (low - 0.5, high + 0.5)


def _symmetric(change: np.ndarray, least: float) -> float:
    finite = np.abs(change[np.isfinite(change)])
    return max(least, float(np.percentile(finite, 99.8))) if finite.size else least


def _captions(comparison: Comparison, overlay: Overlay) -> Mapping[str, str]:
    units, told = units_of(comparison), {}
    sides = (("before", comparison.before, overlay.before), ("after", comparison.after, overlay.after))
    for word, results, view in sides:
        if view is None:
            continue
        side = words.text(f"cmp_{word}").capitalize()
        name = words.text("cmp_side", side=side, name=results.name) if word != results.name else side
        begun = _begin(results, view.stage) if view.stage else 0.0
        at = words.text("cmp_view_into" if view.stage else "cmp_view_at", at=view.time_s - begun, stage=view.stage)
        known = "cmp_view_ambient" if view.ambient_c is not None else "cmp_view_no_ambient"
        air = words.text(known, units, ambient=view.ambient_c)
        told[word] = f"{name}, {at}, {air}"
    told["change"] = words.text("cmp_view_change")
    return told


def _begin(results: Results, stage: str) -> float:
    return next((s["start_s"] for s in results.findings.get("stages", ()) if s["name"] == stage), 0.0)


def _note(overlay: Overlay) -> str:
    """How the pictures were made, and what they are not."""
    told = [words.text("cmp_view_last")]
    if overlay.to_before is not None:
        radius = float(np.median(overlay.before.places[:, 2]))
        told.append(words.text("cmp_view_shifted", off=(overlay.off_px or 0.0) / radius))
    return " ".join([*told, words.text("cmp_view_not")])


def _drawn(panel: Panel) -> Figure:
    from matplotlib.figure import Figure

    rows, columns = panel.values.shape
    tall = float(np.clip(_WIDE_IN * rows / columns, 0.8, 1.3 * _WIDE_IN))
    with look.drawing():
        figure = Figure(figsize=(_WIDE_IN, tall + _BAR_IN), facecolor=look.PAPER)
        height = tall + _BAR_IN
        axes = figure.add_axes((0, _BAR_IN / height, 1, tall / height))
        axes.set_facecolor(look.FAINT)
        limits = {"vmin": panel.ends[0], "vmax": panel.ends[1]}
        shown = axes.imshow(panel.values, cmap=panel.colours, interpolation="none", aspect="equal", **limits)
        axes.set(xticks=[], yticks=[])
        for side in axes.spines.values():
            side.set_visible(False)
        _pins(axes, panel)
        bar = figure.add_axes((0.03, 0.42 / height, 0.94, 0.11 / height))
        scale = figure.colorbar(shown, cax=bar, orientation="horizontal")
        scale.outline.set_visible(False)
        scale.solids.set_edgecolor("face")
        signed = panel.colours == CHANGE_MAP
        _ticks(bar, panel.ends, signed)
        figure.text(
            0.03,
            0.06 / height,
            words.text("cmp_view_scale_change" if signed else "cmp_view_scale", unit=panel.symbol),
            fontsize=8.5,
        )
    return figure


def _ticks(bar: Axes, ends: tuple[float, float], signed: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    bar.xaxis.set_major_locator(MaxNLocator(5, prune="both"))
    places = 0 if ends[1] - ends[0] > 6 else 1
    form = f"{{:{'+' if signed else ''}.{places}f}}"
    bar.xaxis.set_major_formatter(FuncFormatter(lambda value, _: form.format(value) if value else "0"))
    bar.tick_params(labelsize=8.5, length=2, pad=2)


def _pins(axes: Axes, panel: Panel) -> None:
    """Circles, and names over them where they have room."""
    from matplotlib.patches import Circle
    from matplotlib.patheffects import withStroke

    dark = panel.colours == CHANGE_MAP
    light, black = "#fefefe", "#000000"  # not the page's own white, which a dark page turns dark
    line, halo = (black, light) if dark else (light, black)
    around = [withStroke(linewidth=2.0, foreground=halo)]
    points = 72 * _WIDE_IN / panel.values.shape[1]
    room = spacing(panel.places[:, 0], panel.places[:, 1]) * points
    names = [look.shortened(name, 10) for name in panel.pins]
    sizes = [s for s in (8.5, 7.5, 6.5, 5.5) if max(look.width_of(n, s, "bold") for n in names) + 2 <= room]
    for name, (x, y, radius) in zip(names, panel.places, strict=True):
        edge = {"edgecolor": line, "linewidth": 1.0, "path_effects": around, "zorder": 4}
        axes.add_patch(Circle((x, y), radius, fill=False, **edge))
        if sizes:
            size = min(sizes[0], max(5.5, 0.8 * room))
            spot = (x, y - radius - 2.0 / points)
            form = {"ha": "center", "va": "bottom", "fontsize": size, "fontweight": "bold", "clip_on": True}
            axes.text(*spot, name, color=line, path_effects=around, zorder=5, **form)
