"""A file of reference points -> ReferencePoints; what they are worth is worked out elsewhere."""

from __future__ import annotations

import math
from pathlib import Path

from hotspot.calibration import ReferencePoint
from hotspot.errors import InputError, Problem, refuse
from hotspot.read.delimited import Row, number, read_delimited
from hotspot.units import SYMBOL, difference_to_kelvin, to_celsius

KINDS = ("ice", "boiling", "thermocouple", "other")
COLUMNS = ("kind", "reference", "reading", "limits", "uncertainty", "altitude_m", "pressure_hpa")
_MEND = f"Columns: {', '.join(COLUMNS)}; see calibration/README.md."
_PLAUSIBLE_C = {"ice": (-12.0, 15.0), "boiling": (65.0, 115.0)}  # what a camera that is badly off may show, °C
_PLAIN = {"ice": "melting ice", "boiling": "boiling water"}
_BOUNDS = {"altitude_m": (-500.0, 9000.0), "pressure_hpa": (300.0, 1200.0)}


def read_points(path: Path, unit: str = "C", readings: bool = False) -> tuple[ReferencePoint, ...]:
    """The points of `path`, references in `unit`; with `readings` the camera's readings are in `unit` too.

    Raises InputError with every faulty line.
    """
    table = read_delimited(path, ("reading", "kind"), lambda cell: math.isfinite(number(cell)))
    known = {name: table.place(name) for name in COLUMNS}
    if known["reading"] is None:
        raise refuse(path, "reading", "there is no column of that name", _MEND)
    if known["kind"] is None and known["reference"] is None:
        raise refuse(path, "kind", "neither kind nor reference is there", _MEND)
    strange = [name for name in table.headings if name and name.casefold() not in COLUMNS]
    if strange:
        raise refuse(path, strange[0], "no column of that name is known", _MEND)
    faults: list[Problem] = []
    points = [_point(path, row, known, (unit, readings, faults)) for row in table.rows]
    if faults:
        raise InputError(faults)
    return tuple(points)


def _point(path: Path, row: Row, known: dict[str, int | None], how: tuple) -> ReferencePoint:
    unit, in_unit, faults = how
    found: dict[str, float | None] = {}
    for name in COLUMNS[1:]:
        text = "" if known[name] is None else row.cell(known[name])
        found[name] = number(text) if text else None
        low, high = _BOUNDS.get(name, (-math.inf, math.inf))
        if found[name] is not None and not low <= found[name] <= high:
            faults.append(Problem(str(path), f"line {row.line}, {name}", f"found {text!r}", "Give a number in range."))
            found[name] = None
    kind = (row.cell(known["kind"]).casefold() if known["kind"] is not None else "") or "other"
    for faulty, key, text, mend in _faults(kind, found):
        if faulty:
            faults.append(Problem(str(path), f"line {row.line}, {key}", text, mend))
    reading = found["reading"] if found["reading"] is not None else math.nan
    if in_unit and (better := _other_unit(kind, reading, unit)):
        text = f"{reading:g} is far from {_PLAIN[kind]} in {SYMBOL[unit]}, but near it in {SYMBOL[better]}"
        faults.append(Problem(str(path), f"line {row.line}, reading", text, f"Give --units {better}."))
    reference, limits, u = found["reference"], found["limits"], found["uncertainty"]
    return ReferencePoint(
        kind,
        float(to_celsius(reading, unit)) if in_unit else reading,
        None if reference is None else float(to_celsius(reference, unit)),
        None if limits is None else float(difference_to_kelvin(limits, unit)),
        None if u is None else float(difference_to_kelvin(u, unit)),
        found["altitude_m"],
        found["pressure_hpa"],
        row.line,
    )


def _other_unit(kind: str, reading: float, unit: str) -> str:
    """The unit in which a reading of ice or boiling water is possible, where it is not in `unit`; empty else."""
    if kind not in _PLAUSIBLE_C:
        return ""
    low, high = _PLAUSIBLE_C[kind]
    fits = [each for each in (unit, "C", "F", "K") if low <= float(to_celsius(reading, each)) <= high]
    return fits[0] if fits and unit not in fits else ""


def _faults(kind: str, found: dict[str, float | None]) -> list[tuple[bool, str, str, str]]:
    """(whether it is so, key, what was found, what would mend it)."""
    reference, spread = found["reference"], (found["limits"], found["uncertainty"])
    place = found["altitude_m"] is not None or found["pressure_hpa"] is not None
    measured = kind in ("thermocouple", "other")
    return [
        (kind not in KINDS, "kind", f"found {kind!r}", f"Use one of {', '.join(KINDS)}."),
        (found["reading"] is None, "reading", "no number", "Give what the camera showed, or take the line out."),
        (measured and reference is None, "reference", "no number", "Give the temperature that it really had."),
        (measured and spread == (None, None), "limits", f"a {kind} point needs them", "Give its maker's +- limits."),
        (kind == "boiling" and reference is None and not place, "altitude_m", "not given", "Give it, or pressure_hpa."),
        (kind == "boiling" and reference is not None and place, "reference", "given, and altitude too", "Keep one."),
        (any(s is not None and s < 0 for s in spread), "limits", "below 0", "Give it without a sign."),
    ]
