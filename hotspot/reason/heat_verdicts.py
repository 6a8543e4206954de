"""From the heat made at a pin and the other witnesses to a level, whether it is a source, and the reasons.

Two witnesses are weighed: the settled balance, and the first minute under load, which hardly sees neighbours and
wires. High in both: made here. High in the balance only: heat from elsewhere. High in the first minute only: made here,
where it cools well. A wire that brings heat, where it is in view, takes the blame off the contact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.reason.heat_balance import BEYOND
from hotspot.reason.heat_made import Heat, PinHeat
from hotspot.records import Statement

_CODES = {"hot": "heat_more", "watch": "heat_perhaps_more", "normal": "heat_like_peers"}


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
    if heat.method == "absolute":
        return _by_ohms(own, pin)
    if heat.method == "pair":
        return _of_two(own, pin)
    score = score_of(heat, own)
    if heat.method == "network" and own.ratio > BEYOND and math.isfinite(own.early[0]):
        own = _widened(own)  # a pin's own spot hides much of a fault
    level = "hot" if score > numbers["hot_score"] else "watch" if score > numbers["watch_score"] else "normal"
    if level == "hot":
        own = _more(own)
    measure = Statement(_CODES[level], _values(own, pin) | {"score": score, "limit": numbers["hot_score"]})
    if heat.method == "first minute":
        return _level(level, own, (measure,))
    early, _, early_score = own.early
    told = _values(own, pin) | {"early": math.exp(early) if math.isfinite(early) else math.nan}
    if level == "hot":
        if math.isfinite(early):
            measure = Statement("heat_more_both", dict(measure.values) | {"early": told["early"]})
        return _blamed(own, pin, measure)
    if early_score > numbers["early_only_score"] and own.ratio > 1.0:
        wide = _more(_widened(own))
        told |= {"ratio": own.ratio, "low": wide.low, "high": wide.high}
        return _blamed(wide, pin, Statement("heat_first_minute_only", told))
    if own.score > numbers["elsewhere_score"] and _like_its_peers(own):
        reasons = (Statement("heat_from_elsewhere", told), *_wire_agrees(own, pin))
        return Level("watch", False, reasons, own.ratio, own.low, own.high)
    return _level(level, own, (measure, *_ohms(own, pin)))


def of_doubted_load(level: Level) -> Level:
    """The same where the pin's stated current is in doubt: heat goes with its square, so no contact is blamed."""
    if not level.source:
        return level
    reasons = (*level.reasons, Statement("heat_load_doubted"))
    return Level("watch", False, reasons, level.ratio, level.low, level.high)


def _of_two(own: PinHeat, pin: str) -> Level:
    """Of two pins that carry enough: which makes more, but not by how much the other is like any third."""
    more = own.low > BEYOND
    said = Statement("heat_of_two_more" if more else "heat_of_two", _values(own, pin))
    return _level("watch" if more else "normal", own, (said,))


def _by_ohms(own: PinHeat, pin: str) -> Level:
    """With no peers to speak of, the resistance itself; below the limits it is like a sound one's, no more."""
    numbers = section("heat")
    milli = 1e3 * own.ohm[0] if own.ohm else math.nan
    level = "hot" if milli > numbers["hot_milliohm"] else "watch" if milli > numbers["watch_milliohm"] else "normal"
    code = {"hot": "resistance_high", "watch": "resistance_perhaps_high", "normal": "resistance_usual"}[level]
    values = dict(_ohms(own, pin)[0].values) | {"limit": numbers["hot_milliohm"]}
    if level == "hot":
        return _blamed(own, pin, Statement(code, values))
    return _level(level, own, (Statement(code, values),))


def _ohms(own: PinHeat, pin: str) -> tuple[Statement, ...]:
    if own.ohm is None:
        return ()
    value, low, high = (1e3 * each for each in own.ohm)
    return (Statement("resistance_here", {"pin": pin, "milliohm": value, "low": low, "high": high}),)


