"""report.html: one file for a person, from the answer down to the recipe. Needs no network and no second file."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from hotspot.doubts import BY_NAME
from hotspot.records import Analysis
from hotspot.session import Check
from hotspot.tell import charts, heat_picture, large_frame, look, pages, recipe, slides, trend_table, words
from hotspot.tell.cautions import cautions, vital
from hotspot.tell.slides import Slides
from hotspot.tell.tables import findings_dict
from hotspot.tell.trend_data import load_text

VERDICT_WORDS = {
    "hot": "HOT: at least one pin makes more heat than it should, or is over its rating",
    "watch": "WATCH: nothing certain, but something to keep an eye on",
    "normal": "NORMAL: no pin stands out",
    "unknown": "UNKNOWN: this test does not allow a verdict",
}
_ORDER = {"hot": 0, "watch": 1, "normal": 2, "unknown": 3}
QUOTING = "survey_quote"
_MEANING = {
    "at the end": "At the end: the last reading of the stage.",
    "over the others": "Over the others: above the middle one of the pins that carry about the same current.",
    "heads for": "Heads for: where the pin would settle if the load went on.",
    "at the planned end": "At the planned end: what is to be expected where the recording stopped before the stage.",
    "heat": "Heat: what is made at the pin itself, each at its own current; 1 is like the others.",
}
_JOB = ("id", "item", "customer", "technician", "date", "complaint", "changed", "notes")


@dataclass(frozen=True, slots=True)
class Shown:
    """The pictures of a report: chart, large marked frame, heat per pin as HTML (empty for none); frames to look at."""

    chart: str
    large: str = ""
    heat: str = ""
    film: Slides | None = None
    trend: Mapping[str, Any] | None = None


def drawn(analysis: Analysis, trend_svg: str) -> Shown:
    """What a report shows, beside what is drawn already: the chart's wide form."""
    small = charts.trend(analysis, form=charts.NARROW)
    narrow, span = look.svg_text(small), tuple(map(float, small.axes[0].get_xlim()))
    large = [large_frame.large_frame(analysis, form) for form in (large_frame.WIDE, large_frame.NARROW)]
    both = pages.inline_both("f", *map(look.svg_text, large)) if None not in large else ""
    return Shown(
        chart=pages.inline_both("t", trend_svg, narrow),
        large=both,
        heat=heat_picture.heat_html(analysis),
        film=slides.slides(analysis),
        trend=trend_table.readout(analysis, span),
    )


def page(analysis: Analysis, shown: Shown, written: str | None = None) -> str:
    """The report as HTML text; `written` is its clock line (now, if None). All text of the user is escaped."""
    told, session = findings_dict(analysis), analysis.session
    stages = stage_tables(analysis)
    return pages.render(
        "report.html",
        title=session.title.strip() or "Load test of a connector",
        subtitle=" · ".join(text for text in (session.job.item, session.job.id, session.job.date) if text),
        told=told,
        verdict_words=VERDICT_WORDS[told["verdict"]],
        chart=shown.chart,
        chart_words=chart_words(analysis),
        large=shown.large,
        heat=shown.heat,
        heat_words=heat_picture.caption(analysis),
        large_words=large_frame.caption(analysis),
        film=shown.film,
        trend=shown.trend,
        trend_table=trend_table.table(shown.trend),
        pins=sorted(told["pins"], key=lambda pin: _ORDER[pin["verdict"]]),
        not_judged=[not_judged_text(entry) for entry in told["not_judged"]],
        quoted=_quotes(analysis),
        stages=stages,
        legend=legend({head for stage in stages for head in stage["heads"]}),
        doubts=doubt_rows(analysis),
        vital=vital(session.units),
        cautions=cautions(session.units),
        about=about(analysis),
        checks=[check_text(check) for check in session.check],
        events=[_event_text(event.time_s, event.what, event.pin) for event in session.event],
        made=recipe.made(analysis),
        stated=recipe.stated(analysis),
        written=written or pages.written_now(),
    )


def not_judged_text(entry: Mapping[str, Any]) -> str:
    """Why a pin was not judged, and the amperes that would do, said once."""
    enough = entry["amps_needed"]
    said = enough is None or f"{words.number(enough)} A" in entry["reason"]
    more = "" if said else f" {words.number(enough)} A would be enough."
    return f"Pin {entry['pin']}: {entry['reason']}{more}"


def _quotes(analysis: Analysis) -> bool:
    """True where a pin's reasons quote a limit from a published table."""
    return any(reason.code.startswith(QUOTING) for pin in analysis.findings.pins for reason in pin.reasons)


def chart_words(analysis: Analysis) -> str:
    """What the chart shows, for those who cannot see it: the span, and the hottest pin's last value."""
    table = analysis.readings
    if not len(table):
        return "No reading was made, so the chart is empty."
    span = f"from {words.clock(table['time_s'].min())} to {words.clock(table['time_s'].max())}"
    pins = table["pin"].nunique()
    text = f"{pins} pin{'s' if pins != 1 else ''} {span}, minutes:seconds of the test."
    rows = analysis.findings.pin_table
    best = rows.dropna(subset=["last_c"])
    if analysis.findings.hottest_pin is None or not len(best):
        return text
    top = best.loc[best["last_c"].astype(float).idxmax()]
    value = words.temperature(top["last_c"], analysis.session.units)
    return f"{text} Pin {top['pin']} was the hottest: {value} at {words.clock(top['last_s'])}."


