"""From the pins' temperatures and currents to the heat made at each: what is balanced, and what comes out.

Heat made at a pin flows into the plate, to the other pins and along its wire. With G the conductances through
the plate, gamma g the wire's against the plate's spreading, b the depth that hides the contact behind the face:

    (G + gamma g) (1 + b G) T = r I^2 (1 + alpha T) - (gamma g + G 1) (T^1.18 / Tref^0.18 - T) - stored,

all in units of the plate's k t. The right side's second term is the loss that grows faster than the rise (its G 1 is
left out where `stored` holds the plate's own). `heat_unknowns` finds r of all pins, gamma and b together; peers are
taken to be alike but for one or the other (a Student distribution over ln r), so that an outlier costs little.
`modelled` and `spread` are the same balance with fewer unknowns, as two tests are balanced with each other.
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
"""Between two tests a pin's temperature is trusted to 0.12 K, 3 % of itself, and 10 % of what is not its own heat."""

SCORE_SD = 0.12
MODEL_SHARE, MODEL_SHARE_BEYOND, BEYOND = 0.15, 0.35, 1.3
"""Share of ln ratio that the model itself may be wrong by; more for pins beyond x1.3, which hide more depth."""

LEAST_SD, LOAD_SHARE, MIDDLE_SHARE = 0.03, 0.10, 0.35
"""What the balance leaves open in ln ratio: at least; per ln of I^2 between a pin and its peers, for the loss and the
wires are not quite what they are taken for; and of what lies between the peers' median and the usual pin, where bad
pins are among the peers. Ours, set on simulated connectors so that 95 % of the intervals hold the truth."""


@dataclass(frozen=True)
class Trust:
    """How far the pins' temperatures are trusted: sd in K, as a share of the stage's largest and of the pin's own; and
    what is expected of b (middle, sd)."""

    noise_k: float
    top_share: float
    own_share: float
    depth: float
    depth_sd: float


BY_PICTURE = Trust(0.3, 0.015, 0.01, 0.02, 0.04)
"""Temperatures from behind the face: what was found against the truth on simulated connectors. b may be below 0:
then the picture was taken for deeper than it is."""


@dataclass(frozen=True)
class Observed:
    """s stages, n pins: rises [K], currents [A], what the plate stores; `wire` (n,) relative conductance of the
    wires; `conductance` (n, n); `share` the relative error of each pin's temperature; `judged` (n,);
    `depth` what is expected of b: next to nothing for rises behind the face; `plate_held`: the loss of the plate that
    grows faster than the rise is in `stored`; `wires_known`: `wire` was stated, not taken to be alike."""

    rise_k: np.ndarray
    amps: np.ndarray
    stored: np.ndarray
    conductance: np.ndarray
    wire: np.ndarray
    judged: np.ndarray
    share: float = OWN_SHARE
    depth: float = 0.005
    plate_held: bool = False
    wires_known: bool = False
    trust: Trust = BY_PICTURE


@dataclass(frozen=True)
class Balance:
    """ln r per pin (n,), its middle, standard deviations of the difference, scores, gamma, b, what is left; `ln_square`
    (n,) ln of each pin's largest I^2 in a stage that judges it, NaN where there is none."""

    ln_r: np.ndarray
    middle: float
    sd: np.ndarray
    score: np.ndarray
    gamma: float
    depth: float
    cost: float
    ln_square: np.ndarray

    def others(self, pin: int, judged: np.ndarray) -> np.ndarray:
        """Which judged pins (n,) bool a pin is held against."""
        return judged & (np.arange(judged.size) != pin)

    def open_sd(self, pin: int, others: np.ndarray, away: float) -> float:
        """Standard deviation of ln ratio beside the balance's own: what the model may be wrong by for this pin."""
        share = MODEL_SHARE_BEYOND if abs(away) > np.log(BEYOND) else MODEL_SHARE
        apart = abs(self.ln_square[pin] - np.median(self.ln_square[others]))
        middle = np.median(self.ln_r[others]) - self.middle
        return float(np.linalg.norm([LEAST_SD, LOAD_SHARE * np.nan_to_num(apart), MIDDLE_SHARE * middle, share * away]))


def ratios(found: Balance, judged: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(ratio, low, high), each (n,): against the median of the other judged pins; NaN for pins not judged."""
    n = found.ln_r.size
    ratio, low, high = (np.full(n, np.nan) for _ in range(3))
    for pin in np.flatnonzero(judged):
        others = found.others(pin, judged)
        if not others.any():
            continue
        away = found.ln_r[pin] - np.median(found.ln_r[others])
        half = 1.96 * np.hypot(found.sd[pin], found.open_sd(pin, others, away))
        ratio[pin], low[pin], high[pin] = np.exp([away, away - half, away + half])
    return ratio, low, high


def _system(x: np.ndarray, seen: Observed) -> np.ndarray:
    wires = np.exp(x[0]) * np.diag(seen.wire)
    return (seen.conductance + wires) @ (np.eye(len(seen.wire)) + np.exp(x[1]) * seen.conductance)


def _heat(x: np.ndarray, seen: Observed) -> np.ndarray:
    """Heat made (s, n), with the observed rise in what is small."""
    warm = np.maximum(seen.rise_k, 0.0)
    return np.exp(x[3:]) * seen.amps**2 * (1.0 + ALPHA_PER_K * warm)


def sheds_of(seen: Observed) -> np.ndarray:
    """Conductances (n,) of the plate whose loss grows faster than the rise, as far as `stored` does not hold it."""
    sums = seen.conductance.sum(axis=1)
    return np.zeros_like(sums) if seen.plate_held else sums


def reference_k(seen: Observed) -> float:
    """The rise [K] at which the loss per kelvin is what the conductances say."""
    return max(LEAST_REFERENCE_K, 0.5 * float(seen.rise_k.max()))


def modelled(x: np.ndarray, seen: Observed) -> np.ndarray:
    """Rises (s, n) that follow from x: ln gamma, ln b, one number that plays no part here, then ln r per pin."""
    warm = np.maximum(seen.rise_k, 0.0)
    more = warm**LOSS_POWER / reference_k(seen) ** (LOSS_POWER - 1.0) - warm
    loss = np.exp(x[0]) * seen.wire + sheds_of(seen)
    return np.linalg.solve(_system(x, seen), (_heat(x, seen) - loss * more - seen.stored).T).T


def spread(x: np.ndarray, seen: Observed) -> np.ndarray:
    """Standard deviation (s, n) of each temperature, from how much of it is the pin's own heat."""
    own = np.diag(np.linalg.inv(_system(x, seen))) * _heat(x, seen)
    foreign = FOREIGN_SHARE * np.abs(seen.rise_k - own)
    return np.sqrt(NOISE_K**2 + (seen.share * seen.rise_k) ** 2 + foreign**2)
