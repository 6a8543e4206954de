"""The heat made at each pin against its peers: by the picture, else by the pins as a network, else by first minutes.

`heat_made` is asked once per session; what it says is laid over the rise of each stage by `heat_views`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hotspot.reason.heat_absolute import areas_of, without_wire, yardstick
from hotspot.reason.heat_balance import Balance, Observed, ratios
from hotspot.reason.heat_first_minute import FirstMinute, first_minute
from hotspot.reason.heat_kept import kept
from hotspot.reason.heat_loads import Loads, loads_of
from hotspot.reason.heat_network import BY_PINS, HIDDEN_DEPTH, SPOT_SHARE, neighbours_of
from hotspot.reason.heat_plate import plate_fit
from hotspot.reason.heat_unknowns import balanced
from hotspot.reason.heat_wires import WireFlow, part_rise, wire_flows
from hotspot.reason.stage_ends import Look
from hotspot.records import PinMap, RisePictures, StageSpan, bounded
from hotspot.session import Session

LEAST_JUDGED = 3
"""Judged pins from which one can be the odd one; of two, either may be: they are only held against each other."""

NETWORK_WIDER = 1.7
"""Intervals of the pin network are this much wider, for those of bad pins, whose spots hide much. Ours."""

WIRE_POWER = 0.75
"""Heat that a wire draws goes with about this power of its section (a long fin: root of section times girth)."""


@dataclass(frozen=True)
class PinHeat:
    """One pin: heat made against its peers' median, 95 % interval, steady score; `early` ln ratio, sd and score of its
    first minutes (NaN where there are none); flow in its wire and rise of a part behind it, where they are in view;
    `ohm` its resistance with a decay length of wire and 95 % interval, where the wires' sections are known."""

    ratio: float
    low: float
    high: float
    score: float
    early: tuple[float, float, float]
    peers: int
    flow: WireFlow | None = None
    part_k: float | None = None
    ohm: tuple[float, float, float] | None = None
    rise_k: float = float("nan")


@dataclass(frozen=True)
class Heat:
    """What was worked out. `method`: picture, network, first minute, pair (two pins, held against each other by the
    picture), absolute (too few peers, but ohms), or rise (too few for either: nothing is said of a pin, but two tests
    of it can be held against each other by the balance). `judged`: (stage, pin) that it speaks of."""

    method: str
    pins: Mapping[str, PinHeat]
    judged: frozenset[tuple[int, str]]
    settings: Mapping[str, Any]
    balance: Balance | None = None
    loads: Loads | None = None
    fit: Any = None
    names: tuple[str, ...] = ()


def heat_made(
    session: Session,
    spans: tuple[StageSpan, ...],
    looks: dict[tuple[int, str], Look],
    pin_map: PinMap | None,
    pictures: RisePictures | None,
) -> Heat | None:
    """The heat made per pin; None where loads are not known or nothing rose."""
    names = tuple(dict.fromkeys(pin for _, pin in looks))
    loads = loads_of(spans, names)
    if loads is None or not loads.pins.any():
        return None
    links = neighbours_of(session, names, pin_map)
    near = None if links is None else (links < 0).astype(float)
    early = first_minute(looks, spans, names, loads, near)
    areas = areas_of(session, names)
    wire = _wire_conductance(areas)
    for method in (_by_picture, _by_network):
        found = method((session, names, loads, wire), (looks, pin_map, pictures))
        if found is not None:
            kind, balance, seen, settings = found
            heat = _heat(kind, balance, seen, (names, loads, early, areas), settings)
            return _with_wires(heat, session, pictures, looks)
    heat = _by_first_minute(names, loads, early)
    return None if heat is None else _with_wires(heat, session, pictures, looks)


def _with_wires(
    heat: Heat, session: Session, pictures: RisePictures | None, looks: dict[tuple[int, str], Look]
) -> Heat:
    """The same with what is seen of the wires and of the parts behind them, at each pin's strongest load."""
    if heat.loads is None:
        return heat
    flows = wire_flows(session, pictures, heat.names, heat.loads)
    pins = {}
    for name, own in heat.pins.items():
        place = heat.names.index(name)
        stage = heat.loads.stages[int(heat.loads.amps[:, place].argmax())]
        part = part_rise(session, pictures, name, stage)
        pins[name] = replace(own, flow=flows.get(name), part_k=part, rise_k=_rise_of(looks[stage, name]))
    return replace(heat, pins=pins)


def _wire_conductance(areas: np.ndarray) -> tuple[np.ndarray, bool]:
    """Relative conductance (n,) of the wires, and whether it is known; all 1 where a section is not known."""
    known = bool(np.isfinite(areas).all())
    return ((areas / np.median(areas)) ** WIRE_POWER if known else np.ones(areas.size)), known


