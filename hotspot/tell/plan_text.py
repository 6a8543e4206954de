"""A plan for a load test in plain lines, as JSON, and as [[stage]] blocks for session.toml."""

from __future__ import annotations

from typing import Any

from hotspot.records import LoadStep, Plan
from hotspot.tell.cautions import cautions
from hotspot.tell.tables import plain
from hotspot.tell.terminal import wrapped
from hotspot.tell.words import clock, number, say, say_all


def plan_dict(plan: Plan, units: str) -> dict[str, Any]:
    """The plan for programs: seconds, amperes, °C; sentences in `units`."""
    steps = [
        {"name": step.name, "lasts_s": step.lasts_s, "amps": step.amps, "why": say(step.why, units)}
        for step in plan.steps
    ]
    return plain(
        {
            "lasts_s": plan.lasts_s,
            "stages": steps,
            "measure": say_all(plan.measure, units),
            "photograph": say_all(plan.photograph, units),
            "stop_c": plan.stop_c,
            "stop": say(plan.stop, units),
            "open": say_all(plan.gaps, units),
            "cautions": cautions(units),
        }
    )


def plan_text(plan: Plan, units: str) -> str:
    """The plan in plain lines: cautions first, for they come before the load."""
    lines = ["Before any load:"]
    for text in cautions(units):
        lines += wrapped(text, "  - ")
    lines += ["", *wrapped(say(plan.stop, units)), "", f"Stages ({clock(plan.lasts_s)} in all, minutes:seconds):"]
    for place, step in enumerate(plan.steps, 1):
        lines += wrapped(f"{step.name}, {clock(step.lasts_s)}{_currents(step)}. {say(step.why, units)}", f"  {place}. ")
    for heading, said in (("Measure:", plan.measure), ("Pictures:", plan.photograph), ("Left open:", plan.gaps)):
        if said:
            lines += ["", heading]
            for text in say_all(said, units):
                lines += wrapped(text, "  - ")
    return "\n".join([*lines, "", "For session.toml:", "", stage_blocks(plan)])


def stage_blocks(plan: Plan) -> str:
    """[[stage]] blocks with the planned times and currents; start_s is to be corrected to what was run."""
    from hotspot.tell.sheet import quoted

    begun = plan.lasts_s - sum(step.lasts_s for step in plan.steps)
    blocks = []
    for step in plan.steps:
        lines = ["[[stage]]", f"name = {quoted(step.name)}", f"start_s = {begun:.1f}"]
        begun += step.lasts_s
        lines.append(f"end_s = {begun:.1f}")
        if step.amps is not None:
            amps = ", ".join(f"{quoted(pin)} = {value:.4g}" for pin, value in step.amps.items() if value > 0)
            lines.append(f"amps = {{ {amps} }}")
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _currents(step: LoadStep) -> str:
    loaded = {pin: amps for pin, amps in (step.amps or {}).items() if amps > 0}
    if not loaded:
        return ""
    if len(set(loaded.values())) == 1 and len(loaded) > 1:
        return f", {number(next(iter(loaded.values())))} A through each of {len(loaded)} pins"
    return ": " + ", ".join(f"{number(amps)} A through pin {pin}" for pin, amps in loaded.items())
