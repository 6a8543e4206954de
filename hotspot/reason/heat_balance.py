"""From the pins' temperatures and currents to the heat made at each: one balance for all pins and stages.

Heat made at a pin flows into the plate, to the other pins and along its wire. With G the conductances through
the plate, gamma the wire's against the plate's spreading, b the depth that hides the contact behind the face:

    (G + gamma g) (1 + b G) T = r I^2 (1 + alpha T) - (gamma g + G 1) (T^1.18 / Tref^0.18 - T) - stored,

all in units of the plate's k t. The right side's second term is the loss that grows faster than the rise. r, gamma
and b are found together; peers are taken to be alike but for one or the other (a Student distribution with two degrees
of freedom over ln r), so that an outlier costs little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ALPHA_PER_K = 0.003
LOSS_POWER, LEAST_REFERENCE_K = 1.18, 12.0
GAMMA, GAMMA_SD = 1.3, 0.6
DEPTH_SD = 0.7
LIKE_SD, LIKE_NU = 0.15, 2.0
"""Peers' ln r scatter by about this; Student with nu degrees of freedom. All ours, from simulated connectors."""

NOISE_K, OWN_SHARE, FOREIGN_SHARE = 0.12, 0.03, 0.10
"""A pin's temperature is trusted to 0.12 K, 3 % of itself, and 10 % of what is not its own heat."""

SCORE_SD = 0.12
MODEL_SHARE, MODEL_SHARE_BEYOND, BEYOND = 0.15, 0.35, 1.3
"""Share of ln ratio that the model itself may be wrong by; more for pins beyond x1.3, which hide more depth."""


@dataclass(frozen=True)
class Observed:
    """s stages, n pins: rises [K], currents [A], what the plate stores; `wire` (n,) relative conductance of the
    wires; `conductance` (n, n); `share` the relative error of each pin's temperature; `judged` (n,);
    `depth` what is expected of b: next to nothing for rises behind the face."""

    rise_k: np.ndarray
    amps: np.ndarray
    stored: np.ndarray
    conductance: np.ndarray
    wire: np.ndarray
    judged: np.ndarray
    share: float = OWN_SHARE
    depth: float = 0.005


@dataclass(frozen=True)
class Balance:
    """ln r per pin (n,), its middle, standard deviations of the difference, scores, and the two shared numbers."""

    ln_r: np.ndarray
    middle: float
    sd: np.ndarray
    score: np.ndarray
    gamma: float
    depth: float
    cost: float


def balanced(seen: Observed) -> Balance | None:
    """The heat made per pin; None where nothing rose or no current flowed."""
    heating = (seen.amps**2).sum(axis=0) > 0
    if not heating.any() or not np.isfinite(seen.rise_k).all() or seen.rise_k.max() < NOISE_K:
        return None
    tries = []
    for start in _starts(seen):
        x = start
        for _ in range(3):
            x, jacobian, cost = _solved(x, seen, spread(x, seen))
        tries.append((cost, x, jacobian))
    cost, x, jacobian = min(tries, key=lambda found: found[0])
    n = seen.rise_k.shape[1]
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    pins = np.arange(n) + 3
    variance = covariance[pins, pins] + covariance[2, 2] - 2.0 * covariance[pins, 2]
    sd = np.sqrt(np.maximum(variance, 1e-6))
    ln_r = x[3:]
    middle = float(x[2])
    return Balance(ln_r, middle, sd, (ln_r - middle) / np.hypot(sd, SCORE_SD), *map(float, np.exp(x[:2])), float(cost))


