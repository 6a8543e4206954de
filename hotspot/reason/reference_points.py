"""What reference points are worth: their temperatures, and the covariance of all that is not known of them.

Points of one kind share what makes them wrong (the same ice, the same pressure, the same thermocouple): at one place
their errors are taken as fully alike, so that ten readings of one kettle are no better than the kettle (JCGM 100:2008,
note to 5.2.2); between two places of one thermocouple as half alike. The tape looked at is the same everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.calibration import ReferencePoint
from hotspot.physics.radiation import band
from hotspot.physics.statistics import rectangular
from hotspot.physics.water import ICE_C, boiling_c, boiling_slope_k_pa, standard_pressure_pa

ICE_LIMITS_K = 0.2
"""Limits of a stirred slurry of crushed ice and tap water. Common practice, no source."""

KETTLE_LIMITS_K = 0.3
"""Limits of water that boils hard, for dissolved salts and the depth. Common practice, no source."""

WEATHER_LIMITS_PA, STATED_LIMITS_PA = 2500.0, 300.0
"""Limits of the air pressure known from the altitude alone (weather), and of one that was read. Ours."""

TARGET_EMISSIVITY_LIMITS, TARGET_EMISSIVITY = 0.02, 0.95
"""Limits of the emissivity of what the camera looked at, against what it was set to. Common practice, no source."""

READING_NOISE_K = 0.1
"""Scatter of a reading where no point was read twice. Ours."""

BETWEEN_PLACES = 0.5
"""Correlation of the errors of one kind at two places. Ours: 1 would make slopes look too sure, 0 means."""

SAME_K = 2.0
"""References closer than this are one place. Ours."""


@dataclass(frozen=True, slots=True)
class References:
    """n points. `celsius` what they really were, `readings` what the camera gave, `covariance` (n, n) [K²] of what is
    not known of the references and of the surface looked at, `group` (n,) numbers of the places, from 0."""

    points: tuple[ReferencePoint, ...]
    celsius: np.ndarray
    readings: np.ndarray
    covariance: np.ndarray
    group: np.ndarray

    @property
    def places(self) -> np.ndarray:
        """Mean temperature of each place."""
        return np.array([self.celsius[self.group == g].mean() for g in range(int(self.group.max()) + 1)])

    @property
    def standard_k(self) -> np.ndarray:
        """Standard uncertainty (n,) of each reference, the surface included."""
        return np.sqrt(np.diag(self.covariance))


def worth(points: Sequence[ReferencePoint], surroundings_c: float) -> References:
    """The points with their temperatures and covariance. `surroundings_c`: what the surface looked at reflected."""
    celsius = np.array([_celsius(point) for point in points])
    own = np.array([_standard(point) for point in points])
    kinds = np.array([point.kind for point in points])
    table = band(8.0, 14.0)
    lost = (table.radiance(celsius) - table.radiance(surroundings_c)) / (TARGET_EMISSIVITY * table.slope(celsius))
    surface = rectangular(TARGET_EMISSIVITY_LIMITS) * lost  # signed: ice and boiling water err in opposite directions
    group = _places(celsius)
    alike = np.where(group[:, None] == group[None, :], 1.0, BETWEEN_PLACES) * (kinds[:, None] == kinds[None, :])
    covariance = np.outer(own, own) * alike + np.outer(surface, surface)
    readings = np.array([point.reading for point in points])
    return References(tuple(points), celsius, readings, covariance, group)


def _places(celsius: np.ndarray) -> np.ndarray:
    """Number of the place of each point: sorted references, a new place after every gap of SAME_K or more."""
    order = np.argsort(celsius, kind="stable")
    number = np.concatenate([[0], np.cumsum(np.diff(celsius[order]) >= SAME_K)])
    group = np.empty(celsius.size, dtype=int)
    group[order] = number
    return group


def pressure_pa(point: ReferencePoint) -> float:
    """Air pressure where the water boiled: stated, else that of the standard atmosphere at the altitude."""
    if point.pressure_hpa is not None:
        return 100.0 * point.pressure_hpa
    return standard_pressure_pa(point.altitude_m or 0.0)


def _celsius(point: ReferencePoint) -> float:
    if point.reference_c is not None:
        return point.reference_c
    return ICE_C if point.kind == "ice" else boiling_c(pressure_pa(point))


def _standard(point: ReferencePoint) -> float:
    """Standard uncertainty [K]: as stated, else what its kind is worth."""
    if point.uncertainty_k is not None or point.limits_k is not None:
        return max(point.uncertainty_k or 0.0, rectangular(point.limits_k or 0.0))
    if point.kind == "ice":
        return rectangular(ICE_LIMITS_K)
    limits = STATED_LIMITS_PA if point.pressure_hpa is not None else WEATHER_LIMITS_PA
    slope = boiling_slope_k_pa(101325.0 if point.reference_c is not None else pressure_pa(point))
    return float(np.hypot(rectangular(KETTLE_LIMITS_K), rectangular(limits) * slope))


def repeat_scatter(values: np.ndarray, group: np.ndarray) -> tuple[float, int]:
    """Scatter of repeated values about the means of their places, and its degrees of freedom; 0 and 0 without any."""
    away, free = 0.0, 0
    for g in np.unique(group):
        own = values[group == g]
        away += float(np.sum((own - own.mean()) ** 2))
        free += own.size - 1
    return (float(np.sqrt(away / free)), free) if free else (0.0, 0)


def widened(scatter: float, free: int) -> float:
    """A scatter known from `free` degrees of freedom, made as wide as Student's t asks (JCGM 100:2008, G.3)."""
    from scipy.stats import t

    return scatter * float(t.ppf(0.975, free)) / 1.96 if free else READING_NOISE_K
