"""The heat made at each pin after / before, from one balance of both tests.

The two tests look at one connector: how deep its pins sit, how the plastic conducts and how much the wires draw is
the same in both, whatever it is. So these are found once for both, and what the model gets wrong of a pin before it
mostly gets wrong after as well: the errors of the two tests are taken as alike but for a part of their own. Between
the tests ln r of every pin may move: all by one number (air that moves more, a clamp that reads high), and each by its
own, which is small for a pin that was only plugged anew and costs little where it is large (Student, two degrees of
freedom), like the scatter between peers in `heat_balance`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.reason.heat_balance import (
    DEPTH_SD,
    GAMMA,
    GAMMA_SD,
    LIKE_NU,
    LIKE_SD,
    Observed,
    modelled,
    spread,
)  # fmt: skip
from hotspot.reason.heat_kept import Kept
from hotspot.reason.heat_moved import Spot, moved_of

SHARED = 4
"""Numbers before those of the pins: ln gamma, ln b, the middle of ln r, what all pins move by."""


@dataclass(frozen=True)
class HeatChange:
    """One pin: heat made after / before at equal current, with its 95 % interval."""

    value: float
    low: float
    high: float

    @property
    def smallest(self) -> float:
        """Share by which the heat must have fallen for an interval as wide as this one to leave 1 out."""
        return 1.0 - float(np.sqrt(self.low / self.high))

    @property
    def fell(self) -> bool:
        """By so much, and beyond doubt, that something was done to it."""
        return self.high < 1.0 and self.value <= 1.0 - section("heat_change")["repair"]

    @property
    def grew(self) -> bool:
        """The same upwards."""
        return self.low > 1.0 and self.value >= 1.0 / (1.0 - section("heat_change")["repair"])

    @property
    def not_fallen(self) -> bool:
        """Beyond doubt not by so much that something was done to it."""
        return self.low > 1.0 - section("heat_change")["repair"]

    @property
    def stayed(self) -> bool:
        """Neither fallen nor grown, beyond doubt."""
        return self.not_fallen and self.high < 1.0 / (1.0 - section("heat_change")["repair"])


@dataclass(frozen=True)
class HeatChanges:
    """pin after -> its change; `day`: heat after / before that all pins share and that is put down to the day (moving
    air, a clamp that reads high) and left out of theirs; `amps_known` in both tests. `effects` (number of a stage
    after, pin after) -> ln of rise with / without these changes: what a mended pin takes from its neighbours too.
    `before` pin after -> heat before against the middle of its peers, by both tests together."""

    pins: Mapping[str, HeatChange]
    before: Mapping[str, float]
    day: float
    amps_known: bool
    effects: Mapping[tuple[int, str], float]


@dataclass(frozen=True)
class Both:
    """The two tests with their pins in one order. `twin` (s_after,): number of the stage before that is held against
    each stage after, -1 for none."""

    before: Observed
    after: Observed
    twin: np.ndarray
    relative: bool


def by_ratios(before: tuple[float, float, float], after: tuple[float, float, float]) -> HeatChange:
    """The change from (ratio to its peers, low, high) of each test, where the two cannot be balanced together: their
    errors are then taken as independent."""
    away = np.log(after[0] / before[0])
    half = 0.5 * np.hypot(np.log(after[2] / after[1]), np.log(before[2] / before[1]))
    return HeatChange(*map(float, np.exp([away, away - half, away + half])))


def heat_changes(
    before: Kept | None, after: Kept | None, pins: Sequence[tuple[str, str]], stages: Mapping[int, int]
) -> HeatChanges | None:
    """None where one of the tests has no balance, or its pins are not all in the other.

    `pins`: pairs (before, after). `stages`: number before -> number after.
    """
    both = None if before is None or after is None else _both(before, after, pins, stages)
    if both is None:
        return None
    x, jacobian = _found(both)
    day, day_sd = (float(x[3]), 0.0) if both.relative else _of_the_day(float(x[3]))
    found, was = {}, {}
    for k, (_, pin) in enumerate(pins):
        was[pin] = float(np.exp(x[SHARED + k] - x[2]))
        if both.before.judged[k] or both.after.judged[k]:  # clamps alone put a pin on either side of the limit
            spot = Spot(SHARED + k, SHARED + len(pins) + k, 2, LIKE_SD, section("heat_change")["replug_sd"])
            moved = moved_of(x, jacobian, _tail_rows(both, k), spot)
            found[pin] = _change(moved + (x[3] - day), day_sd)
    return HeatChanges(found, was, float(np.exp(day)), not both.relative, _effects(x, both, (pins, after.stages)))


def _effects(
    x: np.ndarray, both: Both, names: tuple[Sequence[tuple[str, str]], Sequence[int]]
) -> dict[tuple[int, str], float]:
    pins, stages = names
    still = x.copy()
    still[SHARED + len(pins) :] = 0.0
    rises = [np.maximum(modelled(_of(each, len(pins))[1], both.after), 1e-3) for each in (x, still)]
    share = np.log(rises[0] / rises[1])
    return {(number, pin): float(share[s, k]) for s, number in enumerate(stages) for k, (_, pin) in enumerate(pins)}


def _both(before: Kept, after: Kept, pins: Sequence[tuple[str, str]], stages: Mapping[int, int]) -> Both | None:
    if {a for a, _ in pins} != set(before.pins) or {b for _, b in pins} != set(after.pins):
        return None
    first = _ordered(before, [a for a, _ in pins])
    second = _ordered(after, [b for _, b in pins])
    if first.share != second.share:  # one by the picture, one by the pins: their numbers do not mean the same
        return None
    later = {new: old for old, new in stages.items()}
    twin = [later.get(number, -1) for number in after.stages]
    twin = [before.stages.index(number) if number in before.stages else -1 for number in twin]
    if not (before.relative or after.relative) and _too_far(first, second):
        return None
    middle = np.sqrt(np.abs(first.conductance * second.conductance)) * np.sign(first.conductance)
    first, second = (replace(seen, conductance=middle) for seen in (first, second))
    return Both(first, second, np.array(twin), before.relative or after.relative)


def _too_far(first: Observed, second: Observed) -> bool:
    """Whether the currents of the two tests lie further apart than a rise is carried: one of them may be misread."""
    most = [float(np.sqrt((seen.amps**2).sum(axis=1).max())) for seen in (first, second)]
    return max(most) > section("compare")["longest_factor"] * min(most)


def _ordered(kept: Kept, pins: Sequence[str]) -> Observed:
    at = [kept.pins.index(pin) for pin in pins]
    seen = kept.seen
    return replace(
        seen, rise_k=seen.rise_k[:, at], amps=seen.amps[:, at], stored=seen.stored[:, at], wire=seen.wire[at],
        conductance=seen.conductance[np.ix_(at, at)], judged=seen.judged[at],
    )  # fmt: skip


def _of(x: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """The numbers of each test alone, as `modelled` takes them."""
    ln_r, moved = x[SHARED : SHARED + n], x[SHARED + n :]
    return np.concatenate([x[:3], ln_r]), np.concatenate([x[:3], ln_r + moved + x[3]])


def _found(both: Both) -> tuple[np.ndarray, np.ndarray]:
    """The numbers that fit best and the derivatives of what is left."""
    from scipy.optimize import least_squares

    numbers = section("heat_change")
    n = both.before.wire.size
    alike, common = numbers["alike"], numbers["common_sd"]
    own = np.sqrt(1.0 - alike**2)

    def left(x: np.ndarray, widths: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
        parts = [
            (modelled(each, seen) - seen.rise_k) / sd
            for each, seen, sd in zip(_of(x, n), (both.before, both.after), widths, strict=True)
        ]
        has = both.twin >= 0
        parts[1][has] = (parts[1][has] - alike * parts[0][both.twin[has]]) / own
        tails = [_student((x[SHARED : SHARED + n] - x[2]) / LIKE_SD), _student(x[SHARED + n :] / numbers["replug_sd"])]
        known = [(x[0] - np.log(GAMMA)) / GAMMA_SD, (x[1] - np.log(both.before.depth)) / DEPTH_SD, x[3] / common]
        return np.concatenate([parts[0].ravel(), parts[1].ravel(), *tails, known])

    tries = []
    for start in _starts(both):
        x = start
        for _ in range(3):
            widths = tuple(spread(each, seen) for each, seen in zip(_of(x, n), (both.before, both.after), strict=True))
            fit = least_squares(left, x, args=(widths,), xtol=1e-6, ftol=1e-7)
            x = fit.x
        tries.append((fit.cost, x, fit.jac))
    _, x, jacobian = min(tries, key=lambda found: found[0])
    return x, jacobian


def _tail_rows(both: Both, pin: int) -> list[int]:
    """The two rows, of what `_found` makes small, that hold the pin to its peers and to its own past."""
    looks = both.before.rise_k.size + both.after.rise_k.size
    return [looks + pin, looks + both.before.wire.size + pin]


def _student(z: np.ndarray) -> np.ndarray:
    return np.sign(z) * np.sqrt((LIKE_NU + 1.0) * np.log1p(z**2 / LIKE_NU))


def _starts(both: Both) -> list[np.ndarray]:
    """Each test balanced with the priors' numbers by itself; and nothing changed."""
    n = both.before.wire.size
    shared = np.array([np.log(GAMMA), np.log(both.before.depth), 0.0])
    each = [_direct(shared, seen) for seen in (both.before, both.after)]
    shared[2] = float(np.median(each[0]))
    return [
        np.concatenate([shared, [0.0], each[0], each[1] - each[0]]),
        np.concatenate([shared, [0.0], 0.5 * (each[0] + each[1]), np.zeros(n)]),
    ]


