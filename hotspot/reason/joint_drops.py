"""Voltage drops measured by hand across mated pairs -> milliohms, watts, and how a joint stands against its peers.

A flat limit in volts is blind at a small current and slack at a large one, so each drop is turned into what the
camera speaks of: the resistance of the joint and the heat made in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.physics.statistics import rectangular
from hotspot.records import Statement
from hotspot.session import Check, Session

Z95 = 1.959964


@dataclass(frozen=True, slots=True)
class Joint:
    """One mated pair under load: volts [V] at amps [A]; `u_ln` is the standard uncertainty of ln(ohms)."""

    pin: str
    stage: str | None
    volts: float
    amps: float
    u_ln: float

    @property
    def ohms(self) -> float:
        """Resistance of the joint, V / I (Ohm's law)."""
        return self.volts / self.amps

    @property
    def watts(self) -> float:
        """Heat made in the joint, V I (Joule's law)."""
        return self.volts * self.amps


@dataclass(frozen=True, slots=True)
class Ratio:
    """A ratio with the standard uncertainty of its logarithm."""

    value: float
    u_ln: float

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval."""
        return self.value * math.exp(-Z95 * self.u_ln)

    @property
    def high(self) -> float:
        """Upper end of the 95 % interval."""
        return self.value * math.exp(Z95 * self.u_ln)


def joints(session: Session, amps: Mapping[tuple[str | None, str], float]) -> tuple[list[Joint], list[Statement]]:
    """Every usable [[check]] of kind `drop`, the last of each pin; and what to say of those that are not usable.

    `amps` (stage, pin) -> A stands in where the check itself names no current.
    """
    found: dict[str, Joint] = {}
    said = []
    for check in session.check:
        if check.kind != "drop":
            continue
        current = check.amps if check.amps is not None else amps.get((check.stage, check.pin))
        if check.volts is None or not current:
            said.append(Statement("drop_without_amps" if check.volts is not None else "drop_without_volts", _of(check)))
            continue
        found[check.pin] = Joint(check.pin, check.stage, abs(check.volts), current, _u_ln(abs(check.volts)))
    return list(found.values()), said


def _of(check: Check) -> dict[str, str]:
    return {"pin": check.pin, "stage": check.stage or ""}


def _u_ln(volts: float) -> float:
    limits = section("drop")
    of_volts = (limits["volts_share"] * volts + limits["volts_v"]) / max(volts, limits["volts_v"])
    return math.hypot(rectangular(of_volts), rectangular(limits["amps_share"]))


def against_peers(joint: Joint, every: Sequence[Joint]) -> Ratio | None:
    """The joint's resistance against the median of the others that were measured; None where there is none."""
    others = [other for other in every if other.pin != joint.pin and other.ohms > 0]
    if not others or not joint.ohms > 0:
        return None
    middle = float(np.median([other.ohms for other in others]))
    spread = math.sqrt(sum(other.u_ln**2 for other in others)) / len(others)
    return Ratio(joint.ohms / middle, math.hypot(joint.u_ln, spread))


def weighed(drop: Ratio, heat: Ratio) -> Ratio:
    """Both together, each weighed by the inverse of its variance in ln (weighted mean, ISO/IEC Guide 98-3 practice)."""
    weights = np.array([drop.u_ln, heat.u_ln]) ** -2.0
    logs = np.log([drop.value, heat.value])
    return Ratio(float(np.exp(weights @ logs / weights.sum())), float(weights.sum() ** -0.5))


def conflict(drop: Ratio, heat: Ratio) -> bool:
    """Whether two ratios differ by more than their uncertainties and the wire's share in the heat allow."""
    allowed = section("drop")["wire_share_ln"]
    apart = abs(math.log(drop.value / heat.value))
    return apart > Z95 * math.hypot(math.hypot(drop.u_ln, heat.u_ln), allowed)


def heat_against_same(joint: Joint, every: Sequence[Joint], heat: Mapping[str, Ratio]) -> Ratio | None:
    """The heat made at the pin against the median of the pins whose drop was measured too: like `against_peers`."""
    others = [heat[other.pin] for other in every if other.pin != joint.pin and other.pin in heat]
    if joint.pin not in heat or not others:
        return None
    middle = float(np.median([other.value for other in others]))
    spread = math.sqrt(sum(other.u_ln**2 for other in others)) / len(others)
    return Ratio(heat[joint.pin].value / middle, math.hypot(heat[joint.pin].u_ln, spread))


def told(
    joint: Joint, every: Sequence[Joint], heats: Mapping[str, Ratio], milliohms: Mapping[str, Ratio]
) -> list[Statement]:
    """What a drop says of its pin, beside the thermal estimate: pin -> ratio to its peers, and where that cannot be had
    for both, pin -> resistance with a decay length of wire [mΩ].
    """
    ratio = against_peers(joint, every)
    heat = heat_against_same(joint, every, heats)
    values = {
        "pin": joint.pin,
        "millivolts": 1e3 * joint.volts,
        "amps": joint.amps,
        "milliohms": 1e3 * joint.ohms,
        "watts": joint.watts,
    }
    if ratio is None:
        return [Statement("drop_alone", values), *_beside_ohms(joint, milliohms.get(joint.pin))]
    said = [Statement("drop_ratio", {**values, "ratio": ratio.value, "low": ratio.low, "high": ratio.high})]
    if heat is None:
        return [*said, *_beside_ohms(joint, milliohms.get(joint.pin))]
    both = {"pin": joint.pin, "drop": ratio.value, "drop_low": ratio.low, "drop_high": ratio.high}
    both |= {"heat": heat.value, "heat_low": heat.low, "heat_high": heat.high}
    if conflict(ratio, heat):
        higher = "drop_above_heat" if ratio.value > heat.value else "heat_above_drop"
        return [*said, Statement(higher, both)]
    if ratio.high < 1:  # a joint better than the others measured needs no second voice
        return said
    mean = weighed(ratio, heat)
    return [*said, Statement("drop_agrees", {**both, "both": mean.value, "low": mean.low, "high": mean.high})]


def _beside_ohms(joint: Joint, heat: Ratio | None) -> list[Statement]:
    """The joint's milliohms by hand against those that its heat speaks of, which hold some wire as well."""
    if heat is None or not joint.ohms > 0:
        return []
    drop = Ratio(1e3 * joint.ohms, joint.u_ln)
    values = {"pin": joint.pin, "drop": drop.value, "drop_low": drop.low, "drop_high": drop.high}
    values |= {"heat": heat.value, "heat_low": heat.low, "heat_high": heat.high}
    if drop.low > heat.high:
        return [Statement("drop_above_ohms", values)]
    if drop.high + section("drop")["most_wire_milliohm"] < heat.low:
        return [Statement("ohms_above_drop", values)]
    return [Statement("drop_agrees_ohms", values)]


def changed(before: Sequence[Joint], after: Sequence[Joint], names: Mapping[str, str]) -> list[Statement]:
    """What the drops of two tests say of each joint that was measured in both; `names`: pin after -> before."""
    earlier = {joint.pin: joint for joint in before}
    said = []
    for joint in after:
        old = earlier.get(names.get(joint.pin, joint.pin))
        if old is None or not old.ohms > 0 or not joint.ohms > 0:
            continue
        change = Ratio(joint.ohms / old.ohms, math.hypot(joint.u_ln, old.u_ln))
        values = {"pin": joint.pin, "before": 1e3 * old.ohms, "after": 1e3 * joint.ohms}
        values |= {"share": change.value, "low": change.low, "high": change.high}
        values |= {"millivolts_before": 1e3 * old.volts, "amps_before": old.amps}
        values |= {"millivolts_after": 1e3 * joint.volts, "amps_after": joint.amps}
        code = "drop_fell" if change.high < 1 else "drop_grew" if change.low > 1 else "drop_unchanged"
        said.append(Statement(code, values))
    return said
