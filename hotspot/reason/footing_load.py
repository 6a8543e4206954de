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
    from hotspot.session import Stage

MOTOR_ON_VOLTS = (0.0, 2.0)
"""A motor's current goes with its torque: the same at any voltage where the torque is fixed, with the square of the
speed, and so nearly of the voltage, at a fan or a pump (affinity laws). Textbook, no edition."""

UNCREDITED = ("basis_load_unknown", "basis_load_motor", "basis_others_unknown", "basis_no_load")
"""What a load may rest on that credits nobody: a smaller one would cool the pin as well."""

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
    motor = numbers["exponent"] * _motor_unsure(said)
    return factor, factor * math.hypot(math.log(ratio) * half, foreign, motor), [said]


def _motor_unsure(said: Statement) -> float:
    """Standard uncertainty of ln current where it is only known to be a motor's at two voltages; else 0."""
    if said.code != "basis_load_motor":
        return 0.0
    low, high = MOTOR_ON_VOLTS
    return rectangular((high - low) / 2.0) * abs(math.log(said.values["after"] / said.values["before"]))


def stage_ratio(before: Side, after: Side) -> float | None:
    """Current after / before of the stage as a whole (root of the sum of I^2 over the pins in both); None where the
    currents are not known."""
    pins = before.stage_amps.keys() & after.stage_amps.keys()
    sums = [sum(side.stage_amps[pin] ** 2 for pin in pins) for side in (before, after)]
    return math.sqrt(sums[1] / sums[0]) if min(sums) > 0.0 else None


def _current_ratio(before: Side, after: Side) -> tuple[float | None, Statement]:
    """Current after / before: from the currents; else from the volts of two loads of one kind; else not known."""
    if before.amps and after.amps:
        return after.amps / before.amps, _said(before.amps, after.amps)
    if before.amps == 0.0 and after.amps == 0.0:
        ratio = stage_ratio(before, after)
        if ratio is not None:
            return ratio, Statement("basis_unloaded", {"before": 1.0, "after": ratio, "ratio": ratio})
        idle = not (before.others_unknown or after.others_unknown or before.loaded or after.loaded)
        return None, Statement("basis_no_load" if idle else "basis_others_unknown")
    if before.amps == 0.0 or after.amps == 0.0:
        return None, Statement("refused_unloaded")
    if before.amps is None and after.amps is None:
        return _by_volts(before.stage, after.stage)
    return _unknown()


def _unknown() -> tuple[None, Statement]:
    return None, Statement("basis_load_unknown")


def _by_volts(before: Stage | None, after: Stage | None) -> tuple[float | None, Statement]:
    """From the volts of two loads of one kind: a resistive one follows them, a motor as MOTOR_ON_VOLTS says."""
    if before is None or after is None or before.load != after.load or not (before.volts and after.volts):
        return _unknown()
    values = {"before": before.volts, "after": after.volts}
    ratio = after.volts / before.volts
    if before.load == "resistive":
        return ratio, Statement("basis_load_volts", values)
    if before.load == "motor":
        ends = [ratio ** (2.0 * power) - 1.0 for power in MOTOR_ON_VOLTS]
        middle = ratio ** (sum(MOTOR_ON_VOLTS) / 2.0)
        return middle, Statement("basis_load_motor", {**values, "low": min(ends), "high": max(ends)})
    return _unknown()


def _said(before: float, after: float) -> Statement:
    practice = section("practice")
    values: dict[str, Any] = {"before": before, "after": after}
    if abs(after / before - 1.0) < 0.005:
        return Statement("basis_load_same", values)
    factors = [rise_at(1.0, before, after, practice[f"exponent_{end}"]) for end in ("low", "high")]
    return Statement("basis_load_carried", {**values, "low": min(factors) - 1, "high": max(factors) - 1})
