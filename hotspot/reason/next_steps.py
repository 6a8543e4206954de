"""What to check next, in the order in which a careful technician would: what is free and needs no power comes first."""

from __future__ import annotations

from dataclasses import dataclass, field

from hotspot.records import Statement
from hotspot.session import Session


@dataclass(frozen=True, slots=True)
class Facts:
    """What the next steps hang on: lists of pin names, worst first."""

    sources: tuple[str, ...] = ()
    over_rating: tuple[str, ...] = ()
    wires: tuple[str, ...] = ()
    watched: tuple[str, ...] = ()
    clipped: tuple[str, ...] = ()
    bare: tuple[str, ...] = ()
    hidden: tuple[str, ...] = ()
    printed: tuple[str, ...] = ()  # something printed on the picture lies over them
    off_map: tuple[str, ...] = ()  # their colours are not those of the map
    weak: dict[str, float] = field(default_factory=dict)  # pin -> current that would be enough, A
    load_known: bool = True
    ambient_known: bool = True
    ambient_told: bool = True


def next_steps(facts: Facts, session: Session) -> tuple[Statement, ...]:
    """The steps, in order. Power off: look, fit, pull, sizes; under load: amps, drop; the proof of the repair;
    then what the next test needs (common practice, no source)."""
    suspects = list(dict.fromkeys([*facts.sources, *facts.over_rating, *facts.wires, *facts.watched]))
    steps: list[Statement] = []
    if facts.over_rating:
        steps.append(Statement("next_stop", {"pins": list(facts.over_rating)}))
    if suspects:
        steps.append(Statement("next_look", {"pins": suspects}))
    if facts.sources:
        steps.append(Statement("next_fit", {"pins": list(facts.sources)}))
        steps.append(Statement("next_pull", {"pins": list(facts.sources)}))
    if facts.wires:
        steps.append(Statement("next_wire", {"pins": list(facts.wires)}))
    if suspects or not facts.load_known:
        code = "next_amps_confirm" if facts.load_known else "next_amps"
        steps.append(Statement(code, {"pins": list(facts.sources) or suspects}))
    dropped = {check.pin for check in session.check if check.kind == "drop"}
    if facts.sources and not set(facts.sources) <= dropped:
        steps.append(Statement("next_drop", {"pins": list(facts.sources)}))
    if facts.sources:
        steps.append(Statement("next_prove", {"pins": list(facts.sources)}))
    return (*steps, *_for_the_next_test(facts), *([] if suspects else [Statement("next_worst_load")]))


def _for_the_next_test(facts: Facts) -> list[Statement]:
    steps = []
    if facts.weak:
        values = {"pins": list(facts.weak), "amps_needed": max(facts.weak.values())}
        steps.append(Statement("next_more_load", values))
    if facts.clipped:
        steps.append(Statement("next_scale", {"pins": list(facts.clipped)}))
    if facts.bare:
        steps.append(Statement("next_tape", {"pins": list(facts.bare)}))
    under_print = [pin for pin in facts.hidden if pin in facts.printed]
    if under_print:
        steps.append(Statement("next_marks_off", {"pins": under_print}))
    other_map = [pin for pin in facts.hidden if pin in facts.off_map and pin not in facts.printed]
    if other_map:
        steps.append(Statement("next_map", {"pins": other_map}))
    if hidden := [pin for pin in facts.hidden if pin not in (*facts.printed, *facts.off_map)]:
        steps.append(Statement("next_uncover", {"pins": hidden}))
    if not (facts.ambient_known and facts.ambient_told):
        steps.append(Statement("next_ambient"))
    return steps
