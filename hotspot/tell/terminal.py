"""Findings as plain lines for a terminal: the answer, then each pin, then what to do."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from hotspot.records import Analysis, Comparison
from hotspot.tell import look, pages, words
from hotspot.tell.basis import basis_lines, least_shown, rises_of
from hotspot.tell.report_parts import STEADY, hottest_rows, not_judged_texts, of_the_end
from hotspot.tell.tables import compare_dict, findings_dict, units_of
from hotspot.tell.trend_data import load_text

WIDTH = 96
MOST_WARNINGS = 8
MOST_REASONS = {"hot": 3, "watch": 2, "normal": 1, "unknown": 2}
"""Reasons of a pin in the terminal, the weightiest first; the report has them all."""
_ORDER = {"hot": 0, "watch": 1, "normal": 2, "unknown": 3}


def summary(analysis: Analysis, out: Path | None = None) -> str:
    """The findings of one session; `out` is where its files lie, if they were written."""
    told, units = findings_dict(analysis), analysis.session.units
    lines = [look.shortened(told["title"], WIDTH)] if told["title"] else []
    lines += wrapped(told["answer"]) + [""]
    last = hottest_rows(analysis)
    over = words.text(
        "terminal_over_estimate" if "uncertainty_k" in analysis.settings.get("ambient", {}) else "terminal_over"
    )
    width = max([3, *(len(look.shortened(pin["name"], 20)) for pin in told["pins"])])
    for pin in sorted(told["pins"], key=lambda pin: _ORDER[pin["verdict"]]):
        lines += _pin_lines(pin, {**last.get(pin["name"], {}), "over": over}, units, width)
    for line in not_judged_texts(told["not_judged"]):
        lines += wrapped(words.text("terminal_not_judged", what=line), "  ")
    for near in told["limits"][:1]:
        lines += wrapped(words.text("terminal_nearest", limit=near), "  ")
    if told["next"]:
        lines += ["", words.text("terminal_next")]
        for place, step in enumerate(told["next"], 1):
            lines += wrapped(step, f"  {place}. ")
    lines += _warning_lines(told["warnings"])
    lines += _where(out, "report.html", "trend.png")
    if out is not None and any(len(pin["reasons"]) > MOST_REASONS[pin["verdict"]] for pin in told["pins"]):
        lines.append(words.text("terminal_all"))
    return "\n".join(lines) + "\n"


def comparison_summary(history: Sequence[Comparison], out: Path | None = None) -> str:
    """Each later test against the first in plain lines; `out` is where the files lie, if they were written."""
    lines = [line for comparison in history for line in _pair_lines(comparison)]
    lines += _where(out, "compare.html", "compare.png")
    return "\n".join(lines) + "\n"


def _pair_lines(comparison: Comparison) -> list[str]:
    told, units = compare_dict(comparison), units_of(comparison)
    lines = [f"{told['answer'].upper()}  ({told['before']} against {told['after']})"]
    lines += wrapped(told["sentence"]) + [""]
    width = max([3, *(len(look.shortened(row["pin"], 20)) for row in told["pins"])])
    for stage in dict.fromkeys(row["stage"] for row in told["pins"]):
        lines += [f"Stage {look.shortened(stage, 40)}:"] if stage else []
        here = [row for row in told["pins"] if row["stage"] == stage]
        lines += [_change(row, units, width) for row in here]
        least = least_shown(here, units)
        lines += wrapped(least, "  ") if least else []
    lines.append("")
    for text in basis_lines(told):
        lines += wrapped(text, "  ")
    return lines + _warning_lines(told["warnings"])


def _pin_lines(pin: Mapping[str, Any], row: Mapping[str, Any], units: str, width: int) -> list[str]:
    """`  5  hot      66.2 °C, 45.2 K over ambient`, and the reasons under it; `over`: what the rise is over."""
    line = f"  {look.shortened(pin['name'], 20):<{width}}  {pin['verdict']:<8}"
    if pages.known(row.get("last_c")):
        end = of_the_end(row)
        said = words.temperature(end["last"], units)
        if pages.known(row["rise_c"]):
            said = words.text("terminal_risen", units, value=said, rise=end["rise"], over=row["over"])
        said = words.text("terminal_at", what=said, at=row["last_s"]) if pages.known(row["last_s"]) else said
        said += f", {load_text(row['amps'])}" if pages.known(row["amps"]) else ""
        line += f" {said}"
    lines = [line.rstrip()]
    shown = pin["reasons"][: MOST_REASONS[pin["verdict"]]]
    for reason in shown:
        lines += wrapped(reason, " " * (width + 5))
    return lines


def _change(row: Mapping[str, Any], units: str, width: int) -> str:
    """`  2  better   46.0 to 18.4 K (46.0 expected), change -27.6 (-30.0 to -24.0) K, repaired: yes`."""
    before, after, expected = (pages.rise_cell(rises_of(row)[word], units) for word in ("before", "after", "expected"))
    change = pages.ranged(*(pages.rise_cell(row[f"change{end}_c"], units) for end in ("", "_low", "_high")))
    unit = pages.units_in_words(units)[1]
    text = f"  {look.shortened(row['pin'], 20):<{width}}  {row['verdict']:<14}  "
    text += f"rise {before} to {after} {unit} ({expected} expected), change {change} {unit}"
    return text + (f", repaired: {row['repaired']}" if row["repaired"] else "")


def _warning_lines(warnings: list[Mapping[str, Any]]) -> list[str]:
    quoted = [one for one in warnings if one["code"].startswith(STEADY)]
    warnings = [one for one in warnings if one not in quoted]
    lines = ["", words.text("terminal_noticed")] if warnings or quoted else []
    for warning in warnings[:MOST_WARNINGS]:
        where = f" ({pages.frame_list(warning['frames'])})" if warning["frames"] else ""
        lines += wrapped(f"{warning['text']}{where}", "  - ")
    rest = len(warnings) - MOST_WARNINGS
    lines += ["  " + words.text("terminal_more", count=rest)] if rest > 0 else []
    return [*lines, *wrapped(words.text("terminal_steady", count=len(quoted)), "  - ")] if quoted else lines


def _where(out: Path | None, *names: str) -> list[str]:
    return ["", *(f"{Path(out) / name}" for name in names)] if out is not None else []


def wrapped(text: str, before: str = "") -> list[str]:
    """A sentence in lines as wide as the terminal, `before` in front of the first and as much room before the rest."""
    flat = " ".join(text.split())
    wide = max(40, min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns))
    return textwrap.wrap(flat, wide, initial_indent=before, subsequent_indent=" " * len(before)) or [before.rstrip()]


def listed(texts: Iterable[str]) -> str:
    """Sentences as a wrapped list, for the cautions before a test."""
    return "\n".join(line for text in texts for line in wrapped(text, "  - ")) + "\n"
