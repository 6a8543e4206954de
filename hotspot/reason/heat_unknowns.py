"""The numbers of one test's balance of heat (see `heat_balance`), found together by least squares.

Beside ln r of every pin these are what a tester does not know exactly and what would else be laid at a pin's door: how
much wires draw (ln gamma; per pin ln g), whether thicker wires go with larger currents, how deep the contacts sit (b),
how fast the loss and the resistance grow with the rise, and what the clamp read wrong at each pin. Each has a prior;
the derivatives are exact.
"""

from __future__ import annotations

import numpy as np

from hotspot.reason.heat_balance import (
    ALPHA_PER_K,
    LOSS_POWER,
    NOISE_K,
    SCORE_SD,
    Balance,
    Observed,
    reference_k,
    sheds_of,
)  # fmt: skip

GAMMA, GAMMA_SD = 1.23, 0.3
SIZED, SIZED_SD = 0.35, 0.3
"""Draw of a wire goes with this power of its largest I^2: some makers size wires by the current, some do not."""

POWER_SD, ALPHA_SD = 0.05, 0.0007
WIRE_SD, STATED_WIRE_SD = 0.08, 0.03
WIRE_LEANS = 0.25
"""A wire that draws more also makes less heat of its own: ln r falls by this share of ln g."""

CLAMP_SD = 0.03
ALIKE_SD, ALIKE_NU = 0.12, 1.0
"""Scatter of ln r between peers, Student with nu degrees of freedom. All ours, from simulated connectors."""

_SHARED = 6  # ln gamma, b, middle of ln r, power of wire sizes, power of the loss, alpha
_LEAST = np.array([-4.0, -0.2, -40.0, -1.0, 0.9, -0.005])
_MOST = np.array([4.0, 0.6, 40.0, 2.0, 1.6, 0.01])
_ROUNDS = 60


def balanced(seen: Observed) -> Balance | None:
    """The heat made per pin; None where nothing rose or no current flowed."""
    heating = (seen.amps**2).sum(axis=0) > 0
    if not heating.any() or not np.isfinite(seen.rise_k).all() or seen.rise_k.max() < NOISE_K:
        return None
    search = _Search(seen)
    cost, x, jacobian = min((search.best(start) for start in search.starts()), key=lambda found: found[0])
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    pins = np.arange(_SHARED, _SHARED + search.n)
    variance = covariance[pins, pins] + covariance[2, 2] - 2.0 * covariance[pins, 2]
    sd = np.sqrt(np.maximum(variance, 1e-6))
    ln_r, middle = x[pins], float(x[2])
    score = (ln_r - middle) / np.hypot(sd, SCORE_SD)
    return Balance(ln_r, middle, sd, score, float(np.exp(x[0])), float(x[1]), float(cost), _ln_square(seen))


def _ln_square(seen: Observed) -> np.ndarray:
    square = (seen.amps**2).max(axis=0)
    return np.where(seen.judged & (square > 0), np.log(np.maximum(square, 1e-12)), np.nan)


