"""How the numbers were made, in plain words: what the program found out, and what the session states."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hotspot.records import Analysis
from hotspot.session import Job, Part, is_temperature
from hotspot.tell import words

CLOCKS = {
    "every_s": "counted, at the stated seconds between frames",
    "frames.csv": "from frames.csv",
    "own time stamps": "the video's own time stamps",
    "names": "read from the file names",
    "exif": "the date inside each picture",
    "file date": "the dates of the files: assumed, not recorded",
}
READINGS = {
    "temperature": "temperatures",
    "counts": "raw counts, turned into temperatures",
    "colours": "pictures, read back through their colour scale",
    "table": "a logger's table",
}
HEAT = {
    "picture": "from the warmth of the plastic around the pins",
    "network": "from the pins' own readings, with each pin's neighbours allowed for",
    "first minute": "from the first minute under load",
    "absolute": "as ohms, from the plastic around the pins and the stated wires: too few peers for a ratio",
    "rise": "not worked out: pins are compared by rise",
}

AMBIENT = {
    "number": "one number, stated",
    "log": "from log.csv",
    "region": "from the regions of that kind, frame by frame",
    "cold start": "estimated from the pins before the load came on",
    "not known": "not known",
}
FOLLOWED = {
    "surroundings": "followed by the still parts of the picture",
    "reference": "what air and camera moved by taken off by the region of reference",
    "not followed": "how it moved is not known",
}


def made(analysis: Analysis) -> list[tuple[str, str]]:
    """What the program found out or chose for itself, in pairs of words."""
    settings, units = analysis.settings, analysis.session.units
    heat = settings.get("heat") if isinstance(settings.get("heat"), Mapping) else {}
    pairs = [
        ("times of the frames", _known(CLOCKS, settings.get("clock"))),
        ("first frame", str(settings.get("started") or "").replace("T", " ")),
        ("files hold", _known(READINGS, settings.get("reading"))),
        ("places of the pins", "from pins.toml, in place of those of session.toml" if settings.get("places") else ""),
        ("colour map", _map(settings)),
        ("colour scale", _scale(settings, units)),
        ("ambient", _ambient(settings)),
        ("heat at each pin", _known(HEAT, heat.get("method"))),
    ]
    return [(word, text) for word, text in pairs if text]


def stated(analysis: Analysis) -> list[tuple[str, str]]:
    """What the session states beyond the defaults, and the report does not tell elsewhere."""
    told_above = {"title": "", "job": Job(), "stage": [], "check": [], "event": []}
    return _stated(analysis.session.model_copy(update=told_above), analysis.session.units)


def _known(table: Mapping[str, str], value: Any) -> str:
    return "" if value is None else table.get(str(value), str(value))


def _ambient(settings: Mapping[str, Any]) -> str:
    told = settings.get("ambient") or {}
    followed = FOLLOWED.get(told.get("drift", ""), "")
    return "; ".join(text for text in (_known(AMBIENT, told.get("origin")), followed) if text)


def _map(settings: Mapping[str, Any]) -> str:
    name = settings.get("colour_map")
    return str(name) if isinstance(name, str) else ""


def _scale(settings: Mapping[str, Any], units: str) -> str:
    ends = [settings.get(key) for key in ("low_c", "high_c")]
    if not all(isinstance(end, int | float) for end in ends):
        return ""
    return " to ".join(words.temperature(end, units) for end in ends)


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
