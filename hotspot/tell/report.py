"""report.html: one file for a person, from the answer down to the recipe. Needs no network and no second file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hotspot.doubts import BY_NAME
from hotspot.records import Analysis
from hotspot.session import Check, Job, Part, is_temperature
from hotspot.tell import pages, words
from hotspot.tell.cautions import cautions
from hotspot.tell.marked import Marked, data_uri, words_under
from hotspot.tell.tables import findings_dict
from hotspot.tell.trend_data import load_text

VERDICT_WORDS = {
    "hot": "HOT: at least one pin makes more heat than it should, or is over its rating",
    "watch": "WATCH: nothing certain, but something to keep an eye on",
    "normal": "NORMAL: no pin stands out",
    "unknown": "UNKNOWN: this test does not allow a verdict",
}
_ORDER = {"hot": 0, "watch": 1, "normal": 2, "unknown": 3}
_JOB = ("id", "item", "customer", "technician", "date", "complaint", "changed", "notes")


def page(analysis: Analysis, trend_svg: str, pictures: Sequence[Marked], written: str | None = None) -> str:
    """The report as HTML text; `written` is its clock line (now, if None). All text of the user is escaped."""
    told, session = findings_dict(analysis), analysis.session
    units = session.units
    stages = stage_tables(analysis)
    shown = [
        {"uri": data_uri(p.pixels), "height": p.pixels.shape[0], "width": p.pixels.shape[1], "caption": p.caption}
        for p in pictures
    ]
    return pages.render(
        "report.html",
        title=session.title.strip() or "Load test of a connector",
        subtitle=" · ".join(text for text in (session.job.item, session.job.id, session.job.date) if text),
        told=told,
        verdict_words=VERDICT_WORDS[told["verdict"]],
        chart=pages.inline_svg(trend_svg),
        chart_words=chart_words(analysis),
        pictures=shown,
        picture_words=words_under(analysis),
        pins=sorted(told["pins"], key=lambda pin: _ORDER[pin["verdict"]]),
        heads=pages.without_empty(_heads(units), stages),
        stages=stages,
        doubts=doubt_rows(analysis),
        cautions=cautions(units),
        about=about(analysis),
        checks=[check_text(check) for check in session.check],
        events=[_event_text(event.time_s, event.what, event.pin) for event in session.event],
        settings=recipe(analysis),
        written=written or pages.written_now(),
    )


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
    """A table per stage: caption, and rows of cells under `_heads`."""
    found, units = [], analysis.session.units
    table = analysis.findings.pin_table
    for stage in analysis.stages:
        rows = table[table["stage"] == stage.name].to_dict("records")
        cells = [{"pin": row["pin"], "cells": _cells(row, units)} for row in rows]
        found.append({"caption": stage_caption(stage), "rows": cells})
    return found


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
        pairs.append(("ambient", low if low == high else f"{low} to {high}"))
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


def recipe(analysis: Analysis) -> list[tuple[str, str]]:
    """How the numbers were made: the settings, and what the session states beyond the defaults."""
    told_above = {"title": "", "job": Job(), "stage": [], "check": [], "event": []}
    stated = analysis.session.model_copy(update=told_above)
    settings = {name: value for name, value in analysis.settings.items() if name != "session"}
    return _flat(settings) + _stated(stated, analysis.session.units, "stated: ")


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
    return ["amps [A]", f"last [{temp}]", f"rise [{rise}]", f"over peers [{rise}]", f"settles at [{temp}]",
            f"at planned end [{temp}]", "heat ratio"]  # fmt: skip


def _cells(row: Mapping[str, Any], units: str) -> list[str]:
    def interval(name: str) -> str:
        return pages.ranged(*(pages.temp_cell(row[f"{name}{end}_c"], units) for end in ("", "_low", "_high")))

    heat = pages.ranged(*(pages.ratio_cell(row[f"heat_ratio{end}"]) for end in ("", "_low", "_high")))
    amps = words.number(row["amps"]) if pages.known(row["amps"]) else pages.ABSENT
    rises = [pages.rise_cell(row[name], units) for name in ("rise_c", "over_neighbours_c")]
    return [amps, pages.temp_cell(row["last_c"], units), *rises, interval("settled"), interval("end"), heat]


def _flat(settings: Mapping[str, Any], before: str = "") -> list[tuple[str, str]]:
    """Settings as pairs of words, nested ones with their path."""
    pairs: list[tuple[str, str]] = []
    for key, value in settings.items():
        name = f"{before}{str(key).replace('_', ' ')}"
        if isinstance(value, Mapping):
            pairs += _flat(value, f"{name}: ")
        elif isinstance(value, list | tuple):
            pairs.append((name, words.joined(value)))
        else:
            pairs.append((name, words.NOT_KNOWN if value is None else words.worded(value, "", "C")))
    return pairs


def _stated(part: Part, units: str, before: str = "") -> list[tuple[str, str]]:
    """The keys of a session that differ from their defaults; a line for each item of its lists."""
    pairs: list[tuple[str, str]] = []
    for key, field in type(part).model_fields.items():
        value, name = getattr(part, key), f"{before}{key.replace('_', ' ')}"
        if field.exclude or value == field.default:
            continue
        if isinstance(value, Part):
            pairs += _stated(value, units, f"{name}: ")
        elif isinstance(value, list) and isinstance(value[0], Part):
            lines = (", ".join(f"{word} {text}" for word, text in _stated(item, units)) for item in value)
            pairs += [(f"{name} {count}", line) for count, line in enumerate(lines, 1)]
        elif isinstance(value, Mapping):
            pairs.append((name, ", ".join(f"{word}: {text}" for word, text in value.items())))
        else:
            form = "temp" if is_temperature(type(part), key) else "list" if isinstance(value, list) else ""
            pairs.append((name, words.worded(value, form, units)))
    return pairs