class _Search:
    """What is left of one test's balance for a vector of unknowns, and its derivatives."""

    def __init__(self, seen: Observed) -> None:
        self.seen = seen
        self.n = seen.wire.size
        self.warm = np.maximum(seen.rise_k, 0.0)
        self.ln_warm = np.log(np.maximum(self.warm, 1e-3) / reference_k(seen))
        trust = seen.trust
        top = seen.rise_k.max(axis=1, keepdims=True)
        own = trust.own_share * seen.rise_k
        self.sd = np.sqrt(trust.noise_k**2 + (trust.top_share * top) ** 2 + own**2)
        square = (seen.amps**2).max(axis=0)
        loaded = square > 0
        size = np.where(loaded, 0.5 * np.log(np.where(loaded, square, 1.0) / np.median(square[loaded])), 0.0)
        known = seen.wires_known
        self.size = np.zeros(self.n) if known else np.clip(size, np.log(0.5), np.log(4.0))
        self.wire, self.wire_sd = np.log(seen.wire), STATED_WIRE_SD if known else WIRE_SD
        self.sheds = sheds_of(seen)

    def _parts(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """ln r, ln g and what the clamp reads wrong, each (n,)."""
        return tuple(x[_SHARED + k * self.n : _SHARED + (k + 1) * self.n] for k in range(3))

    def _state(self, x: np.ndarray) -> tuple[np.ndarray, ...]:
        """Rises (s, n), inverse of the system, heat made, what the wires draw per K, loss beyond, 1 + b G."""
        ln_r, ln_g, clamp = self._parts(x)
        more = self.warm * np.expm1((x[4] - 1.0) * self.ln_warm)
        made = np.exp(ln_r + 2.0 * clamp) * self.seen.amps**2 * (1.0 + x[5] * self.warm)
        drawn = np.exp(x[0] + ln_g)
        behind = np.eye(self.n) + x[1] * self.seen.conductance
        inverse = np.linalg.inv((self.seen.conductance + np.diag(drawn)) @ behind)
        rises = (made - (drawn + self.sheds) * more - self.seen.stored) @ inverse.T
        return rises, inverse, made, drawn, more, behind

    def left(self, x: np.ndarray) -> np.ndarray:
        """Misfit of the rises, of peers that are not alike, of wires, of clamps and of the shared numbers, in sd."""
        ln_r, ln_g, clamp = self._parts(x)
        z = self._unlike(x)
        alike = np.sign(z) * np.sqrt((ALIKE_NU + 1.0) * np.log1p(z**2 / ALIKE_NU))
        wires = (ln_g - self.wire - x[3] * self.size) / self.wire_sd
        misfit = (self._state(x)[0] - self.seen.rise_k) / self.sd
        return np.concatenate([misfit.ravel(), alike, wires, clamp / CLAMP_SD, self._shared(x)])

    def _unlike(self, x: np.ndarray) -> np.ndarray:
        ln_r, ln_g, _ = self._parts(x)
        return (ln_r - x[2] + WIRE_LEANS * ln_g) / ALIKE_SD

    def _known(self) -> tuple[np.ndarray, np.ndarray]:
        """Places of the shared numbers that have a prior, and their (middle, sd) (5, 2)."""
        trust = self.seen.trust
        told = [(np.log(GAMMA), GAMMA_SD), (trust.depth, trust.depth_sd), (SIZED, SIZED_SD), (LOSS_POWER, POWER_SD)]
        return np.array([0, 1, 3, 4, 5]), np.array([*told, (ALPHA_PER_K, ALPHA_SD)])

    def _shared(self, x: np.ndarray) -> np.ndarray:
        at, told = self._known()
        return (x[at] - told[:, 0]) / told[:, 1]

    def slopes(self, x: np.ndarray) -> np.ndarray:
        """Derivatives of `left`."""
        n, looks = self.n, self.seen.rise_k.size
        pins = np.arange(n)
        matrix = np.zeros((looks + 3 * n + 5, x.size))
        matrix[:looks] = self._slopes_of_rises(x) / self.sd.reshape(-1, 1)
        z = self._unlike(x)
        steep = np.sqrt((ALIKE_NU + 1.0) / ALIKE_NU) * np.ones(n)
        far = np.abs(z) > 1e-6
        root = np.sqrt((ALIKE_NU + 1.0) * np.log1p(z[far] ** 2 / ALIKE_NU))
        steep[far] = (ALIKE_NU + 1.0) * np.abs(z[far]) / (ALIKE_NU + z[far] ** 2) / root
        rows, steep = looks + pins, steep / ALIKE_SD
        matrix[rows, _SHARED + pins], matrix[rows, 2] = steep, -steep
        matrix[rows, _SHARED + n + pins] = WIRE_LEANS * steep
        matrix[rows + n, _SHARED + n + pins] = 1.0 / self.wire_sd
        matrix[rows + n, 3] = -self.size / self.wire_sd
        matrix[rows + 2 * n, _SHARED + 2 * n + pins] = 1.0 / CLAMP_SD
        at, told = self._known()
        matrix[looks + 3 * n + np.arange(5), at] = 1.0 / told[:, 1]
        return matrix

    def _slopes_of_rises(self, x: np.ndarray) -> np.ndarray:
        """d rise / d unknown, (s n, unknowns)."""
        rises, inverse, made, drawn, more, behind = self._state(x)
        looks, n = self.seen.rise_k.size, self.n
        by_r = (inverse[None] * made[:, None]).reshape(looks, n)
        flow = drawn * (rises @ behind.T + more)
        by_wire = -(inverse[None] * flow[:, None]).reshape(looks, n)
        outer = self.seen.conductance + np.diag(drawn)
        by_depth = -(rises @ (outer @ self.seen.conductance).T) @ inverse.T
        growing = self.warm * np.exp((x[4] - 1.0) * self.ln_warm) * self.ln_warm
        by_power = -((drawn + self.sheds) * growing) @ inverse.T
        by_alpha = (made / (1.0 + x[5] * self.warm) * self.warm) @ inverse.T
        slopes = np.zeros((looks, x.size))
        slopes[:, 0], slopes[:, 1] = by_wire.sum(axis=1), by_depth.ravel()
        slopes[:, 4], slopes[:, 5] = by_power.ravel(), by_alpha.ravel()
        slopes[:, _SHARED:] = np.hstack([by_r, by_wire, 2.0 * by_r])
        return slopes

    def best(self, start: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        """(twice the cost, unknowns, derivatives) at the end of the way down from `start`."""
        from scipy.optimize import least_squares

        free = np.full(3 * self.n, 40.0)
        bounds = (np.concatenate([_LEAST, -free]), np.concatenate([_MOST, free]))
        found = least_squares(
            self.left, start, jac=self.slopes, bounds=bounds, xtol=1e-6, ftol=1e-6, max_nfev=_ROUNDS
        )  # fmt: skip
        return 2.0 * found.cost, found.x, found.jac

    def starts(self) -> list[np.ndarray]:
        """All pins alike; and each as the balance says with the priors' numbers."""
        seen, trust = self.seen, self.seen.trust
        shared = np.array([np.log(GAMMA), trust.depth, 0.0, SIZED, LOSS_POWER, ALPHA_PER_K])
        wires = self.wire + SIZED * self.size
        drawn = seen.conductance + np.diag(np.exp(shared[0] + wires))
        made = seen.rise_k @ (drawn @ (np.eye(self.n) + trust.depth * seen.conductance)).T
        square = seen.amps**2
        total = (square**2).sum(axis=0)
        direct = np.where(total > 0, (made * square).sum(axis=0) / np.where(total > 0, total, 1.0), np.nan)
        middle = np.nanmedian(np.where(direct > 0, direct, np.nan)) if (direct > 0).any() else 1.0
        each = np.log(np.clip(np.nan_to_num(direct, nan=middle), 0.1 * middle, 30.0 * middle))
        shared[2] = np.log(middle)
        rest = np.concatenate([wires, np.zeros(self.n)])
        return [np.concatenate([shared, ln_r, rest]) for ln_r in (np.full(self.n, np.log(middle)), each)]