def _direct(shared: np.ndarray, seen: Observed) -> np.ndarray:
    """ln r (n,) from the least squares of each pin's own heat over the stages."""
    wires = np.exp(shared[0]) * np.diag(seen.wire)
    system = (seen.conductance + wires) @ (np.eye(seen.wire.size) + np.exp(shared[1]) * seen.conductance)
    made, square = seen.rise_k @ system.T, seen.amps**2
    total = (square**2).sum(axis=0)
    direct = np.where(total > 0, (made * square).sum(axis=0) / np.where(total > 0, total, 1.0), np.nan)
    middle = np.nanmedian(np.where(direct > 0, direct, np.nan)) if (direct > 0).any() else 1.0
    return np.log(np.clip(np.nan_to_num(direct, nan=middle), 0.1 * middle, 30.0 * middle))


def _change(moved: np.ndarray, more_sd: float) -> HeatChange:
    """From ln of the change (middle, low, high), with what the model leaves open."""
    numbers = section("heat_change")
    middle = float(moved[0])
    open_ = 1.96 * np.sqrt(numbers["least_sd"] ** 2 + more_sd**2 + (numbers["model_share"] * middle) ** 2)
    low, high = (middle + np.sign(end - middle) * np.hypot(end - middle, open_) for end in moved[1:])
    return HeatChange(*map(float, np.exp([middle, low, high])))


def _of_the_day(common: float) -> tuple[float, float]:
    """How much of what all pins moved by is put down to the day (moving air, a clamp that reads high), and its sd.

    All of it as far as a day does that much; beyond, less and less, for then the pins did change, all alike.
    """
    numbers = section("heat_change")
    beyond = max(abs(common) - 2.0 * numbers["day_sd"], 0.0) / numbers["day_sd"]
    share = float(np.exp(-(beyond**2)))
    return share * common, numbers["day_sd"] * (1.0 - share) + 0.5 * abs(common) * share * (1.0 - share)
