"""Reference points -> a Calibration, fitted by generalised least squares with its uncertainty split in three."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from hotspot.calibration import Calibration, flat_band, linear, sakuma_hattori, sakuma_hattori_celsius, through
from hotspot.errors import InputError, Problem
from hotspot.physics.statistics import rectangular
from hotspot.reason.reference_points import References, repeat_scatter, widened
from hotspot.records import Statement

LEAST_PLACES = {"linear": 2, "sakuma-hattori": 3, "table": 2}
LEAST_SPAN_K = 20.0
"""Points closer than this together carry no slope. Ours."""

SPAN_TIMES = 10.0
"""The span must be this many times the largest standard uncertainty of a reference. Ours."""

BAND_UM = (8.0, 14.0)
_GRID = 41


@dataclass(frozen=True, slots=True)
class Fitted:
    """A calibration and how it was had: residuals (n,) [K] fitted minus reference, the standard uncertainty (n,) [K]
    of each reference, and what to say."""

    calibration: Calibration
    references: References
    residual_k: np.ndarray
    scatter_k: float
    said: tuple[Statement, ...]


def fit(references: References, kind: str, file: str) -> Fitted:
    """The law of `kind` through the points. Raises InputError where they are too few or too close."""
    _check(references, kind, file)
    if kind == "table":
        made = _table(references)
        return replace(made, said=(*made.said, *_falling(references)))
    shape = _LINEAR if kind == "linear" else _SAKUMA_HATTORI
    found, jacobian, covariance = _solved(references, shape, _law_scatter(references, shape))
    residual = shape.celsius(references.readings, found) - references.celsius
    free = references.celsius.size - found.size
    scatter = float(np.sqrt(np.sum(residual**2) / free)) if free else 0.0
    ends = float(references.readings.min()), float(references.readings.max())
    made = Calibration(kind, *ends, numbers=tuple(shape.numbers(found)))
    grid = np.linspace(*ends, _GRID)
    at = made.celsius(grid)
    slopes = _slopes(lambda p: shape.celsius(grid, p), found)
    made = _trusted(made, at, np.einsum("gi,ij,gj->g", slopes, covariance, slopes))
    said = _unchecked(made, references) if references.places.size == len(found) else (made, ())
    return Fitted(said[0], references, residual, scatter, (*said[1], *_falling(references)))


def _check(references: References, kind: str, file: str) -> None:
    places, needed = references.places, LEAST_PLACES[kind]
    faults = []
    if places.size < needed:
        places_found = "one place" if places.size == 1 else f"{places.size} places"
        found = f"{places_found} of known temperature, and {kind} needs {needed}"
        faults.append(Problem(file, "reference", found, "Add a place, such as ice or boiling water."))
    elif np.ptp(places) < max(LEAST_SPAN_K, SPAN_TIMES * references.standard_k.max()):
        least = max(LEAST_SPAN_K, SPAN_TIMES * references.standard_k.max())
        found = f"the points span {np.ptp(places):.1f} K, and at least {least:.0f} K are needed"
        faults.append(Problem(file, "reference", found, "Add a colder or hotter place, or a surer reference."))
    means = np.array([references.readings[references.group == g].mean() for g in range(places.size)])
    order = np.argsort(places)
    steps = np.diff(means[order])
    if not faults and not (np.all(steps > 0) or np.all(steps < 0)):
        found = "the readings neither rise nor fall all the way with the references"
        faults.append(Problem(file, "reading", found, "Take out the reading that is out of line, and repeat it."))
    if faults:
        raise InputError(faults)


def _falling(references: References) -> tuple[Statement, ...]:
    """A warning where the counts fall as it gets hotter: some sensors do so, but swapped readings do too."""
    cold, hot = (references.readings[references.celsius == end(references.celsius)].mean() for end in (np.min, np.max))
    return (Statement("counts_fall"),) if hot < cold else ()


@dataclass(frozen=True, slots=True)
class _Shape:
    """A law for fitting: temperatures from parameters, first guess, and the numbers of the file."""

    celsius: Callable[[np.ndarray, np.ndarray], np.ndarray]
    start: Callable[[References], np.ndarray]
    numbers: Callable[[np.ndarray], tuple[float, ...]]


def _line_start(references: References) -> np.ndarray:
    return np.polyfit(references.readings, references.celsius, 1)


def _band_start(references: References) -> np.ndarray:
    a, b = flat_band(*BAND_UM)
    unit = sakuma_hattori(references.celsius, a, b, 1.0)
    return np.array([1.0, 1.0, np.log(np.median(np.abs(references.readings) / unit))])


def _band_numbers(p: np.ndarray) -> tuple[float, float, float]:
    a, b = flat_band(*BAND_UM)
    return float(a * p[0]), float(b * p[1]), float(np.exp(p[2]))


_LINEAR = _Shape(lambda s, p: linear(s, p[0], p[1]), _line_start, lambda p: (float(p[0]), float(p[1])))
_SAKUMA_HATTORI = _Shape(lambda s, p: sakuma_hattori_celsius(s, *_band_numbers(p)), _band_start, _band_numbers)


def _solved(references: References, shape: _Shape, scatter_k: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(parameters, their slopes at the points, their covariance), weighted by everything that is not known."""
    from scipy.optimize import least_squares

    n = references.celsius.size
    whitening = np.linalg.inv(np.linalg.cholesky(references.covariance + max(scatter_k, 1e-3) ** 2 * np.eye(n)))

    def residual(p: np.ndarray) -> np.ndarray:
        away = shape.celsius(references.readings, p) - references.celsius
        return whitening @ np.where(np.isfinite(away), away, 1e3)

    start = shape.start(references)
    found = least_squares(residual, start, x_scale=np.maximum(np.abs(start), 1e-12), xtol=1e-13, ftol=1e-13).x
    slopes = _slopes(lambda p: shape.celsius(references.readings, p), found)
    weighted = whitening @ slopes
    scale = np.linalg.norm(weighted, axis=0)
    inverse = np.linalg.pinv((weighted / scale).T @ (weighted / scale), hermitian=True)
    return found, slopes, inverse / np.outer(scale, scale)


