"""Where a pin's stage is heading, when, and how surely - or why that cannot be said.

The estimator is the Gaussian process of `hotspot.reason.settling_gp`; a stage that fits no learned shape falls
back on one exponential with an offset after the start (`hotspot.reason.settling_exponential`), its interval
widened. Settled means by this project's rule (common practice, no source): a change of at most 1 K over three
readings 5 min apart, and a predicted remaining change of at most 1 K.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.reason.settling_exponential import best_fit
from hotspot.reason.settling_gp import Observed, Posterior, misfit, normal_cdf, posterior
from hotspot.reason.settling_series import Ambient, Series, ambient_of, series
from hotspot.records import Statement

LEAST_POINTS = 6
LEAST_SPAN_S = 60.0
LEAST_RISE_K = 1.5  # a smaller change is no rise to predict from
LEAST_STEPS = 5  # of the scale: half a step is 10 % of five, so that a smaller rise cannot be told within `WIDEST`
WIDEST = 0.10  # half-width over rise beyond which nothing is predicted
LEAST_CONSTANTS = 1.4  # times to 63.2 % that must be seen: before, the level rests on the prior and not on the data
STEP_GAIN = 14.0  # log units; see tests/benchmarks/settling.py for how often clean stages reach it
STEP_LEAST_K = 1.0
ODD_CHI2 = 3.0
ODD_SD = 6.0
WANDER_K = 0.22  # slow error common in a run: ambient and camera; see also WANDER_S
UNWATCHED_K = 0.25  # more of it where the ambient was not followed
RULE_K, RULE_GAP_S = 1.0, 300.0
LOWER_WIDER = 1.15  # of the interval's lower side: made faces head for less than was told oftener than for more
EXPONENTIAL_WIDER = 4.0  # fit intervals of exponentials are 3-7 times too narrow: their error is correlated


@dataclass(frozen=True, slots=True)
class Settling:
    """Levels [°C] and their 95 % intervals; all None when refused, `reason` then says why.

    `settled` is yes, no or empty (cannot be told). `time_constant_s` is the time to 63.2 % of the stage's own
    change. `method` is `learned shapes`, `one exponential` or empty. `forecast` is the curve behind the numbers
    (seconds from `start_s`), `common_k` the standard uncertainty common to all its points.
    """

    settled_c: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    time_constant_s: float | None = None
    settled: str = ""
    end_c: float | None = None
    end_low_c: float | None = None
    end_high_c: float | None = None
    method: str = ""
    reason: Statement | None = None
    forecast: Posterior | None = None
    start_s: float = 0.0
    common_k: float = 0.0


def settle_stage(  # noqa: PLR0913 - the seven things that a stage is
    time_s: np.ndarray,
    celsius: np.ndarray,
    standard_uncertainty: np.ndarray | float | None,
    clipped: np.ndarray | None,
    ambient_c: float | np.ndarray | Ambient | None,
    start_s: float,
    end_s: float,
) -> Settling:
    """One pin in one stage [start_s, end_s): readings (n,) at session times [s], °C, with NaN and wrong ones.

    `standard_uncertainty` (n,) or one [K] is what is common to the readings and goes into the intervals on top of
    the fit's own. `clipped` (n,) is `low`, `high` or empty: such a value is a bound, not a reading. Readings from
    before `start_s` tell how the stage began. `ambient_c` is one number, or (n,) where it was followed: what it
    moved is then taken out, and the levels are those at its last value; an Ambient says what moved. None: not known.
    """
    air = ambient_of(time_s, ambient_c, end_s)
    data = series(time_s, np.asarray(celsius, dtype=float) - air.moved_k, clipped, start_s, end_s)
    common = float(np.hypot(_common(standard_uncertainty), air.unsure_k))
    refused = _too_little(data) or _no_rise(data)
    if refused is not None:
        return refused
    seen = _observed(data, air, start_s)
    found = posterior(seen)
    fault = misfit(seen, found)
    odd = np.abs(fault.odd) > ODD_SD
    if odd.any() and odd.sum() <= max(1, len(odd) // 10):
        seen = _without(seen, odd)
        found = posterior(seen)
        fault = misfit(seen, found)
    if fault.step_gain > STEP_GAIN and abs(fault.step_k) > max(STEP_LEAST_K, 0.04 * abs(seen.change_k)):
        reason = Statement("settling_step", {"at_s": start_s + fault.step_s})
        return Settling(settled=_moving(data), reason=reason)
    found = _within_bounds(found, data)
    ends = np.array([np.inf, end_s - start_s])
    odd_shape = fault.chi2 > ODD_CHI2
    answer = _one_exponential(data, seen, ends, common) if odd_shape else _learned(found, ends, common)
    answer = replace(answer, start_s=start_s, common_k=common)
    return _judged(answer, data, seen, air.last_c)


def _common(standard_uncertainty: np.ndarray | float | None) -> float:
    if standard_uncertainty is None:
        return 0.0
    values = np.atleast_1d(np.asarray(standard_uncertainty, dtype=float))
    values = values[np.isfinite(values)]
    return float(np.median(values[-5:])) if values.size else 0.0


def _too_little(data: Series) -> Settling | None:
    clipped = len(data.high) + len(data.low)
    if len(data.time_s) >= LEAST_POINTS and np.ptp(data.time_s) >= LEAST_SPAN_S:
        return None
    values = {"readings": len(data.time_s), "needed": LEAST_POINTS}
    if clipped > len(data.time_s):
        return Settling(reason=Statement("settling_clipped", {"clipped": clipped}))
    if len(data.time_s) == 0:
        return Settling(reason=Statement("settling_no_readings"))
    return Settling(reason=Statement("settling_too_few", values))


def _smooth(data: Series) -> np.ndarray:
    """Running median over five points, ends repeated."""
    wide = np.pad(data.celsius, 2, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(wide, 5), axis=1)


def _no_rise(data: Series) -> Settling | None:
    """Refusal of a stage that hardly moves, or moves there and back."""
    smooth = _smooth(data)
    reach = float(np.ptp(smooth))
    if reach < max(LEAST_RISE_K, LEAST_STEPS * data.quantum_k, 2 * data.noise_k):
        values = {"change_k": reach, "level_c": float(np.median(data.celsius))}
        flat = "yes" if data.time_s[-1] - data.time_s[0] >= 2 * RULE_GAP_S and _rule(data) else ""
        return Settling(settled=flat, reason=Statement("settling_no_rise", values))
    if abs(smooth[-1] - smooth[0]) < 0.6 * reach:
        return Settling(settled=_moving(data), reason=Statement("settling_to_and_fro", {"change_k": reach}))
    return None


def _observed(data: Series, air: Ambient, start_s: float) -> Observed:
    ambient_c = air.last_c
    change = float(np.mean(data.celsius[-3:]) - np.median(data.celsius[:2]))
    start_c = float(np.median(data.celsius[:2]))
    warm = abs(start_c - ambient_c) if ambient_c is not None else 0.0
    leftover = 0.3 * warm if warm > 2.0 else 0.0
    if ambient_c is None and (start_s > 1.0 or data.before is not None):
        leftover = 0.1 * abs(change)
    if data.before is not None:
        leftover = max(leftover, 200.0 * abs(data.before[0]))
    room = 0.0 if air.followed else UNWATCHED_K
    wander = float(np.sqrt(WANDER_K**2 + room**2 + (0.2 * data.quantum_k) ** 2 + (0.003 * change) ** 2))
    return Observed(data.time_s, data.celsius, data.white_k, wander, change, leftover, data.before)


def _without(seen: Observed, odd: np.ndarray) -> Observed:
    kept = ~odd
    return replace(seen, time_s=seen.time_s[kept], celsius=seen.celsius[kept], white_k=seen.white_k[kept])


def _within_bounds(found: Posterior, data: Series) -> Posterior:
    """Cells weighed by the chance that their curve keeps to the bounds of the last clipped readings."""
    for bounds, side in ((data.high, 1.0), (data.low, -1.0)):
        if len(bounds):
            mean, sd = found.parts(bounds[-1:, 0])
            z = side * (mean[:, 0] - bounds[-1, 1]) / np.hypot(sd[:, 0], 0.3)
            found = found.reweighted(np.log(np.maximum(normal_cdf(z), 1e-12)))
    return found


def _learned(found: Posterior, ends: np.ndarray, common: float) -> Settling:
    spans = [found.quantile(float(end), np.array([0.5, 0.025, 0.975])) for end in ends]
    middle = [span[0] for span in spans]  # the mean is drawn up by the long upper tail
    wider = np.array([LOWER_WIDER, 1.0])
    half = [np.hypot(wider * (span[1:] - span[0]), 1.96 * common) for span in spans]
    return Settling(
        float(middle[0]), float(middle[0] - half[0][0]), float(middle[0] + half[0][1]), found.time_constant_s(), "",
        float(middle[1]), float(middle[1] - half[1][0]), float(middle[1] + half[1][1]), "learned shapes", None, found,
    )  # fmt: skip


def _one_exponential(data: Series, seen: Observed, ends: np.ndarray, common: float) -> Settling:
    """One exponential with an offset from the steepest moment on; refused where its covariance is absurd."""
    slope = np.gradient(_smooth(data), data.time_s) * np.sign(seen.change_k)
    first = int(np.argmax(slope))
    t, y = data.time_s[first:], data.celsius[first:]
    fit = best_fit(t - t[0], y, "level") if len(t) >= LEAST_POINTS else None
    if fit is None or fit.linear[1] * seen.change_k > 0:
        return Settling(reason=Statement("settling_odd_shape"))
    level, size, rate = fit.linear[0], fit.linear[1], fit.rates[0]
    end = level + size * np.exp(-rate * max(ends[1] - t[0], 0.0))
    half = float(np.hypot(1.96 * EXPONENTIAL_WIDER * fit.linear_sd[0], 1.96 * common))
    return Settling(
        float(level), float(level - half), float(level + half), float(1 / rate), "",
        float(end), float(end - half), float(end + half), "one exponential",
    )  # fmt: skip


def _judged(answer: Settling, data: Series, seen: Observed, ambient_c: float | None) -> Settling:
    """Refuse what is too wide, and say whether the stage has settled."""
    if answer.settled_c is None or answer.low_c is None or answer.high_c is None:
        return replace(answer, settled=_moving(data))
    start_c = float(np.median(data.celsius[:2]))
    rise = abs(answer.settled_c - (start_c if ambient_c is None else ambient_c))
    rise = max(rise, abs(answer.settled_c - start_c))
    whole = 0.5 * (answer.high_c - answer.low_c)
    half = float(np.sqrt(max(whole**2 - (1.96 * answer.common_k) ** 2, 0.0)))
    if not half <= WIDEST * rise:
        values = {"half_width_k": half, "rise_k": rise, "seen_s": float(data.time_s[-1])}
        return Settling(settled=_moving(data), reason=Statement("settling_too_early", values))
    constant_s = answer.time_constant_s or 0.0
    if data.time_s[-1] < LEAST_CONSTANTS * constant_s:
        values = {"seen_s": float(data.time_s[-1]), "needed_s": LEAST_CONSTANTS * constant_s}
        return Settling(settled=_moving(data), reason=Statement("settling_seen_too_little", values))
    bound = float(data.high[-1, 1]) if len(data.high) else -np.inf
    if answer.high_c < bound:
        return Settling(reason=Statement("settling_clipped", {"clipped": len(data.high)}))
    return replace(answer, settled=_settled(answer, data, seen))


def _settled(answer: Settling, data: Series, seen: Observed) -> str:
    now = answer.forecast.at(seen.time_s[-1:])[0][0] if answer.forecast is not None else data.celsius[-3:].mean()
    remaining = abs(float(answer.settled_c or 0.0) - float(now))
    rule = _rule(data)
    if rule is False or remaining > RULE_K:
        return "no"
    return "yes" if rule else ""


def _rule(data: Series) -> bool | None:
    """Whether none of the last three readings, 5 min apart, differs by more than 1 K from the one before.

    None if the stage is too short for three.
    """
    end = data.time_s[-1]
    readings = []
    for at in (end, end - RULE_GAP_S, end - 2 * RULE_GAP_S):
        near = np.abs(data.time_s - at) <= 45.0
        if at < data.time_s[0] - 1e-9:
            continue
        readings.append(data.celsius[near].mean() if near.any() else np.interp(at, data.time_s, data.celsius))
    if np.max(np.abs(np.diff(readings)), initial=0.0) > RULE_K:
        return False
    return True if len(readings) == 3 else None


def _moving(data: Series) -> str:
    """`no` where the readings themselves still change too much; else it cannot be told."""
    return "no" if _rule(data) is False else ""
