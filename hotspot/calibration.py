"""What a calibration is: the law from a camera's reading to a temperature, and how far that law can be trusted.

Readings are a camera's counts (any unit it gives). Temperatures are °C. The file that holds one is described in
`calibration/README.md`. The uncertainty has three parts, all standard (k = 1), because they behave unlike in a
difference of two temperatures: `level_k` moves all of them alike and drops out; `slope` grows with the distance from
`pivot_c`, so that of a difference that share is left; `shape_k` is what the form of the law cannot follow and never
drops out.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hotspot.handbook.constants import SECOND_RADIATION_M_K, ZERO_CELSIUS_K

KINDS = ("linear", "sakuma-hattori", "table")


@dataclass(frozen=True, slots=True)
class Calibration:
    """A law and its trust. `numbers`: gain, offset (linear) or A [µm], B [µm K], C (Sakuma-Hattori); a table has
    `points` instead: readings, rising, each with its °C. `low`, `high` are the readings it was made between."""

    kind: str
    low: float
    high: float
    numbers: tuple[float, ...] = ()
    points: tuple[tuple[float, float], ...] = ()
    level_k: float = 0.0
    slope: float = 0.0
    pivot_c: float = 0.0
    shape_k: float = 0.0
    camera: str = ""
    date: datetime.date | None = None
    valid_days: int | None = None
    notes: str = ""

    def celsius(self, readings: ArrayLike) -> np.ndarray:
        """Readings (any shape) -> °C, also outside `low` to `high`; NaN where the law has no value."""
        values = np.asarray(readings, dtype=float)
        if self.kind == "linear":
            return linear(values, *self.numbers)
        if self.kind == "sakuma-hattori":
            return sakuma_hattori_celsius(values, *self.numbers)
        return through(values, self.points)

    @property
    def falling(self) -> bool:
        """Whether higher readings mean lower temperatures."""
        low, high = self.celsius(np.array([self.low, self.high]))
        return bool(high < low)

    @property
    def span_c(self) -> tuple[float, float]:
        """Lowest and highest temperature it was made for."""
        ends = self.celsius(np.array([self.low, self.high]))
        return float(np.min(ends)), float(np.max(ends))

    def steep_k(self, celsius: ArrayLike) -> np.ndarray:
        """Standard uncertainty [K] at `celsius` without the level: slope and shape together."""
        away: np.ndarray = np.asarray(celsius, dtype=float) - self.pivot_c
        return np.asarray(np.hypot(self.slope * away, self.shape_k))

    def uncertainty_k(self, celsius: ArrayLike) -> np.ndarray:
        """Standard uncertainty [K] of a temperature read through it."""
        return np.asarray(np.hypot(self.level_k, self.steep_k(celsius)))

    def difference_k(self, first_c: ArrayLike, second_c: ArrayLike) -> np.ndarray:
        """Standard uncertainty [K] of the difference of two temperatures read through it: no level in it."""
        away = np.asarray(first_c, dtype=float) - np.asarray(second_c, dtype=float)
        return np.asarray(np.hypot(self.slope * away, np.sqrt(2.0) * self.shape_k * (away != 0)))

    def overdue_days(self, day: datetime.date) -> int:
        """Days by which it is past its stated validity on `day`; 0 within it, or where none is stated."""
        if self.date is None or self.valid_days is None:
            return 0
        return max(0, (day - self.date).days - self.valid_days)


@dataclass(frozen=True, slots=True)
class ReferencePoint:
    """One row of a file of points: what the camera gave before a place of known temperature.

    `reading` is a count, or °C where a camera is checked. `reference_c` None: from the kind (ice, boiling). `limits_k`
    are limits of error (rectangular), `uncertainty_k` a standard uncertainty; None where not stated. `altitude_m`,
    `pressure_hpa` (where the water boils, not reduced to sea level) belong to boiling water. `line`: in the file.
    """

    kind: str
    reading: float
    reference_c: float | None = None
    limits_k: float | None = None
    uncertainty_k: float | None = None
    altitude_m: float | None = None
    pressure_hpa: float | None = None
    line: int = 0


def linear(readings: ArrayLike, gain: float, offset: float) -> np.ndarray:
    """°C = gain x reading + offset."""
    return gain * np.asarray(readings, dtype=float) + offset


def sakuma_hattori(celsius: ArrayLike, a_um: float, b_um_k: float, c: float) -> np.ndarray:
    """Reading of a radiation thermometer of one band: C / (exp(c2 / (A T + B)) - 1), T in K.

    Planckian form of the Sakuma-Hattori equation, recommended for uncertainty budgets of radiation thermometers
    below 960 °C by BIPM CCT-WG5 (2008).
    """
    kelvin = np.asarray(celsius, dtype=float) + ZERO_CELSIUS_K
    return c / np.expm1(SECOND_RADIATION_M_K * 1e6 / (a_um * kelvin + b_um_k))


def sakuma_hattori_celsius(readings: ArrayLike, a_um: float, b_um_k: float, c: float) -> np.ndarray:
    """The inverse, T = c2 / (A ln(C / S + 1)) - B / A, in °C; NaN for a reading that has not the sign of C."""
    share = c / np.where(np.asarray(readings, dtype=float) * np.sign(c) > 0, readings, np.nan)
    return SECOND_RADIATION_M_K * 1e6 / (a_um * np.log1p(share)) - b_um_k / a_um - ZERO_CELSIUS_K


def flat_band(low_um: float, high_um: float) -> tuple[float, float]:
    """A [µm] and B [µm K] of a band of even response: A = l (1 - w²/2l²), B = c2 w²/24l² for centre l, width w.

    Saunders' approximation, cited from memory; for 8-14 µm it gives 9.3636 µm and 178.36 µm K.
    """
    centre, width = (low_um + high_um) / 2.0, high_um - low_um
    a_um = centre * (1.0 - width**2 / (2.0 * centre**2))
    return a_um, SECOND_RADIATION_M_K * 1e6 * width**2 / (24.0 * centre**2)


def through(readings: ArrayLike, points: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Straight lines through `points` (reading, °C), readings rising; the outer two lines go on beyond the ends."""
    x, y = np.array(points, dtype=float).T
    values = np.asarray(readings, dtype=float)
    place = np.clip(np.searchsorted(x, values) - 1, 0, x.size - 2)
    share = (values - x[place]) / (x[place + 1] - x[place])
    return np.asarray(y[place] + share * (y[place + 1] - y[place]))
