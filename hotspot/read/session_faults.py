"""What pydantic found wrong with a session.toml -> problems that say what was found and what would mend it."""

from __future__ import annotations

import difflib
import math
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from hotspot.errors import Problem
from hotspot.session import Part, Session

OWN_FIELDS = frozenset({"folder", "file_units"})
"""Fields of Session that are no keys of the file."""
Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Where:
    """Finds the file of a key and spells it: `scale.low`, `pin 3: radius`, `stage 2 "full": amps.4`."""

    raw: Mapping[str, Any]
    file: Callable[[Path], str]

    def key(self, path: Path) -> str:
        """The key as a person would look for it; tables of a list are counted from 1."""
        if len(path) < 2 or not isinstance(path[1], int):
            return ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
        count = str(path[1] + 1)
        name = self._name(path)
        table = f"{path[0]} {count}" + (f' "{name}"' if name not in ("", count) else "")
        rest = ".".join(str(step + 1) if isinstance(step, int) else step for step in path[2:])
        return f"{table}: {rest}" if rest else table

    def problem(self, path: Path, found: str, mend: str) -> Problem:
        """A problem at `path`."""
        return Problem(self.file(path), self.key(path), found, mend)

    def _name(self, path: Path) -> str:
        items = self.raw.get(path[0])
        item = items[path[1]] if isinstance(items, list) and path[1] < len(items) else None
        name = item.get("name", "") if isinstance(item, Mapping) else ""
        return name if isinstance(name, str) else ""


def problems_of(error: ValidationError, raw: Mapping[str, Any], where: Where) -> dict[Path, Problem]:
    """Key -> problem, one for each faulty key (where a key takes several kinds, that of the kind meant)."""
    grouped: dict[Path, list[tuple[str, Path, dict[str, Any]]]] = {}
    for fault in error.errors(include_url=False):
        real, kind, rest = _real_path(fault["loc"], raw)
        grouped.setdefault(real, []).append((kind, rest, fault))
    found: dict[Path, Problem] = {}
    for real, faults in grouped.items():
        for path, fault in _meant(real, faults, raw):
            path, told, mend = _worded(path, fault, raw)
            found.setdefault(path, where.problem(path, told, mend))
    return found


def nearest(word: str, known: typing.Iterable[str]) -> str | None:
    """The known word most like `word`, or None."""
    by_lower = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower(), list(by_lower), n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def shown(value: Any) -> str:
    """A found value as people name it: `the text "20"`, `the number 4`, `a list`."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'the text "{value[:40]}"'
    if isinstance(value, int | float):
        return f"the number {repr(value)[:40]}"
    if isinstance(value, Mapping):
        return "a table"
    return "a list" if isinstance(value, list) else f"{value}"


def value_at(raw: Any, path: Path) -> Any:
    """The raw value at a path, None where there is none."""
    for step in path:
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            return None
    return raw


def _real_path(loc: Path, raw: Mapping[str, Any]) -> tuple[Path, str, Path]:
    """pydantic's place -> (keys of the file, the kind tried where a key takes several, keys below it)."""
    at: Any = raw
    real: list[str | int] = []
    for place, step in enumerate(loc):
        inside = isinstance(at, Mapping) and step in at
        inside = inside or (isinstance(at, list) and isinstance(step, int) and step < len(at))
        last = place == len(loc) - 1
        model_key = isinstance(step, str) and not step.startswith(("dict[", "list[", "literal[", "constrained-"))
        if inside or (last and model_key and isinstance(at, Mapping)):
            real.append(step)
            at = at[step] if inside else None
        else:
            return tuple(real), str(step), tuple(loc[place + 1 :])
    return tuple(real), "", ()


_KINDS: tuple[tuple[type | tuple[type, ...], str], ...] = (
    (dict, "dict["),
    (list, "list["),
    ((int, float), "constrained-float"),
)


def _meant(real: Path, faults: list, raw: Mapping[str, Any]) -> list[tuple[Path, dict[str, Any]]]:
    """Of the faults of a key that takes several kinds, those of the kind that was written."""
    if not faults[0][0]:
        return [(real, fault) for _, _, fault in faults]
    value = value_at(raw, real)
    for written, prefix in _KINDS:
        if isinstance(value, written) and not isinstance(value, bool):
            fitting = [(real + rest, fault) for kind, rest, fault in faults if kind.startswith(prefix)]
            if fitting:
                return fitting
    return [(real, {"type": "none_of_the_kinds"})]


_KINDS_WANTED = {
    "amps": 'a number, a table by pin such as { "1" = 9.0 }, or "equal" is wanted',
    "screen": 'eight numbers, "find" or "none" is wanted',
}
_RULES = (
    ("low ", "low", "Give low the colder end and high the hotter one."),
    ("band_um", "band_um", "Write the shorter wavelength first: [8.0, 14.0]."),
    ("x and y", "x", "Add the one that is missing, or take both out and let the pins be found."),
    ("start_s and", "start", "Take one of the two out."),
    ("end_s and", "end", "Take one of the two out."),
    ("ends at", "end_s", "Give an end_s after start_s."),
    ("box", "box", "Write box = [x, y, width, height]."),
    ("is blank", "", "Give it a name."),
)
_SIGNS = {"gt": "above", "ge": "at least", "lt": "below", "le": "at most"}


