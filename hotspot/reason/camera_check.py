"""How far a camera's temperatures are off at places of known temperature, and whether its maker's limits hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.physics.uncertainty import combined
from hotspot.reason.reference_points import References, repeat_scatter, widened

COVERAGE = 1.96


@dataclass(frozen=True, slots=True)
class Place:
    """One place: its temperature, what the camera showed over it, the 95 % interval of that, the maker's limits."""

    kinds: tuple[str, ...]
    celsius: float
    bias_k: float
    low_k: float
    high_k: float
    limits_k: float | None
    verdict: str  # within, outside, cannot tell, or empty without limits


@dataclass(frozen=True, slots=True)
class CameraCheck:
    """A camera against reference points. `bias_k` (95 %: `low_k` to `high_k`) is the mean over the places; `changes`
    says that it is not one number: the places differ by more than they are uncertain."""

    places: tuple[Place, ...]
    bias_k: float
    low_k: float
    high_k: float
    changes: bool
    verdict: str


def check_camera(references: References, accuracy_k: float | None, accuracy_share: float | None) -> CameraCheck:
    """Readings in °C against references. The maker's limits are the larger of `accuracy_k` [K] and `accuracy_share` of
    the temperature in °C (the usual wording, "2 °C or 2 % of reading"); None: not stated.

    The interval holds what is not known of the references, so that it is never narrower than they are.
    """
    away = references.readings - references.celsius
    scatter, free = repeat_scatter(away, references.group)
    single = max(widened(scatter, free), widened(0.0, 0))
    member = np.stack([(references.group == g) / np.sum(references.group == g) for g in np.unique(references.group)])
    covariance = member @ (references.covariance + single**2 * np.eye(away.size)) @ member.T
    bias = member @ away
    u = np.sqrt(np.diag(covariance))
    places = []
    for number, (value, sure) in enumerate(zip(bias, u, strict=True)):
        own = [point.kind for point, g in zip(references.points, references.group, strict=True) if g == number]
        celsius = float(references.places[number])
        limits = _limits(celsius, accuracy_k, accuracy_share)
        low, high = float(value - COVERAGE * sure), float(value + COVERAGE * sure)
        verdict = "" if limits is None else _against(low, high, limits)
        places.append(Place(tuple(dict.fromkeys(own)), celsius, float(value), low, high, limits, verdict))
    weights = np.full(bias.size, 1.0 / bias.size)
    together = float(combined(weights, u, covariance / np.outer(u, u)))
    spread = COVERAGE * max(together, float(references.standard_k.min()))  # no surer than the surest point
    mean = float(bias.mean())
    verdicts = {place.verdict for place in places}
    worst = next((v for v in ("outside", "cannot tell", "within") if v in verdicts), "")
    return CameraCheck(tuple(places), mean, mean - spread, mean + spread, _changes(bias, covariance), worst)


def _limits(celsius: float, accuracy_k: float | None, share: float | None) -> float | None:
    if accuracy_k is None and share is None:
        return None
    return max(accuracy_k or 0.0, (share or 0.0) * abs(celsius))


def _against(low: float, high: float, limits: float) -> str:
    if -limits <= low and high <= limits:
        return "within"
    return "outside" if low > limits or high < -limits else "cannot tell"


def _changes(bias: np.ndarray, covariance: np.ndarray) -> bool:
    """Whether two places differ by more than 95 % of what is not known of their difference, counted for all pairs."""
    from scipy.stats import norm

    pairs = [(i, j) for i in range(bias.size) for j in range(i)]
    if not pairs:
        return False
    cover = float(norm.ppf(1.0 - 0.025 / len(pairs)))
    spread = [covariance[i, i] + covariance[j, j] - 2.0 * covariance[i, j] for i, j in pairs]
    return any(abs(bias[i] - bias[j]) > cover * np.sqrt(s) for (i, j), s in zip(pairs, spread, strict=True))
