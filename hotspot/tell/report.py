"""report.html: one file for a person, from the answer down to the recipe. Needs no network and no second file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hotspot.records import Analysis
from hotspot.tell import charts, heat_picture, large_frame, look, pages, papers, recipe, slides, trend_table
from hotspot.tell import report_parts as parts
from hotspot.tell.cautions import cautions, vital
from hotspot.tell.slides import Slides
from hotspot.tell.tables import findings_dict
from hotspot.tell.words import text

_ORDER = {"hot": 0, "watch": 1, "normal": 2, "unknown": 3}


@dataclass(frozen=True, slots=True)
class Shown:
    """The pictures of a report: chart, large marked frame, heat per pin as HTML (empty for none); frames to look at."""

    chart: str
    large: str = ""
    heat: str = ""
    film: Slides | None = None
    trend: Mapping[str, Any] | None = None
    scrolls: bool = False  # the chart has one form only, which a narrow screen scrolls


MOST_BYTES = 1_500_000
"""Of a report: what goes by mail, and opens on a phone."""
_FEWEST = 60_000
_BYTES_PER_PIN, _BYTES_PER_ROW, _BYTES_BESIDE = 1_200, 250, 60_000


def drawn(analysis: Analysis, trend_svg: str) -> Shown:
    """What a report shows, beside what is drawn already: the chart's wide form."""
    small = charts.trend(analysis, form=charts.NARROW)
    narrow, span = look.svg_text(small), tuple(map(float, small.axes[0].get_xlim()))
    many = len(analysis.findings.pins) > charts.MANY
    chart = pages.inline_wide("t", trend_svg) if many else pages.inline_both("t", trend_svg, narrow)
    large, heat = large_frame.large_html(analysis), heat_picture.heat_html(analysis)
    left = MOST_BYTES - len(chart) - len(large) - len(heat) - _beside(analysis)
    film = slides.slides(analysis, min(slides.MOST_BYTES, max(_FEWEST, left)))
    return Shown(chart, large, heat, film, trend_table.readout(analysis, span), scrolls=many)


def _beside(analysis: Analysis) -> int:
    """About how many bytes photographs, notes, tables and the rest of the page take."""
    photos = sum(len(photo.jpeg) for photo in analysis.papers.photos) * 4 // 3
    pins = len(analysis.findings.pins)
    rows = pins * _BYTES_PER_PIN + pins * len(analysis.stages) * _BYTES_PER_ROW
    values = trend_table.bytes_of(analysis)
    return photos + 2 * len(analysis.papers.notes) + rows + values + _BYTES_BESIDE


def page(analysis: Analysis, shown: Shown, written: str | None = None) -> str:
    """The report as HTML text; `written` is its clock line (now, if None). All text of the user is escaped."""
    told, session = findings_dict(analysis), analysis.session
    return pages.render(
        "report.html",
        title=session.title.strip() or text("report_untitled"),
        subtitle=[part for part in (session.job.item, session.job.id, session.job.date) if part],
        told=told,
        shown=shown,
        written=written or pages.written_now(),
        vital=vital(session.units),
        cautions=cautions(session.units),
        **_pictures(analysis, shown),
        **_pins(analysis, told),
        **_sureness(analysis, told),
        **_job(analysis),
    )


def _pictures(analysis: Analysis, shown: Shown) -> dict[str, Any]:
    """What is said of the chart and of the pictures."""
    return {
        "chart_words": chart_words(analysis),
        "heat_words": heat_picture.caption(analysis),
        "large_words": large_frame.caption(analysis),
        "trend_table": trend_table.table(shown.trend),
    }


def _pins(analysis: Analysis, told: Mapping[str, Any]) -> dict[str, Any]:
    """Pins with their reasons, worst first; stages; the tables of numbers."""
    units, hottest = analysis.session.units, parts.hottest_rows(analysis)
    tables = parts.stage_tables(analysis)
    pins = [
        pin | {"where": parts.where(hottest[pin["name"]], units) if pin["name"] in hottest else ""}
        for pin in sorted(told["pins"], key=lambda pin: _ORDER[pin["verdict"]])
    ]
    return {
        "pins": pins,
        "quoted": parts.quotes(analysis),
        "spans": parts.stages(analysis),
        "tables": tables,
        "legend": parts.legend(tables, units),
    }


def _sureness(analysis: Analysis, told: Mapping[str, Any]) -> dict[str, Any]:
    """What was not judged, what was noticed, what puts a reading in doubt."""
    steady = [one["text"] for one in told["warnings"] if one["code"].startswith(parts.STEADY)]
    return {
        "not_judged": parts.not_judged_texts(told["not_judged"]),
        "noticed": [one for one in told["warnings"] if not one["code"].startswith(parts.STEADY)],
        "steady": steady,
        "doubts": parts.doubt_rows(analysis),
    }


def _job(analysis: Analysis) -> dict[str, Any]:
    """The person's own words, photographs, and how the numbers were made."""
    session = analysis.session
    return {
        "case": parts.case(analysis),
        "about": parts.about(analysis),
        "checks": [parts.check_text(check) for check in session.check],
        "events": [parts.event_text(event) for event in session.event],
        "notes": papers.notes_html(analysis.papers.notes),
        "photos": papers.photo_figures(analysis.papers),
        "made": recipe.made(analysis),
        "stated": recipe.stated(analysis),
    }


def chart_words(analysis: Analysis) -> str:
    """What the chart shows, for those who cannot see it: the span, and the hottest pin's last value."""
    table = analysis.readings
    if not len(table):
        return text("report_chart_empty")
    count = table["pin"].nunique()
    said = text("report_chart_span", count=count, first=table["time_s"].min(), last=table["time_s"].max())
    hottest = parts.hottest_rows(analysis)
    if analysis.findings.hottest_pin is None or not hottest:
        return said
    top = max(hottest.values(), key=lambda row: row["last_c"])
    where = parts.where(top, analysis.session.units)
    return f"{said} {text('report_chart_hottest', pin=top['pin'], where=where)}"
