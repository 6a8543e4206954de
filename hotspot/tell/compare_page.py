"""Before and after: one chart with a panel per pin, and compare.html."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.records import Comparison, Results
from hotspot.tell import look, pages, words
from hotspot.tell.basis import basis_lines, in_plain_words, least_shown, rises_of
from hotspot.tell.cautions import cautions, vital
from hotspot.tell.charts import CLIPPED, style_axes, time_axis
from hotspot.tell.report_parts import signs_in
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
    """One pin's rise in both tests: per side (4, n) seconds into the stage, rise in the reader's unit, half of its 95 %
    interval (NaN for a bound), 1 or -1 where the scale clips it at its high or low end. `expected` without a change,
    and `within` (low, high) its 95 % interval against the later rise."""

    pin: str
    verdict: str
    sides: Mapping[str, np.ndarray]
    expected: float
    within: tuple[float, float]


WIDE_IN, NARROW_IN = 10.0, 4.2
COVERAGE = 1.96  # standard uncertainties of 95 %


def chart(comparison: Comparison, wide_in: float = WIDE_IN) -> Figure:
    """Rise over ambient against time into the stage, a panel per pin, both tests on the same axes."""
    from matplotlib.figure import Figure

    stage, pairs = main_stage(comparison), pairs_of(comparison)
    most = int(wide_in / 2.05)
    across = min(len(pairs), most if len(pairs) <= 16 else most * 3 // 2) or 1
    down = max(1, -(-len(pairs) // across))
    unit = DIFFERENCE_SYMBOL[units_of(comparison)]
    title = words.text("cmp_chart_stage" if stage else "cmp_chart", unit=unit, stage=stage)
    with look.drawing():
        lines = look.folded(title, 72 * (wide_in - 0.7), 12, "bold")
        samples = _samples(comparison)
        keys = 1 if wide_in > 8 else len(samples)
        above = 0.52 + 0.22 * (len(lines) - 1) + 0.22 * keys + 0.2
        height = above + 0.35 + down * (1.95 if down < 4 else 1.5)
        figure = Figure(figsize=(wide_in, height), facecolor=look.PAPER)
        for place, line in enumerate(lines):
            at = {"fontsize": 12, "fontweight": "bold", "va": "center"}
            figure.text(0.6 / wide_in, 1 - (0.28 + 0.22 * place) / height, line, **at)
        place = {"loc": "upper left", "bbox_to_anchor": (0.53 / wide_in, 1 - (above - 0.22 * keys - 0.32) / height)}
        size = 8.5 if keys == 1 else 9.0
        figure.legend(*zip(*samples, strict=True), fontsize=size, ncols=3 if keys == 1 else 1, frameon=False, **place)
        if not pairs:
            figure.text(0.6 / wide_in, 0.5, words.text("cmp_chart_none"), color=look.SOFT)
            return figure
        grid = figure.subplots(down, across, sharex=True, sharey=True, squeeze=False)
        gaps = {"hspace": 0.35, "wspace": 0.14, "left": 0.6 / wide_in, "right": 1 - 0.15 / wide_in}
        figure.subplots_adjust(top=1 - above / height, bottom=0.5 / height, **gaps)
        for axes in grid.flat[len(pairs) :]:
            axes.set_axis_off()
        for axes, pair in zip(grid.flat, pairs, strict=False):
            _panel(axes, pair)
        _common_axes(grid, pairs)
        figure.text(0.52, 0.12 / height, words.text("cmp_chart_time"), ha="center", fontsize=8.5)
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
        if any(side.shape[1] for side in sides.values()):
            found.append(Pair(str(row["pin"]), row["verdict"], sides, *_expected_of(row, units)))
    return found


def _expected_of(row: Mapping[str, Any], units: str) -> tuple[float, tuple[float, float]]:
    """The expected rise and its interval: what is uncertain of the change, laid about it."""
    keys = ("expected_rise_c", "after_rise_c", "change_high_c", "change_low_c")
    expected, after, most, least = (float(row[key]) if pages.known(row[key]) else math.nan for key in keys)
    middle, low, high = (difference_from_kelvin(value, units) for value in (expected, after - most, after - least))
    return middle, (low, high)


def drawn(comparison: Comparison, name: str) -> str:
    """The chart as HTML in its wide and its narrow form; `name` parts the ids of several charts on a page."""
    both = (look.svg_text(chart(comparison, wide_in)) for wide_in in (WIDE_IN, NARROW_IN))
    return pages.inline_both(name, *both)


def page(history: Sequence[Comparison], written: str | None = None) -> str:
    """compare.html: the latest session against the first, then the ones between. All text of the user is escaped.

    `written` is the clock line (now, if None).
    """
    from hotspot.tell import compare_views

    latest, units = history[-1], units_of(history[-1])
    blocks = [
        _block(comparison, drawn(comparison, f"c{place}"), units)
        | {"views": compare_views.section(comparison, f"c{place}")}
        for place, comparison in enumerate(history)
    ]
    return pages.render(
        "compare.html",
        title=latest.after.findings.get("title") or words.text("cmp_untitled"),
        blocks=blocks[::-1],
        steps=_steps(history, units) if len(history) > 1 else None,
        inputs=list({entry["name"]: entry for block in blocks for entry in block["told"]["inputs"]}.values()),
        version=latest.version,
        vital=vital(units),
        cautions=cautions(units),
        written=written or pages.written_now(),
    )


def _block(comparison: Comparison, chart: str, units: str) -> dict[str, Any]:
    told = compare_dict(comparison)
    stages = _stage_tables(told["pins"], units, comparison.before.findings.get("source_pins") or ())
    return {
        "told": told,
        "chart": chart,
        "chart_words": chart_words(comparison),
        "stages": stages,
        "legend": _legend(told["pins"], stages),
        "basis": basis_lines(told),
    }


def _legend(rows: Sequence[Mapping[str, Any]], stages: Sequence[Mapping[str, Any]]) -> str:
    """What the columns, words and signs mean that are there."""
    heads = {head for stage in stages for head in stage["heads"]}
    told = [words.text("cmp_meaning_expected")]
    if words.text("column_heat_change") in heads:
        told.append(words.text("cmp_meaning_heat"))
    told.append(words.text("report_meaning_range"))
    told += signs_in(cell for stage in stages for row in stage["rows"] for cell in row["cells"])
    if any(row["verdict"] == "not comparable" for row in rows):
        told.append(words.text("cmp_meaning_not"))
    return " ".join(told)


def _steps(history: Sequence[Comparison], units: str) -> dict[str, Any]:
    """The history of one connector as a table: rise of each pin in the charted stage, a column per session."""
    stage = main_stage(history[-1])
    rows: dict[str, list[str]] = {}
    for comparison in history:
        here = comparison.table[comparison.table["stage"] == stage]
        for row in here.to_dict("records"):
            rows.setdefault(str(row["pin"]), [pages.rise_cell(rises_of(row)["before"], units)])
    for comparison in history:
        here = {str(row["pin"]): row for row in comparison.table.to_dict("records") if row["stage"] == stage}
        for pin, cells in rows.items():
            row = here.get(pin)
            known = row is not None and pages.known(row["after_rise_c"])
            cells.append(
                f"{pages.rise_cell(rises_of(row)['after'], units)} {row['verdict']}" if known else pages.ABSENT
            )
    names = [history[0].before.name, *(comparison.after.name for comparison in history)]
    caption = words.text("cmp_steps_stage" if stage else "cmp_steps", unit=DIFFERENCE_SYMBOL[units], stage=stage)
    return {"caption": caption, "names": names, "rows": [{"pin": pin, "cells": cells} for pin, cells in rows.items()]}


def chart_words(comparison: Comparison) -> str:
    """What the chart shows, for those who cannot see it."""
    pairs = pairs_of(comparison)
    if not pairs:
        return words.text("cmp_chart_words_none")
    clipped = any((side[3] != 0).any() for pair in pairs for side in pair.sides.values())
    said = words.text("cmp_chart_words", count=len(pairs))
    return f"{said} {words.text('cmp_chart_arrows')}" if clipped else said


def _rise(results: Results, stage: str, pin: str, units: str) -> np.ndarray:
    """One side of a Pair; n = 0 where there is none."""
    table = results.readings
    rows = table[(table["pin"].astype(str) == str(pin)) & (table["stage"].fillna("") == stage)]
    rows = rows.dropna(subset=["rise_c"]).sort_values("time_s", kind="stable")
    begun = [entry["start_s"] for entry in results.findings.get("stages", ()) if entry["name"] == stage]
    start = begun[0] if begun else (float(rows["time_s"].min()) if len(rows) else 0.0)
    rise = difference_from_kelvin(rows["rise_c"].to_numpy(float), units)
    half = difference_from_kelvin(COVERAGE * rows["uncertainty_c"].to_numpy(float), units)
    ends = rows["clipped"].fillna("").map({"low": -1, "high": 1}).fillna(0).to_numpy(float)
    return np.array([rows["time_s"].to_numpy(float) - start, rise, np.where(ends == 0, half, np.nan), ends])


def _panel(axes: Axes, pair: Pair) -> None:
    style_axes(axes)
    axes.tick_params(labelsize=7.5)
    for word, side in pair.sides.items():
        time, rise, half, ends = broken(*side)
        keep = thinned(rise, _PANEL_POINTS)
        band = {"color": _LINES[word]["color"], "alpha": 0.13, "linewidth": 0, "zorder": 2}
        axes.fill_between(time[keep], (rise - half)[keep], (rise + half)[keep], **band)
        mark = {"marker": "o", "markersize": 3} if side.shape[1] == 1 else {}
        axes.plot(time[keep], rise[keep], **_LINES[word], **mark)
        for end, arrow in CLIPPED:
            where = np.flatnonzero(ends == end)
            where = where[:: max(1, len(where) // 6)]
            form = {"s": 22, "facecolors": look.PAPER, "edgecolors": _LINES[word]["color"], "zorder": 6}
            if len(where):
                axes.scatter(time[where], rise[where], marker=arrow, linewidths=1.0, **form)
    if math.isfinite(pair.expected):
        beside = {"transform": axes.get_yaxis_transform(), "clip_on": False, "zorder": 5}
        axes.plot([0.95, 1.03], [pair.expected] * 2, **_expected(), **beside)
        axes.plot([0.99, 0.99], pair.within, **(_expected() | {"linewidth": 1.4}), **beside)
    changed = pair.verdict in ("better", "worse")
    words_ = f"{look.shortened(pair.pin, 12)}  {pair.verdict}"
    weight = "bold" if changed else "normal"
    axes.set_title(words_, fontsize=8.5, loc="left", fontweight=weight, color=look.INK, pad=3)


def _expected() -> dict[str, Any]:
    return {"color": look.hues()[3], "linewidth": 3.0}


def _common_axes(grid: np.ndarray, pairs: list[Pair]) -> None:
    sides = [side for pair in pairs for side in pair.sides.values() if side.shape[1]]
    time, rise = np.concatenate([s[0] for s in sides]), np.concatenate([s[1] for s in sides])
    expected = [end for pair in pairs for end in (pair.expected, *pair.within) if math.isfinite(end)]
    low, high = min([0.0, rise.min(), *expected]), max([rise.max(), *expected])
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


def _samples(comparison: Comparison) -> list[tuple[Any, str]]:
    """What is dashed and what is solid: samples and their words."""
    from matplotlib.lines import Line2D

    lines = [Line2D([], [], **_LINES[word]) for word in ("before", "after")]
    both = (("before", comparison.before.name), ("after", comparison.after.name))
    named = [
        words.text(f"cmp_{side}")
        if side == name
        else words.text("cmp_side", side=words.text(f"cmp_{side}"), name=look.shortened(name, 28))
        for side, name in both
    ]
    line = Line2D([], [], **_expected())
    return [*zip(lines, named, strict=True), (line, words.text("cmp_chart_expected"))]


def _heads(units: str) -> list[str]:
    rise = DIFFERENCE_SYMBOL[units]
    return [
        words.text(f"column_{word}", unit=rise) for word in ("before", "expected", "after", "change", "heat_change")
    ]


def _stage_tables(rows: list[dict[str, Any]], units: str, sources: Sequence[str]) -> list[dict[str, Any]]:
    """A table per stage; columns that no row fills are left out, `repaired` too."""
    found = []
    for stage in dict.fromkeys(row["stage"] for row in rows):
        plain = [in_plain_words(row, rows, sources) for row in rows]
        here = [
            row | {"cells": _cells(row, units), "plain": text}
            for row, text in zip(rows, plain, strict=True)
            if row["stage"] == stage
        ]
        told = {
            "caption": words.text("report_stage", name=stage) if stage else words.text("report_stage_whole"),
            "rows": here,
        }
        heads = pages.without_empty(_heads(units), [told])
        least = least_shown(here, units)
        found.append(told | {"heads": heads, "repaired": any(row["repaired"] for row in here), "least": least})
    return found


def _cells(row: Mapping[str, Any], units: str) -> list[str]:
    told = rises_of(row)
    rises = [pages.rise_cell(told[word], units) for word in ("before", "expected", "after")]
    change = pages.ranged(*(pages.rise_cell(row[f"change{end}_c"], units) for end in ("", "_low", "_high")))
    heat = pages.ranged(*(pages.ratio_cell(row[f"heat_change{end}"]) for end in ("", "_low", "_high")))
    return [*rises, change, heat]
