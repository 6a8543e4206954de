"""A plan for a load test, from what is known of the connector before it: what to run, for how long, when to stop."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from importlib import resources
from typing import Any

from hotspot.records import LoadStep, Plan, Statement
from hotspot.session import Session


@cache
def _handbook() -> dict[str, Any]:
    text = (resources.files("hotspot.handbook") / "plan.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def numbers(table: str) -> dict[str, Any]:
    """A table of hotspot/handbook/plan.toml."""
    return _handbook()[table]


def plan(session: Session) -> Plan:
    """The plan for the pins, full currents, returns and ratings that the session states.

    The full current of a pin is the largest of any stage. Without currents the steps are shares of the circuit's
    own full load.
    """
    names = pin_names(session)
    full = full_currents(session, names)
    stop_c, stop = _stop(session)
    steps = tuple(_steps(session, full))
    return Plan(
        lasts_s=numbers("stages")["cold_s"] + sum(step.lasts_s for step in steps),
        steps=steps,
        measure=tuple(_measure(session)),
        photograph=tuple(_photograph()),
        stop_c=stop_c,
        stop=stop,
        gaps=tuple(_gaps(session, full)),
    )


def pin_names(session: Session) -> list[str]:
    """Names of the pins: as placed, else counted from the grid, `empty` positions left out."""
    if session.pin:
        return [pin.name for pin in session.pin]
    connector = session.connector
    count = (connector.rows or 0) * (connector.columns or 0)
    return [name for name in (str(k + 1) for k in range(count)) if name not in connector.empty]


def full_currents(session: Session, names: list[str]) -> dict[str, float] | None:
    """Pin -> largest current [A] of any stage, returns that are left out carrying their sum; None if not known."""
    known: dict[str, float] = {}
    for stage in session.stage:
        for name in names:
            amps = stage.amps_of(name)
            if amps is not None:
                known[name] = max(amps, known.get(name, 0.0))
    if not any(known.values()):
        return None
    for pin in session.pin:
        if pin.return_of and not known.get(pin.name):
            known[pin.name] = sum(known.get(name, 0.0) for name in pin.return_of)
    return {name: known.get(name, 0.0) for name in names}


def _steps(session: Session, full: dict[str, float] | None) -> list[LoadStep]:
    times = numbers("stages")
    half = times["first_share"]
    if full is None:
        return [
            LoadStep("half", times["step_s"], None, Statement("plan_half_unknown", {"share": half})),
            LoadStep("full", times["settle_s"], None, Statement("plan_full", {})),
        ]
    steps = [
        LoadStep("half", times["step_s"], {pin: amps * half for pin, amps in full.items()}, Statement("plan_half", {}))
    ]
    circuits = circuits_of(session, full)
    if _unequal(full) and len(circuits) > 1:
        for circuit in circuits:
            alone = {pin: full[pin] for pin in circuit}
            alone |= _returned(session, alone)
            name = f"only {' '.join(circuit)}"
            steps.append(LoadStep(name, times["step_s"], alone, Statement("plan_alone", {"pins": list(circuit)})))
    steps.append(LoadStep("full", times["settle_s"], dict(full), Statement("plan_full", {})))
    return steps


def _returned(session: Session, feeds: dict[str, float]) -> dict[str, float]:
    """What the returns carry while only `feeds` are on."""
    sums = {pin.name: sum(feeds.get(name, 0.0) for name in pin.return_of) for pin in session.pin if pin.return_of}
    return {name: amps for name, amps in sums.items() if amps > 0}


def circuits_of(session: Session, full: dict[str, float]) -> list[tuple[str, ...]]:
    """Loaded pins that are not returns, each a circuit of its own."""
    returns = {pin.name for pin in session.pin if pin.return_of}
    return [(pin,) for pin, amps in full.items() if amps > 0 and pin not in returns]


def _unequal(full: dict[str, float]) -> bool:
    loaded = [amps for amps in full.values() if amps > 0]
    return bool(loaded) and max(loaded) > min(loaded) * (1 + numbers("stages")["like_amps"])


def _measure(session: Session) -> list[Statement]:
    said = [Statement("plan_measure_amps", {}), Statement("plan_measure_air", {}), Statement("plan_measure_volts", {})]
    returns = [pin.name for pin in session.pin if pin.return_of]
    if returns:
        said.append(Statement("plan_measure_returns", {"pins": returns}))
    said.append(Statement("plan_measure_drop", {}))
    return said


def _photograph() -> list[Statement]:
    times = numbers("stages")
    return [
        Statement("plan_photo_still", {}),
        Statement("plan_photo_cold", {"cold_s": times["cold_s"]}),
        Statement("plan_photo_often", {"every_s": times["frame_every_s"]}),
        Statement("plan_photo_wire", {}),
        Statement("plan_photo_beside", {}),
    ]


def _stop(session: Session) -> tuple[float, Statement]:
    """The temperature [°C] at which to stop: below the lowest rating, by the margin and the camera's own error."""
    numbers_ = numbers("stop")
    ratings = [value for value in (session.connector.rated, session.connector.wire_rated) if value is not None]
    rating = min(ratings) if ratings else numbers_["assumed_c"]
    error = session.camera.accuracy_k or 0.0
    limit = rating - numbers_["margin_k"] - error
    values = {"limit": limit, "rating": rating, "margin": numbers_["margin_k"], "error": error}
    code = "plan_stop" if ratings else "plan_stop_assumed"
    return limit, Statement(code if session.camera.accuracy_k is not None else f"{code}_error_unknown", values)


def _gaps(session: Session, full: dict[str, float] | None) -> list[Statement]:
    if full is None:
        alike = any(stage.amps == "equal" for stage in session.stage)
        return [Statement("plan_gap_equal" if alike else "plan_gap_amps", {})]
    said = []
    largest = max(full.values())
    needed = largest * math.sqrt(numbers("stages")["alone_i2_share"])
    weak = [pin for pin, amps in full.items() if 0 < amps < needed]
    if weak:
        said.append(Statement("plan_gap_weak", {"pins": weak, "amps_needed": needed}))
    idle = [pin for pin, amps in full.items() if amps == 0]
    if idle:
        said.append(Statement("plan_gap_idle", {"pins": idle}))
    loaded = [pin for pin, amps in full.items() if amps > 0]
    if len(loaded) == 1:
        said.append(Statement("plan_gap_alone", {"pin": loaded[0]}))
    lone = [pin.name for pin in session.pin if pin.return_of and full.get(pin.name, 0.0) >= largest > 0]
    if lone:
        said.append(Statement("plan_gap_return", {"pins": lone}))
    return said
