"""How the numbers were made, in plain words: what the program found out, and what the session states."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from hotspot.records import Analysis
from hotspot.session import Job, Part, is_temperature
from hotspot.tell import words


def made(analysis: Analysis) -> list[tuple[str, str]]:
    """What the program found out or chose for itself, in pairs of words."""
    settings, units = analysis.settings, analysis.session.units
    heat = settings.get("heat") if isinstance(settings.get("heat"), Mapping) else {}
    pairs = [
        ("clock", _known("clock", settings.get("clock"))),
        ("started", str(settings.get("started") or "").replace("T", " ")),
        ("reading", _known("reading", settings.get("reading"))),
        ("places", words.text("recipe_places_file") if settings.get("places") else ""),
        ("colour_map", _map(settings)),
        ("colour_scale", _scale(settings, units)),
        ("ambient", _ambient(settings)),
        ("heat", _known("heat", heat.get("method"))),
    ]
    return [(words.text(f"recipe_{word}"), told) for word, told in pairs if told]


def stated(analysis: Analysis) -> list[tuple[str, str]]:
    """What the session states beyond the defaults, and the report does not tell elsewhere."""
    told_above = {"title": "", "job": Job(), "stage": [], "check": [], "event": []}
    return _stated(analysis.session.model_copy(update=told_above), analysis.session.units)


def _known(what: str, value: Any) -> str:
    """The words of a setting; one that the catalogue does not know stands as it is."""
    code = f"recipe_{what}_" + re.sub(r"\W+", "_", str(value))
    return "" if value is None else words.text(code) if code in words.catalogue() else str(value)


def _ambient(settings: Mapping[str, Any]) -> str:
    told = settings.get("ambient") or {}
    return "; ".join(
        part for part in (_known("ambient", told.get("origin")), _known("drift", told.get("drift"))) if part
    )


def _map(settings: Mapping[str, Any]) -> str:
    name = settings.get("colour_map")
    return str(name) if isinstance(name, str) else ""


def _scale(settings: Mapping[str, Any], units: str) -> str:
    ends = [settings.get(key) for key in ("low_c", "high_c")]
    if not all(isinstance(end, int | float) for end in ends):
        return ""
    return words.text("recipe_colour_scale_ends", units, low=ends[0], high=ends[1])


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
