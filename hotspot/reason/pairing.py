"""Which pin and which stage of the earlier test belongs to which of the later one, and by what they were matched."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hotspot.errors import refuse
from hotspot.reason.peers import like
from hotspot.records import Results, Statement
from hotspot.session import Session


@dataclass(frozen=True, slots=True)
class Pairing:
    """Pairs (before, after); None on the side that has no counterpart. `stages` are numbers in findings["stages"]."""

    pins: tuple[tuple[str | None, str | None], ...]
    stages: tuple[tuple[int | None, int | None], ...]
    by: tuple[Statement, ...]  # what they were matched by, where that is no notice
    notices: tuple[Statement, ...]


def session_of(results: Results) -> Session:
    """The session that a set of results was made from, as findings.json keeps it."""
    return Session.model_validate(results.findings["settings"]["session"], strict=False)


def paired(before: Results, after: Results, match: Mapping[str, str] | None) -> Pairing:
    """The pairing of two tests. `match` (before -> after) stands above everything for the pins it names.

    Raises InputError where `match` names a pin that is not there, or the layouts have nothing in common.
    """
    pins, notices = _pins(before, after, dict(match or {}))
    stages, by, more = _stages(before, after)
    said = [Statement("pins_by_match", {"pairs": [f"{old} to {new}" for old, new in match.items()]})] if match else []
    if any(old == new and old not in (match or {}) for old, new in pins):
        said.append(Statement("pins_by_name"))
    if by == "name":
        said.append(Statement("stages_by_name"))
    return Pairing(pins, stages, tuple(said), (*notices, *more))


def names(results: Results) -> list[str]:
    """The pins of a test in its own order."""
    return [str(pin["name"]) for pin in results.findings["pins"]]


def _pins(before: Results, after: Results, match: dict[str, str]) -> tuple[tuple, list[Statement]]:
    old, new = names(before), names(after)
    for side, known, asked in ((before, old, match.keys()), (after, new, match.values())):
        for name in asked:
            if name not in known:
                mend = f"Its pins are: {', '.join(known)}."
                raise refuse(side.name, "--match", f"there is no pin {name!r} in that test", mend)
    if len(set(match.values())) < len(match):
        raise refuse(after.name, "--match", "two pins are matched to the same one", "Match each pin once.")
    notices = _layouts(before, after)
    left = [name for name in old if name not in match]
    free = [name for name in new if name not in match.values()]
    pairs = dict(match)
    shared = [name for name in left if name in free]
    if shared or not left or not free:
        pairs |= {name: name for name in shared}
    elif len(left) == len(free):
        pairs |= dict(zip(left, free, strict=True))
        notices.append(Statement("pins_by_position", {"before": left, "after": free}))
    elif not match:
        raise refuse(
            after.name,
            "pins",
            f"{len(new)} pins, none with the name of one of the {len(old)} pins of {before.name}",
            "Compare two tests of the same connector, or say with --match which pin is which.",
        )
    result = [(name, pairs.get(name)) for name in old]
    result += [(None, name) for name in new if name not in pairs.values()]
    notices += _alone(("pins_unmatched_before", "pins_unmatched_after"), result)
    return tuple(result), notices


def _alone(codes: tuple[str, str], pairs: list[tuple[str | None, str | None]]) -> list[Statement]:
    """What has no counterpart, of the earlier test and of the later one."""
    left = [old for old, new in pairs if new is None and old is not None]
    free = [new for old, new in pairs if old is None and new is not None]
    return [Statement(code, {"pins": names}) for code, names in zip(codes, (left, free), strict=True) if names]


def _layouts(before: Results, after: Results) -> list[Statement]:
    first, second = (session_of(results).connector for results in (before, after))
    layouts = [(c.rows, c.columns) for c in (first, second)]
    if None in layouts[0] or None in layouts[1] or layouts[0] == layouts[1]:
        return []
    values = {"before": "{}x{}".format(*layouts[0]), "after": "{}x{}".format(*layouts[1])}
    return [Statement("layouts_differ", values)]


def _stages(before: Results, after: Results) -> tuple[tuple, str, list[Statement]]:
    old, new = before.findings["stages"], after.findings["stages"]
    found = any(_nameless(results) for results in (before, after)) and len(old) + len(new) > 2
    pairs, by = (_by_heat(before, after), "heat") if found else (_by_name(old, new), "name")
    if not pairs:
        pairs, by = _by_load(before, after), "load"
    if not pairs:
        pairs, by = dict(zip(range(len(old)), range(len(new)), strict=False)), "order"
    result: list[tuple[int | None, int | None]] = [(n, pairs.get(n)) for n in range(len(old))]
    result += [(None, n) for n in range(len(new)) if n not in pairs.values()]
    notices = [] if by == "name" else [Statement(f"stages_by_{by}")]
    alone = [str((old[a] if a is not None else new[b])["name"]) for a, b in result if a is None or b is None]
    if alone:
        notices.append(Statement("stages_unmatched", {"stages": alone}))
    return tuple(result), by, notices


def _by_name(old: list[Any], new: list[Any]) -> dict[int, int]:
    later = {stage["name"]: number for number, stage in reversed(list(enumerate(new)))}
    found = {n: later[stage["name"]] for n, stage in enumerate(old) if stage["name"] in later}
    return found if len(set(found.values())) == len(found) else {}


def _nameless(results: Results) -> bool:
    """Whether nobody gave the stages their names: "step 2" of one test need not be "step 2" of the other."""
    return results.findings["settings"].get("stages", "stated") != "stated"


def _by_heat(before: Results, after: Results) -> dict[int, int]:
    """The stages in which the pins were hottest belong together, and those before and after them in their order."""
    tables = [results.pins.assign(stage=results.pins["stage"].fillna("")) for results in (before, after)]
    last = [table.groupby("stage")["last_c"].median().to_dict() for table in tables]
    names = [[stage["name"] for stage in results.findings["stages"]] for results in (before, after)]
    hot = [_hottest(own, at) for own, at in zip(names, last, strict=True)]
    shift = hot[1] - hot[0]
    return {n: n + shift for n in range(len(names[0])) if 0 <= n + shift < len(names[1])}


def _hottest(names: list[str], last_c: Mapping[str, float]) -> int:
    """Number of the stage whose pins ended hottest; the first where none has a reading."""
    known = [n for n, name in enumerate(names) if math.isfinite(last_c.get(name, math.nan))]
    return max(known, key=lambda n: last_c[names[n]], default=0)


def _by_load(before: Results, after: Results) -> dict[int, int]:
    """Stages whose pins carry like currents, each taken once, the first that fits."""
    first, second = _largest_amps(before), _largest_amps(after)
    found: dict[int, int] = {}
    for number, amps in enumerate(first):
        fits = [n for n, other in enumerate(second) if n not in found.values() and _alike(amps, other)]
        if fits:
            found[number] = fits[0]
    return found


def _alike(amps: float, other: float) -> bool:
    return math.isfinite(amps) and math.isfinite(other) and like(amps, other)


def _largest_amps(results: Results) -> list[float]:
    """The largest current of each stage, A; NaN where it is not known."""
    table = results.pins
    return [
        float(table.loc[table["stage"].fillna("") == stage["name"], "amps"].max())
        for stage in results.findings["stages"]
    ]
