"""Results for machines: CSV and JSON, always °C, K, s and A, in the columns and keys of the contract.

Text is UTF-8 with LF line ends; a number that is not known is an empty cell or null, never NaN. The same
results give the same bytes.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.columns import COMPARE, PINS, READINGS, Column, column_names
from hotspot.records import Analysis, Comparison, Statement
from hotspot.tell import report_parts
from hotspot.tell.cautions import cautions
from hotspot.tell.words import say, say_all

if TYPE_CHECKING:
    import pandas as pd

DECIMALS = {"s": 6, "": 6}
"""Decimals kept, by unit; 4 for the rest: far below any uncertainty, so nothing is lost."""


def readings_csv(analysis: Analysis) -> str:
    """The text of readings.csv: a row per frame and pin."""
    return _csv(READINGS, analysis.readings, analysis.session.units)


def pins_csv(analysis: Analysis) -> str:
    """The text of pins.csv: a row per stage and pin."""
    return _csv(PINS, analysis.findings.pin_table, analysis.session.units)


def compare_csv(history: Sequence[Comparison]) -> str:
    """The text of compare.csv: a row per later session, stage and pin, the earliest session first."""
    import pandas as pd

    tables = [comparison.table.assign(session=comparison.after.name) for comparison in history]
    return _csv(COMPARE, pd.concat(tables, ignore_index=True), units_of(history[-1]))


def findings_dict(analysis: Analysis) -> dict[str, Any]:
    """The content of findings.json: plain dicts, lists, strings, finite numbers, booleans and None."""
    findings, session, units = analysis.findings, analysis.session, analysis.session.units
    return plain(
        {
            "answer": say(findings.answer, units),
            "verdict": findings.verdict,
            "hottest_pin": findings.hottest_pin,
            "source_pins": findings.source_pins,
            "not_judged": [_not_judged(entry, units) for entry in findings.not_judged],
            "pins": [
                {
                    "name": pin.name,
                    "x_px": pin.x_px,
                    "y_px": pin.y_px,
                    "radius_px": pin.radius_px,
                    "placed": pin.placed,
                    "verdict": pin.verdict,
                    "reasons": say_all(pin.reasons, units),
                }
                for pin in findings.pins
            ],
            "stages": [
                {
                    "name": stage.name,
                    "start_s": stage.start_s,
                    "end_s": round(stage.end_s, 6),  # the last frame's end is a hair's breadth past it
                    "frames": len(stage.frames),
                    "amps": stage.stage.amps if stage.stage else None,
                    "ambient_c": report_parts.ambient_in(analysis, stage),
                }
                for stage in analysis.stages
            ],
            "next": say_all(findings.next, units),
            "limits": say_all(findings.limits, units),
            "notes": analysis.papers.notes,
            "photos": [photo.name for photo in analysis.papers.photos],
            "warnings": warnings_of(analysis),
            "doubts": report_parts.doubt_rows(analysis),
            "cautions": cautions(units),
            "numbers": _numbers(findings.pin_table),
            "inputs": _inputs(analysis.inputs),
            "title": session.title,
            "units": units,
            "settings": {"session": session.model_dump(mode="json"), **analysis.settings},
            "version": analysis.version,
        }
    )


def _numbers(pin_table: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of pins.csv, their reasons left out: they stand with the pins."""
    columns = [name for name in column_names(PINS) if name != "reasons"]
    return [{name: row[name] for name in columns} for row in pin_table.to_dict("records")]


def history_dict(history: Sequence[Comparison]) -> dict[str, Any]:
    """The content of compare.json: the latest session against the first; with more than two sessions also
    `later`, one such block for each session after the first.
    """
    blocks = [compare_dict(comparison) for comparison in history]
    return blocks[-1] if len(blocks) == 1 else {**blocks[-1], "later": blocks}


def compare_dict(comparison: Comparison) -> dict[str, Any]:
    """Two sessions compared, plain as `findings_dict`."""
    units = units_of(comparison)
    table = comparison.table.assign(session=comparison.after.name)
    rows = table[column_names(COMPARE)].to_dict("records")
    pins = [{**row, "basis": say_all(row["basis"], units)} for row in rows]
    return plain(
        {
            "answer": comparison.answer,
            "sentence": say(comparison.sentence, units),
            "pins": pins,
            "smallest_change_c": comparison.smallest_change_k,
            "basis": say_all(comparison.basis, units),
            "warnings": _warnings(comparison.notices, units),
            "before": comparison.before.name,
            "after": comparison.after.name,
            "inputs": _inputs(comparison.inputs),
            "units": units,
            "version": comparison.version,
        }
    )


def warnings_of(analysis: Analysis) -> list[dict[str, Any]]:
    """Everything that was noticed, each once: `code`, `text`, `frames`."""
    placed = analysis.pin_map.notices if analysis.pin_map else ()
    return _warnings((*analysis.notices, *placed, *analysis.findings.notices), analysis.session.units)


def units_of(comparison: Comparison) -> str:
    """The unit that people read a comparison in: that of the later session."""
    units = comparison.after.findings.get("units", "C")
    return units if units in ("C", "F", "K") else "C"


def json_text(content: Mapping[str, Any]) -> str:
    """Plain content -> the text of a JSON file: UTF-8, two spaces, LF at the end. NaN raises ValueError."""
    return json.dumps(content, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """Anything -> what JSON can hold: NaN, infinities and missing values are None, arrays are lists.

    Floats keep nine significant digits: more than any reading has, and the same text on every machine.
    """
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, Statement):
        return say(value)
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(each) for each in (sorted(value) if isinstance(value, set | frozenset) else value)]
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        return float(f"{value:.9g}") + 0.0 if math.isfinite(value) else None
    return value.as_posix() if isinstance(value, PurePath) else str(value)


def _not_judged(entry: Mapping[str, Any], units: str) -> dict[str, Any]:
    reason = " ".join(say_all(entry["reason"], units))
    return {"pin": entry["pin"], "reason": reason, "amps_needed": entry.get("amps_needed")}


def _warnings(statements: Iterable[Statement], units: str) -> list[dict[str, Any]]:
    """Said once each, in the order in which they came."""
    once: dict[tuple, dict[str, Any]] = {}
    for statement in statements:
        frames = [int(frame) for frame in statement.frames]
        text = say(statement, units)
        entry = {"code": statement.code, "text": text, "frames": frames}
        once.setdefault((statement.code, text, tuple(frames)), entry)
    return list(once.values())


def _inputs(inputs: Mapping[str, str]) -> list[dict[str, str]]:
    return [{"name": name, "sha256": digest} for name, digest in sorted(inputs.items())]


def _csv(columns: tuple[Column, ...], table: pd.DataFrame, units: str) -> str:
    """A table in the order of its columns; a column that is missing raises KeyError."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(column_names(columns))
    known = {column.name: table[column.name].astype(object) for column in columns}
    known = {name: values.where(values.notna(), None).tolist() for name, values in known.items()}
    cells = [[_cell(column, value, units) for value in known[column.name]] for column in columns]
    writer.writerows(zip(*cells, strict=True))
    return out.getvalue()


def _cell(column: Column, value: Any, units: str) -> str:
    if column.kind == "text":
        return " | ".join(say_all(value, units)) if not isinstance(value, str) else value
    if value is None or not math.isfinite(value):
        return ""
    if column.kind == "int":
        return str(int(value))
    text = f"{value:.{DECIMALS.get(column.unit, 4)}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