def stage_tables(analysis: Analysis) -> list[dict[str, Any]]:
    """A table per stage: caption, heads, and rows of cells under them; columns that no row fills are left out."""
    found, units = [], analysis.session.units
    table = analysis.findings.pin_table
    for stage in analysis.stages:
        rows = table[table["stage"] == stage.name].to_dict("records")
        told = {"caption": stage_caption(stage), "rows": [{"pin": r["pin"], "cells": _cells(r, units)} for r in rows]}
        found.append(told | {"heads": pages.without_empty(_heads(units), [told])})
    return found


def legend(heads: Collection[str]) -> str:
    """What the columns mean that are there."""
    told = [text for word, text in _MEANING.items() if any(head.startswith(word) for head in heads)]
    return " ".join(told)


def stage_caption(stage: Any) -> str:
    """A stage in one line: name, span, load, volts, supply, frames."""
    told = stage.stage
    parts = [f"Stage {stage.name}" if stage.name else "The whole run"]
    parts.append(f"{words.clock(stage.start_s)} to {words.clock(stage.end_s)}")
    if told:
        parts.append(load_text(told.amps))
        parts += [f"{told.load} load"] if told.load != "unknown" else []
        parts += [f"{words.number(told.volts)} V"] if told.volts else []
        parts += [f"from {told.supply}"] if told.supply else []
    count = len(stage.frames)
    parts.append(f"{count} frame{'s' if count != 1 else ''}" if count else "no frame")
    return ", ".join(parts)


def doubt_rows(analysis: Analysis) -> list[dict[str, str]]:
    """Each doubt that a reading carries: on which pins, on what share of the readings, and what mends it."""
    table = analysis.readings
    held = table["quality"].fillna("").str.split(";")
    rows = []
    for name, doubt in BY_NAME.items():
        with_it = held.map(lambda names, name=name: name in names)
        if with_it.any():
            pins = list(dict.fromkeys(table.loc[with_it, "pin"]))
            every = len(pins) > 1 and len(pins) == table["pin"].nunique()
            row = {"pins": "all" if every else words.joined(pins), "share": words.per_cent(with_it.mean())}
            rows.append(row | {"sentence": doubt.sentence, "remedy": doubt.remedy})
    return rows


def about(analysis: Analysis) -> list[tuple[str, str]]:
    """The job's words and the circumstances of the test; what was left blank is left out."""
    session, units = analysis.session, analysis.session.units
    pairs = [(word, getattr(session.job, word)) for word in _JOB]
    surface, connector, camera = session.surface, session.connector, session.camera
    ambient = analysis.ambient["ambient_c"].dropna()
    if len(ambient):
        low, high = (words.temperature(value, units) for value in (ambient.min(), ambient.max()))
        pairs.append(("ambient", (low if low == high else f"{low} to {high}") + estimated_text(analysis)))
    else:
        pairs.append(("ambient", words.NOT_KNOWN))
    pairs.append(("emissivity", "not known" if surface.emissivity is None else f"{surface.emissivity:g}"))
    if surface.reflected is not None:
        pairs.append(("reflected temperature", words.temperature(surface.reflected, units)))
    limits = f"maker's limits of error ±{words.difference(camera.accuracy_k or 0.0, units)}"
    pairs.append(("camera", " · ".join(t for t in (camera.name, limits if camera.accuracy_k else "") if t)))
    pairs += [("face seen", connector.face or ""), ("pin 1", connector.pin1)]
    for word, value in (("rating", connector.rated), ("wire rating", connector.wire_rated)):
        pairs.append((word, words.temperature(value, units) if value is not None else ""))
    return [(word, text) for word, text in pairs if text]


def estimated_text(analysis: Analysis) -> str:
    """That the ambient is an estimate, where it is, and how unsure."""
    unsure = analysis.settings.get("ambient", {}).get("uncertainty_k")
    told = "" if unsure is None else words.difference(unsure, analysis.session.units)
    return f" - estimated from the cold start, standard uncertainty {told}" if told else ""


def check_text(check: Check) -> str:
    """What was measured by hand, in one line."""
    values = ((check.volts, "V"), (check.amps, "A"), (check.ohms, "Ω"))
    measured = [f"{words.number(value)} {unit}" for value, unit in values if value is not None]
    stage = [f"stage {check.stage}"] if check.stage else []
    return f"Pin {check.pin}, {check.kind}: " + ", ".join([*measured, *stage, *([check.note] if check.note else [])])


def _event_text(time_s: float, what: str, pin: str | None) -> str:
    return f"{words.clock(time_s)}  {what}" + (f" (pin {pin})" if pin else "")


def _heads(units: str) -> list[str]:
    temp, rise = pages.units_in_words(units)
    return ["amps [A]", f"at the end [{temp}]", f"over ambient [{rise}]", f"over the others [{rise}]",
            f"heads for [{temp}]", f"at the planned end [{temp}]", "heat, times the others'"]  # fmt: skip


def _cells(row: Mapping[str, Any], units: str) -> list[str]:
    def interval(name: str) -> str:
        return pages.ranged(*(pages.temp_cell(row[f"{name}{end}_c"], units) for end in ("", "_low", "_high")))

    heat = pages.ranged(*(pages.ratio_cell(row[f"heat_ratio{end}"]) for end in ("", "_low", "_high")))
    amps = words.number(row["amps"]) if pages.known(row["amps"]) else pages.ABSENT
    rises = [pages.rise_cell(row[name], units) for name in ("rise_c", "over_neighbours_c")]
    return [amps, pages.temp_cell(row["last_c"], units), *rises, interval("settled"), interval("end"), heat]
