"""The budget of one reading, and what is left of each term in three differences that are made of readings.

Two readings of one term err alike to the degree that the same thing makes them wrong. With sensitivities in, and r the
correlation, the difference keeps sqrt(ui² + uj² - 2 r ui uj) of it (JCGM 100:2008, equation 16 for two inputs): nothing
where r is 1 and both are as sensitive, but the part by which the hot one is more sensitive where they are not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.doubts import BIT
from hotspot.extract.budget import TERMS, blur_seen, losses, terms
from hotspot.extract.series import Series
from hotspot.extract.source_size import Blur, contrast_of, lost_share
from hotspot.session import Session

ALIKE: dict[str, tuple[float, float, float]] = {
    "noise": (0.0, 0.0, 0.0),
    "carrier": (0.0, 0.0, 0.0),
    "placing": (1.0, 0.0, 0.0),
    "accuracy": (1.0, 1.0, 1.0),
    "calibration": (1.0, 1.0, 1.0),
    "emissivity": (1.0, 0.5, 0.0),
    "reflected": (1.0, 1.0, 0.0),
    "source_size": (1.0, 1.0, 1.0),
    "reference": (0.5, 1.0, 0.0),
}
"""Correlation of a term between two readings: the same pin at another time; another pin in the same frame; the same pin
in another test with the same camera from as near, taped anew. Emissivity between pins of one surface: half, ours; 0
where a pin has its own. `calibration_shape` goes by the two temperatures instead."""

ENDS = {BIT["clipped_low"]: "low", BIT["clipped_high"]: "high"}
SAME_TERM_SIGNS = ("emissivity",)
"""Terms whose sensitivity changes its sign where a pin is colder than what it reflects."""


@dataclass(frozen=True, slots=True)
class TermOfReading:
    """One term: standard uncertainty [K], share 0-1 of the square of the whole, and what is left of it [K] in the rise
    since the pin's first reading, against the nearest pin, and between two tests."""

    name: str
    standard_k: float
    share: float
    rise_k: float
    neighbour_k: float | None
    again_k: float


@dataclass(frozen=True, slots=True)
class ReadingBudget:
    """One reading taken apart. °C, K, s, px; `neighbour` None with one pin; the sums are standard uncertainties.

    `clipped`, `since_clipped` and `neighbour_clipped` are high or low where the scale ends at the reading, at the first
    one and at the neighbour's. `outside_c` are the ends of the calibration, where the counts lie outside it, else None.
    """

    pin: str
    frame: int
    file: str
    time_s: float
    celsius: float
    rows: tuple[TermOfReading, ...]
    together_k: float
    since_s: float
    rise_k: float
    rise_uncertainty_k: float
    neighbour: str | None
    over_neighbour_k: float | None
    neighbour_uncertainty_k: float | None
    again_uncertainty_k: float
    loss_k: float
    across_px: float
    blur: Blur
    clipped: str = ""
    since_clipped: str = ""
    neighbour_clipped: str = ""
    outside_c: tuple[float, float] | None = None


