"""Was a pin repaired? By the heat made there before and after, and by the voltage drops measured by hand.

A rise never decides it: the neighbours of a mended pin cool as well.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from hotspot.reason.heat_change import HeatChange, HeatChanges, by_ratios, heat_changes
from hotspot.reason.heat_kept import taken_up
from hotspot.reason.joint_drops import Joint, changed, joints
from hotspot.reason.pairing import Pairing
from hotspot.reason.verdicts import bare_metal
from hotspot.records import Results, Statement
from hotspot.session import Session

AT_FAULT_RATIO = 1.3
"""A pin that made no more than this times its peers' heat before, or its own now, had nothing to be mended. Ours."""

Ratio = tuple[float, float, float]
Effects = Mapping[tuple[int, str], float]


@dataclass(frozen=True, slots=True)
class Mend:
    """One pin in both tests. `ratios` against its peers (value, low, high) before and after, None where not worked out;
    `drop` what the drops by hand say of it; `repaired` yes, no or empty; `said` goes into the basis."""

    pin: str
    before_pin: str
    heat: HeatChange | None
    ratios: tuple[Ratio | None, Ratio | None]
    drop: Statement | None
    repaired: str
    said: tuple[Statement, ...]

    @property
    def drop_share(self) -> HeatChange | None:
        """Resistance of the joint after / before, by hand."""
        if self.drop is None:
            return None
        return HeatChange(*(float(self.drop.values[key]) for key in ("share", "low", "high")))


def mends(
    pair: tuple[Results, Results], sessions: tuple[Session, Session], pairing: Pairing
) -> tuple[dict[str, Mend], tuple[Statement, ...], Effects]:
    """(pin after -> Mend, for every pin that is in both tests; what the changes of heat rest on; what they do to the
    rises, as in HeatChanges)."""
    pins = [(old, new) for old, new in pairing.pins if old is not None and new is not None]
    stages = {old: new for old, new in pairing.stages if old is not None and new is not None}
    together, unread = None, _unread(pair, sessions, pins)
    if _one_view(sessions) and not unread:  # a wrong rise is put down to its neighbours
        kept = [taken_up((results.findings.get("settings") or {}).get("heat")) for results in pair]
        together = heat_changes(*kept, pins, stages)
    ratios = [heat_ratios(results) for results in pair]
    drops = _drops(pair, sessions, {new: old for old, new in pins})
    sources = [{str(pin) for pin in results.findings.get("source_pins") or ()} for results in pair]
    found = {}
    for old, new in pins:
        both = (ratios[0].get(old), ratios[1].get(new))
        heat = None if new in unread else _heat(together, new, both)
        bad = old in sources[0] or _stood_out(both[0], together, new)
        found[new] = _mend(Mend(new, old, heat, both, drops.get(new), "", ()), bad, new in sources[1])
    return found, _rests_on(together, found), together.effects if together else {}


def _stood_out(alone: Ratio | None, together: HeatChanges | None, pin: str) -> bool:
    """Whether the pin made more heat than its peers before, by the earlier test alone or as both tests show it; where
    the earlier test has no peers for it, whether it made more than it does now, beyond doubt."""
    if together is not None and together.before.get(pin, 0.0) > AT_FAULT_RATIO:
        return True
    if alone is not None:
        return alone[0] > AT_FAULT_RATIO
    own = together.pins.get(pin) if together is not None else None
    return own is not None and own.high < 1.0 / AT_FAULT_RATIO


def _unread(pair: tuple[Results, Results], sessions: tuple[Session, Session], pins: list[tuple[str, str]]) -> set[str]:
    """The pins (by their names after) whose temperature is not to be had in one of the tests: bare metal, too few
    pixels, or a bound where a stage ends."""
    bad = [_without_temperature(*each) for each in zip(pair, sessions, strict=True)]
    return {new for old, new in pins if old in bad[0] or new in bad[1]}


def _without_temperature(results: Results, session: Session) -> set[str]:
    rows = results.readings.assign(pin=results.readings["pin"].astype(str), stage=results.readings["stage"].fillna(""))
    ends = rows.dropna(subset=["temperature_c"]).sort_values("time_s", kind="stable").groupby(["stage", "pin"]).tail(1)
    found = set(ends.loc[ends["clipped"].fillna("") != "", "pin"])
    found |= set(rows.loc[rows["quality"].fillna("").astype(str).str.contains("few_pixels"), "pin"])
    return found | {pin for pin in rows["pin"].unique() if bare_metal(session, pin)}


def _one_view(sessions: tuple[Session, Session]) -> bool:
    """Whether both tests may look at the same side: then what hides a pin's heat is the same in both."""
    faces = {session.connector.face for session in sessions} - {None}
    return len(faces) < 2


def heat_ratios(results: Results) -> dict[str, Ratio]:
    """pin -> (heat_ratio, low, high); the same in every stage that has one."""
    table = results.pins
    table = table[table["heat_ratio"].notna()].drop_duplicates("pin")
    rows = table[["pin", "heat_ratio", "heat_ratio_low", "heat_ratio_high"]].itertuples(index=False)
    return {str(pin): (float(value), float(low), float(high)) for pin, value, low, high in rows if value > 0 < low}


def _heat(together: HeatChanges | None, pin: str, ratios: tuple[Ratio | None, Ratio | None]) -> HeatChange | None:
    if together is not None and pin in together.pins:
        return together.pins[pin]
    return by_ratios(*ratios) if together is None and None not in ratios else None


def _drops(
    pair: tuple[Results, Results], sessions: tuple[Session, Session], names: Mapping[str, str]
) -> dict[str, Statement]:
    measured = [_joints(*each) for each in zip(pair, sessions, strict=True)]
    return {str(said.values["pin"]): said for said in changed(*measured, names)}


def _joints(results: Results, session: Session) -> list[Joint]:
    table = results.pins.dropna(subset=["amps"])
    amps: dict[tuple[str | None, str], float] = {}
    for pin, own in table.groupby(table["pin"].astype(str)):
        own = own[own["amps"] > 0]
        amps |= {(str(stage), str(pin)): float(value) for stage, value in zip(own["stage"], own["amps"], strict=True)}
        if len(own) == 1:
            amps[None, str(pin)] = float(own["amps"].iloc[0])
    return joints(session, amps)[0]


def _mend(mend: Mend, was_bad: bool, still_source: bool) -> Mend:
    """The verdict: `yes` only for a pin that made more heat than its peers before, or whose drop by hand fell."""
    mend = replace(mend, said=() if mend.drop is None else (mend.drop,))
    by_hand = mend.drop_share
    witnesses = [each for each in (mend.heat, by_hand) if each is not None]
    fell, stayed = any(each.fell for each in witnesses), any(each.not_fallen for each in witnesses)
    if fell and stayed:
        values = {"pin": mend.pin, "heat": mend.heat.value, "drop": by_hand.value}
        return replace(mend, said=(*mend.said, Statement("repair_disputed", values)))
    if fell and not was_bad and not (by_hand is not None and by_hand.fell):
        return mend
    if fell:
        return replace(mend, repaired="no" if still_source else "yes")
    return replace(mend, repaired="no" if stayed else "")


def _rests_on(together: HeatChanges | None, found: Mapping[str, Mend]) -> tuple[Statement, ...]:
    if not any(mend.heat for mend in found.values()):
        return ()
    if together is None:
        return (Statement("heat_change_by_ratios"),)
    said = [Statement("heat_change_together" if together.amps_known else "heat_change_relative")]
    if together.amps_known and abs(math.log(together.day)) > 0.05:
        said.append(Statement("heat_change_day", {"share": together.day}))
    return tuple(said)
