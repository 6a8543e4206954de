"""What was measured by hand, laid beside the heat made per pin."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from hotspot.reason.joint_drops import Z95, Ratio, joints, told
from hotspot.records import StageSpan, Statement
from hotspot.session import Session

CONFLICTS = ("drop_above_heat", "heat_above_drop", "drop_above_ohms", "ohms_above_drop")


def stage_amps(spans: Sequence[StageSpan], pins: Sequence[str]) -> dict[tuple[str | None, str], float]:
    """(stage, pin) -> current [A] that is known. (None, pin) holds where only one stage loads the pin."""
    known: dict[tuple[str | None, str], float] = {}
    for span in spans:
        for pin in pins:
            amps = span.stage.amps_of(pin) if span.stage else None
            if amps:
                known[(span.name, pin)] = amps
    for pin in pins:
        own = [amps for (_, name), amps in known.items() if name == pin]
        if len(own) == 1:
            known[(None, pin)] = own[0]
    return known


def by_hand(
    session: Session,
    spans: Sequence[StageSpan],
    heat: Mapping[str, tuple[float, float, float] | None],
    ohms: Mapping[str, tuple[float, float, float] | None],
) -> tuple[dict[str, list[Statement]], list[Statement]]:
    """Sentences per pin, and those that concern the whole test: unusable drops, and drops that contradict the heat.

    `heat`: pin -> (heat_ratio, low, high) of its most telling stage, None where it was not worked out. `ohms`: pin ->
    its resistance with a decay length of wire [ohm] and the 95 % interval, None where the wires are not known.
    """
    measured, said = joints(session, stage_amps(spans, list(heat)))
    ratios = {pin: ratio for pin, made in heat.items() if (ratio := _as_ratio(made)) is not None}
    thousandths = {pin: Ratio(1e3 * ohm.value, ohm.u_ln) for pin, own in ohms.items() if (ohm := _as_ratio(own))}
    by_pin: dict[str, list[Statement]] = {}
    for joint in measured:
        by_pin[joint.pin] = told(joint, measured, ratios, thousandths)
        said += [note for note in by_pin[joint.pin] if note.code in CONFLICTS]
    return by_pin, said


def _as_ratio(heat: tuple[float, float, float] | None) -> Ratio | None:
    if heat is None or not all(value is not None and math.isfinite(value) and value > 0 for value in heat):
        return None
    value, low, high = heat
    return Ratio(value, max(math.log(high / low) / (2 * Z95), 1e-6))
