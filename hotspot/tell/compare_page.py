"""Before and after: one chart with a panel per pin, and compare.html."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.records import Comparison, Results
from hotspot.tell import look, pages, words
from hotspot.tell.cautions import cautions
from hotspot.tell.charts import style_axes, time_axis
from hotspot.tell.tables import compare_dict, units_of
from hotspot.tell.trend_data import broken, thinned
from hotspot.units import DIFFERENCE_SYMBOL, difference_from_kelvin

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LINES = {
    "before": {"color": look.SOFT, "linestyle": (0, (4, 2)), "linewidth": 1.5, "zorder": 4},
    "after": {"color": look.INK, "linestyle": "-", "linewidth": 2.4, "zorder": 3},
}
"""The earlier test lies on top, so that both are seen where they agree."""
_PANEL_POINTS = 160


@dataclass(frozen=True, slots=True)
class Pair:
    """One pin's rise in both tests: per side (2, n) seconds into the stage and rise in the reader's unit."""

    pin: str
    verdict: str
    sides: Mapping[str, np.ndarray]
    expected: float


def chart(comparison: Comparison) -> Figure:
    """Rise over ambient against time into the stage, a panel per pin, both tests on the same axes."""
    from matplotlib.figure import Figure

    stage, pairs = main_stage(comparison), pairs_of(comparison)
    across = min(len(pairs), 4 if len(pairs) <= 16 else 6) or 1
    down = max(1, -(-len(pairs) // across))
    height = 1.3 + down * (1.95 if down < 4 else 1.5)
    units = units_of(comparison)
    with look.drawing():
        figure = Figure(figsize=(10.0, height), facecolor=look.PAPER)
        title = f"Rise over ambient [{DIFFERENCE_SYMBOL[units]}] by pin" + (f", stage {stage}" if stage else "")
        at = {"fontsize": 12, "fontweight": "bold", "va": "center"}
        figure.text(0.06, 1 - 0.28 / height, look.shortened(title, 90), **at)
        _key(figure, comparison, height)
        if not pairs:
            figure.text(0.06, 0.5, "No pin has a rise in both tests.", color=look.SOFT)
            return figure
        grid = figure.subplots(down, across, sharex=True, sharey=True, squeeze=False)
        gaps = {"hspace": 0.35, "wspace": 0.14, "left": 0.06, "right": 0.985}
        figure.subplots_adjust(top=1 - 0.95 / height, bottom=0.5 / height, **gaps)
        for axes in grid.flat[len(pairs) :]:
            axes.set_axis_off()
        for axes, pair in zip(grid.flat, pairs, strict=False):
            _panel(axes, pair)
        _common_axes(grid, pairs)
        figure.text(0.52, 0.12 / height, "time into the stage [minutes:seconds]", ha="center", fontsize=8.5)
    return figure


def main_stage(comparison: Comparison) -> str:
    """The stage that is charted: the one with the greatest rise in either test."""
    table = comparison.table
    if not len(table):
        return ""
    rises = table[["before_rise_c", "after_rise_c"]].astype(float).max(axis=1)
    return str(table["stage"].loc[rises.idxmax()]) if rises.notna().any() else str(table["stage"].iloc[0])


def pairs_of(comparison: Comparison) -> list[Pair]:
    """The pins of the charted stage that have a rise in at least one of the tests, in the table's order."""
    stage, units = main_stage(comparison), units_of(comparison)
    found = []
    for row in comparison.table[comparison.table["stage"] == stage].to_dict("records"):
        sides = {
            word: _rise(results, stage, row["pin"], units)
            for word, results in (("before", comparison.before), ("after", comparison.after))
        }
        expected = row["expected_rise_c"]
        expected = difference_from_kelvin(float(expected), units) if pages.known(expected) else math.nan
        if any(side.shape[1] for side in sides.values()):
            found.append(Pair(str(row["pin"]), row["verdict"], sides, expected))
    return found


