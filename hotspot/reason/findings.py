"""Readings -> findings: the pins table, a verdict per pin with its reasons, one answer, what to check next.

Pins are compared by the heat made at each where that can be worked out, else by rise with `heat_ratio` empty.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from hotspot.columns import PINS, column_names
from hotspot.reason import verdicts, wires
from hotspot.reason.answer import answer_of
from hotspot.reason.hand_checks import by_hand
from hotspot.reason.heat_loads import contradictions, doubted
from hotspot.reason.heat_made import Heat, heat_made
from hotspot.reason.heat_verdicts import level_of, of_doubted_load
from hotspot.reason.heat_views import conducted, laid_over
from hotspot.reason.limits import limits
from hotspot.reason.next_steps import Facts, next_steps
from hotspot.reason.settling_said import outlook, steady_notices, with_event
from hotspot.reason.settling_series import seen_with_the_camera
from hotspot.reason.stage_ends import Look, looks_at, spans_of
from hotspot.reason.stage_peers import View, views_of
from hotspot.records import Findings, PinFinding, PinMap, RisePictures, StageSpan, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    import pandas as pd

Settle = Callable[..., Any]
EMPTY = Statement("stage_holds_no_frame")
ANSWER_EMPTY = Statement("answer_stages_empty")
LEAST_BELOW_K = 3.0
"""A pin that much colder than the ambient, under load, says that the ambient is wrong. Ours."""


@dataclass(frozen=True, slots=True)
class Row:
    """Everything said of one pin in one stage."""

    look: Look
    view: View
    settling: Any | None
    verdict: str
    reasons: tuple[Statement, ...]
    stage: str


def judge(
    session: Session,
    readings: pd.DataFrame,
    stages: tuple[StageSpan, ...],
    pin_map: PinMap | None,
    settle: Settle | None = None,
    pictures: RisePictures | None = None,
) -> Findings:
    """The findings of one session.

    `readings` has the columns of columns.READINGS, one row per frame and pin. `stages` empty: the whole run
    is one nameless stage. `pin_map` None for a table without pictures. `settle` works out where a stage heads
    (signature of hotspot.reason.settling.settle_stage, which is the default); it may return None. `pictures`:
    the rise of the connector's patch per stage, from which the heat made at each pin is worked out best.
    """
    pins = _pins(session, readings, pin_map)
    spans = spans_of(stages, readings)
    looks = looks_at(readings, spans, pins, session)
    heat = heat_made(session, spans, looks, pin_map, pictures)
    rows = _rows(session, spans, looks, (settle or _settle_stage(), heat))
    by_pin = {pin: [row for row in rows if row.look.pin == pin] for pin in pins}
    overall = {pin: verdicts.worst(row.verdict for row in own) for pin, own in by_pin.items()}
    sources = _sources(rows)
    estimated = bool(readings["quality"].astype(str).str.contains("ambient_estimated").any())
    facts = replace(
        _facts(session, by_pin, sources),
        ambient_told=not estimated,
        printed=_empty_for("printed_over", readings),
        off_map=_empty_for("off_map", readings),
    )
    nowhere = len(readings) > 0 and not any(span.frames for span in spans)
    made = {pin: _worst_row(own).view.heat for pin, own in by_pin.items()}
    hand, said_by_hand = by_hand(session, spans, made, {pin: own.ohm for pin, own in heat.pins.items()} if heat else {})
    return Findings(
        answer=ANSWER_EMPTY if nowhere else answer_of(rows, sources, overall, len(spans) > 1),
        verdict=verdicts.worst(overall.values()),
        hottest_pin=_hottest(rows, readings),
        source_pins=sources,
        not_judged=_not_judged(by_pin),
        pins=tuple(_finding(pin, overall[pin], by_pin[pin], pin_map, hand.get(pin, ())) for pin in pins),
        next=next_steps(facts, session),
        pin_table=_table(rows),
        notices=(
            *_notices(session, facts, heat),
            *contradictions(session, spans),
            *steady_notices(spans, looks),
            *said_by_hand,
            *_too_cold(rows),
        ),
        settings={"heat": _heat_settings(heat)},
        limits=limits(session, rows),
    )


def _settle_stage() -> Settle:
    from hotspot.reason.settling import settle_stage

    return settle_stage


def _pins(session: Session, readings: pd.DataFrame, pin_map: PinMap | None) -> tuple[str, ...]:
    if pin_map is not None:
        return tuple(pin_map.names)
    return tuple(dict.fromkeys([*readings["pin"].astype(str), *(pin.name for pin in session.pin)]))


def _rows(
    session: Session,
    spans: tuple[StageSpan, ...],
    looks: dict[tuple[int, str], Look],
    worked: tuple[Settle, Heat | None],
) -> list[Row]:
    settle, heat = worked
    levels = {pin: level_of(heat, pin) for pin in heat.pins} if heat else {}
    unsure = doubted(contradictions(session, spans))
    levels = {pin: of_doubted_load(level) if pin in unsure else level for pin, level in levels.items()}
    only_loaded = _only_loaded(spans, [pin for number, pin in looks if number == 0])
    small = {look.pin for look in looks.values() if look.shape_only}
    readable = {pin for _, pin in looks if pin not in small and not verdicts.bare_metal(session, pin)}
    wire = {pin.name: wires.faults(pin) for pin in session.pin}
    rows = []
    for number, span in enumerate(spans):
        here = [look for (stage, _), look in looks.items() if stage == number]
        views = conducted(views_of(here, span, readable, only_loaded), here)
        if heat is not None:
            views = laid_over(views, number, heat, levels, readable)
        for look in here:
            settling = _settled(look, span, settle) if look.pin in readable else None
            settling = with_event(settling, look.pin, session)
            said = wire.get(look.pin, ())
            verdict, reasons = verdicts.concluded(look, views[look.pin], settling, session, said)
            if not span.frames:
                reasons = tuple(EMPTY if reason.code == "hidden" else reason for reason in reasons)
            reasons = (*reasons, *outlook(look, settling, span.end_s, session))
            rows.append(Row(look, views[look.pin], settling, verdict, reasons, span.name))
    return rows


def _only_loaded(spans: tuple[StageSpan, ...], pins: list[str]) -> str | None:
    """The pin that alone carries current in the whole session; None if there are more, or it is not known."""
    loaded: set[str] = set()
    for span in spans:
        if span.stage is None or span.stage.amps is None or span.stage.equal:
            return None
        loaded |= {pin for pin in pins if span.stage.amps_of(pin)}
    return loaded.pop() if len(loaded) == 1 else None


def _settled(look: Look, span: StageSpan, settle: Settle) -> Any | None:
    if not math.isfinite(look.last_c):
        return None
    air: Any = look.ambient_c if look.air_c is None else look.air_c
    if look.drift_k is not None:
        air = seen_with_the_camera(look.ambient_c, look.drift_k, look.times_s)
    return settle(look.times_s, look.celsius, look.uncertainty_k, look.clipped, air, span.start_s, span.end_s)


def _sources(rows: list[Row]) -> tuple[str, ...]:
    """Pins that make more heat than their peers in some stage, most first: by heat made, else by excess."""
    most: dict[str, tuple[float, float]] = {}
    for row in rows:
        if row.view.source and math.isfinite(row.look.last_c):  # not of what nobody has seen
            made = row.view.heat[0] if row.view.heat else -math.inf
            excess = row.view.standing.excess_k if row.view.standing else -math.inf
            most[row.look.pin] = max((made, excess), most.get(row.look.pin, (-math.inf, -math.inf)))
    return tuple(sorted(most, key=lambda pin: (-most[pin][0], -most[pin][1])))


def _hottest(rows: list[Row], readings: pd.DataFrame) -> str | None:
    last = {(row.stage, row.look.pin): row.look.last_c for row in rows if math.isfinite(row.look.last_c)}
    if last:
        return max(last, key=lambda key: last[key])[1]
    values = readings["temperature_c"].dropna()
    return None if values.empty else str(readings.loc[values.idxmax(), "pin"])


def _worst_row(own: list[Row]) -> Row:
    """The row that decides a pin's verdict: the worst; among equals one that is judged, with the largest rise."""

    def rise(row: Row) -> float:
        return row.look.rise_k if row.look.rise_k is not None and math.isfinite(row.look.rise_k) else -math.inf

    return min(own, key=lambda row: (verdicts.ORDER.index(row.verdict), not row.view.judged, -rise(row)))


