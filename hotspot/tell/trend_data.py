"""What a trend chart needs, built alike from a fresh analysis and from results that lie on disk."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.errors import refuse
from hotspot.records import Analysis
from hotspot.tell.words import number, text

if TYPE_CHECKING:
    import pandas as pd

MOST_POINTS = 600
GAP_STEPS = 2.5
"""A line breaks where the next reading is this many usual steps away. Judgement; one lost frame shows."""


@dataclass(frozen=True, slots=True)
class PinLine:
    """One pin's readings in time order. Arrays (n,): s, °C, K, K; `clipped` -1 low, 1 high, 0 neither; `stage` its
    name, empty outside every stage."""

    name: str
    place: int
    verdict: str
    time_s: np.ndarray
    celsius: np.ndarray
    uncertainty_k: np.ndarray
    rise_k: np.ndarray
    clipped: np.ndarray
    stage: np.ndarray


@dataclass(frozen=True, slots=True)
class StageBand:
    """A stage on the time axis and what is said of its load."""

    name: str
    start_s: float
    end_s: float
    load: str


@dataclass(frozen=True, slots=True)
class TrendData:
    """Lines, stages, events, ratings of one session. `ambient` is (2, n): s, °C; n = 0 where not known; `guessed` where
    it is an estimate."""

    title: str
    units: str
    lines: tuple[PinLine, ...]
    stages: tuple[StageBand, ...]
    ambient: np.ndarray
    events: tuple[tuple[float, str], ...] = ()
    ratings: tuple[tuple[str, float], ...] = ()
    guessed: bool = False


def trend_of(analysis: Analysis) -> TrendData:
    """The trend of a fresh analysis."""
    from hotspot.tell.tables import findings_dict

    return trend_data(analysis.readings, findings_dict(analysis))


def trend_data(readings: pd.DataFrame, findings: Mapping[str, Any]) -> TrendData:
    """The trend of a readings table (°C) and the content of findings.json.

    The ambient is each frame's temperature less its rise, so that both sources give the same chart.
    """
    session = findings.get("settings", {}).get("session", {})
    connector = session.get("connector", {})
    verdicts = {pin["name"]: pin["verdict"] for pin in findings.get("pins", ())}
    together = {str(name): rows for name, rows in readings.groupby("pin", sort=False)}
    names = [name for name in verdicts if name in together] + [n for n in together if n not in verdicts]
    return TrendData(
        title=findings.get("title", ""),
        units=findings.get("units", "C"),
        lines=tuple(
            _line(name, place, verdicts.get(name, "unknown"), together[name]) for place, name in enumerate(names)
        ),
        stages=tuple(_band(stage) for stage in findings.get("stages", ())),
        ambient=_ambient(readings),
        events=tuple((event["time_s"], event["what"]) for event in session.get("event", ())),
        ratings=_ratings(connector.get("rated"), connector.get("wire_rated")),
        guessed=readings["quality"].astype(str).str.contains("ambient_estimated").any(),
    )


def chosen(data: TrendData, only: Sequence[str] | None = None, within: str | None = None) -> TrendData:
    """The trend of some pins only, and of one stage only. Raises InputError for names that are not there."""
    if only:
        known = {line.name for line in data.lines}
        missing = [name for name in only if name not in known]
        if missing:
            have = ", ".join(known and sorted(known)) or "none"
            raise refuse("--only", "", f"no pin is called {', '.join(missing)}", f"The pins are: {have}.")
        data = replace(data, lines=tuple(line for line in data.lines if line.name in set(only)))
    if within is None:
        return data
    bands = tuple(band for band in data.stages if band.name == within)
    if not bands:
        have = ", ".join(band.name for band in data.stages if band.name) or "none"
        raise refuse("--within", "", f"no stage is called {within}", f"The stages are: {have}.")
    return _cut(data, bands)


def name_of(units: str | None, only: Sequence[str] | None, within: str | None, as_rise: bool) -> str:
    """Name without suffix of a redrawn chart's files: `trend` for the one of the report, else what is in it."""
    parts = [*(["only", *only] if only else []), *(["within", within] if within else [])]
    parts += [*(["rise"] if as_rise else []), *([units] if units else [])]
    plain = (re.sub(r"[^\w.+-]+", "-", part).strip("-.") or "x" for part in parts)
    return "_".join(("trend", *plain))[:100]


