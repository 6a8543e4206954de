"""A logger's table of temperatures -> the same readings table that frames give."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hotspot.columns import READINGS, column_names
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
    import pandas as pd

    table = readings.copy()
    stage_of = {index: span.name for span in stages for index in span.frames}
    table["stage"] = table["frame"].map(stage_of).fillna("")
    noise = {pin: series_noise(group["temperature_c"].to_numpy()) for pin, group in table.groupby("pin")}
    accuracy = (session.camera.accuracy_k or 0.0) / np.sqrt(3.0)
    table["uncertainty_c"] = np.hypot(table["pin"].map(noise).astype(float), accuracy)
    table["common_c"] = accuracy
    ambient = ambient_at(session, table["time_s"].to_numpy(), ambient_log)
    table["rise_c"] = table["temperature_c"] - ambient
    table["pixels"] = np.nan
    table["shift_px"] = np.nan
    table["clipped"] = ""
    if "quality" not in table:
        table["quality"] = ""
    notices = [] if np.isfinite(ambient).any() else [Statement("ambient_unknown")]
    if session.camera.accuracy_k is None:
        notices.append(Statement("accuracy_not_stated"))
    known = pd.DataFrame({"time_s": table["time_s"], "ambient_c": ambient}).dropna().drop_duplicates()
    return Extracted(table[column_names(READINGS)], known.reset_index(drop=True), (), tuple(notices))


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