def ratios(found: Balance, judged: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(ratio, low, high), each (n,): against the median of the other judged pins; NaN for pins not judged."""
    n = found.ln_r.size
    ratio, low, high = (np.full(n, np.nan) for _ in range(3))
    for pin in np.flatnonzero(judged):
        others = judged & (np.arange(n) != pin)
        if not others.any():
            continue
        away = found.ln_r[pin] - np.median(found.ln_r[others])
        share = MODEL_SHARE_BEYOND if abs(away) > np.log(BEYOND) else MODEL_SHARE
        half = 1.96 * np.hypot(found.sd[pin], share * away)
        ratio[pin], low[pin], high[pin] = np.exp([away, away - half, away + half])
    return ratio, low, high


def _system(x: np.ndarray, seen: Observed) -> np.ndarray:
    wires = np.exp(x[0]) * np.diag(seen.wire)
    return (seen.conductance + wires) @ (np.eye(len(seen.wire)) + np.exp(x[1]) * seen.conductance)


def _heat(x: np.ndarray, seen: Observed) -> np.ndarray:
    """Heat made (s, n), with the observed rise in what is small."""
    warm = np.maximum(seen.rise_k, 0.0)
    return np.exp(x[3:]) * seen.amps**2 * (1.0 + ALPHA_PER_K * warm)


def modelled(x: np.ndarray, seen: Observed) -> np.ndarray:
    """Rises (s, n) that follow from x: ln gamma, ln b, one number that plays no part here, then ln r per pin."""
    warm = np.maximum(seen.rise_k, 0.0)
    reference = max(LEAST_REFERENCE_K, 0.5 * float(warm.max()))
    more = warm**LOSS_POWER / reference ** (LOSS_POWER - 1.0) - warm
    loss = np.exp(x[0]) * seen.wire + seen.conductance.sum(axis=1)
    return np.linalg.solve(_system(x, seen), (_heat(x, seen) - loss * more - seen.stored).T).T


def spread(x: np.ndarray, seen: Observed) -> np.ndarray:
    """Standard deviation (s, n) of each temperature, from how much of it is the pin's own heat."""
    own = np.diag(np.linalg.inv(_system(x, seen))) * _heat(x, seen)
    foreign = FOREIGN_SHARE * np.abs(seen.rise_k - own)
    return np.sqrt(NOISE_K**2 + (seen.share * seen.rise_k) ** 2 + foreign**2)


def _solved(x: np.ndarray, seen: Observed, sd: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    from scipy.optimize import least_squares

    def left(x: np.ndarray) -> np.ndarray:
        z = (x[3:] - x[2]) / LIKE_SD
        tail = np.sign(z) * np.sqrt((LIKE_NU + 1.0) * np.log1p(z**2 / LIKE_NU))
        known = [(x[0] - np.log(GAMMA)) / GAMMA_SD, (x[1] - np.log(seen.depth)) / DEPTH_SD]
        return np.concatenate([((modelled(x, seen) - seen.rise_k) / sd).ravel(), tail, known])

    n = x.size - 3
    low = np.concatenate([[-4.0, -8.0, -40.0], np.full(n, -40.0)])
    high = np.concatenate([[4.0, 1.0, 40.0], np.full(n, 40.0)])
    found = least_squares(left, np.clip(x, low + 1e-3, high - 1e-3), bounds=(low, high), xtol=1e-5, ftol=1e-6)
    return found.x, found.jac, 2.0 * found.cost


def _starts(seen: Observed) -> list[np.ndarray]:
    """All pins alike; and each as the balance says with the priors' numbers."""
    shared = np.array([np.log(GAMMA), np.log(seen.depth), 0.0])
    zero = np.concatenate([shared, np.zeros(seen.rise_k.shape[1])])
    made = seen.rise_k @ _system(zero, seen).T
    square = seen.amps**2
    total = (square**2).sum(axis=0)
    direct = np.where(total > 0, (made * square).sum(axis=0) / np.where(total > 0, total, 1.0), np.nan)
    middle = np.nanmedian(np.where(direct > 0, direct, np.nan)) if (direct > 0).any() else 1.0
    each = np.log(np.clip(np.nan_to_num(direct, nan=middle), 0.1 * middle, 30.0 * middle))
    level = np.array([0.0, 0.0, np.log(middle)])
    return [
        np.concatenate([shared + level, np.full(each.size, np.log(middle))]),
        np.concatenate([shared + level, each]),
    ]
