"""The parts of report.html: stages, tables, doubts, the job, each as plain words for the template."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from hotspot.doubts import BY_NAME
from hotspot.records import Analysis, StageSpan, bounded
from hotspot.session import Check, Event
from hotspot.tell import pages, words
from hotspot.tell.trend_data import load_text
from hotspot.tell.words import text

QUOTING = "survey_quote"
STEADY = "steady_"
_COLUMNS = ("amps", "last", "rise", "others", "heads", "end", "heat")
_MEANING = ("last", "others", "heads", "end", "heat")
_JOB = ("id", "item", "customer", "technician", "date", "complaint", "cause", "correction", "changed", "notes")
_CASE = ("complaint", "cause", "correction", "changed")


def case(analysis: Analysis) -> list[tuple[str, str]]:
    """Complaint, cause, correction and what was changed before, where they are stated."""
    told = ((text(f"about_{word}"), getattr(analysis.session.job, word)) for word in _CASE)
    return [(word, said) for word, said in told if said]


def not_judged_texts(entries: Iterable[Mapping[str, Any]]) -> list[str]:
    """Why pins were not judged, and the amperes that would do: pins of one reason together, in their order."""
    alike: dict[tuple[str, float | None], list[str]] = {}
    for entry in entries:
        alike.setdefault((entry["reason"], entry["amps_needed"]), []).append(entry["pin"])
    lines = []
    for (reason, enough), pins in alike.items():
        told = text("report_not_judged_pins", pins=tuple(pins), reason=reason)
        said = enough is None or f"{words.number(enough)} A" in reason
        lines.append(told if said else f"{told} {text('report_enough', amps=enough)}")
    return lines


def quotes(analysis: Analysis) -> bool:
    """True where a pin's reasons quote a limit from a published table."""
    return any(reason.code.startswith(QUOTING) for pin in analysis.findings.pins for reason in pin.reasons)


def where(row: Mapping[str, Any], units: str) -> str:
    """A temperature of the pins table with its moment, and rise, ambient and load beside it where they are known."""
    values = {**of_the_end(row), "at": row["last_s"], "amps": row["amps"]}
    values["ambient"] = row["last_c"] - row["rise_c"] if pages.known(row["rise_c"]) else None
    code = "limit_where"
    if values["ambient"] is None:
        code += "_no_air" if pages.known(row["amps"]) else "_neither"
    elif not pages.known(row["amps"]):
        code += "_no_load"
    return text(code, units, **values)


def of_the_end(row: Mapping[str, Any]) -> dict[str, float]:
    """`last`, `rise` and `others` of a row of the pins table, as bounds where the scale ends there."""
    columns = (("last", "last_c"), ("rise", "rise_c"), ("others", "over_neighbours_c"))
    return {word: bounded(row[name], row["last_clipped"]) for word, name in columns}


def hottest_rows(analysis: Analysis) -> dict[str, Mapping[str, Any]]:
    """Per pin the row of the pins table of the stage at whose end it was hottest."""
    found: dict[str, Mapping[str, Any]] = {}
    for row in analysis.findings.pin_table.to_dict("records"):
        best = found.get(row["pin"])
        if pages.known(row["last_c"]) and (best is None or row["last_c"] > best["last_c"]):
            found[row["pin"]] = row
    return found


def stages(analysis: Analysis) -> list[dict[str, Any]]:
    """Per stage: its words in one line, what settled, the hottest pin and where it is heading."""
    table, units = analysis.findings.pin_table, analysis.session.units
    told = []
    for stage in analysis.stages:
        rows = [row for row in table[table["stage"] == stage.name].to_dict("records") if pages.known(row["last_c"])]
        said = [_settled(rows)] if rows else []
        if rows:
            top = max(rows, key=lambda row: row["last_c"])
            said.append(text("report_settled_hottest", pin=top["pin"], where=where(top, units)))
            if pages.known(top["settled_c"]):
                ends = {"settled": top["settled_c"], "low": top["settled_low_c"], "high": top["settled_high_c"]}
                said[-1] += " " + text("report_settled_heads", units, **ends)
        told.append({"name": stage_caption(stage, ambient_in(analysis, stage), units), "said": said})
    return told


