"""How fast each pin warms in the first minute after its current changes, per ampere squared.

So early, hardly anything has come over from the neighbours or along the wires: an independent witness of where
the heat is made, though a weak one, for the face starts late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.physics.statistics import median_uncertainty
from hotspot.reason import rise
from hotspot.reason.heat_loads import Loads
from hotspot.reason.stage_ends import Look
from hotspot.records import StageSpan

MINUTE_S = 60.0
LATEST_START_S = 20.0
"""A reading this close to a change of current stands for the moment of it."""

NOISE_K, COUPLED_SHARE = 0.1, 0.04
"""Standard deviation of one rise [K], and of what the neighbours' share is taken for, of the largest rise."""

PROMISE_SHARE = 0.3
"""Standard deviation of what goes on from the minute before, as a share of it."""

SPILL = 0.13
"""What a neighbour's face shows of a pin's first minute. Ours, from simulated connectors, like the others here."""

PLACE_LN_SD = 0.12
"""Scatter of ln rate between like pins: edge and middle, emissivity, thickness."""

LEAST_RISE_K = 0.5


@dataclass(frozen=True)
class FirstMinute:
    """Per pin (n,): ln of the rate against the median of the judged others, its standard deviation and score; NaN
    where it cannot be had."""

    ln_ratio: np.ndarray
    sd: np.ndarray
    score: np.ndarray


def first_minute(
    looks: dict[tuple[int, str], Look],
    spans: tuple[StageSpan, ...],
    pins: tuple[str, ...],
    loads: Loads,
    near: np.ndarray | None,
) -> FirstMinute:
    """The witness of the first minutes of all stages of known load. `near` (n, n): which pins are neighbours.

    rise_si = sum over j of (own + spill) r_j (change of I_sj^2), for r by weighted least squares.
    """
    square = loads.amps**2
    n = len(pins)
    spill = np.eye(n) if near is None else np.eye(n) + SPILL * near
    design, warmed, spread = [], [], []
    for place, number in enumerate(loads.stages):
        follows = place > 0 and number == loads.stages[place - 1] + 1
        step = square[place] - (square[place - 1] if follows else 0.0)
        found = np.array([_rise_in(looks[number, pin], spans[number].start_s) for pin in pins])
        if not np.isfinite(found).any():
            continue
        top = np.nanmax(np.abs(found[:, 0]))
        design.append(spill * step)
        warmed.append(found[:, 0])
        spread.append(np.hypot(found[:, 1], COUPLED_SHARE * top))
    if not design or max(np.nanmax(each) for each in warmed) < LEAST_RISE_K:
        return FirstMinute(*(np.full(n, np.nan) for _ in range(3)))
    rows, seen, sd = np.concatenate(design), np.concatenate(warmed), np.concatenate(spread)
    there = np.isfinite(seen)
    weighed = rows[there] / sd[there, None]
    rate = np.linalg.lstsq(weighed, seen[there] / sd[there], rcond=1e-6)[0]
    noise = np.sqrt(np.maximum(np.diag(np.linalg.pinv(weighed.T @ weighed, rcond=1e-9)), 0.0))
    return _against_peers(rate, noise, loads.pins & (noise > 0))


def _against_peers(rate: np.ndarray, noise: np.ndarray, judged: np.ndarray) -> FirstMinute:
    n = rate.size
    ln_ratio, sd, score = (np.full(n, np.nan) for _ in range(3))
    for pin in np.flatnonzero(judged):
        others = judged & (np.arange(n) != pin)
        if others.sum() < 2:
            continue
        unsure = float(np.median(noise[others]))
        middle = max(float(np.median(rate[others])), unsure)  # at least: peers that hardly warm
        if max(rate[pin], middle) < 3.0 * max(noise[pin], unsure):
            continue
        own = max(rate[pin], 0.2 * middle)
        ln_ratio[pin] = np.log(own / middle)
        sd[pin] = np.hypot(noise[pin] / own, median_uncertainty(unsure / middle, int(others.sum())))
        score[pin] = ln_ratio[pin] / np.hypot(sd[pin], PLACE_LN_SD)
    return FirstMinute(ln_ratio, sd, score)


def _rise_in(look: Look, start_s: float) -> tuple[float, float]:
    """(rise in the first minute, its standard deviation) in K, less what the minute before promised; NaN without."""
    times, values = look.times_s, look.celsius
    good = np.isfinite(values)
    if good.sum() < 2:
        return np.nan, np.nan
    times, values = times[good], values[good]
    near = times[np.abs(times - start_s).argmin()]
    if abs(near - start_s) > LATEST_START_S or times[-1] < start_s + MINUTE_S:
        return np.nan, np.nan
    if not ((times > start_s + 0.5 * MINUTE_S) & (times <= start_s + 1.5 * MINUTE_S)).any():
        return np.nan, np.nan
    first = rise.value_at(times, values, max(start_s, float(times[0])))
    later = rise.value_at(times, values, max(start_s, float(times[0])) + MINUTE_S)
    earlier = rise.value_at(times, values, start_s - MINUTE_S)
    promised = first - earlier if np.isfinite(earlier) else 0.0
    noise = NOISE_K * (2.4 if np.isfinite(earlier) else 1.4)
    return later - first - promised, float(np.hypot(noise, PROMISE_SHARE * promised))
