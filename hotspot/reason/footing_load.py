"""Carrying the earlier rise of a pin to the later test's load."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from hotspot.handbook.criteria import section
from hotspot.physics.load import rise_at
from hotspot.physics.statistics import rectangular
from hotspot.records import Statement

if TYPE_CHECKING:
    from hotspot.reason.footing import Side

Z90 = 1.6448536269514722
"""Half of a 5-95 % range of the normal distribution, in standard deviations."""


def carried(before: Side, after: Side) -> tuple[float, float, list[Statement]]:
    """(factor on the earlier rise, its standard uncertainty, what it rests on); NaN factor: not to be carried.

    A pin's warmth is partly its neighbours', and a clamp reads each wire a little wrong. So where the pin's current
    changed like that of the whole stage as far as clamps can tell, the middle of both is taken; where it did not, the
    pin's own, with what that leaves open of its neighbours' share.
    """
    numbers = section("compare")
    ratio, said = _current_ratio(before, after)
    if ratio is None:
        return 1.0, 0.0, [said]
    if not 1.0 / numbers["longest_factor"] <= ratio <= numbers["longest_factor"]:
        return math.nan, math.nan, [Statement("refused_load_far", dict(said.values))]
    stage, unlike = stage_ratio(before, after), 0.0
    if stage is not None:
        unlike = abs(math.log(ratio / stage))
        if unlike <= numbers["clamp_share"]:
            ratio, unlike = math.sqrt(ratio * stage), 0.0
    factor = rise_at(1.0, 1.0, ratio, numbers["exponent"])
    half = numbers["exponent_half_width"] / Z90
    if not 1.0 / numbers["practice_factor"] <= ratio <= numbers["practice_factor"]:
        half = rectangular(section("practice")["exponent_high"] - section("practice")["exponent_low"])
    foreign = numbers["exponent"] * unlike * numbers["foreign_share"]
    return factor, factor * math.hypot(math.log(ratio) * half, foreign), [said]


def stage_ratio(before: Side, after: Side) -> float | None:
    """Current after / before of the stage as a whole (root of the sum of I^2 over the pins in both); None where the
    currents are not known."""
    pins = before.stage_amps.keys() & after.stage_amps.keys()
    sums = [sum(side.stage_amps[pin] ** 2 for pin in pins) for side in (before, after)]
    return math.sqrt(sums[1] / sums[0]) if min(sums) > 0.0 else None


def _current_ratio(before: Side, after: Side) -> tuple[float | None, Statement]:
    """Current after / before: from the currents; else from the volts of two resistive loads; else not known."""
    if before.amps and after.amps:
        return after.amps / before.amps, _said(before.amps, after.amps)
    if before.amps == 0.0 and after.amps == 0.0:
        ratio = stage_ratio(before, after)
        values = {"before": 1.0, "after": ratio, "ratio": ratio}
        return ratio, Statement("basis_load_unknown") if ratio is None else Statement("basis_unloaded", values)
    if before.amps == 0.0 or after.amps == 0.0:
        return None, Statement("refused_unloaded")
    stages = (before.stage, after.stage)
    if before.amps is None and after.amps is None and all(s and s.load == "resistive" and s.volts for s in stages):
        volts = [stage.volts for stage in stages]
        return volts[1] / volts[0], Statement("basis_load_volts", {"before": volts[0], "after": volts[1]})
    return None, Statement("basis_load_unknown")


def _said(before: float, after: float) -> Statement:
    practice = section("practice")
    values: dict[str, Any] = {"before": before, "after": after}
    if abs(after / before - 1.0) < 0.005:
        return Statement("basis_load_same", values)
    factors = [rise_at(1.0, before, after, practice[f"exponent_{end}"]) for end in ("low", "high")]
    return Statement("basis_load_carried", {**values, "low": min(factors) - 1, "high": max(factors) - 1})
