"""From the heat made at a pin and what its first minute says to a level, whether it is a source, and the reasons."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.reason.heat_made import Heat, PinHeat
from hotspot.records import Statement


@dataclass(frozen=True)
class Level:
    """`level`: hot, watch or normal. `ratio`, `low`, `high`: as reported, the wider interval where witnesses differ."""

    level: str
    source: bool
    reasons: tuple[Statement, ...]
    ratio: float
    low: float
    high: float


def level_of(heat: Heat, pin: str) -> Level:
    """What the heat made says of one judged pin."""
    own, numbers = heat.pins[pin], section("heat")
    limits = {"hot": numbers["hot_score"], "watch": numbers["watch_score"]}
    if heat.method == "first minute":
        limits = {"hot": numbers["early_hot_score"], "watch": numbers["early_watch_score"]}
    elif heat.method == "network":
        limits = {"hot": numbers["network_hot_score"], "watch": numbers["network_watch_score"]}
    level = next((name for name in ("hot", "watch") if own.score > limits[name]), "normal")
    if heat.method == "first minute":
        return _level(level, level == "hot", own, (_measure(heat, pin, level, limits["hot"]),))
    early, _, early_score = own.early
    if level == "hot" and _like_its_peers(own):
        said = Statement("heat_from_elsewhere", _values(own, pin) | {"early": math.exp(early)})
        return _level("watch", False, own, (_measure(heat, pin, level, limits["hot"]), said))
    if level != "hot" and early_score > numbers["early_only_score"] and own.ratio > 1.0:
        said = Statement("heat_first_minute_only", _values(own, pin) | {"early": math.exp(early)})
        wide = _widened(own)
        return Level("hot", True, (said,), wide.ratio, wide.low, wide.high)
    reasons = (_measure(heat, pin, level, limits["hot"]),)
    if level == "hot" and math.isfinite(early):
        reasons += (Statement("heat_first_minute_agrees", {"pin": pin, "early": math.exp(early)}),)
    return _level(level, level == "hot", own, reasons)


def _level(level: str, source: bool, own: PinHeat, reasons: tuple[Statement, ...]) -> Level:
    return Level(level, source, reasons, own.ratio, own.low, own.high)


def _like_its_peers(own: PinHeat) -> bool:
    """Whether the first minute could have shown the excess of the steady state, and shows no such thing."""
    numbers = section("heat")
    early, sd, score = own.early
    if not math.isfinite(early):
        return False
    expected = numbers["early_share"] * math.log(own.ratio)
    seen = expected / math.hypot(sd, numbers["early_sd"]) > numbers["early_power"]
    return seen and early < 0.5 * expected and score < numbers["early_watch_score"]


def _widened(own: PinHeat) -> PinHeat:
    """The interval that holds both witnesses; the ratio between them."""
    early, sd, _ = own.early
    both = np.array([math.log(own.ratio), early])
    low = min(math.log(own.low), early - 1.96 * math.hypot(sd, 0.15))
    high = max(math.log(own.high), early + 1.96 * math.hypot(sd, 0.15))
    middle = float(both.mean())
    return PinHeat(*np.exp([middle, low, high]).tolist(), own.score, own.early, own.peers)


def _values(own: PinHeat, pin: str) -> dict[str, object]:
    return {"pin": pin, "ratio": own.ratio, "low": own.low, "high": own.high, "peers": own.peers, "score": own.score}


def _measure(heat: Heat, pin: str, level: str, limit: float) -> Statement:
    values = _values(heat.pins[pin], pin) | {"limit": limit}
    code = {"hot": "heat_more", "watch": "heat_perhaps_more", "normal": "heat_like_peers"}[level]
    return Statement(code, values)
