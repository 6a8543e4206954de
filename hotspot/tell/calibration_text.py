"""What `hotspot calibrate` and `hotspot check-camera` print, and the calibration file itself."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from hotspot.records import Statement
from hotspot.tell.words import say, temperature

if TYPE_CHECKING:
    from hotspot.calibration import Calibration, ReferencePoint

_HEAD = "# Made by hotspot calibrate. Temperatures in °C, uncertainties standard (k = 1): see calibration/README.md."


def calibration_toml(made: Calibration) -> str:
    """The text of a calibration file, which read_calibration() turns back into the same calibration."""
    import tomlkit

    sheet = tomlkit.document()
    sheet.add("kind", tomlkit.item(made.kind))
    for name in ("camera", "date", "valid_days", "notes"):
        value = getattr(made, name)
        if value not in (None, ""):
            sheet.add(name, tomlkit.item(value))
    law: dict[str, Any] = {}
    if made.kind == "table":
        law = {"readings": [p[0] for p in made.points], "celsius": [p[1] for p in made.points]}
    else:
        names = ("gain", "offset") if made.kind == "linear" else ("A_um", "B_um_k", "C")
        law = dict(zip(names, made.numbers, strict=True))
    trust = {name: getattr(made, name) for name in ("level_k", "slope", "pivot_c", "shape_k")}
    for name, values in (("range", {"low": made.low, "high": made.high}), ("law", law), ("uncertainty", trust)):
        table = tomlkit.table()
        for key, value in values.items():
            table.add(key, value)
        sheet.add(name, table)
    return f"{_HEAD}\n{tomlkit.dumps(sheet)}"


def residual_lines(points: Iterable[tuple[ReferencePoint, float, float, float]], units: str) -> list[str]:
    """A line per (point, true °C, standard uncertainty [K], fitted minus true [K]), under a line of headings."""
    rows = [("kind", "true", "reading", "fitted - true", "of the reference (k = 1)")]
    for point, celsius, standard, residual in points:
        shown = (temperature(celsius, units), f"{point.reading:g}", _signed(residual, units), fine(standard, units))
        rows.append((point.kind, *shown))
    return columns(rows)


def check_lines(places: Iterable[Any], units: str) -> list[str]:
    """A line per place of a CameraCheck, under a line of headings."""
    rows = [("at", "true", "camera - true", "95 % from", "to", "maker's limits", "")]
    for place in places:
        limits = "not stated" if place.limits_k is None else f"±{fine(place.limits_k, units)}"
        ends = (_signed(place.low_k, units), _signed(place.high_k, units))
        bias = _signed(place.bias_k, units)
        rows.append((", ".join(place.kinds), temperature(place.celsius, units), bias, *ends, limits, place.verdict))
    return columns(rows)


def columns(rows: list[tuple[str, ...]]) -> list[str]:
    """Rows of words as lines, columns lined up, the first to the left and the others to the right."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        lines.append("  ".join([row[0].ljust(widths[0]), *cells]).rstrip())
    return lines


def trust_words(made: Calibration, units: str) -> str:
    """One sentence on how far a calibration can be trusted, at its ends and in the middle."""
    low, high = made.span_c
    values = {"low": low, "high": high, "middle": (low + high) / 2.0}
    values |= {f"u_{name}": 1.96 * float(made.uncertainty_k(at)) for name, at in tuple(values.items())}
    values["apart"] = 1.96 * float(made.difference_k(high, low))
    return say(Statement("calibration_trust", values), units)


def check_words(check: Any, units: str) -> list[str]:
    """The sentences of a CameraCheck, the answer first."""
    values = {"bias": check.bias_k, "low": check.low_k, "high": check.high_k, "places": len(check.places)}
    codes = ["camera_bias_changes" if check.changes else "camera_bias"]
    codes += [{"within": "camera_within", "outside": "camera_outside", "cannot tell": "camera_cannot_tell"}[v]
              for v in (check.verdict,) if v]  # fmt: skip
    return [say(Statement(code, values), units) for code in codes]


def _signed(kelvin: float, units: str) -> str:
    text = fine(kelvin, units)
    return text if text.startswith("-") else f"+{text}"


def fine(kelvin: float, units: str) -> str:
    """A difference with two decimals: `difference` has one, too coarse for a calibration."""
    from hotspot.units import DIFFERENCE_SYMBOL, difference_from_kelvin

    value = f"{difference_from_kelvin(float(kelvin), units):.2f}"
    return f"{'0.00' if value == '-0.00' else value} {DIFFERENCE_SYMBOL[units]}"
