"""Flags of the command line -> the keys of session.toml that they stand above."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hotspot.errors import InputError, Problem, refuse


def number(flag: str, text: str) -> float:
    """A finite number (comma or point), or a refusal naming the flag."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        raise refuse("command line", flag, f"found {text!r}", "Give a number.") from None
    if value != value or value in (float("inf"), float("-inf")):
        raise refuse("command line", flag, f"found {text!r}", "Give a finite number.")
    return value


def grid(text: str) -> dict[str, Any]:
    """`1x6` -> rows and columns."""
    rows, _, columns = text.lower().partition("x")
    if not (rows.isdigit() and columns.isdigit() and int(rows) and int(columns)):
        raise refuse("command line", "--pins", f"found {text!r}", "Write rows x columns, such as 1x6.")
    return {"rows": int(rows), "columns": int(columns)}


def scale(text: str) -> dict[str, Any]:
    """`20:80` -> low and high."""
    low, colon, high = text.partition(":")
    if not colon:
        raise refuse("command line", "--scale", f"found {text!r}", "Write low:high, such as 20:80.")
    return {"low": number("--scale", low), "high": number("--scale", high)}


def stage(text: str) -> dict[str, Any]:
    """`full=0:300` -> name, start_s, end_s; the end may be left out."""
    name, equals, span = text.partition("=")
    start, colon, end = span.partition(":")
    if not (equals and colon):
        mend = "Write NAME=start:end in seconds, such as full=0:300."
        raise refuse("command line", "--stage", f"found {text!r}", mend)
    found: dict[str, Any] = {"name": name.strip(), "start_s": number("--stage", start)}
    if end.strip():
        found["end_s"] = number("--stage", end)
    return found


def amps(text: str) -> Any:
    """`9`, `equal` or `1=9,2=4.5` -> what stage.amps takes."""
    if text == "equal":
        return "equal"
    if "=" not in text:
        if "," in text:
            mend = "Write 10.5 for the same through every pin, or 1=10,2=5 pin by pin."
            raise refuse("command line", "--amps", f"found {text!r}, which can be read in two ways", mend)
        return number("--amps", text)
    pairs = [pair.partition("=") for pair in text.split(",") if pair.strip()]
    return {pin.strip(): number("--amps", value) for pin, _, value in pairs}


def size(text: str) -> list[int]:
    """`32x24` -> width, height."""
    width, _, height = text.lower().partition("x")
    if not (width.isdigit() and height.isdigit()):
        raise refuse("command line", "--size", f"found {text!r}", "Write width x height, such as 32x24.")
    return [int(width), int(height)]


READERS: dict[str, tuple[str, Callable[[str], Any]]] = {
    "pins": ("connector", grid),
    "scale": ("scale", scale),
    "map": ("scale.map", str),
    "units": ("units", lambda text: text.upper()),
    "ambient": ("ambient", lambda text: number("--ambient", text)),
    "rated": ("connector.rated", lambda text: number("--rated", text)),
    "files": ("frames.files", str),
    "reading": ("frames.reading", str),
    "unit": ("frames.unit", lambda text: text.upper()),
    "gain": ("frames.gain", lambda text: number("--gain", text)),
    "offset": ("frames.offset", lambda text: number("--offset", text)),
    "size": ("frames.size", size),
    "every": ("frames.every_s", lambda text: number("--every", text)),
    "start": ("frames.start_s", lambda text: number("--start", text)),
    "frames_offset": ("clock.frames_offset_s", lambda text: number("--frames-offset", text)),
    "log_offset": ("clock.log_offset_s", lambda text: number("--log-offset", text)),
    "emissivity": ("surface.emissivity", lambda text: number("--emissivity", text)),
}


def from_flags(flags: dict[str, Any]) -> dict[str, Any]:
    """All flags -> nested keys. Raises InputError with every flag that cannot be read."""
    found: dict[str, Any] = {}
    problems: list[Problem] = []
    for name, (place, read) in READERS.items():
        if flags.get(name) is not None:
            try:
                _put(found, place, read(flags[name]))
            except InputError as error:
                problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    if flags.get("stage"):
        found["stage"] = [stage(text) for text in flags["stage"]]
    if flags.get("amps") is not None:
        through = {"amps": amps(flags["amps"])}
        found["stage"] = [step | through for step in found["stage"]] if "stage" in found else through
    return found


def _put(found: dict[str, Any], place: str, value: Any) -> None:
    table, _, key = place.partition(".")
    if key:
        found.setdefault(table, {})[key] = value
    elif isinstance(value, dict):
        found.setdefault(table, {}).update(value)
    else:
        found[table] = value