def _settled(rows: list[Mapping[str, Any]]) -> str:
    """Which pins had settled at the end of a stage, by the rule that the reasons name."""
    yes, no = ([row["pin"] for row in rows if row["settled"] == word] for word in ("yes", "no"))
    if not yes and not no:
        return text("report_settled_open")
    if len(yes) == len(rows):
        return text("report_settled_all")
    if len(no) == len(rows):
        return text("report_settled_none")
    return text("report_settled_some", pins=yes, others=[row["pin"] for row in rows if row["pin"] not in yes])


def ambient_in(analysis: Analysis, stage: StageSpan) -> float | None:
    """The middle ambient of a stage [°C]; None where it is not known."""
    air = analysis.ambient
    inside = air[(air["time_s"] >= stage.start_s) & (air["time_s"] < stage.end_s)]["ambient_c"].dropna()
    return float(inside.median()) if len(inside) else None


def stage_caption(stage: StageSpan, ambient_c: float | None = None, units: str = "C") -> str:
    """A stage in one line: name, span, load, volts, supply, ambient, frames."""
    told = stage.stage
    parts = [text("report_stage", name=stage.name) if stage.name else text("report_stage_whole")]
    parts.append(text("report_stage_span", first=stage.start_s, last=stage.end_s))
    if told:
        parts.append(load_text(told.amps))
        parts += [text("report_stage_load", load=told.load)] if told.load != "unknown" else []
        parts += [text("report_stage_volts", volts=told.volts)] if told.volts else []
        parts += [text("report_stage_supply", supply=told.supply)] if told.supply else []
    parts += [text("report_stage_ambient", units, ambient=ambient_c)] if ambient_c is not None else []
    count = len(stage.frames)
    parts.append(text("report_stage_frames", count=count) if count else text("report_stage_no_frame"))
    return ", ".join(parts)


def stage_tables(analysis: Analysis) -> list[dict[str, Any]]:
    """A table per stage: caption, heads, and rows of cells under them; columns that no row fills are left out."""
    found, units = [], analysis.session.units
    table = analysis.findings.pin_table
    for stage in analysis.stages:
        rows = table[table["stage"] == stage.name].to_dict("records")
        told = {
            "caption": stage_caption(stage, ambient_in(analysis, stage), units),
            "rows": [{"pin": row["pin"], "cells": _cells(row, units)} for row in rows],
        }
        found.append(told | {"heads": pages.without_empty(heads(units), [told])})
    return found


def heads(units: str) -> list[str]:
    """The headings of a stage's table."""
    temp, rise = pages.units_in_words(units)
    unit_of = {"rise": rise, "others": rise}
    return [text(f"column_{word}", unit=unit_of.get(word, temp)) for word in _COLUMNS]


def legend(tables: Sequence[Mapping[str, Any]], units: str) -> str:
    """What the columns and signs mean that are in the tables of the stages."""
    shown = {head for table in tables for head in table["heads"]}
    named = dict(zip(_COLUMNS, heads(units), strict=True))
    told = [text(f"report_meaning_{word}") for word in _MEANING if named[word] in shown]
    told += [text("report_meaning_range")] if told else []
    cells = [cell for table in tables for row in table["rows"] for cell in row["cells"]]
    return " ".join([*told, *signs_in(cells)])


def signs_in(cells: Iterable[str]) -> list[str]:
    """What the signs of bounds mean, where a cell has one."""
    return [text("report_meaning_bound")] if any(cell.startswith(words.BOUND_SIGNS) for cell in cells) else []


