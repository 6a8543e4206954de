"""The posterior of a stage's curve under learned shapes: a Gaussian process with signed exponentials.

A stage is T(t) = T0 + s * sum_k w_k (1 - exp(-t / (tau_k c))) + sum_m d_m (1 - exp(-t / (e_m c))):
the answer to the new load (size s, time to 63.2 % c, shape w learned) and the heat left over from the stage
before (d). Given s and c everything is linear and Gaussian (Rasmussen & Williams, Gaussian Processes for
Machine Learning, 2006, eq. 2.11, weight-space form), so the posterior is closed; s and c lie on a grid with
a flat prior for ln s, a broad one for ln c, and are mixed with the weights of their marginal likelihoods.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from hotspot.handbook.settling_prior import shape_prior
from hotspot.physics.heating import SHARE_OF_TIME_CONSTANT

SIZES = np.geomspace(0.85, 6.0, 14)  # of the change seen so far
CONSTANTS_S = np.geomspace(22.0, 4000.0, 36)  # times to 63.2 %
SIZE_LOOSE = 0.12  # relative sd of the size around its grid point; neighbouring points are 16 % apart
TIME_LOOSE = 0.09  # sd of ln c around its grid point; neighbouring points are 16 % apart
SHAPE_WIDER = 0.8  # covariance of the learned shapes is multiplied by this
LEFTOVER_TAUS = np.array([0.4, 1.0, 2.2])  # of c
WAYS = 6  # principal ways of differing that are kept per kind
LOG_CONSTANTS = -2.5 * np.log1p((np.log(CONSTANTS_S / 230.0) / 0.3) ** 2 / 4)
"""Student's t (4 degrees of freedom) in ln c: 95 % within a factor 2.3 of 230 s, and a slow or quick part is seldom
rather than never. The curves that the shapes were learned from have a median of 213 s and an sd of 0.38 in ln c
(faces); common practice (a plug still climbs after 15 min and is level after 25; no source) would be about 300 s.
"""
LEAST_LEFTOVER_K = 0.02
BISECTIONS = 24
COARSE = slice(1, None, 4)  # of SIZES, to find the time constants worth a closer look
DROP = 9.0  # log units below the best cell
STEP_SHARES = (0.25, 1.0)  # of c: how quickly a step in mid-stage is answered
WANDER_S = 400.0  # correlation time of ambient and camera wander


@dataclass(frozen=True, slots=True)
class Observed:
    """What of a stage enters the fit. Times (n,) [s] from the stage's start, temperatures (n,) [°C].

    `white_k` (n,) and `wander_k` are standard deviations of independent and of slowly wandering error.
    `change_k` is the signed change seen so far. `leftover_k` is the size [K] of the heat left over from
    before (0: started cold), `slope` its rate at the start and sd of that [K/s], or None.
    """

    time_s: np.ndarray
    celsius: np.ndarray
    white_k: np.ndarray
    wander_k: float
    change_k: float
    leftover_k: float = 0.0
    slope: tuple[float, float] | None = None


@cache
def _factors(kind: int) -> np.ndarray:
    """(k, 1 + q): the mean shape of a kind, and the principal ways in which its shapes differ, each of sd 1."""
    shape = shape_prior()
    values, vectors = np.linalg.eigh(shape.covariance[kind] * SHAPE_WIDER)
    half = vectors * np.sqrt(np.maximum(values, 0))
    curves = (1 - np.exp(-np.geomspace(0.02, 25.0, 120)[:, None] / shape.taus)) @ half
    turned = np.linalg.svd(curves)[2]  # principal as seen in the curves, not in the weights
    return np.column_stack([shape.mean[kind], half @ turned[:WAYS].T])


def _basis(time_s: np.ndarray, constants_s: np.ndarray, kind: int) -> np.ndarray:
    """(constants, n, p): start level, mean shape, ways of differing, change with a
    time constant between two grid points (first order), leftovers; a time of infinity is allowed."""
    u = time_s[None, :, None] / constants_s[:, None, None]
    taus, factors = shape_prior().taus, _factors(kind)
    decay = np.exp(-u / taus)
    late = (np.where(np.isfinite(u), u, 0.0) / taus * decay) @ factors[:, :1]
    shape = (1 - decay) @ factors
    return np.concatenate([np.ones_like(u), shape, TIME_LOOSE * late, 1 - np.exp(-u / LEFTOVER_TAUS)], axis=2)


def _noise(seen: Observed) -> np.ndarray:
    t = seen.time_s
    slow = np.exp(-np.abs(t[:, None] - t[None, :]) / WANDER_S)
    return seen.wander_k**2 * slow + np.diag(seen.white_k**2)


@dataclass(frozen=True, slots=True)
class Posterior:
    """Mixture over the grid: `weight` (g,), `constant_s`, `kind`, `size_k` (g,); the coefficients' `mean` (g, p) and
    `cov` (g, p, p).
    """

    weight: np.ndarray
    constant_s: np.ndarray
    kind: np.ndarray
    size_k: np.ndarray
    mean: np.ndarray
    cov: np.ndarray
    log_evidence: float

    def parts(self, time_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mean and sd [°C, K] of the curve per grid cell, each (g, n), at times [s] from the start; inf is settled."""
        time_s = np.asarray(time_s, dtype=float)
        mean, sd = np.empty((2, len(self.weight), len(time_s)))
        for kind in np.unique(self.kind):
            mine = self.kind == kind
            b = _basis(time_s, self.constant_s[mine], int(kind))
            mean[mine] = np.matmul(b, self.mean[mine][..., None])[..., 0]
            sd[mine] = np.sqrt(np.maximum((np.matmul(b, self.cov[mine]) * b).sum(-1), 0))
        return mean, sd

    def at(self, time_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mean [°C] and sd [K] of the curve, each (n,)."""
        mean, sd = self.parts(time_s)
        middle = self.weight @ mean
        return middle, np.sqrt(self.weight @ (sd**2 + (mean - middle) ** 2))

    def quantile(self, time_s: float, share: np.ndarray) -> np.ndarray:
        """Quantiles [°C] of the curve at one time; the mixture is not normal, so its two sides differ."""
        mean, sd = (part[:, 0] for part in self.parts(np.array([time_s])))
        sd = np.maximum(sd, 1e-6)
        low = np.full(len(share), (mean - 6 * sd).min())
        high = np.full(len(share), (mean + 6 * sd).max())
        for _ in range(BISECTIONS):
            middle = 0.5 * (low + high)
            below = self.weight @ normal_cdf((middle - mean[:, None]) / sd[:, None]) < share
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return 0.5 * (low + high)

    def above(self, time_s: np.ndarray, level_c: float, common_k: float = 0.0) -> np.ndarray:
        """Probability (n,) that the curve lies above `level_c` [°C], with a common standard uncertainty [K]."""
        mean, sd = self.parts(time_s)
        return self.weight @ normal_cdf((mean - level_c) / np.maximum(np.hypot(sd, common_k), 1e-6))

    def time_constant_s(self) -> float:
        """Time [s] to 63.2 % of the answer to the stage's own load, as the mean curve has it, leftovers aside."""
        middle = float(np.exp(self.weight @ np.log(self.constant_s)))
        times = np.append(middle * np.geomspace(0.2, 5.0, 120), np.inf)
        own = np.zeros(len(times))
        for kind in np.unique(self.kind):
            mine = self.kind == kind
            rise = _basis(times, self.constant_s[mine], int(kind))[..., 1 : -len(LEFTOVER_TAUS)]
            coefficients = self.mean[mine, 1 : -len(LEFTOVER_TAUS), None]
            own += self.weight[mine] @ np.matmul(rise, coefficients)[..., 0]
        passed = np.maximum.accumulate(own[:-1] / own[-1])
        return float(np.interp(SHARE_OF_TIME_CONSTANT, passed, times[:-1]))

    def reweighted(self, log_factor: np.ndarray) -> Posterior:
        """The same with the weights (g,) multiplied by exp(log_factor)."""
        log_w = np.log(np.maximum(self.weight, 1e-300)) + log_factor
        weight = np.exp(log_w - log_w.max())
        return Posterior(
            weight / weight.sum(), self.constant_s, self.kind, self.size_k, self.mean, self.cov, self.log_evidence
        )


def normal_cdf(z: np.ndarray) -> np.ndarray:
    """Normal distribution function, Abramowitz & Stegun (1964) 7.1.26, error below 2e-7."""
    x = np.abs(z) / np.sqrt(2.0)
    t = 1 / (1 + 0.3275911 * x)
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    erf = 1 - poly * np.exp(-np.minimum(x * x, 700))
    return 0.5 * (1 + np.sign(z) * erf)


def _prior(seen: Observed, sizes_k: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and sd, each (s, p), of the independent coefficients for each size."""
    m = len(LEFTOVER_TAUS)
    mean, sd = np.zeros((2, len(sizes_k), 3 + WAYS + m))
    mean[:, 0], sd[:, 0] = seen.celsius[0], 3.0 + abs(seen.change_k)
    mean[:, 1], sd[:, 1] = sizes_k, SIZE_LOOSE * np.abs(sizes_k)
    sd[:, 2:-m] = np.abs(sizes_k)[:, None]
    sd[:, -m:] = max(seen.leftover_k, LEAST_LEFTOVER_K)
    return mean, sd


def _white(seen: Observed, whiten: np.ndarray, kind: int) -> np.ndarray:
    """The basis (c, n, p) in units of the noise; `whiten` is the inverse of the noise's Cholesky factor."""
    basis = _basis(seen.time_s, CONSTANTS_S, kind)
    white = np.matmul(whiten, basis)
    if seen.slope is None:
        return white
    row = np.zeros((len(basis), 1, basis.shape[2]))
    row[:, 0, -len(LEFTOVER_TAUS) :] = 1 / (LEFTOVER_TAUS * CONSTANTS_S[:, None])
    return np.concatenate([white, row / seen.slope[1]], axis=1)


def posterior(seen: Observed) -> Posterior:
    """The mixture over kinds, sizes and time constants; cells of negligible weight are dropped."""
    chol = np.linalg.cholesky(_noise(seen))
    whiten = np.linalg.inv(chol)
    y = whiten @ seen.celsius
    if seen.slope is not None:
        y = np.append(y, seen.slope[0] / seen.slope[1])
    sizes = SIZES * seen.change_k
    log_prior = np.log(shape_prior().share)[:, None] + LOG_CONSTANTS
    whites = [_white(seen, whiten, kind) for kind in range(len(log_prior))]
    rough = np.array([_cells(seen, white, y, sizes[COARSE])[0].max(-1) for white in whites]) + log_prior
    near = np.max(rough, axis=0) > rough.max() - 3 * DROP
    near = np.flatnonzero(near | np.roll(near, 1) | np.roll(near, -1))
    kinds = [_cells(seen, white[near], y, sizes) for white in whites]
    log_like = np.array([cells[0] for cells in kinds]) + log_prior[:, near, None]  # (k, c, s)
    top = float(log_like.max())
    kind, cell, size = np.nonzero(log_like > top - DROP)
    weight = np.exp(log_like[kind, cell, size] - top)
    information, mean, sd0 = (np.array([cells[part] for cells in kinds]) for part in (1, 2, 3))
    scale = sd0[kind, size]
    cov = np.linalg.inv(information[kind, cell, size]) * scale[:, :, None] * scale[:, None, :]
    evidence = top + float(np.log(weight.sum())) - float(np.log(np.diag(chol)).sum())
    return Posterior(
        weight / weight.sum(), CONSTANTS_S[near][cell], kind, sizes[size], mean[kind, cell, size], cov, evidence
    )


def _cells(seen: Observed, white: np.ndarray, y: np.ndarray, sizes_k: np.ndarray) -> tuple[np.ndarray, ...]:
    """Log likelihood (c, s), information (c, s, p, p), mean (c, s, p) and prior sd (s, p) for one kind."""
    mean0, sd0 = _prior(seen, sizes_k)
    left = y - np.einsum("cnp,sp->csn", white, mean0, optimize=True)  # what the prior's mean leaves
    gram = np.matmul(white.transpose(0, 2, 1), white)
    right = np.matmul(left, white) * sd0
    information = np.eye(gram.shape[1]) + gram[:, None] * (sd0[:, :, None] * sd0[:, None, :])
    z = np.linalg.solve(information, right[..., None])[..., 0]
    log_det = 2 * np.log(np.diagonal(np.linalg.cholesky(information), axis1=-2, axis2=-1)).sum(-1)
    log_like = -0.5 * ((left**2).sum(-1) - (right * z).sum(-1) + log_det)
    return log_like, information, mean0 + sd0 * z, sd0


@dataclass(frozen=True, slots=True)
class Misfit:
    """How far a stage is from every learned shape: `chi2` per point, the worst step and what it would be worth.

    `step_gain` is the gain in log likelihood of a step of the load `step_k` [K] at `step_s` [s]; `odd` (n,) are
    the residuals in sd, wander taken out.
    """

    chi2: float
    step_gain: float
    step_s: float
    step_k: float
    odd: np.ndarray


def misfit(seen: Observed, found: Posterior) -> Misfit:
    """Hold the best cell against the data, and against a second, later answer to a load that changed."""
    best = int(np.argmax(found.weight))
    t, n = seen.time_s, len(seen.time_s)
    basis = _basis(t, found.constant_s[best : best + 1], int(found.kind[best]))[0]
    mean0, sd0 = _prior(seen, found.size_k[best : best + 1])
    noise = _noise(seen)
    chol = np.linalg.cholesky(noise + (basis * sd0**2) @ basis.T)
    error = np.linalg.solve(chol, seen.celsius - basis @ mean0[0])
    inner = t[2 : max(3, n - 3)]
    late = np.maximum(t[:, None] - inner, 0.0)
    answers = np.concatenate([1 - np.exp(-late / (share * found.constant_s[best])) for share in STEP_SHARES], axis=1)
    white = np.linalg.solve(chol, answers)
    worth = (white**2).sum(0)
    size = (white.T @ error) / np.maximum(worth, 1e-12)
    gain = 0.5 * size**2 * worth
    top = int(np.argmax(gain))
    left = seen.celsius - basis @ found.mean[best]
    inverse = np.linalg.inv(noise)
    odd = (inverse @ left) / np.sqrt(np.diagonal(inverse))  # each against the others (leave one out)
    return Misfit(float(error @ error) / n, float(gain[top]), float(np.tile(inner, 2)[top]), float(size[top]), odd)