def _finding(
    pin: str, verdict: str, own: list[Row], pin_map: PinMap | None, by_hand: Iterable[Statement]
) -> PinFinding:
    reasons = (*_worst_row(own).reasons, *by_hand)
    if pin_map is None:
        return PinFinding(pin, verdict, reasons)
    place = pin_map.names.index(pin)
    return PinFinding(
        pin,
        verdict,
        reasons,
        float(pin_map.x_px[place]),
        float(pin_map.y_px[place]),
        float(pin_map.radius_px[place]),
        pin_map.placed[place],
    )


def _not_judged(by_pin: dict[str, list[Row]]) -> tuple[dict[str, Any], ...]:
    """Pins that no stage could hold against a peer, and the current that would have been enough."""
    result = []
    for pin, own in by_pin.items():
        if any(row.view.judged and math.isfinite(row.look.last_c) for row in own):
            continue
        needed = [row.view.amps_needed for row in own if row.view.amps_needed is not None]
        open_rows = [row for row in own if row.verdict == "unknown"] or own
        reasons = _unjudged_reasons(open_rows[-1])
        result.append({"pin": pin, "reason": reasons, "amps_needed": min(needed) if needed else None})
    return tuple(result)


UNJUDGED = frozenset(
    {"bare_metal", "shape_only", "hidden", EMPTY.code, "load_unknown", "unloaded", "unloaded_all", "weak_load"}
    | {"peers_none", "peers_none_at_load", "bound_hides", "single_loaded_cool"}
)


