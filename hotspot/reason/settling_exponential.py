"""Least squares fits of sums of exponentials that refuse where the data do not hold the answer.

The amplitudes are linear and solved for at each step, only the rates are searched (variable projection,
Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413); the end is polished in all parameters.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

Form = Literal["rise", "decay", "level"]
"""rise: sum a_k (1 - exp(-b_k x)); decay: sum a_k exp(-b_k x); level: c + sum a_k exp(-b_k x)."""
LONGEST = 50.0  # time constant over the span of x: beyond it the data are a straight line, whatever their noise
ROUNDING = 1e-9  # an amplitude below this share of the largest is a rounding error, and its rate is not known
ABSURD_RELATIVE_SD = 1.0  # a parameter that is not known to within itself is not known


@dataclass(frozen=True, slots=True)
class Exponentials:
    """A fit: `linear` amplitudes (for `level` c first), `rates` (k,), standard deviations of both, residual sum."""

    linear: np.ndarray
    rates: np.ndarray
    linear_sd: np.ndarray
    rates_sd: np.ndarray
    residual_sum: float


def _columns(x: np.ndarray, rates: np.ndarray, form: Form) -> np.ndarray:
    decay = np.exp(-np.clip(x[:, None] * rates, -700, 700))
    if form == "rise":
        return 1 - decay
    return decay if form == "decay" else np.column_stack([np.ones(len(x)), decay])


def fit_exponentials(x: np.ndarray, y: np.ndarray, rates: np.ndarray, form: Form) -> Exponentials | None:
    """Fit y (n,) at x (n,) from start `rates` (k,) per unit of x. None where the answer is not in the data:
    the covariance is infinite, a rate or amplitude is not known to within its own size, an amplitude is
    nothing but a rounding error, or a time constant is more than 50 times the span of x.
    """
    from scipy.optimize import least_squares

    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    start = np.asarray(rates, dtype=float)
    many = len(start)
    if len(x) <= 2 * many + (form == "level") or np.any(start <= 0):
        return None

    def left(log_rates: np.ndarray) -> np.ndarray:
        columns = _columns(x, np.exp(log_rates), form)
        return columns @ np.linalg.lstsq(columns, y, rcond=None)[0] - y

    # A start far off may end in a side valley, and in which one hangs on the library's last digits: so rates that lie
    # evenly within the span of x are tried as well, and the deeper valley is taken.
    tries = [
        least_squares(left, np.log(s), xtol=1e-13, ftol=1e-15, gtol=1e-15, max_nfev=400, bounds=_around(s))
        for s in (start, np.geomspace(1.0, 4.0 * many, many) / np.ptp(x))
    ]
    found = np.exp(min(tries, key=lambda tried: tried.cost).x)
    linear = np.linalg.lstsq(_columns(x, found, form), y, rcond=None)[0]

    def whole(p: np.ndarray) -> np.ndarray:
        return _columns(x, p[-many:], form) @ p[:-many] - y

    def slopes(p: np.ndarray) -> np.ndarray:
        columns = _columns(x, p[-many:], form)
        sign = 1.0 if form == "rise" else -1.0
        decay = np.exp(-np.clip(x[:, None] * p[-many:], -700, 700))
        return np.column_stack([columns, sign * p[-2 * many : -many] * x[:, None] * decay])

    p = np.concatenate([linear, found])
    scale = np.maximum(np.abs(p), 1e-12)
    fine = least_squares(whole, p, jac=slopes, x_scale=scale, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    p = fine.x if fine.cost <= 0.5 * float(whole(p) @ whole(p)) else p
    if np.any(p[-many:] * np.ptp(x) < 1 / LONGEST):
        return None
    return _judged(p, slopes(p), whole(p), many)


def _around(rates: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bounds of the log of the rates: a factor of 1e5 either way."""
    return np.log(rates) - np.log(1e5), np.log(rates) + np.log(1e5)


def _judged(p: np.ndarray, jacobian: np.ndarray, left: np.ndarray, many: int) -> Exponentials | None:
    """The fit with its standard deviations; None where they are infinite or absurd."""
    size = np.linalg.norm(jacobian, axis=0)
    if not np.all(np.isfinite(p)) or np.any(size == 0) or np.any(p[-many:] <= 0):
        return None
    singular = np.linalg.svd(jacobian / size, compute_uv=False)
    if singular[-1] < 1e-9 * singular[0]:
        return None
    amplitudes = p[-2 * many : -many]
    if np.any(np.abs(amplitudes) <= ROUNDING * np.abs(p[:-many]).max()):
        return None
    spread = float(left @ left) / (len(left) - len(p))
    inverse = np.linalg.inv((jacobian / size).T @ (jacobian / size))
    sd = np.sqrt(spread * np.diagonal(inverse)) / size
    doubtful = sd > ABSURD_RELATIVE_SD * np.abs(p)
    if not np.all(np.isfinite(sd)) or np.any(doubtful[-2 * many :]):
        return None
    return Exponentials(p[:-many], p[-many:], sd[:-many], sd[-many:], float(left @ left))


def best_fit(x: np.ndarray, y: np.ndarray, form: Form) -> Exponentials | None:
    """One exponential from several starts over the span of x; the best that is not refused, None without one."""
    span = float(np.ptp(x))
    if not span > 0:
        return None
    fits = [fit_exponentials(x, y, np.array([share / span]), form) for share in (0.5, 2.0, 8.0)]
    kept = [fit for fit in fits if fit is not None]
    return min(kept, key=lambda fit: fit.residual_sum) if kept else None
