"""A logger's table of temperatures -> the same readings table that frames give."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hotspot.columns import READINGS, column_names
from hotspot.extract.air import Air, Told, air_of
from hotspot.records import Extracted, StageSpan, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    import pandas as pd

NOISE_FLOOR_K = 0.01


def complete(
    session: Session,
    readings: pd.DataFrame,
    stages: tuple[StageSpan, ...],
    ambient_log: tuple[np.ndarray, np.ndarray] | None,
) -> Extracted:
    """Add stage, uncertainty, rise and quality to a logger's readings.

    `readings` has frame, file, time_s, pin, temperature_c [°C] and `quality`; `ambient_log` is (times [s],
    ambient [°C]) or None. Standard uncertainty: noise and quantisation seen in the series itself, and the
    stated limits of error of the instrument as a rectangular distribution (JCGM 100:2008, 4.3.7).
    """
    table = readings.copy()
    stage_of = {index: span.name for span in stages for index in span.frames}
    table["stage"] = [stage_of.get(frame, "") for frame in table["frame"]]
    noise = {pin: series_noise(group["temperature_c"].to_numpy()) for pin, group in table.groupby("pin")}
    accuracy = (session.camera.accuracy_k or 0.0) / np.sqrt(3.0)
    table["uncertainty_c"] = np.hypot(table["pin"].map(noise).astype(float), accuracy)
    table["common_c"] = accuracy
    frames, air = _air(session, table, stages, ambient_log)
    beside = frames.assign(ambient_c=air.celsius, drift_c=air.drift_k).set_index("frame")
    table["rise_c"] = table["temperature_c"] - table["frame"].map(beside["ambient_c"])
    table["drift_c"] = table["frame"].map(beside["drift_c"])
    table["pixels"] = np.nan
    table["shift_px"] = np.nan
    table["clipped"] = ""
    if "quality" not in table:
        table["quality"] = ""
    if air.estimated:
        table["quality"] = [";".join(filter(None, (had, "ambient_estimated"))) for had in table["quality"]]
    notices = list(air.notices)
    if session.camera.accuracy_k is None:
        notices.append(Statement("accuracy_not_stated"))
    known = beside[["time_s", "ambient_c"]].dropna().drop_duplicates().reset_index(drop=True)
    settings = {"ambient": dict(air.settings)}
    return Extracted(table[column_names(READINGS)], known, (), tuple(notices), settings=settings)


def _air(
    session: Session,
    table: pd.DataFrame,
    stages: tuple[StageSpan, ...],
    ambient_log: tuple[np.ndarray, np.ndarray] | None,
) -> tuple[pd.DataFrame, Air]:
    """(frame and time_s of each moment, the ambient beside it, told or estimated)."""
    frames = table[["frame", "time_s"]].drop_duplicates("frame").sort_values("time_s", kind="stable")
    frames = frames.reset_index(drop=True)
    times = frames["time_s"].to_numpy(float)
    told = ambient_at(session, times, ambient_log)
    origin = "not known" if not np.isfinite(told).any() else "log" if session.ambient is None else "number"
    pins = table.pivot_table(index="frame", columns="pin", values="temperature_c", sort=False, dropna=False)
    pins = pins.reindex(frames["frame"]).to_numpy(float)
    return frames, air_of(times, pins, Told(told, origin), stages, None)


def ambient_at(session: Session, times: np.ndarray, ambient_log: tuple[np.ndarray, np.ndarray] | None) -> np.ndarray:
    """Ambient [°C] at `times` [s] (n,): the stated number, else the log's, else NaN."""
    if session.ambient is not None:
        return np.full(len(times), session.ambient)
    if ambient_log is None or len(ambient_log[0]) == 0:
        return np.full(len(times), np.nan)
    return np.interp(times, ambient_log[0], ambient_log[1])


def series_noise(celsius: np.ndarray) -> float:
    """Standard uncertainty [K] of one reading from the series itself.

    Noise: median absolute second difference / (0.6745 sqrt 6), which a slow trend does not touch and single
    wrong readings hardly do. Quantisation: the smallest step seen / sqrt 12 (JCGM 100:2008, F.2.2.1).
    """
    values = celsius[np.isfinite(celsius)]
    if len(values) < 4:
        return NOISE_FLOOR_K
    second = np.diff(values, 2)
    noise = float(np.median(np.abs(second))) / (0.6745 * np.sqrt(6.0))
    steps = np.diff(np.unique(np.round(values, 6)))
    step = float(steps.min()) if len(steps) else 0.0
    return max(NOISE_FLOOR_K, float(np.hypot(noise, step / np.sqrt(12.0))))
