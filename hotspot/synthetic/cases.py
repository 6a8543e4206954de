"""Made connectors drawn at random: the population that methods are tuned on and held to.

Healthy 36 %, one raised contact (x2 to x10) 30 %, two raised contacts 10 %, one undersized wire 10 %, heat from a
warm body up one wire 14 %. Loads: the same current in every pin; unequal by design (one or two pins carry the sum
of the others); circuits switched in turn. The shares and spreads are choices of this project, not a survey of
hardware: rates measured on these cases say how methods compare, and little about the world.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.synthetic.connector import ConnectorSpec, Load, LoadStage, settled

LAYOUTS = ((1, 4), (1, 6), (2, 3), (2, 4), (3, 4))
KINDS = {"healthy": 0.36, "one contact": 0.30, "two contacts": 0.10, "thin wire": 0.10, "upstream": 0.14}
LOADS = ("equal", "unequal", "in turn")
HEALTHY_SCATTER = 0.12  # sd of ln R0 between healthy contacts
_TOP_RISE_K = (15.0, 40.0)  # of a healthy connector's hottest face spot: the load is set so
_HEALTHY_LIMIT_K = 75.0  # what a healthy connector's contacts and wires may rise
_STOP_K = (80.0, 140.0)  # face and inside rises at which a tester would take less load


@dataclass(frozen=True)
class Case:
    """A connector with its load and the truth about it. `faulty` are pin numbers from 0, `sizes` their factors:
    of contact resistance, of wire section (thin wire), or K of the warm body (upstream).
    """

    kind: str
    load_kind: str
    spec: ConnectorSpec
    load: Load
    faulty: tuple[int, ...] = ()
    sizes: tuple[float, ...] = ()


def random_case(
    rng: np.random.Generator,
    kind: str | None = None,
    load_kind: str | None = None,
    layout: tuple[int, int] | None = None,
) -> Case:
    """Draw a case; `kind` (of KINDS), `load_kind` (of LOADS) and `layout` (rows, columns) can be held fixed. Same
    generator state, same case. Raises ValueError for a kind or load that there is not.
    """
    kind = kind or str(rng.choice(list(KINDS), p=list(KINDS.values())))
    load_kind = load_kind or str(rng.choice(LOADS))
    if kind not in KINDS or load_kind not in LOADS:
        raise ValueError(f"kind {kind!r} or load {load_kind!r} is not one of {list(KINDS)}, {LOADS}")
    healthy = _healthy_spec(rng, layout)
    stages = _shares(rng, load_kind, healthy.pins)
    top = np.max([stage.amps for stage in stages], axis=0)
    healthy = replace(healthy, wire_mm2=_gauges(rng, top, healthy.wire_mm2[0]))
    stages = _scaled(stages, _amps_for(healthy, stages, (rng.uniform(*_TOP_RISE_K), _HEALTHY_LIMIT_K)))
    ambient_c, drift_k = round(rng.uniform(8.0, 30.0), 1), round(rng.normal(0.0, 1.0), 2)
    spec, faulty, sizes = _with_fault(rng, healthy, kind)
    stages = _scaled(stages, min(1.0, _amps_for(spec, stages, _STOP_K)))
    return Case(kind, load_kind, spec, Load(stages, ambient_c, drift_k), faulty, sizes)


def _scaled(stages: tuple[LoadStage, ...], factor: float) -> tuple[LoadStage, ...]:
    return tuple(replace(stage, amps=tuple(round(factor * a, 2) for a in stage.amps)) for stage in stages)


def _healthy_spec(rng: np.random.Generator, layout: tuple[int, int] | None) -> ConnectorSpec:
    drawn = LAYOUTS[rng.integers(len(LAYOUTS))]
    rows, columns = layout or drawn
    pins = rows * columns
    pin_mm = int(rng.integers(2, 4))
    contact = rng.uniform(1.5e-3, 4.0e-3) * np.exp(rng.normal(0.0, HEALTHY_SCATTER, pins))
    cooling = rng.uniform(0.45, 0.75) * np.exp(rng.normal(0.0, 0.05, pins))
    middle = np.abs(np.arange(pins) % columns - (columns - 1) / 2) < columns / 4
    return ConnectorSpec(
        rows=rows,
        columns=columns,
        contact_ohm=tuple(contact),
        wire_mm2=(float(rng.choice([0.75, 1.0, 1.5, 2.5])),) * pins,
        pitch_mm=int(rng.integers(max(4, pin_mm + 2), 8)),
        pin_mm=pin_mm,
        margin_mm=int(rng.integers(2, 5)),
        inside_mm=rng.uniform(8.0, 18.0),
        face_mm=rng.uniform(1.5, 4.0),
        recess_mm=rng.uniform(0.8, 1.8),
        plastic_k=rng.uniform(0.2, 0.4),
        alpha=rng.uniform(0.002, 0.0039),
        natural=rng.uniform(2.6, 3.8),
        wire_m=rng.uniform(0.20, 0.35),
        wire_cooling=tuple(cooling * np.where(middle, rng.uniform(0.75, 1.0), 1.0)),
    )


def _shares(rng: np.random.Generator, load_kind: str, pins: int) -> tuple[LoadStage, ...]:
    """Stages with currents as shares, to be scaled."""
    if load_kind == "equal":
        return (LoadStage("full", 1500.0, (1.0,) * pins),)
    returns = 1 if pins < 6 else int(rng.integers(1, 3))
    order = rng.permutation(pins)
    back, out = order[:returns], order[returns:]
    feeds = rng.uniform(0.4, 1.0, len(out))
    owner = np.arange(len(out)) % returns
    groups = [np.ones(len(out), bool)]
    if load_kind == "in turn":
        count = min(int(rng.integers(2, 5)), len(out))
        groups = [np.arange(len(out)) * count // len(out) == k for k in range(count)]
    stages = []
    for number, on in enumerate(groups):
        amps = np.zeros(pins)
        amps[out] = feeds * on
        for k, pin in enumerate(back):
            amps[pin] = amps[out][owner == k].sum()
        seconds = 1500.0 if len(groups) == 1 else round(float(rng.uniform(360.0, 1500.0)), 0)
        stages.append(LoadStage(f"circuit {number + 1}" if len(groups) > 1 else "full", seconds, tuple(amps)))
    return tuple(stages)


def _gauges(rng: np.random.Generator, top: np.ndarray, common: float) -> tuple[float, ...]:
    """A designer gives thicker wire to the pins that carry more, in some connectors and not fully."""
    if rng.random() < 0.5:
        return (common,) * len(top)
    steps = np.array([0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0])
    wanted = common * np.clip(top / np.median(top), 0.5, 4.0)
    return tuple(float(steps[np.argmin(np.abs(np.log(steps / mm2)))]) for mm2 in wanted)


def _amps_for(spec: ConnectorSpec, stages: tuple[LoadStage, ...], limits_k: tuple[float, float]) -> float:
    """The factor on the stages' currents at which, settled, the hottest face spot rises by the first of `limits_k`
    or the hottest contact or wire by the second, whichever comes first.
    """
    factor = 4.0 / max(max(stage.amps) for stage in stages)
    for _ in range(6):
        worst = max(_fullness(spec, tuple(factor * a for a in stage.amps), limits_k) for stage in stages)
        factor *= float(np.clip(worst**-0.54, 0.4, 1.8))  # rise goes with about the 1.85th power of current
    return factor


def _fullness(spec: ConnectorSpec, amps: tuple[float, ...], limits_k: tuple[float, float]) -> float:
    """The larger of the settled rises against their limits; a large number where nothing settles."""
    try:
        steady = settled(spec, amps, 20.0)
    except ArithmeticError:
        return 10.0
    inside = max(steady.pin_c.max(), steady.wire_c.max()) - 20.0
    return max((steady.face_pin_c.max() - 20.0) / limits_k[0], inside / limits_k[1])


def _with_fault(rng: np.random.Generator, spec: ConnectorSpec, kind: str) -> tuple[ConnectorSpec, tuple, tuple]:
    if kind == "healthy":
        return spec, (), ()
    count = 2 if kind == "two contacts" else 1
    faulty = tuple(sorted(int(pin) for pin in rng.choice(spec.pins, count, replace=False)))
    if kind == "thin wire":
        sizes = (float(rng.uniform(2.0, 4.0)),)
        wires = list(spec.wire_mm2)
        wires[faulty[0]] /= sizes[0]
        return replace(spec, wire_mm2=tuple(wires)), faulty, sizes
    if kind == "upstream":
        sizes = (float(rng.uniform(50.0, 110.0)),)
        bodies = [0.0] * spec.pins
        bodies[faulty[0]] = sizes[0]
        return replace(spec, upstream_k=tuple(bodies), upstream_m=rng.uniform(0.06, 0.16)), faulty, sizes
    sizes = tuple(float(size) for size in np.exp(rng.uniform(np.log(2.0), np.log(10.0), count)))
    contacts = list(spec.contact_ohm)
    for pin, size in zip(faulty, sizes, strict=True):
        contacts[pin] *= size
    return replace(spec, contact_ohm=tuple(contacts)), faulty, sizes