def _cells(row: Mapping[str, Any], units: str) -> list[str]:
    def interval(name: str) -> str:
        return pages.ranged(*(pages.temp_cell(row[f"{name}{end}_c"], units) for end in ("", "_low", "_high")))

    heat = pages.ranged(*(pages.ratio_cell(row[f"heat_ratio{end}"]) for end in ("", "_low", "_high")))
    amps = words.number(row["amps"]) if pages.known(row["amps"]) else pages.ABSENT
    end = of_the_end(row)
    rises = [pages.rise_cell(end[name], units) for name in ("rise", "others")]
    return [amps, pages.temp_cell(end["last"], units), *rises, interval("settled"), interval("end"), heat]


def doubt_rows(analysis: Analysis) -> list[dict[str, str]]:
    """Each doubt that a reading carries: on which pins, on what share of their readings, and what mends it."""
    table = analysis.readings
    held = table["quality"].fillna("").str.split(";")
    rows = []
    for name, doubt in BY_NAME.items():
        with_it = held.map(lambda names, name=name: name in names)
        if with_it.any():
            pins = list(dict.fromkeys(table.loc[with_it, "pin"]))
            every = len(pins) > 1 and len(pins) == table["pin"].nunique()
            row = {"pins": text("report_all") if every else words.joined(pins)}
            row |= {"share": words.per_cent(with_it[table["pin"].isin(pins)].mean())}
            rows.append(row | {"sentence": doubt.sentence, "remedy": doubt.remedy})
    return rows


def about(analysis: Analysis) -> list[tuple[str, str]]:
    """The job's words and the circumstances of the test; what was left blank is left out."""
    session, units = analysis.session, analysis.session.units
    pairs = [(word, getattr(session.job, word)) for word in _JOB]
    surface, connector, camera = session.surface, session.connector, session.camera
    emissivity = f"{surface.emissivity:g}" if surface.emissivity is not None else text("about_emissivity_unknown")
    pairs += [("ambient", _ambient(analysis)), ("emissivity", emissivity)]
    if surface.reflected is not None:
        pairs.append(("reflected", words.temperature(surface.reflected, units)))
    limits = text("about_camera_limits", units, limits=camera.accuracy_k) if camera.accuracy_k else ""
    pairs.append(("camera", " · ".join(part for part in (camera.name, limits) if part)))
    pairs += [("face", connector.face or ""), ("pin1", connector.pin1)]
    for word, value in (("rated", connector.rated), ("wire_rated", connector.wire_rated)):
        pairs.append((word, words.temperature(value, units) if value is not None else ""))
    return [(text(f"about_{word}"), said) for word, said in pairs if said]


def _ambient(analysis: Analysis) -> str:
    """The ambient of the test; that it is an estimate, where it is, and how unsure."""
    known, units = analysis.ambient["ambient_c"].dropna(), analysis.session.units
    if not len(known):
        return text("about_ambient_unknown")
    low, high = float(known.min()), float(known.max())
    code = (
        "about_ambient_range"
        if words.temperature(low, units) != words.temperature(high, units)
        else "about_ambient_one"
    )
    told = text(code, units, low=low, high=high)
    unsure = analysis.settings.get("ambient", {}).get("uncertainty_k")
    return told if unsure is None else text("about_ambient_estimated", units, ambient=told, unsure=unsure)


def check_text(check: Check) -> str:
    """What was measured by hand, in one line."""
    values = ((check.volts, "V"), (check.amps, "A"), (check.ohms, "Ω"))
    measured = [f"{words.number(value)} {unit}" for value, unit in values if value is not None]
    measured += [text("report_check_stage", stage=check.stage)] if check.stage else []
    measured += [check.note] if check.note else []
    return text("report_check", pin=check.pin, kind=check.kind, values=", ".join(measured))


def event_text(event: Event) -> str:
    """What happened, with its moment."""
    code = "report_event_pin" if event.pin else "report_event"
    return text(code, at=event.time_s, what=event.what, pin=event.pin)