def page(history: Sequence[Comparison], svgs: Sequence[str], written: str | None = None) -> str:
    """compare.html: the latest session against the first, then the ones between. All text of the user is escaped.

    `svgs` are the charts in the order of `history`; `written` is the clock line (now, if None).
    """
    latest, units = history[-1], units_of(history[-1])
    blocks = [
        _block(comparison, pages.inline_svg(svg, f"c{place}-" if place else ""), units)
        for place, (comparison, svg) in enumerate(zip(history, svgs, strict=True))
    ]
    return pages.render(
        "compare.html",
        title=latest.after.findings.get("title") or "load test of a connector",
        blocks=blocks[::-1],
        steps=_steps(history, units) if len(history) > 1 else None,
        inputs=list({entry["name"]: entry for block in blocks for entry in block["told"]["inputs"]}.values()),
        version=latest.version,
        cautions=cautions(units),
        written=written or pages.written_now(),
    )


def _block(comparison: Comparison, chart: str, units: str) -> dict[str, Any]:
    told, smallest = compare_dict(comparison), comparison.smallest_change_k
    stages = _stage_tables(told["pins"], units)
    return {
        "told": told,
        "chart": chart,
        "chart_words": chart_words(comparison),
        "heads": pages.without_empty(_heads(units), stages),
        "stages": stages,
        "smallest": words.difference(smallest, units) if pages.known(smallest) else "",
        "row_basis": _row_basis(told),
    }


def _steps(history: Sequence[Comparison], units: str) -> dict[str, Any]:
    """The history of one connector as a table: rise of each pin in the charted stage, a column per session."""
    stage = main_stage(history[-1])
    rows: dict[str, list[str]] = {}
    for comparison in history:
        here = comparison.table[comparison.table["stage"] == stage]
        for row in here.to_dict("records"):
            rows.setdefault(str(row["pin"]), [pages.rise_cell(row["before_rise_c"], units)])
    for comparison in history:
        here = {str(row["pin"]): row for row in comparison.table.to_dict("records") if row["stage"] == stage}
        for pin, cells in rows.items():
            row = here.get(pin)
            known = row is not None and pages.known(row["after_rise_c"])
            cells.append(f"{pages.rise_cell(row['after_rise_c'], units)} {row['verdict']}" if known else pages.ABSENT)
    names = [history[0].before.name, *(comparison.after.name for comparison in history)]
    caption = f"Rise over ambient [{DIFFERENCE_SYMBOL[units]}]" + (f", stage {stage}" if stage else "")
    return {"caption": caption, "names": names, "rows": [{"pin": pin, "cells": cells} for pin, cells in rows.items()]}


def chart_words(comparison: Comparison) -> str:
    """What the chart shows, for those who cannot see it."""
    count = len(pairs_of(comparison))
    if not count:
        return "No pin has a rise in both tests, so the chart is empty."
    return (
        f"A panel for each of {count} pin{'s' if count != 1 else ''}: rise over ambient, the earlier test "
        "dashed, the later one solid, a bar at the right for the rise that would be expected without a change."
    )


def _rise(results: Results, stage: str, pin: str, units: str) -> np.ndarray:
    """(2, n): seconds into the stage, rise; n = 0 where there is none."""
    table = results.readings
    rows = table[(table["pin"].astype(str) == str(pin)) & (table["stage"].fillna("") == stage)]
    rows = rows.dropna(subset=["rise_c"]).sort_values("time_s", kind="stable")
    begun = [entry["start_s"] for entry in results.findings.get("stages", ()) if entry["name"] == stage]
    start = begun[0] if begun else (float(rows["time_s"].min()) if len(rows) else 0.0)
    rise = difference_from_kelvin(rows["rise_c"].to_numpy(float), units)
    return np.array([rows["time_s"].to_numpy(float) - start, rise])


def _panel(axes: Axes, pair: Pair) -> None:
    style_axes(axes)
    axes.tick_params(labelsize=7.5)
    for word, side in pair.sides.items():
        time, rise = broken(*side)
        keep = thinned(rise, _PANEL_POINTS)
        mark = {"marker": "o", "markersize": 3} if side.shape[1] == 1 else {}
        axes.plot(time[keep], rise[keep], **_LINES[word], **mark)
    if math.isfinite(pair.expected):
        beside = {"transform": axes.get_yaxis_transform(), "clip_on": False, "zorder": 5}
        axes.plot([0.95, 1.03], [pair.expected] * 2, **_expected(), **beside)
    changed = pair.verdict in ("better", "worse")
    words_ = f"{look.shortened(pair.pin, 12)}  {pair.verdict}"
    weight = "bold" if changed else "normal"
    axes.set_title(words_, fontsize=8.5, loc="left", fontweight=weight, color=look.INK, pad=3)


