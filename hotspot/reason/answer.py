"""The one sentence at the top: which pin makes the heat, or that all are alike, or why it cannot be told."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from hotspot.reason import wires
from hotspot.reason.verdicts import OVER
from hotspot.records import Statement, bounded

if TYPE_CHECKING:
    from hotspot.reason.findings import Row


def answer_of(rows: list[Row], sources: tuple[str, ...], overall: dict[str, str], several_stages: bool) -> Statement:
    """The answer for the session. `rows`: one per stage and pin; `overall`: verdict per pin."""
    if not any(math.isfinite(row.look.last_c) for row in rows):
        return Statement("answer_nothing_read")
    if sources:
        return _source(rows, sources, several_stages)
    for verdict, codes in (("hot", OVER), ("watch", frozenset())):
        bad = [row for row in rows if row.verdict == verdict]
        if bad:
            said = [s for row in bad for s in row.reasons if s.code in codes]
            return _first(verdict, bad, said)
    judged = [row for row in rows if row.view.judged and (row.view.standing is not None or row.view.heat)]
    if any(verdict == "normal" for verdict in overall.values()):
        return _alike(judged, overall)
    return _cannot_tell(rows)


def _source(rows: list[Row], sources: tuple[str, ...], several_stages: bool) -> Statement:
    made = [row for row in rows if row.look.pin == sources[0] and row.view.source and row.view.heat]
    if made:
        return _made(made[0], rows, sources)
    own = [row for row in rows if row.look.pin == sources[0] and row.view.source and row.view.standing]
    resistance = [said for row in rows for said in row.reasons if said.code == "resistance_high"]
    if resistance:
        return Statement("answer_resistance", dict(resistance[0].values))
    row = max(own, key=lambda row: row.view.standing.excess_k)
    standing = row.view.standing
    value, excess = (bounded(number, row.look.bound) for number in (standing.value_k, standing.excess_k))
    values = {
        "pin": sources[0], "value": value, "excess": excess, "low": standing.low_k, "high": standing.high_k,
        "peers": standing.peers, "stage": row.stage, "others": list(sources[1:]),
    }  # fmt: skip
    interval = Statement("answer_interval", {"low": standing.low_k, "high": standing.high_k})
    values["interval"] = Statement("answer_interval_open") if row.look.bound else interval
    codes = {said.code for said in row.reasons}
    code = "answer_source"
    if "load_unknown" in codes:
        code = "answer_source_load_unknown"
    elif "single_loaded" in codes:
        code = "answer_source_single"
    elif standing.ratio is not None and not row.look.bound:
        code, values["ratio"] = "answer_source_ratio", standing.ratio
    if several_stages and row.stage and code in ("answer_source", "answer_source_ratio"):
        code += "_in_stage"
    return Statement(code + ("_and_others" if len(sources) > 1 else ""), values)


def _made(row: Row, rows: list[Row], sources: tuple[str, ...]) -> Statement:
    """The source by the heat made there; where another pin is hotter, that is said as well."""
    ratio, low, high = row.view.heat or (math.nan,) * 3
    finite = [each for each in rows if math.isfinite(each.look.last_c)]
    hottest = max(finite, key=lambda each: each.look.last_c).look.pin
    values = {
        "pin": sources[0], "ratio": ratio, "low": low, "high": high, "others": list(sources[1:]), "hottest": hottest,
    }  # fmt: skip
    code = "answer_heat" + ("_not_hottest" if hottest not in sources else "")
    return Statement(code + ("_and_others" if len(sources) > 1 else ""), values)


def _first(verdict: str, bad: list[Row], said: list[Statement]) -> Statement:
    pins = list(dict.fromkeys(row.look.pin for row in bad))
    if verdict == "hot" and said:
        return Statement("answer_over_rating", {"pins": pins})
    if any(s.code in wires.FAULTS for row in bad for s in row.reasons):
        return Statement("answer_wire", {"pins": pins})
    return Statement("answer_watch", {"pins": pins})


def _alike(judged: list[Row], overall: dict[str, str]) -> Statement:
    pins = [pin for pin, verdict in overall.items() if verdict == "normal"]
    left_out = [pin for pin, verdict in overall.items() if verdict == "unknown"]
    made = [row.view.heat for row in judged if row.view.heat and row.look.pin in pins]
    if made:
        most = max(made)
        values = {"pins": pins, "most": most[0], "high": most[2], "left_out": left_out}
        return Statement("answer_heat_alike_but" if left_out else "answer_heat_alike", values)
    excess = [row.view.standing.excess_k for row in judged if row.look.pin in pins]
    highs = [row.view.standing.high_k for row in judged if row.look.pin in pins]
    if not excess:
        risen = any(math.isfinite(row.look.rise_k) for row in judged)
        code = "answer_no_peers_hot" if risen else "answer_alike_temperature"
        return Statement(code, {"pins": pins, "left_out": left_out} if risen else {"pins": pins})
    values = {"pins": pins, "most": max(excess), "high": max(highs), "left_out": left_out}
    return Statement("answer_alike_but" if left_out else "answer_alike", values)


def _cannot_tell(rows: list[Row]) -> Statement:
    codes = {said.code for row in rows for said in row.reasons}
    known = ("started_warm", "load_unknown", "bare_metal", "shape_only", "bound_hides")
    for code in (*known, "weak_load", "single_loaded_cool"):
        if code in codes:
            return Statement("answer_cannot_" + code)
    return Statement("answer_cannot_peers")
