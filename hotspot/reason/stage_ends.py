"""One look at each pin in each stage: where it was at the end of what was recorded, and what that is worth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.physics.statistics import rectangular
from hotspot.reason import rise
from hotspot.records import StageSpan

if TYPE_CHECKING:
    import pandas as pd

    from hotspot.session import Session

LEAST_UNCERTAINTY_K = 0.1
"""Floor of what tells two pins apart, K: no reading of this trade is better (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Look:
    """A pin in a stage. °C, K, s, A; NaN where there is no value, None where it is not known.

    `times_s`, `celsius`, `uncertainty_k`, `clipped` are the readings (n,) up to the stage's last one, those before
    its start too, for they tell how it began; NaN where one was an outlier.
    `air_c` (n,) is the ambient beside them, NaN where not known; None where it never is. `drift_k` (n,) is what air and
    camera moved by beside them; None where the surroundings do not tell it.
    `own_k` is the standard uncertainty of last_c without what is common to every pin of the picture.
    """

    stage: int
    pin: str
    amps: float | None
    last_c: float
    last_s: float
    own_k: float
    ambient_c: float | None
    start_rise_k: float  # last_c over the first readings of the whole session; NaN where there was no time
    bound: str  # low, high or empty: last_c is a bound
    times_s: np.ndarray
    celsius: np.ndarray
    uncertainty_k: np.ndarray
    clipped: np.ndarray
    air_c: np.ndarray | None = None
    drift_k: np.ndarray | None = None
    shape_only: bool = False  # too few pixels across for a temperature

    @property
    def rise_k(self) -> float:
        """last_c over ambient, NaN where the ambient is not known."""
        return float("nan") if self.ambient_c is None else self.last_c - self.ambient_c


def spans_of(stages: tuple[StageSpan, ...], readings: pd.DataFrame) -> tuple[StageSpan, ...]:
    """The stages, or the one nameless stage of a session without any."""
    if stages:
        return stages
    times = readings["time_s"].to_numpy(float)
    start, end = (float(times.min()), float(times.max())) if times.size else (0.0, 0.0)
    return (StageSpan("", start, end, tuple(int(n) for n in readings["frame"].unique())),)


def looks_at(
    readings: pd.DataFrame, spans: tuple[StageSpan, ...], pins: tuple[str, ...], session: Session
) -> dict[tuple[int, str], Look]:
    """A Look for each (number of the stage, pin), in that order; pins without readings get an empty one."""
    by_pin = dict(iter(readings.sort_values("time_s", kind="stable").groupby("pin", sort=False)))
    whole = {}
    for pin in pins:
        part = by_pin.get(pin, readings.iloc[:0])
        whole[pin] = (part, *_good(part))
    members = [np.asarray(sorted(span.frames), dtype=int) for span in spans]
    return {
        (number, pin): _look(number, span, pin, whole[pin], (members[number], session))
        for number, span in enumerate(spans)
        for pin in pins
    }


def _good(part: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    times, values = part["time_s"].to_numpy(float), part["temperature_c"].to_numpy(float)
    return times, np.where(rise.outliers(times, values), np.nan, values)


def _look(number: int, span: StageSpan, pin: str, whole: tuple, place: tuple) -> Look:
    part, times, values = whole
    frames, session = place
    inside = np.isin(part["frame"].to_numpy(int), frames)
    t, x = times[inside], values[inside]
    u = part["uncertainty_c"].to_numpy(float)
    clipped = part["clipped"].fillna("").to_numpy(dtype=object)
    last_c, last_s = rise.end_value(t, x)
    end = np.flatnonzero(inside & (times == last_s))
    bound = str(clipped[end[-1]]) if end.size else ""
    until = times <= (t[-1] if t.size else -np.inf)
    return Look(
        stage=number,
        pin=pin,
        amps=span.stage.amps_of(pin) if span.stage else None,
        last_c=last_c,
        last_s=last_s,
        own_k=own_uncertainty(u[inside], common_uncertainty(part, session)[inside]),
        shape_only=bool(part["quality"].astype(str).str.contains("few_pixels").any()),
        ambient_c=_ambient(part, inside, x, session),
        start_rise_k=last_c - rise.start_value(times, values) if t.size and last_s > times[0] else float("nan"),
        bound=bound,
        times_s=times[until],
        celsius=values[until],
        uncertainty_k=u[until],
        clipped=clipped[until],
        air_c=_air(part, until),
        drift_k=_drift(part, until),
    )


def _drift(part: pd.DataFrame, until: np.ndarray) -> np.ndarray | None:
    """What the surroundings moved by at each reading up to the stage's last; None where that was not seen."""
    if "drift_c" not in part:
        return None
    drift = part["drift_c"].to_numpy(float)[until]
    return drift if drift.size and np.isfinite(drift).all() else None


def _air(part: pd.DataFrame, until: np.ndarray) -> np.ndarray | None:
    """The ambient of each reading up to the stage's last, from its own rise; None where no rise is known."""
    air = (part["temperature_c"].to_numpy(float) - part["rise_c"].to_numpy(float))[until]
    return air if np.isfinite(air).any() else None


def common_uncertainty(rows: pd.DataFrame, session: Session) -> np.ndarray:
    """Part (n,) of the readings' standard uncertainty [K] that moves all like pins of a picture alike; of readings
    that do not say, the camera's stated accuracy."""
    stated = rectangular(session.camera.accuracy_k or 0.0)
    if "common_c" not in rows:
        return np.full(len(rows), stated)
    common = rows["common_c"].to_numpy(float)
    return np.where(np.isfinite(common), common, stated)


def own_uncertainty(uncertainty_k: np.ndarray, common_k: np.ndarray) -> float:
    """Standard uncertainty [K] of one pin against another, from those of its readings (n,), less what is common."""
    own = np.sqrt(np.maximum(uncertainty_k**2 - common_k**2, 0.0))
    own = own[np.isfinite(own)]
    return max(float(np.median(own)) if own.size else 0.0, LEAST_UNCERTAINTY_K)


def _ambient(part: pd.DataFrame, inside: np.ndarray, good: np.ndarray, session: Session) -> float | None:
    """The ambient at the end of the stage, from the readings' own rise; else as the session states it. Where it moves
    with the camera's own steps, that beside the last reading; else the median of five, for it may be noisy.
    """
    ambient = (part["temperature_c"].to_numpy(float) - part["rise_c"].to_numpy(float))[inside]
    known = np.isfinite(ambient) & np.isfinite(good)
    if not known.any():
        return session.ambient
    if _drift(part, inside) is not None:
        return rise.end_value(part["time_s"].to_numpy(float)[inside], np.where(known, ambient, np.nan))[0]
    return float(np.median(ambient[known][-5:]))
