"""A pin's wire, lead, terminal and splice as the session states them: does each hold the other?"""

from __future__ import annotations

import re

from hotspot.handbook.criteria import section
from hotspot.physics.wire import SQUARE_MM_PER_CIRCULAR_MIL, awg_area_mm2
from hotspot.records import Statement
from hotspot.session import Pin

FAULTS = frozenset({"lead_thinner", "strands_cut", "strands_cut_plain"}) | {
    f"{what}_too_{how}" for what in ("terminal", "splice") for how in ("large", "small")
}
"""Reasons that `faults` gives."""

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_RANGE = rf"{_NUMBER}(?:\s*(?:-|–|to|\.\.)\s*{_NUMBER})?"
_METRIC = re.compile(rf"^{_RANGE}\s*mm(?:2|²|\^2)$")
_GAUGE = re.compile(r"^(awg|sae)\s*#?(\d+)(?:\s*(?:-|–|to|\.\.)\s*(?:awg|sae)?\s*(\d+))?$")
_GAUGE_AFTER = re.compile(r"^(\d+)(?:\s*(?:-|–|to|\.\.)\s*(\d+))?\s*(awg|sae)$")


def areas_mm2(text: str) -> tuple[float, float] | None:
    """Smallest and largest conductor area [mm2] of a size or a range; None where it is not understood.

    "2.5 mm2", "1,5-2,5 mm²", "AWG 14", "16-14 AWG", "SAE 14" (its own areas, about a tenth below AWG), or the
    colour of an insulated terminal: red, pink, blue, yellow.
    """
    words = " ".join(text.casefold().split())
    if words in section("terminal_colours"):
        low, high = section("terminal_colours")[words]
        return float(low), float(high)
    if found := _METRIC.match(words):
        ends = [float(part.replace(",", ".")) for part in found.groups() if part]
        return _ordered(ends)
    if found := _GAUGE.match(words):
        system, sizes = found.group(1), [part for part in found.groups()[1:] if part]
    elif found := _GAUGE_AFTER.match(words):
        system, sizes = found.group(3), [part for part in found.groups()[:2] if part]
    else:
        return None
    areas = [_gauge_mm2(system, size) for size in sizes]
    return None if None in areas else _ordered([area for area in areas if area is not None])


def _ordered(ends: list[float]) -> tuple[float, float] | None:
    return (min(ends), max(ends)) if min(ends) > 0 else None


def _gauge_mm2(system: str, size: str) -> float | None:
    if system == "awg":
        return awg_area_mm2(float(size)) if int(size) <= 40 else None
    mils = section("sae_circular_mils").get(size)
    return None if mils is None else mils * SQUARE_MM_PER_CIRCULAR_MIL


def faults(pin: Pin) -> tuple[Statement, ...]:
    """What is wrong with the wire of a pin: lead thinner than the wire, strands cut, outside its terminal's range."""
    found: list[Statement] = []
    slack = section("wire")["tolerance"]
    wire, lead = _area(pin.wire), _area(pin.lead)
    if wire and lead and lead < wire * (1.0 - slack):
        values = {"pin": pin.name, "wire": pin.wire, "lead": pin.lead, "times": wire / lead}
        found.append(Statement("lead_thinner", values))
    if pin.strands is not None and pin.strands < 1.0:
        values = {"pin": pin.name, "share": pin.strands, "wire": pin.lead or pin.wire or ""}
        found.append(Statement("strands_cut" if values["wire"] else "strands_cut_plain", values))
    found += _held(pin, "terminal", [pin.lead or pin.wire])
    found += _held(pin, "splice", [pin.wire, pin.lead])
    return tuple(found)


def not_understood(pin: Pin) -> tuple[Statement, ...]:
    """Sizes that could not be read, so that no one takes their silence for a clean bill."""
    stated = {"wire": pin.wire, "lead": pin.lead, "terminal": pin.terminal, "splice": pin.splice}
    return tuple(
        Statement("size_not_understood", {"pin": pin.name, "key": key, "text": text})
        for key, text in stated.items()
        if text and areas_mm2(text) is None
    )


def _area(text: str | None) -> float | None:
    ends = areas_mm2(text) if text else None
    return sum(ends) / 2.0 if ends else None


def _held(pin: Pin, what: str, wires: list[str | None]) -> list[Statement]:
    stated = pin.terminal if what == "terminal" else pin.splice
    ends = areas_mm2(stated) if stated else None
    if ends is None:
        return []
    slack = section("wire")["tolerance"]
    found = []
    for wire in dict.fromkeys(wires):
        area = _area(wire)
        if area is None:
            continue
        values = {"pin": pin.name, "wire": wire, what: stated}
        if area < ends[0] * (1.0 - slack):
            found.append(Statement(f"{what}_too_large", values))
        elif area > ends[1] * (1.0 + slack):
            found.append(Statement(f"{what}_too_small", values))
    return found
