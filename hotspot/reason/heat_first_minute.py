"""How fast each pin warms in the first minute after its current changes, per ampere squared.

So early, hardly anything has come over from the neighbours or along the wires: an independent witness of where
the heat is made, though a weak one, for the face starts late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.reason import rise
from hotspot.reason.heat_loads import Loads
from hotspot.reason.stage_ends import Look
from hotspot.records import StageSpan

MINUTE_S = 60.0
LATEST_START_S = 20.0
"""A reading this close to a change of current stands for the moment of it."""

NOISE_K = 0.1
PLACE_LN_SD = 0.12
"""Scatter of ln rate between like pins: edge and middle, emissivity, thickness. Ours, from simulated connectors."""

LEAST_RISE_K = 0.5


@dataclass(frozen=True)
class FirstMinute:
    """Per pin (n,): ln of the rate against the median of the judged others, its standard deviation and score; NaN
    where it cannot be had. `rise_k` (n,): the largest rise in a first minute."""

    ln_ratio: np.ndarray
    sd: np.ndarray
    score: np.ndarray
    rise_k: np.ndarray


def first_minute(
    looks: dict[tuple[int, str], Look], spans: tuple[StageSpan, ...], pins: tuple[str, ...], loads: Loads
) -> FirstMinute:
    """The witness of the first minutes of all stages of known load, weighted by how much I^2 changed."""
    square = loads.amps**2
    change, warmed, spread = [], [], []
    for place, number in enumerate(loads.stages):
        before = square[place - 1] if place and number == loads.stages[place - 1] + 1 else np.zeros(len(pins))
        found = [_rise_in(looks[number, pin], spans[number].start_s) for pin in pins]
        change.append(square[place] - before)
        warmed.append([each[0] for each in found])
        spread.append([each[1] for each in found])
    step, warm, noise = (np.array(each, dtype=float) for each in (change, warmed, spread))
    top = np.abs(step).max(initial=0.0)
    used = np.isfinite(warm) & (step > 0.1 * top) & loads.judged
    weight = np.where(used, step, 0.0)
    total = (weight * step).sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        rate = np.where(used, weight * np.nan_to_num(warm), 0.0).sum(axis=0) / total
        sd = np.sqrt(np.where(used, (weight * np.nan_to_num(noise)) ** 2, 0.0).sum(axis=0)) / total
    largest = np.where(used, np.nan_to_num(warm), 0.0).max(axis=0, initial=0.0)
    return _against_peers(rate, sd, largest, loads.pins)


def _against_peers(rate: np.ndarray, noise: np.ndarray, largest: np.ndarray, judged: np.ndarray) -> FirstMinute:
    n = rate.size
    ln_ratio, sd, score = (np.full(n, np.nan) for _ in range(3))
    good = judged & np.isfinite(rate) & (rate > 0) & (rate > 2.0 * noise)
    for pin in np.flatnonzero(judged & np.isfinite(rate)):
        others = good & (np.arange(n) != pin)
        if others.sum() < 2 or np.median(rate[others]) <= 0 or largest[others].max() < LEAST_RISE_K:
            continue
        middle = float(np.median(rate[others]))
        floor = max(rate[pin], 0.2 * middle)
        ln_ratio[pin] = np.log(floor / middle)
        sd[pin] = noise[pin] / floor
        score[pin] = ln_ratio[pin] / np.hypot(sd[pin], PLACE_LN_SD)
    return FirstMinute(ln_ratio, sd, score, largest)


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
    return later - first - promised, NOISE_K * (2.4 if np.isfinite(earlier) else 1.4)
