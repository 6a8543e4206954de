"""The trend chart in numbers: what a page reads out where it is pointed at, and a table for who cannot see it."""

from __future__ import annotations

from typing import Any

import numpy as np

from hotspot.records import Analysis, bounded
from hotspot.tell import look, words
from hotspot.tell.charts import BAND_K
from hotspot.tell.pages import ABSENT
from hotspot.tell.trend_data import trend_of
from hotspot.units import SYMBOL, difference_from_kelvin, from_celsius

MOST_TIMES = 240
MOST_VALUES = 9_000
"""Of all pins together: what a page can carry."""
IN_TABLE = 7


def readout(analysis: Analysis, span_s: tuple[float, float]) -> dict[str, Any] | None:
    """For the page's script: pins, times [s, as text], values and half intervals in the reader's unit; None if empty.

    `span_s` are the ends of the chart's time axis. `value` and `half` are (pins, times), None where there is none.
    `bound` has per pin, by the number of the time, the words of values that are bounds, which have no interval.
    """
    data = trend_of(analysis)
    times = np.unique(np.concatenate([line.time_s for line in data.lines] or [np.zeros(0)]))
    if not len(times):
        return None
    most = max(2, min(MOST_TIMES, MOST_VALUES // len(data.lines)))
    times = times[_evenly(len(times), most)]
    value, half, bound = [], [], []
    for line in data.lines:
        place = np.searchsorted(line.time_s, times).clip(0, len(line.time_s) - 1)
        there = line.time_s[place] == times
        value.append(_rounded(from_celsius(line.celsius[place], data.units), there))
        sides = line.clipped[place]
        half.append(
            _rounded(BAND_K * difference_from_kelvin(line.uncertainty_k[place], data.units), there & (sides == 0))
        )
        bound.append({k: _bounded(value[-1][k], sides[k]) for k in np.flatnonzero(there & (sides != 0)).tolist()})
    return {
        "unit": SYMBOL[data.units],
        "span": list(span_s),
        "time": [float(time) for time in times],
        "clock": [words.clock(time) for time in times],
        "pins": [look.shortened(line.name, 24) for line in data.lines],
        "value": value,
        "half": half,
        "bound": bound,
    }


def bytes_of(analysis: Analysis) -> int:
    """About how many bytes the readout takes on a page."""
    times, pins = analysis.readings["time_s"].nunique(), analysis.readings["pin"].nunique()
    return 10 * min(MOST_VALUES, min(times, MOST_TIMES) * pins)


def table(told: dict[str, Any] | None) -> dict[str, Any] | None:
    """A row per pin, a column for each of a few times spread over the test, the first and last among them."""
    if told is None:
        return None
    at = _evenly(len(told["time"]), IN_TABLE)
    rows = [
        {"pin": pin, "cells": [bounds.get(k) or _cell(values[k]) for k in at]}
        for pin, values, bounds in zip(told["pins"], told["value"], told["bound"], strict=True)
    ]
    return {"heads": [f"{told['clock'][k]} [{told['unit']}]" for k in at], "rows": rows}


def _cell(value: float | None) -> str:
    return ABSENT if value is None else f"{value:.1f}"


def _bounded(value: float | None, side: int) -> str:
    """A value of the readout that the scale clips, in words; `side` 1 at its high end, -1 at its low end."""
    return words.at_bound_short(bounded(value, "high" if side > 0 else "low"), _cell(value))


def _evenly(count: int, most: int) -> list[int]:
    return sorted(set(np.linspace(0, count - 1, min(count, most)).round().astype(int).tolist()))


def _rounded(values: np.ndarray, there: np.ndarray) -> list[float | None]:
    good = there & np.isfinite(values)
    return [round(float(value), 1) if one else None for value, one in zip(values, good, strict=True)]