def load_text(amps: Any) -> str:
    """What a chart says of a stage's amps: one value, a range, `equal` or not known."""
    if isinstance(amps, Mapping):
        loaded = sorted(value for value in amps.values() if value)
        if not loaded:
            return text("load_none")
        first, last = number(loaded[0]), number(loaded[-1])
        return text("load_amps", amps=first) if first == last else text("load_amps_range", low=first, high=last)
    if amps == "equal":
        return text("load_equal")
    return text("load_unknown_short") if amps is None else text("load_amps", amps=number(amps))


def broken(time_s: np.ndarray, *columns: np.ndarray) -> tuple[np.ndarray, ...]:
    """A NaN row put in wherever readings are missing for longer than usual, so that the line breaks there."""
    if len(time_s) < 3:
        return (time_s, *columns)
    steps = np.diff(time_s)
    wide = np.flatnonzero(steps > GAP_STEPS * np.median(steps)) + 1
    middle = np.insert(time_s, wide, (time_s[wide - 1] + time_s[wide]) / 2)
    return (middle, *(np.insert(np.asarray(column, float), wide, np.nan) for column in columns))


def thinned(values: np.ndarray, most: int = MOST_POINTS) -> np.ndarray:
    """Numbers of the points to draw: first, last, lowest, highest of each run of points, and every gap."""
    if len(values) <= most:
        return np.arange(len(values))
    keep = set(np.flatnonzero(~np.isfinite(values)).tolist()) | {0, len(values) - 1}
    for part in np.array_split(np.arange(len(values)), most // 2):
        good = part[np.isfinite(values[part])]
        if len(good):
            keep |= {int(good[np.argmin(values[good])]), int(good[np.argmax(values[good])])}
    return np.array(sorted(keep))


def _ratings(rated: float | None, wire_rated: float | None) -> tuple[tuple[str, float], ...]:
    """The ratings that are known, with their words; two of the same height are one line."""
    if rated is not None and rated == wire_rated:
        return ((text("chart_rating_both"), rated),)
    both = ((text("chart_rating"), rated), (text("chart_wire_rating"), wire_rated))
    return tuple((word, value) for word, value in both if value is not None)


def _line(name: str, place: int, verdict: str, rows: pd.DataFrame) -> PinLine:
    rows = rows.sort_values("time_s", kind="stable")
    side = rows["clipped"].fillna("").map({"low": -1, "high": 1}).fillna(0)
    numbers = (rows[c].to_numpy(float) for c in ("time_s", "temperature_c", "uncertainty_c", "rise_c"))
    stage = rows["stage"].fillna("").to_numpy(dtype=object)
    return PinLine(name, place, verdict, *numbers, side.to_numpy(int), stage)


def _band(stage: Mapping[str, Any]) -> StageBand:
    amps = stage.get("amps")
    load = "" if amps is None and not stage["name"] else load_text(amps)
    return StageBand(stage["name"], stage["start_s"], stage["end_s"], load)


def _ambient(readings: pd.DataFrame) -> np.ndarray:
    away = (readings["temperature_c"] - readings["rise_c"]).astype(float)
    per_time = away.groupby(readings["time_s"]).median().dropna()
    return np.array([per_time.index.to_numpy(float), per_time.to_numpy(float)])


def _cut(data: TrendData, bands: tuple[StageBand, ...]) -> TrendData:
    """The readings of some stages, which are told by name: their bounds on disk are rounded."""
    names = {band.name for band in bands}
    lines, kept = [], set()
    for line in data.lines:
        keep = np.array([stage in names for stage in line.stage], dtype=bool)
        columns = (line.time_s, line.celsius, line.uncertainty_k, line.rise_k, line.clipped, line.stage)
        lines.append(PinLine(line.name, line.place, line.verdict, *(column[keep] for column in columns)))
        kept.update(line.time_s[keep].tolist())
    events = tuple(event for event in data.events if any(band.start_s <= event[0] <= band.end_s for band in bands))
    ambient = data.ambient[:, [time in kept for time in data.ambient[0].tolist()]]
    return replace(data, lines=tuple(lines), stages=bands, events=events, ambient=ambient)