def _worded(path: Path, fault: Mapping[str, Any], raw: Mapping[str, Any]) -> tuple[Path, str, str]:
    """(key to show, what was found, what would mend it) for one fault."""
    value = value_at(raw, path)
    kind, context = fault["type"], fault.get("ctx", {})
    if kind == "extra_forbidden":
        return path, "is an unknown key", _unknown_key(path)
    if kind == "missing":
        return path, "is missing", f"Add {path[-1]} to this [[{path[0]}]]."
    if kind == "value_error":
        return _broken_rule(path, str(context["error"]))
    if kind == "none_of_the_kinds":
        return (
            path,
            f"found {shown(value)}; {_KINDS_WANTED.get(str(path[-1]), 'another kind is wanted')}",
            ("Write it one of these ways, or leave it out where it is not known."),
        )
    if kind == "finite_number":
        return path, f"found {value}, which is no number", "Give a number, or leave the key out if not known."
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return path, *_out_of_range(path, value, context)
    if kind in ("too_short", "too_long"):
        count = context.get("min_length", context.get("max_length"))
        return path, f"found {len(value)} numbers, {count} are wanted", "Write all of them in one [ ] list."
    if kind == "literal_error":
        return path, *_other_word(value, context["expected"])
    return path, *_wrong_type(path, kind, value)


def _broken_rule(path: Path, message: str) -> tuple[Path, str, str]:
    for start, key, mend in _RULES:
        if message.startswith(start):
            return (path + (key,) if key and path[-1] != key else path), message, mend
    return path, message, "Correct it."


def _out_of_range(path: Path, value: Any, context: Mapping[str, Any]) -> tuple[str, str]:
    if "emissivity" in str(path[-1]):
        return f"found {value!r}, an emissivity is above 0 and at most 1", (
            "Give that of the surface, such as 0.95 for matt tape, or leave it out if not known."
        )
    (sign, bound), *_ = context.items()
    return f"found {value!r}, {_SIGNS[sign]} {bound:g} is wanted", "Correct the number, or leave the key out."


def _other_word(value: Any, expected: str) -> tuple[str, str]:
    words = [word for word in expected.replace(" or ", ", ").split("'") if word.strip(" ,")]
    close = nearest(value, words) if isinstance(value, str) else None
    listed = ", ".join(f'"{word}"' for word in words)
    return f"found {shown(value)}, known is {listed}", f'Write "{close}".' if close else "Choose one of them."


def _wrong_type(path: Path, kind: str, value: Any) -> tuple[str, str]:
    if kind == "string_type":
        plain = isinstance(value, int | float | str) and not isinstance(value, bool)
        mend = f'Write "{value}".' if plain else "Put it in quotes."
        return f"found {shown(value)}, a text in quotes is wanted", mend
    if kind in ("float_type", "int_type", "int_from_float"):
        wanted = "a number" if kind == "float_type" else "a whole number"
        return f"found {shown(value)}, {wanted} is wanted", _as_number(kind, value)
    if kind == "list_type" and _is_table_list(path):
        return f"found {shown(value)}, a list of tables is wanted", f"Write [[{path[0]}]], with two brackets."
    if kind == "list_type":
        return f"found {shown(value)}, a list is wanted", "Write it in brackets: [ ... ]."
    if kind in ("dict_type", "model_type"):
        one = f"[{path[0]}], with one bracket" if len(path) == 1 else f"[[{path[0]}]] with keys below it"
        mend = 'Write { "1" = ... }.' if kind == "dict_type" else f"Write {one}."
        return f"found {shown(value)}, a table is wanted", mend
    return f"found {shown(value)}, which does not fit", "See the reference page of session.toml."


def _is_table_list(path: Path) -> bool:
    field = Session.model_fields.get(str(path[0])) if len(path) == 1 else None
    return field is not None and any(
        isinstance(inner, type) and issubclass(inner, Part) for inner in typing.get_args(field.annotation)
    )


def _as_number(kind: str, value: Any) -> str:
    whole = kind != "float_type"
    try:
        number = float(value.replace(",", ".")) if isinstance(value, str) else float(value)
    except (ValueError, TypeError, OverflowError):
        return "Give a whole number." if whole else "Give a number."
    if isinstance(value, bool) or not math.isfinite(number) or (whole and number != int(number)):
        return "Give a whole number." if whole else "Give a number."
    return f"Write {int(number) if whole else f'{number:g}'}{', without quotes' if isinstance(value, str) else ''}."


def _tables() -> dict[str, type[Part]]:
    """Name of each table of the file -> its model."""
    tables = {}
    for name, field in Session.model_fields.items():
        for inner in (field.annotation, *typing.get_args(field.annotation)):
            if isinstance(inner, type) and issubclass(inner, Part):
                tables[name] = inner
    return tables


def _unknown_key(path: Path) -> str:
    tables = _tables()
    top = [name for name in Session.model_fields if name not in OWN_FIELDS]
    key = str(path[-1])
    own = top if len(path) == 1 else list(tables[str(path[0])].model_fields)
    close = nearest(key, own)
    if close:
        return f"The nearest known key is {close}."
    if len(path) > 1 and key in top:
        return f"{key} belongs at the top of the file, above the first [table]."
    homes = [name for name, model in tables.items() if key in model.model_fields]
    if homes:
        return (
            f"{key} belongs under [{homes[0]}]."
            if len(homes) == 1
            else (f"{key} belongs under one of: {', '.join(homes)}.")
        )
    return f"Take it out; known here: {', '.join(own)}."