def line_through(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(slope, intercept) of the line through points of like scatter (n,) and their covariance (2, 2), the scatter
    taken from the residuals: what the fit comes to where the references themselves are exact (JCGM 100:2008, H.3)."""
    n = x.size
    exact = References((), np.asarray(y, float), np.asarray(x, float), np.zeros((n, n)), np.zeros(n, dtype=int))
    found, _, _ = _solved(exact, _LINEAR, 1.0)
    residual = y - linear(x, found[0], found[1])
    _, _, covariance = _solved(exact, _LINEAR, float(np.sqrt(np.sum(residual**2) / (n - 2))))
    return found, covariance


def _slopes(function: Callable[[np.ndarray], np.ndarray], at: np.ndarray) -> np.ndarray:
    """Derivatives (n, p) of a vector by its parameters, by central differences."""
    columns = []
    for place, value in enumerate(at):
        step = np.zeros_like(at)
        step[place] = 1e-5 * max(abs(value), 1e-6)
        columns.append((function(at + step) - function(at - step)) / (2.0 * step[place]))
    return np.stack(columns, axis=1)


def _law_scatter(references: References, shape: _Shape) -> float:
    """What single readings scatter [K]: what repeats show, widened for how few they are; more where the residuals of
    the fit ask for it beyond what is not known of the references (the rule of Mandel and Paule: chi square of the
    residuals equal to their degrees of freedom)."""
    found, _, _ = _solved(references, shape, widened(0.0, 0))
    steep = np.abs(_slopes(lambda s: shape.celsius(references.readings + s[0], found), np.zeros(1))[:, 0])
    scatter, repeats = repeat_scatter(references.readings * steep.mean(), references.group)
    low = max(widened(scatter, repeats), widened(0.0, 0))
    free = references.celsius.size - found.size

    def excess(s: float) -> float:
        found, _, _ = _solved(references, shape, s)
        away = shape.celsius(references.readings, found) - references.celsius
        together = references.covariance + s**2 * np.eye(away.size)
        return float(away @ np.linalg.solve(together, away)) - free

    if not free or excess(low) <= 0:
        return low
    high = 2.0 * low
    while excess(high) > 0:
        low, high = high, 2.0 * high
    for _ in range(12):
        middle = (low + high) / 2.0
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    return high


def _trusted(made: Calibration, celsius: np.ndarray, variance: np.ndarray) -> Calibration:
    """The variance (g,) of the temperatures (g,) as level, slope about a pivot, and the rest as shape."""
    middle = float(celsius.mean())
    x = celsius - middle
    square, line, level = np.polyfit(x, variance, 2)
    square = max(square, 0.0)
    pivot = -line / (2.0 * square) if square > 1e-12 else 0.0
    lowest = float(variance.min())
    level = min(max(level - square * pivot**2, 0.0), lowest) if square > 1e-12 else lowest
    rest = np.max(variance - level - square * (x - pivot) ** 2)
    numbers = (np.sqrt(level), np.sqrt(square), middle + pivot, np.sqrt(max(rest, 0.0)))
    level_k, slope, pivot_c, shape_k = (float(number) for number in numbers)
    return replace(made, level_k=level_k, slope=slope, pivot_c=pivot_c, shape_k=shape_k if shape_k > 1e-4 else 0.0)


def bend_k(points: np.ndarray) -> float:
    """How far [K] a straight line between two temperatures strays at most from radiance in 8-14 µm."""
    a, b = flat_band(*BAND_UM)
    ends = sakuma_hattori(points, a, b, 1.0)
    between = np.linspace(*ends, _GRID)
    straight = np.interp(between, ends, points)
    return float(np.max(np.abs(sakuma_hattori_celsius(between, a, b, 1.0) - straight)))


def _unchecked(made: Calibration, references: References) -> tuple[Calibration, tuple[Statement, ...]]:
    """As many places as parameters: nothing shows whether the law is of the right form."""
    low, high = float(references.places.min()), float(references.places.max())
    if made.kind != "linear":
        return made, (Statement("fit_not_checked", {"kind": made.kind, "places": references.places.size}),)
    bend = bend_k(np.array([low, high]))
    wider = replace(made, shape_k=float(np.hypot(made.shape_k, rectangular(bend))))
    return wider, (Statement("line_not_checked", {"bend": bend, "middle": (low + high) / 2.0}),)


def _table(references: References) -> Fitted:
    """Straight lines through the means of the places; what lies between two is held to the bend of radiance."""
    groups = range(references.places.size)
    readings = np.array([references.readings[references.group == g].mean() for g in groups])
    order = np.argsort(readings)
    readings, celsius = readings[order], references.places[order]
    points = tuple((float(s), float(c)) for s, c in zip(readings, celsius, strict=True))
    steep = (celsius[-1] - celsius[0]) / (readings[-1] - readings[0])
    scatter, free = repeat_scatter(references.readings * steep, references.group)
    single = max(widened(scatter, free), widened(0.0, 0))
    member = np.stack([(references.group == g) / np.sum(references.group == g) for g in groups])[order]
    covariance = member @ (references.covariance + single**2 * np.eye(references.celsius.size)) @ member.T
    made = Calibration("table", points[0][0], points[-1][0], points=points)
    grid = np.linspace(made.low, made.high, _GRID)
    weights = np.stack([np.interp(grid, readings, line) for line in np.eye(readings.size)], axis=1)
    at = through(grid, points)
    order_c = np.argsort(at)
    made = _trusted(made, at[order_c], np.einsum("gi,ij,gj->g", weights, covariance, weights)[order_c])
    bend = max(bend_k(np.sort(np.array(pair))) for pair in zip(celsius, celsius[1:], strict=False))
    made = replace(made, shape_k=float(np.hypot(made.shape_k, rectangular(bend))))
    residual = through(references.readings, points) - references.celsius
    said = (Statement("table_between_points", {"bend": bend}),)
    return Fitted(made, references, residual, scatter, said)