@dataclass(frozen=True)
class Budget:
    """The budgets of all readings of a session; worked out for the one that is asked for."""

    session: Session
    series: Series

    def at(self, pin: str, time_s: float) -> ReadingBudget:
        """The reading of `pin` nearest to `time_s`. Raises KeyError for an unknown pin or one without a reading."""
        names = self.series.pin_map.names
        if pin not in names:
            raise KeyError(pin)
        own = names.index(pin)
        good = np.flatnonzero(np.isfinite(self.series.surface_c[:, own]))
        if not good.size:
            raise KeyError(pin)
        times = self.series.times_s[good]
        frame = int(good[np.argmin(np.abs(times - min(time_s, float(times.max()))))])
        return self._taken_apart(frame, own, int(good[0]))

    def _taken_apart(self, frame: int, own: int, first: int) -> ReadingBudget:
        series = self.series
        table = terms(self.session, series)
        sign = np.where(series.surface_c >= series.reflected_c[:, None], 1.0, -1.0)
        other = self._neighbour(frame, own)
        here = (frame, own)
        rows = []
        together = float(np.sqrt(sum(float(table[name][here]) ** 2 for name in TERMS)))
        for name in TERMS:
            signed = table[name] * (sign if name in SAME_TERM_SIGNS else 1.0)
            u = float(signed[here])
            left = [
                self._left(name, (signed, here, place), kind)
                for kind, place in enumerate(((first, own), (frame, other), here))
                if place[1] is not None
            ]
            neighbour = left[1] if other is not None else None
            share = u**2 / together**2 if together else 0.0
            rows.append(TermOfReading(name, abs(u), share, left[0], neighbour, left[-1]))
        return self._summed(rows, (frame, own, first, other), together)

    def _left(self, name: str, pair: tuple, kind: int) -> float:
        signed, here, there = pair
        series = self.series
        if name == "calibration_shape":
            made = series.calibration
            return float(made.difference_k(series.camera_c[here], series.camera_c[there])) if made else 0.0
        r = ALIKE[name][kind]
        if name == "emissivity" and kind == 1 and not self._one_surface(here[1], there[1]):
            r = 0.0
        a, b = float(signed[here]), float(signed[there])
        b = b if np.isfinite(b) else 0.0
        if kind == 0 and here == there:
            return 0.0
        return float(np.sqrt(max(a * a + b * b - 2.0 * r * a * b, 0.0)))

    def _one_surface(self, one: int, other: int) -> bool:
        names = [self.series.pin_map.names[place] for place in (one, other)]
        pins = [self.session.pin_named(name) for name in names]
        return all(pin is None or pin.emissivity is None for pin in pins)

    def _neighbour(self, frame: int, own: int) -> int | None:
        """The nearest other pin with a reading in that frame."""
        pins = self.series.pin_map
        apart = np.hypot(pins.x_px - pins.x_px[own], pins.y_px - pins.y_px[own])
        apart = np.where(np.isfinite(self.series.surface_c[frame]), apart, np.inf)
        apart[own] = np.inf
        return int(np.argmin(apart)) if np.isfinite(apart).any() else None

    def _summed(self, rows: list[TermOfReading], place: tuple, together: float) -> ReadingBudget:
        frame, own, first, other = place
        series, pins = self.series, self.series.pin_map
        value = float(series.surface_c[frame, own])

        def whole(numbers: list[float]) -> float:
            return float(np.sqrt(np.sum(np.square(numbers))))

        return ReadingBudget(
            pin=pins.names[own],
            frame=int(series.indices[frame]),
            file=series.files[frame],
            time_s=float(series.times_s[frame]),
            celsius=value,
            rows=tuple(rows),
            together_k=together,
            since_s=float(series.times_s[first]),
            rise_k=value - float(series.surface_c[first, own]),
            rise_uncertainty_k=whole([row.rise_k for row in rows]),
            neighbour=None if other is None else pins.names[other],
            over_neighbour_k=None if other is None else value - float(series.surface_c[frame, other]),
            neighbour_uncertainty_k=None if other is None else whole([row.neighbour_k for row in rows]),
            again_uncertainty_k=whole([row.again_k for row in rows]),
            loss_k=self._loss(frame, own),
            across_px=2.0 * float(pins.radius_px[own]),
            blur=blur_seen(self.session, series),
            clipped=ENDS.get(int(series.clipped[frame, own]), ""),
            since_clipped=ENDS.get(int(series.clipped[first, own]), ""),
            neighbour_clipped="" if other is None else ENDS.get(int(series.clipped[frame, other]), ""),
            outside_c=self._outside(frame, own),
        )

    def _outside(self, frame: int, own: int) -> tuple[float, float] | None:
        """Ends [°C] of the calibration where the reading's counts lie outside it; else None."""
        made = self.series.calibration
        beyond = self.series.doubts[frame, own] & BIT["beyond_calibration"]
        return (float(made.span_c[0]), float(made.span_c[1])) if made is not None and beyond else None

    def _loss(self, frame: int, own: int) -> float:
        """Expected loss [K] to the blur that is seen, whatever the pin's size; NaN where the surround is not seen."""
        series = self.series
        small = float(losses(self.session, series)[frame, own])
        if not series.snapshots:
            return float("nan")
        share = float(lost_share(series.pin_map.radius_px[own], blur_seen(self.session, series).sigma_px))
        away = float(contrast_of(series.snapshots, series.pin_map).at(series.camera_c)[frame, own])
        return max(min(max(away, 0.0) * share / max(1.0 - share, 0.25), small or np.inf), 0.0)
