"""Heat made per pin laid over what the rise of a stage says: the heat decides, the rise is kept as a second voice."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from hotspot.handbook.criteria import section
from hotspot.reason.heat_made import Heat
from hotspot.reason.heat_verdicts import Level
from hotspot.reason.stage_ends import Look
from hotspot.reason.stage_peers import View
from hotspot.records import Bound, Statement, bounded

KEPT = ("survey_quote", "bound_hides")
"""Of the reasons of a rise, those that stand beside the heat's."""


def laid_over(
    views: Mapping[str, View], stage: int, heat: Heat, levels: Mapping[str, Level], readable: set[str]
) -> dict[str, View]:
    """The views of one stage with those pins decided by heat that it speaks of."""
    result = dict(views)
    sources = [pin for pin, level in levels.items() if level.source]
    for pin, view in views.items():
        if (stage, pin) not in heat.judged or pin not in readable:
            continue
        if heat.method == "absolute":
            result[pin] = _by_resistance(view, levels[pin])
        elif heat.method == "pair":
            result[pin] = _of_two(view, levels[pin])
        elif heat.method != "first minute":
            result[pin] = _decided(pin, view, levels[pin], sources)
        elif view.judged:
            result[pin] = _confirmed(view, levels[pin], heat.pins[pin].early[2])
    return result


def _by_resistance(view: View, level: Level) -> View:
    """A pin without enough peers: its resistance decides where nothing else can."""
    if level.level == "normal" and view.judged:
        return replace(view, reasons=(*view.reasons, *level.reasons))
    if level.level == "normal":
        return View("normal", (*level.reasons, *view.reasons), view.standing, judged=True)
    return View(level.level, (*level.reasons, *view.reasons), view.standing, level.source, True)


def _of_two(view: View, level: Level) -> View:
    """One of two pins that carry enough: the rise may say more where both carry the same."""
    heat = (level.ratio, level.low, level.high)
    reasons = (*level.reasons, *view.reasons)
    if view.verdict == "hot" or (view.judged and level.level == "normal"):
        return replace(view, heat=heat, reasons=reasons)
    return View(level.level, reasons, view.standing, False, True, None, heat)


def _confirmed(view: View, level: Level, score: float) -> View:
    """By the first minute alone: it sees no neighbours, but too little to overrule a rise among like-loaded pins."""
    numbers = section("heat")
    heat = (level.ratio, level.low, level.high)
    if view.verdict == "hot" and score > numbers["early_confirms_score"]:
        said = tuple(reason for reason in level.reasons if reason.code != "heat_like_peers")
        return replace(view, heat=heat, reasons=(*said, *view.reasons))
    if view.verdict == "hot":
        return replace(view, verdict="watch", source=False, heat=heat, reasons=(*view.reasons, *level.reasons))
    if view.verdict == "normal" and level.level == "hot":
        return View("hot", (*level.reasons, *view.reasons), view.standing, True, True, None, heat)
    return replace(view, heat=heat)


def _decided(pin: str, view: View, level: Level, sources: list[str]) -> View:
    said = tuple(reason for reason in view.reasons if reason.code.startswith("rises_more") or reason.code in KEPT)
    heat = (level.ratio, level.low, level.high)
    if level.level == "normal" and view.verdict in ("hot", "watch"):
        others = [source for source in sources if source != pin]
        if others:
            elsewhere = Statement("heat_comes_from", {"pin": pin, "pins": others})
            reasons = (level.reasons[0], elsewhere, *level.reasons[1:], *said)
            return View("watch", reasons, view.standing, source=False, judged=True, heat=heat)
    if level.level == "normal" and any(reason.code == "bound_hides" for reason in said):
        return replace(view, heat=heat)
    if level.level == "normal":
        said = ()
    return View(level.level, (*level.reasons, *said), view.standing, level.source, True, None, heat)


def conducted(views: Mapping[str, View], looks: list[Look]) -> dict[str, View]:
    """The views of one stage; pins without current that grew warm all the same say where that came from."""
    rises = {
        look.pin: bounded(look.rise_k if math.isfinite(look.rise_k) else look.start_rise_k, look.bound)
        for look in looks
    }
    made = {look.pin: rises[look.pin] for look in looks if look.amps and math.isfinite(rises[look.pin])}
    result = dict(views)
    if not made:
        return result
    strongest = max(made, key=lambda pin: made[pin])
    for pin, view in views.items():
        idle = any(reason.code == "unloaded" for reason in view.reasons)
        if idle and section("peers")["least_excess_k"] < rises[pin] < made[strongest]:
            share = rises[pin] / made[strongest]
            if isinstance(made[strongest], Bound):  # the scale ended below it, so that it is a smaller share
                share = Bound(share, "low" if made[strongest].side == "high" else "high")
            values = {"pin": pin, "rise": rises[pin], "from_pin": strongest, "share": share}
            result[pin] = replace(view, reasons=(*view.reasons, Statement("heat_conducted", values)))
    return result