def _expected() -> dict[str, Any]:
    return {"color": look.hues()[3], "linewidth": 3.0}


def _common_axes(grid: np.ndarray, pairs: list[Pair]) -> None:
    sides = [side for pair in pairs for side in pair.sides.values() if side.shape[1]]
    time, rise = np.concatenate([s[0] for s in sides]), np.concatenate([s[1] for s in sides])
    expected = [pair.expected for pair in pairs if math.isfinite(pair.expected)]
    low, high = min([0.0, rise.min()]), max([rise.max(), *expected])
    span = max(high - low, 2.0)
    for axes in grid.flat:
        axes.set_ylim(low - 0.05 * span, low + 1.1 * span)
    first, last = float(time.min()), float(time.max())
    time_axis(grid[0, 0], min(0.0, first), last if last > first else first + 60.0)
    ticks = list(grid[0, 0].get_xticks())
    every = -(-len(ticks) // (4 if grid.shape[1] < 5 else 3))
    grid[0, 0].set_xticks(ticks[::every])
    for axes in grid[-2:].flat:
        axes.tick_params(labelbottom=True)
    if grid.shape[0] > 1:
        full = len(pairs) - (grid.shape[0] - 1) * grid.shape[1]
        for axes in grid[-2, :full]:
            axes.tick_params(labelbottom=False)


def _key(figure: Figure, comparison: Comparison, height: float) -> None:
    """What is dashed and what is solid, in words beside samples."""
    from matplotlib.lines import Line2D

    samples = [Line2D([], [], **_LINES[word]) for word in ("before", "after")]
    samples.append(Line2D([], [], **_expected()))
    both = (("before", comparison.before.name), ("after", comparison.after.name))
    named = [word if word == name else f"{word}: {look.shortened(name, 28)}" for word, name in both]
    place = {"loc": "upper left", "bbox_to_anchor": (0.053, 1 - 0.38 / height), "ncols": 3, "frameon": False}
    figure.legend(samples, [*named, "expected without a change"], fontsize=8.5, **place)


def _heads(units: str) -> list[str]:
    rise = DIFFERENCE_SYMBOL[units]
    return [f"before [{rise}]", f"expected [{rise}]", f"after [{rise}]", f"change [{rise}]", "heat after / before"]


def _stage_tables(rows: list[dict[str, Any]], units: str) -> list[dict[str, Any]]:
    found = []
    for stage in dict.fromkeys(row["stage"] for row in rows):
        here = [row | {"cells": _cells(row, units)} for row in rows if row["stage"] == stage]
        found.append({"caption": f"Stage {stage}" if stage else "The whole run", "rows": here})
    return found


def _cells(row: Mapping[str, Any], units: str) -> list[str]:
    rises = [pages.rise_cell(row[f"{word}_rise_c"], units) for word in ("before", "expected", "after")]
    change = pages.ranged(*(pages.rise_cell(row[f"change{end}_c"], units) for end in ("", "_low", "_high")))
    heat = pages.ranged(*(pages.ratio_cell(row[f"heat_change{end}"]) for end in ("", "_low", "_high")))
    return [*rises, change, heat]


def _row_basis(told: Mapping[str, Any]) -> list[str]:
    """What single rows rest on and the whole does not say already, each once with its pins."""
    by_text: dict[tuple[str, str], list[str]] = {}
    for row in told["pins"]:
        for text in row["basis"]:
            if text not in told["basis"]:
                by_text.setdefault((row["stage"], text), []).append(row["pin"])
    every = len({row["pin"] for row in told["pins"]})
    return [
        f"{f'Stage {stage}, ' if stage else ''}{_which(list(dict.fromkeys(pins)), every)}: {text}"
        for (stage, text), pins in by_text.items()
    ]


def _which(pins: list[str], every: int) -> str:
    if len(pins) == 1:
        return f"pin {pins[0]}"
    return "all pins" if len(pins) == every else f"pins {words.joined(pins)}"