def _by_picture(told: tuple, seen_by: tuple) -> tuple | None:
    _, pin_map, pictures = seen_by
    session, names, loads, wire = told
    if pictures is None or pin_map is None or tuple(pin_map.names) != names:
        return None
    if any(pictures.frames[number] == 0 for number in loads.stages):
        return None
    fit = plate_fit(pictures, list(loads.stages), session.connector.pitch_mm)
    if fit is None:
        return None
    seen = Observed(
        fit.rise_k, loads.amps, fit.stored, fit.conductance, wire[0], loads.pins, plate_held=True, wires_known=wire[1]
    )  # fmt: skip
    balance = balanced(seen)
    settings = {"misfit": round(fit.misfit, 4), "edges_seen": fit.edges, "balance": kept(seen, names, loads)}
    return None if balance is None else ("picture", balance, fit, settings)


def _by_network(told: tuple, seen_by: tuple) -> tuple | None:
    looks, pin_map, _ = seen_by
    session, names, loads, wire = told
    links = neighbours_of(session, names, pin_map)
    rise = np.array([[_rise_of(looks[number, name]) for name in names] for number in loads.stages])
    if links is None or not np.isfinite(rise).all():
        return None
    seen = Observed(
        rise, loads.amps, np.zeros(rise.shape), links, wire[0], loads.pins, SPOT_SHARE, HIDDEN_DEPTH,
        wires_known=wire[1], trust=BY_PINS,
    )  # fmt: skip
    balance = balanced(seen)
    return None if balance is None else ("network", balance, None, {"balance": kept(seen, names, loads)})


def _rise_of(look: Look) -> float:
    return bounded(look.rise_k if np.isfinite(look.rise_k) else look.start_rise_k, look.bound)


def _heat(kind: str, balance: Balance, fit: Any, told: tuple, settings: dict[str, Any]) -> Heat:
    names, loads, early, areas = told
    ohms = None if loads.relative or kind != "picture" else yardstick(balance, areas)
    few = loads.pins.sum() < LEAST_JUDGED
    if few and ohms is None and (kind != "picture" or loads.pins.sum() < 2):
        return Heat("rise", {}, frozenset(), {"balance": settings["balance"]}, balance, loads, fit, names)
    ratio, low, high = ratios(balance, loads.pins) if ohms is None else without_wire(balance, ohms, loads.pins)
    if kind == "network":
        low, high = (ratio * (end / ratio) ** NETWORK_WIDER for end in (low, high))
    if few:
        kind = "pair" if ohms is None else "absolute"
    if kind == "absolute":
        ratio = np.full(len(names), np.nan)
    pins = {
        name: PinHeat(
            float(ratio[k]), float(low[k]), float(high[k]), float(balance.score[k]), _early(early, k),
            int(loads.pins.sum()) - 1, ohm=None if ohms is None else ohms.interval(k),
        )
        for k, name in enumerate(names)
        if loads.pins[k] and (few or np.isfinite(ratio[k]))
    }  # fmt: skip
    more = {
        "wire_against_plastic": round(balance.gamma, 3),
        "wire_share": "in the ratio" if ohms is None else "taken out of the ratio",
    }
    return Heat(kind, pins, _judged(loads, pins, names), settings | more, balance, loads, fit, names)


def _judged(loads: Loads, pins: Mapping[str, PinHeat], names: tuple[str, ...]) -> frozenset[tuple[int, str]]:
    pairs = zip(*np.nonzero(loads.judged), strict=True)
    return frozenset((loads.stages[stage], names[pin]) for stage, pin in pairs if names[pin] in pins)


def _early(early: FirstMinute, pin: int) -> tuple[float, float, float]:
    return float(early.ln_ratio[pin]), float(early.sd[pin]), float(early.score[pin])


EARLY_SHARE, EARLY_SD = 0.5, 0.15


def _by_first_minute(names: tuple[str, ...], loads: Loads, early: FirstMinute) -> Heat | None:
    """Ratios from first minutes alone: wider, and said so."""
    known = loads.pins & np.isfinite(early.ln_ratio)
    if known.sum() < LEAST_JUDGED:
        return None
    pins = {}
    for k in np.flatnonzero(known):
        away = float(early.ln_ratio[k])
        half = 1.96 * np.sqrt(early.sd[k] ** 2 + EARLY_SD**2 + (EARLY_SHARE * away) ** 2)
        ends = np.exp([away, away - half, away + half])
        pins[names[k]] = PinHeat(*map(float, ends), float(early.score[k]), _early(early, k), int(known.sum()) - 1)
    return Heat("first minute", pins, _judged(loads, pins, names), {}, None, loads, None, names)