def score_of(heat: Heat, own: PinHeat) -> float:
    """One score of both witnesses, scaled so that `hot_score` flags about 2 % of healthy connectors."""
    numbers = section("heat")
    early = own.early[2]
    if heat.method == "first minute":
        return numbers["early_weight"] * early
    trust = numbers["network_weight"] if heat.method == "network" else 1.0
    if not math.isfinite(early):
        return trust * numbers["steady_weight"] * own.score
    both = trust * numbers["both_weight"] * (own.score + early)
    return both if min(own.score, early) > numbers["each_least"] else min(both, 0.5 * numbers["hot_score"])


def _level(level: str, own: PinHeat, reasons: tuple[Statement, ...]) -> Level:
    return Level(level, level == "hot", reasons, own.ratio, own.low, own.high)


def _blamed(own: PinHeat, pin: str, measure: Statement) -> Level:
    """A hot pin, unless its wire or a part behind it is seen to bring the heat."""
    flow, early = own.flow, own.early[2]
    if flow is not None:
        values = {"pin": pin, "flow": flow.excess, "sd": flow.sd}
        tail = "" if flow.watts else "_no_watts"
        if flow.excess > 0.0:
            sure = "heat_along_wire" if flow.excess > 2.0 * flow.sd else "heat_perhaps_along_wire"
            said = Statement(sure + tail, values)
            return Level("watch", False, (measure, said), own.ratio, own.low, own.high)
        return _level("hot", own, (measure, *_ohms(own, pin), Statement("heat_into_wire" + tail, values)))
    warm = own.part_k is not None and own.part_k > section("heat")["part_share"] * own.rise_k
    if warm and not early > 2.0 * section("heat")["hot_score"]:
        said = Statement("heat_from_part", {"pin": pin, "part": own.part_k, "rise": own.rise_k})
        return Level("watch", False, (measure, said), own.ratio, own.low, own.high)
    said = _ohms(own, pin) if measure.code != "resistance_high" else ()
    seen = "heat_wire_not_seen" if math.isfinite(early) else "heat_wire_not_seen_at_all"
    return _level("hot", own, (measure, *said, Statement(seen, {"pin": pin})))


def _wire_agrees(own: PinHeat, pin: str) -> tuple[Statement, ...]:
    """Where heat that comes from elsewhere is seen in the wire as well."""
    if own.flow is None or own.flow.excess <= 0.0:
        return ()
    code = "heat_wire_agrees" + ("" if own.flow.watts else "_no_watts")
    return (Statement(code, {"pin": pin, "flow": own.flow.excess}),)


def _like_its_peers(own: PinHeat) -> bool:
    """Whether the first minute could have shown the excess of the balance, and shows less than half of it."""
    numbers = section("heat")
    early, sd, _ = own.early
    if not math.isfinite(early):
        return False
    expected = math.log(own.ratio)
    return expected / math.hypot(sd, numbers["early_sd"]) > numbers["early_power"] and early < 0.5 * expected


def _widened(own: PinHeat) -> PinHeat:
    """The interval that holds both witnesses; the ratio between them."""
    early, sd, _ = own.early
    spread = 1.96 * math.hypot(sd, section("heat")["early_sd"], 0.35 * early)
    low, high = min(math.log(own.low), early - spread), max(math.log(own.high), early + spread)
    middle = 0.5 * (math.log(own.ratio) + early)
    ratio, low, high = np.exp([middle, low, high]).tolist()
    return replace(own, ratio=ratio, low=low, high=high)


def _more(own: PinHeat) -> PinHeat:
    """The interval of a pin whose score says that it makes more than its peers: open is only how much more."""
    return replace(own, ratio=max(own.ratio, 1.0), low=max(own.low, 1.0))


def _values(own: PinHeat, pin: str) -> dict[str, object]:
    return {"pin": pin, "ratio": own.ratio, "low": own.low, "high": own.high, "peers": own.peers}