def _unjudged_reasons(row: Row) -> Statement:
    return next((said for said in row.reasons if said.code in UNJUDGED), Statement("not_judged_other"))


def _facts(session: Session, by_pin: dict[str, list[Row]], sources: tuple[str, ...]) -> Facts:
    every = [row for own in by_pin.values() for row in own]

    def named(*codes: str) -> tuple[str, ...]:
        return tuple(dict.fromkeys(row.look.pin for row in every if {said.code for said in row.reasons} & set(codes)))

    judged = {row.look.pin for row in every if row.view.judged}
    weak = {
        row.look.pin: row.view.amps_needed
        for row in every
        if row.view.amps_needed is not None and row.look.pin not in judged
    }
    over = tuple(dict.fromkeys(row.look.pin for row in every for said in row.reasons if said.code in verdicts.OVER))
    return Facts(
        sources=sources,
        over_rating=over,
        wires=tuple(pin.name for pin in session.pin if wires.faults(pin)),
        watched=tuple(dict.fromkeys(row.look.pin for row in every if row.verdict in ("hot", "watch"))),
        clipped=tuple(dict.fromkeys(row.look.pin for row in every if row.look.bound)),
        bare=named("bare_metal"),
        hidden=named("hidden"),
        weak=weak,
        load_known="load_unknown" not in {said.code for row in every for said in row.reasons},
        ambient_known=any(row.look.ambient_c is not None for row in every),
    )


def _empty_for(doubt: str, readings: pd.DataFrame) -> tuple[str, ...]:
    """Pins of that doubt in most of the frames in which they have no reading."""
    empty = readings[readings["temperature_c"].isna()]
    over = empty["quality"].astype(str).str.split(";").map(lambda names: doubt in names).astype(bool)
    share = over.groupby(empty["pin"].astype(str), sort=False).mean()
    return tuple(share.index[share > 0.5])


def _heat_settings(heat: Heat | None) -> dict[str, Any]:
    """How the heat per pin was worked out, for the recipe."""
    return {"method": "rise"} if heat is None else {"method": heat.method, **heat.settings}


def _notices(session: Session, facts: Facts, heat: Heat | None) -> tuple[Statement, ...]:
    said = [Statement("heat_by_" + ("rise" if heat is None else heat.method.replace(" ", "_")))]
    if not facts.ambient_known:
        said.append(Statement("rises_over_start"))
    for pin in session.pin:
        said.extend(wires.not_understood(pin))
    return tuple(said)


def _too_cold(rows: list[Row]) -> list[Statement]:
    """Pins below the ambient: it was not the air's."""
    below = [row for row in rows if row.look.rise_k < -LEAST_BELOW_K - 2.0 * row.look.own_k]
    if not below:
        return []
    pins = list(dict.fromkeys(row.look.pin for row in below))
    return [Statement("pins_below_ambient", {"pins": pins, "ambient": below[-1].look.ambient_c})]


def _table(rows: list[Row]) -> pd.DataFrame:
    """The columns of columns.PINS; numbers that are not known are NaN."""
    import pandas as pd

    frame = pd.DataFrame([_line(row) for row in rows], columns=column_names(PINS))
    numbers = [column.name for column in PINS if column.kind == "float"]
    frame[numbers] = frame[numbers].astype(float)
    return frame


def _line(row: Row) -> dict[str, Any]:
    look, settling, standing = row.look, row.settling, row.view.standing
    ratio, low, high = row.view.heat or (None, None, None)

    def number(name: str) -> float:
        value = getattr(settling, name, None)
        return float("nan") if value is None else float(value)

    return {
        "stage": row.stage,
        "pin": look.pin,
        "amps": look.amps,
        "last_c": look.last_c,
        "last_s": look.last_s,
        "settled_c": number("settled_c"),
        "settled_low_c": number("low_c"),
        "settled_high_c": number("high_c"),
        "time_constant_s": number("time_constant_s"),
        "settled": getattr(settling, "settled", None) or "",
        "end_c": number("end_c"),
        "end_low_c": number("end_low_c"),
        "end_high_c": number("end_high_c"),
        "rise_c": look.rise_k,
        "over_neighbours_c": standing.excess_k if standing is not None else None,
        "heat_ratio": ratio,
        "heat_ratio_low": low,
        "heat_ratio_high": high,
        "verdict": row.verdict,
        "reasons": row.reasons,
        "last_clipped": look.bound if math.isfinite(look.last_c) else "",
    }
