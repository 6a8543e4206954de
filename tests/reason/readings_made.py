"""Readings tables for the tests of this room, from plain numbers or from logged CSV files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from hotspot.columns import READINGS, column_names
from hotspot.records import StageSpan
from hotspot.session import Session, Stage

DATA = Path(__file__).parents[1] / "data"


def readings_of(times, celsius: dict[str, np.ndarray], ambient=None, uncertainty=0.2, clipped=None) -> pd.DataFrame:
    """One row per time and pin, in the contract's columns."""
    rows = []
    times = np.asarray(times, float)
    for pin, values in celsius.items():
        values = np.asarray(values, float)
        rows.append(pd.DataFrame({
            "frame": np.arange(times.size), "file": "log.csv", "time_s": times, "stage": "", "pin": pin,
            "temperature_c": values, "uncertainty_c": uncertainty,
            "rise_c": values - ambient if ambient is not None else np.nan,
            "pixels": np.nan, "clipped": (clipped or {}).get(pin, ""), "shift_px": np.nan, "quality": "",
            "common_c": np.nan,
            "drift_c": np.nan,
        }))  # fmt: skip
    return pd.concat(rows, ignore_index=True).sort_values(["frame", "pin"], ignore_index=True)[column_names(READINGS)]


def logged(name: str, ambient=None) -> pd.DataFrame:
    """A run of two heaters, logged every 0.25 s; channel 1 is pin "1", channel 2 pin "2"."""
    table = pd.read_csv(DATA / "two_heater_steps" / f"{name}.csv.gz")
    pins = {"1": table["T1_C"].to_numpy(), "2": table["T2_C"].to_numpy()}
    return readings_of(table["time_s"].to_numpy(), pins, ambient, uncertainty=0.5 / np.sqrt(12))


def span(times, amps=None, name="", start=None, end=None) -> StageSpan:
    """A stage over the times in [start, end), with its amps."""
    times = np.asarray(times, float)
    start = float(times[0]) if start is None else start
    end = float(times[-1]) + 1.0 if end is None else end
    inside = tuple(int(n) for n in np.flatnonzero((times >= start) & (times < end)))
    return StageSpan(name, start, end, inside, Stage(name=name, amps=amps))


def session_of(**keys) -> Session:
    """A session from plain keys."""
    return Session.model_validate(keys, strict=False)
