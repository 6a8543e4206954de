"""The pins of one stage against each other: who are peers, who stands out, who cannot be judged and why."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from hotspot.handbook.criteria import section, survey_action
from hotspot.reason import peers
from hotspot.reason.peers import Standing
from hotspot.reason.stage_ends import Look
from hotspot.records import StageSpan, Statement, bounded

LEAST_UNKNOWN = 3
"""Pins of unknown load from which one that is warm, but did not rise while watched, can be the odd one."""


@dataclass(frozen=True, slots=True)
class View:
    """What one stage says of one pin. `source`: it makes more heat than its peers. `heat`: heat made against the
    peers' median with its 95 % interval (ratio, low, high); None where it was not worked out.
    """

    verdict: str
    reasons: tuple[Statement, ...]
    standing: Standing | None = None
    source: bool = False
    judged: bool = False
    amps_needed: float | None = None
    heat: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Measure:
    """What is compared between pins: `values` per pin [K or °C]; `kind` is ambient, start or temperature."""

    kind: str
    values: Mapping[str, float]

    @property
    def rises(self) -> bool:
        """Whether the values are rises."""
        return self.kind != "temperature"


def views_of(looks: list[Look], span: StageSpan, readable: set[str], only_loaded: str | None) -> dict[str, View]:
    """A View for each look of one stage.

    `readable`: pins whose temperature means something (not hidden, not bare metal). `only_loaded`: the pin
    that alone carries current in the whole session, if there is one.
    """
    views = {look.pin: View("unknown", ()) for look in looks}
    usable = [look for look in looks if look.pin in readable and math.isfinite(look.last_c)]
    if not usable:
        return views
    if span.stage is None or span.stage.amps is None:
        views.update(_unknown_load(usable))
    elif span.stage.amps == 0:
        views.update({look.pin: _unloaded(look, 0.0) for look in usable})
    elif span.stage.equal:
        views.update(_alike(usable))
    elif only_loaded is not None:
        views.update(_single(usable, only_loaded))
    else:
        views.update(_unequal(usable))
    return views


def _measure(looks: list[Look], least_pins: int = 2) -> Measure:
    """Rise over ambient where it is known; else over the start of the session; else bare temperatures.

    Bare temperatures also where nothing moved while it was watched: the test began warm and stayed so. That
    takes `least_pins`, for of two pins of unknown load either may be the odd one.
    """
    if all(math.isfinite(look.rise_k) for look in looks):
        return Measure("ambient", {look.pin: look.rise_k for look in looks})
    starts = _start_measure(looks)
    if starts is not None and (len(looks) < least_pins or not _still(looks)):
        return starts
    return Measure("temperature", {look.pin: look.last_c for look in looks})


def _still(looks: list[Look]) -> bool:
    """Whether no pin rose or fell by anything that matters."""
    return max(abs(look.start_rise_k) for look in looks) < section("peers")["least_excess_k"]


def _start_measure(looks: list[Look]) -> Measure | None:
    if not all(math.isfinite(look.start_rise_k) for look in looks):
        return None
    return Measure("start", {look.pin: look.start_rise_k for look in looks})


def _standings(looks: list[Look], measure: Measure) -> dict[str, Standing]:
    values = np.array([measure.values[look.pin] for look in looks])
    found = peers.among(values, np.array([look.own_k for look in looks]), measure.rises)
    pairs = zip(looks, found, strict=True)
    return {look.pin: standing for look, standing in pairs if standing is not None}


def _ends_hotter(look: Look, looks: list[Look]) -> bool:
    """A rise over the start counts only where the pin also ends hotter: the others may just have cooled."""
    others = [other.last_c for other in looks if other.pin != look.pin]
    return bool(others) and look.last_c > float(np.median(others))


def _warmed_before(look: Look, looks: list[Look]) -> bool:
    """Warm against the ambient, or against a pin beside it, yet it rose by nothing that matters while watched."""
    least = section("peers")["least_excess_k"]
    coolest = min(other.last_c for other in looks)
    warm = look.rise_k if look.ambient_c is not None else look.last_c - coolest
    return look.start_rise_k < least <= warm


def _may_be_left_over(look: Look, looks: list[Look]) -> bool:
    """Whether its warmth may come from before the test: it cools, or it is one of two and did not rise."""
    few = len(looks) < LEAST_UNKNOWN
    return _warmed_before(look, looks) and (few or look.start_rise_k < -section("peers")["least_excess_k"])


def _alike(looks: list[Look]) -> dict[str, View]:
    """Every pin carries the same current."""
    measure = _measure(looks)
    standings = _standings(looks, measure)
    by_pin = {look.pin: look for look in looks}
    views = {}
    for pin, standing in standings.items():
        if measure.kind == "start" and standing.level != "normal" and not _ends_hotter(by_pin[pin], looks):
            standing = replace(standing, level="normal")
        views[pin] = _view(by_pin[pin], standing, measure)
    views.update({look.pin: _no_peer(look) for look in looks if look.pin not in standings})
    return _spread(views)


def _unknown_load(looks: list[Look]) -> dict[str, View]:
    """No currents: who rises most can be said; whether that is too much cannot."""
    if len(looks) < 2:
        return {look.pin: View("unknown", (Statement("peers_none"), Statement("load_unknown"))) for look in looks}
    measure = _measure(looks, LEAST_UNKNOWN)
    risen = _risen(looks, measure)
    starts = _start_measure(looks)
    if not risen and measure.kind == "ambient" and starts is not None:
        risen = _risen(looks, starts)
        measure = starts if risen else measure
    standings = _standings(looks, measure)
    views = {}
    for look in looks:
        reasons: tuple[Statement, ...] = (Statement("load_unknown"),)
        if _warmed_before(look, looks):
            reasons += (Statement("started_warm", {"rise": look.start_rise_k}),)
        standing = standings[look.pin]
        if look.pin in risen:
            views[look.pin] = View("watch", (_more(look, standing, measure), *reasons), standing, source=True)
        else:
            views[look.pin] = View("unknown", reasons, standing if measure.rises else None)
    return _spread(views)


def _risen(looks: list[Look], measure: Measure) -> set[str]:
    """Pins that stand out beyond doubt and warmed up while they were watched, or were too short to tell."""
    standings = _standings(looks, measure)
    return {
        look.pin
        for look in looks
        if standings[look.pin].level == "hot" and _ends_hotter(look, looks) and not _may_be_left_over(look, looks)
    }


def _single(looks: list[Look], loaded: str) -> dict[str, View]:
    """One pin alone carries current in the whole session; the others show what it gives away."""
    largest = max((look.amps or 0.0) for look in looks)
    views = {look.pin: _unloaded(look, largest) for look in looks if look.pin != loaded}
    look = next((look for look in looks if look.pin == loaded), None)
    if look is None:
        return views
    if not views:
        return {loaded: _no_peer(look)}
    if not look.amps:
        return {**views, loaded: _unloaded(look, largest)}
    measure = _measure(looks)
    risen, starts = _risen(looks, measure), _start_measure(looks)
    if loaded not in risen and starts is not None:
        risen, measure = _risen(looks, starts), starts
    standing = _standings(looks, measure)[loaded]
    if loaded in risen:
        reasons = (_more(look, standing, measure), Statement("single_loaded", {"pin": loaded, "amps": look.amps}))
        return {**views, loaded: View("watch", reasons, standing, source=True, judged=True)}
    reasons = (Statement("single_loaded_cool", {"pin": loaded, "excess": standing.excess_k}),)
    return {**views, loaded: View("unknown", reasons, standing)}


def _unequal(looks: list[Look]) -> dict[str, View]:
    """Each pin against those of like current; weak ones are not judged, warm neighbours of strong ones not blamed."""
    largest = max((look.amps or 0.0) for look in looks)
    share = section("peers")["least_i2_share"]
    views = {}
    for look in looks:
        amps = look.amps or 0.0
        group = [other for other in looks if other.amps and peers.like(amps, other.amps)]
        if amps == 0.0:
            views[look.pin] = _unloaded(look, largest)
        elif amps**2 < share * largest**2:
            needed = math.sqrt(share) * largest
            said = Statement("weak_load", {"amps": amps, "largest": largest, "amps_needed": needed})
            views[look.pin] = View("unknown", (said,), amps_needed=needed)
        elif len(group) < 2:
            views[look.pin] = _no_peer(look)
        else:
            stronger = [other for other in looks if (other.amps or 0.0) > amps and other not in group]
            views[look.pin] = _beside_stronger(look, _alike(group)[look.pin], stronger)
    return _spread(views)


def _beside_stronger(look: Look, view: View, stronger: list[Look]) -> View:
    """A pin that is cooler than one of larger current may have its heat from there: one step milder, no source."""
    hotter = [other for other in stronger if other.last_c >= look.last_c]
    if view.verdict not in ("hot", "watch") or not hotter:
        return view
    top = max(hotter, key=lambda other: other.last_c)
    said = Statement("heat_may_come_from", {"pin": look.pin, "from_pin": top.pin})
    milder = "watch" if view.verdict == "hot" else "normal"
    return replace(view, verdict=milder, source=False, reasons=(*view.reasons, said))


def _spread(views: dict[str, View]) -> dict[str, View]:
    """Among pins that stand out, one far below the strongest may be warmed by it: watch, no source."""
    standing_out = {pin: view.standing.excess_k for pin, view in views.items() if view.source and view.standing}
    if len(standing_out) < 2:
        return views
    top = max(standing_out, key=lambda pin: standing_out[pin])
    least = section("peers")["watch_share"] * standing_out[top]
    for pin, excess in standing_out.items():
        if excess < least:
            said = Statement("heat_may_come_from", {"pin": pin, "from_pin": top})
            views[pin] = replace(views[pin], verdict="watch", source=False, reasons=(*views[pin].reasons, said))
    return views


def _view(look: Look, standing: Standing, measure: Measure) -> View:
    if standing.level == "normal" and look.bound == "high":
        said = Statement("bound_hides", {"pin": look.pin, "last": look.last_c})
        return View("unknown", (said,), standing if measure.rises else None)
    if standing.level == "normal":
        return View("normal", (_like(look, standing, measure),), standing if measure.rises else None, judged=True)
    reasons = [_more(look, standing, measure)]
    action = survey_action(standing.excess_k, "like")
    if action is not None:
        excess = bounded(standing.excess_k, look.bound)
        reasons.append(Statement("survey_quote", {"excess": excess, "action": action}))
    return View(standing.level, tuple(reasons), standing, source=standing.level == "hot", judged=True)


def _more(look: Look, standing: Standing, measure: Measure) -> Statement:
    """The sentence of a pin that stands out; no interval where the scale clips it, no ratio where there is none."""
    values = {
        "pin": look.pin, "value": standing.value_k, "excess": standing.excess_k, "low": standing.low_k,
        "high": standing.high_k, "peers": standing.peers,
    }  # fmt: skip
    if look.bound:
        values |= {key: bounded(values[key], look.bound) for key in ("value", "excess")}
    if measure.kind == "temperature":
        return Statement("hotter_than_peers_bound" if look.bound else "hotter_than_peers", values)
    code = "rises_more" if measure.kind == "ambient" else "rises_more_from_start"
    if look.bound:
        return Statement(code + "_at_least", values)
    if standing.ratio is None:
        return Statement(code + "_alone", values)
    return Statement(code, {**values, "ratio": standing.ratio})


def _like(look: Look, standing: Standing, measure: Measure) -> Statement:
    """That a pin is like its peers; of one below the scale's end no more than that it is not warmer."""
    if look.bound:
        excess = bounded(standing.excess_k, look.bound)
        return Statement("like_peers_bound", {"excess": excess, "peers": standing.peers})
    values = {"excess": standing.excess_k, "low": standing.low_k, "high": standing.high_k, "peers": standing.peers}
    return Statement("like_peers" if measure.rises else "like_peers_temperature", values)


def _no_peer(look: Look) -> View:
    if look.amps is None:
        return View("unknown", (Statement("peers_none"),))
    return View("unknown", (Statement("peers_none_at_load", {"amps": look.amps}),))


def _unloaded(look: Look, largest: float) -> View:
    if not largest > 0.0:
        return View("unknown", (Statement("unloaded_all", {"pin": look.pin}),))
    needed = math.sqrt(section("peers")["least_i2_share"]) * largest
    return View("unknown", (Statement("unloaded", {"pin": look.pin, "amps_needed": needed}),), amps_needed=needed)
