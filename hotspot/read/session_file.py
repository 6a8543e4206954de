"""session.toml, pins.toml and what the command line says -> one Session, or every problem at once."""

from __future__ import annotations

import copy
import re
import tomllib
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from hotspot.errors import InputError, Problem, refuse
from hotspot.read.session_faults import OWN_FIELDS, Where, problems_of
from hotspot.read.session_names import disagreements
from hotspot.session import Part, Session, is_temperature
from hotspot.units import from_celsius, to_celsius

SHEET = "session.toml"
PLACES = "pins.toml"
COMMAND_LINE = "command line"
_IN_PLACES = ("connector", "pin", "region")
_UNITS = ("C", "F", "K")
_MOST_ROUNDS = 6


def load(folder: Path | None, overrides: Mapping[str, Any]) -> Session:
    """One test: `folder`/session.toml, with pins.toml's connector, pins and regions in place of its own.

    `overrides` are nested keys that stand above the file's, temperatures in their own `units` or else in the
    file's; their lists (`pin`, `stage`, ...) replace the file's, a table in place of such a list stands above
    every item of it. `overrides["units"]` changes what people read, not the unit in which the file was
    written. Without a session.toml, or with None for the folder, only the overrides count. All temperatures of
    the result are °C.

    Raises InputError with every problem: file, key, what was found, what would mend it.
    """
    return _session(_layers(folder, overrides))


def load_with(folder: Path, places: Path) -> Session:
    """As `load`, but with the file `places` in place of the folder's own pins.toml: to check it before it is taken.

    Raises InputError as `load` does, and where there is no such file.
    """
    _look_into(folder)
    sheet, instead = parsed(folder / SHEET), parsed(places)
    if instead is None:
        raise refuse(places, "", "there is no such file", f"Name the {PLACES} that the page saved.")
    return _session(_Layers(folder, sheet or {}, instead, {}, written=sheet is not None, places_file=places))


def blocks(folder: Path, overrides: Mapping[str, Any]) -> dict[str, Any]:
    """`connector` (a table), `pin` and `region` (lists of tables) as they are written: temperatures in the file's unit.

    Those of pins.toml where it has them, else of session.toml, `overrides` above both. Check with `load` first.
    """
    raw = _layers(folder, overrides).merged()
    return {key: raw.get(key, {} if key == "connector" else []) for key in _IN_PLACES}


def _layers(folder: Path | None, overrides: Mapping[str, Any]) -> _Layers:
    if folder is None:
        return _Layers(Path(), {}, {}, overrides, written=False)
    _look_into(folder)
    sheet, places = parsed(folder / SHEET), parsed(folder / PLACES)
    return _Layers(folder, sheet or {}, places or {}, overrides, written=sheet is not None)


def _session(layers: _Layers) -> Session:
    """The layers checked and turned into °C. Raises InputError with every problem."""
    raw = layers.merged()
    faulty, usable = _validated(raw, layers)
    problems = [*faulty.values(), *disagreements(usable, layers.where(usable), faulty.keys())]
    problems.extend(layers.out_of_place())
    if problems:
        raise InputError(problems)
    session = _in_celsius(Session.model_validate(raw), layers.file_units)
    update = {"folder": layers.folder, "units": layers.reader_units, "file_units": layers.file_units}
    return session.model_copy(update=update)


def _look_into(folder: Path) -> None:
    """Raises InputError where `folder` is no folder, or holds the sheet under another name."""
    if not folder.exists():
        raise refuse(folder, "", "there is no such folder", "Name the folder that holds the frames.")
    if not folder.is_dir():
        raise refuse(folder, "", "is a file, not a folder", f"Name the folder it lies in: {folder.parent}")
    _misplaced(folder)


def _misplaced(folder: Path) -> None:
    """A sheet under a name that an editor gave it, or the results in place of the session: said, not passed over."""
    if (folder / SHEET).exists():
        return
    names = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    for name in sorted(names):
        if name.lower() in ("session.toml.txt", "session.txt") or (name.lower() == SHEET and name != SHEET):
            raise refuse(folder / name, "", f"the sheet must be called {SHEET}", f"Rename it to {SHEET}.")
    if {"findings.json", "readings.csv"} <= names:
        raise refuse(folder, "", "is a results folder", f"Name the session's folder: {folder.resolve().parent}")


def parsed(path: Path) -> dict[str, Any] | None:
    """A TOML file as plain tables; None where there is no such file. A UTF-8 byte order mark is passed over.

    Raises InputError for a file that cannot be read, is not UTF-8, or breaks TOML's grammar (line and column).
    """
    if not path.exists():
        return None
    try:
        content = path.read_bytes()
    except OSError as error:
        what = error.strerror or str(error)
        raise refuse(path, "", f"cannot be read ({what})", "It must be a file that you may read.") from None
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refuse(path, "", "is UTF-16 text", "Save it as UTF-8 in the editor.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        found = f"line {line} holds the byte 0x{content[error.start]:02x}, which is not UTF-8"
        raise refuse(path, "", found, "Save it as UTF-8 in the editor.") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _broken_grammar(path, text, str(error)) from None


def known_keys() -> Iterator[tuple[str, FieldInfo]]:
    """Every key that session.toml may hold, dotted, with its field: `scale.low`, `pin.radius`, ..."""
    for name, field in Session.model_fields.items():
        if name in OWN_FIELDS:
            continue
        inner = _part_in(field.annotation)
        if inner is None:
            yield name, field
        else:
            yield from ((f"{name}.{key}", found) for key, found in inner.model_fields.items())


@dataclass(frozen=True)
class _Layers:
    """The three places that a key can come from, the later above the earlier."""

    folder: Path
    sheet: Mapping[str, Any]
    places: Mapping[str, Any]
    overrides: Mapping[str, Any]
    written: bool
    places_file: Path | None = None  # where `places` were read, if not in the folder

    @property
    def reader_units(self) -> Any:
        return self.overrides.get("units", self.sheet.get("units", "C"))

    @property
    def file_units(self) -> Any:
        """The unit that the files were written in: a flag cannot change what is already written."""
        return self.sheet.get("units", "C") if self.written else self.reader_units

    def merged(self) -> dict[str, Any]:
        """One nested table of raw keys, all temperatures in `file_units`."""
        raw = copy.deepcopy(dict(self.sheet))
        raw.update(copy.deepcopy({key: self.places[key] for key in _IN_PLACES if key in self.places}))
        above = copy.deepcopy(dict(self.overrides))
        both = (self.reader_units, self.file_units)
        if both[0] != both[1] and all(unit in _UNITS for unit in both):
            above = _rewritten(above, Session, self.reader_units, self.file_units)
        for key, value in above.items():
            if isinstance(value, Mapping) and _is_listed(key):
                items = raw.setdefault(key, [{}])
                raw[key] = [_joined(item, value) for item in items] if isinstance(items, list) else items
            elif isinstance(value, Mapping) and isinstance(raw.get(key), dict):
                raw[key].update(value)
            else:
                raw[key] = value
        return raw

    def where(self, raw: Mapping[str, Any]) -> Where:
        """Finds the file and the spelling of a key of `raw`."""
        return Where(raw, self._file)

    def _file(self, path: tuple[str | int, ...]) -> str:
        top = path[0] if path else ""
        above = self.overrides.get(top)
        inner = [step for step in path[1:] if not isinstance(step, int)]
        if above is not None and (not isinstance(above, Mapping) or not inner or inner[0] in above):
            return COMMAND_LINE
        return self._places_name if top in _IN_PLACES and top in self.places else str(self.folder / SHEET)

    @property
    def _places_name(self) -> str:
        return str(self.places_file or self.folder / PLACES)

    def out_of_place(self) -> list[Problem]:
        """Keys of pins.toml that it cannot stand in for."""
        mend = f"{PLACES} holds [connector], [[pin]] and [[region]] only; move it to {SHEET}."
        strangers = [key for key in self.places if key not in _IN_PLACES]
        return [Problem(self._places_name, key, "does not belong here", mend) for key in strangers]


def _validated(raw: dict[str, Any], layers: _Layers) -> tuple[dict[tuple, Problem], dict[str, Any]]:
    """All problems by key, and `raw` without the keys that have one.

    A rule over two keys is tried only once both are sound, so what is faulty is taken out and the rest tried
    again until nothing new comes up.
    """
    usable = copy.deepcopy(raw)
    found: dict[tuple, Problem] = {}
    taken_out: set[tuple] = set()
    for key in OWN_FIELDS & usable.keys():
        found[(key,)] = Problem(layers.where(raw).file((key,)), key, "is an unknown key", "Take it out.")
        del usable[key]
    for _ in range(_MOST_ROUNDS):
        try:
            Session.model_validate(usable)
            break
        except ValidationError as error:
            new = problems_of(error, usable, layers.where(usable))
        before = len(taken_out)
        for path, problem in new.items():
            if path not in taken_out:
                found.setdefault(path, problem)
        for path in new:
            if _take_out(usable, path):
                taken_out.add(path)
        if len(taken_out) == before:
            break
    return found, usable


def _take_out(raw: dict[str, Any], path: tuple[str | int, ...]) -> bool:
    """Delete the faulty key; in a list of values the whole list, in a list of tables the key in its table."""
    while path and isinstance(path[-1], int):
        path = path[:-1]
    at: Any = raw
    for step in path[:-1]:
        if isinstance(at, dict) and step in at or isinstance(at, list) and isinstance(step, int) and step < len(at):
            at = at[step]
        else:
            return False
    if path and isinstance(at, dict) and path[-1] in at:
        del at[path[-1]]
        return True
    return False


def _is_listed(key: str) -> bool:
    """True for the tables that are written as lists: [[pin]], [[stage]], ..."""
    field = Session.model_fields.get(key)
    return field is not None and typing.get_origin(field.annotation) is list


def _joined(item: Any, above: Mapping[str, Any]) -> Any:
    """An item of a list of tables with the keys of `above`; what is no table is left for the check of types."""
    return {**item, **above} if isinstance(item, Mapping) else item


def _broken_grammar(path: Path, text: str, message: str) -> InputError:
    place = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)", message)
    line, column = (int(place[1]), int(place[2])) if place and place[1] else (text.count("\n") + 1, 0)
    told = re.sub(r"\s*\(at .*\)$", "", message)
    written = text.splitlines()[line - 1].strip() if line <= len(text.splitlines()) else ""
    at = f"line {line}, column {column}" if column else f"line {line}, the end of the file"
    if re.search(r"=\s*-?\d+,\d", written):
        mend = "Write numbers with a point, not a comma."
    elif "\\" in written:
        mend = "Write paths with / instead of \\."
    elif re.search(r"=\s*[^\W\d]", written) and not re.search(r"=\s*(true|false|inf|nan)\b", written):
        mend = 'Put text in quotes: key = "text".'
    elif "overwrite" in told or "declare" in told or "twice" in told:
        mend = "The key or [table] is there twice: keep one; a list of tables is written [[pin]]."
    else:
        mend = "Correct that line."
    return refuse(path, at, f"is not valid TOML ({told}): {written[:60]}" if written else told, mend)


@cache
def _part_in(annotation: Any) -> type[Part] | None:
    """The table behind a field: Scale for `Scale`, Pin for `list[Pin]`; None for a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    return next((part for part in map(_part_in, typing.get_args(annotation)) if part is not None), None)


def _in_celsius(part: Part, unit: Any) -> Any:
    """A copy of the model with every temperature turned from `unit` into °C."""
    changed: dict[str, Any] = {}
    for name in type(part).model_fields:
        value = getattr(part, name)
        if isinstance(value, Part):
            changed[name] = _in_celsius(value, unit)
        elif isinstance(value, list) and any(isinstance(item, Part) for item in value):
            changed[name] = [_in_celsius(item, unit) for item in value]
        elif value is not None and is_temperature(type(part), name):
            changed[name] = to_celsius(value, unit)
    changed = {name: value for name, value in changed.items() if value != getattr(part, name)}
    return part.model_copy(update=changed) if changed else part


def _rewritten(raw: Any, model: type[Part], unit: Any, wanted: Any) -> Any:
    """Raw keys with every temperature turned from `unit` into `wanted`; what is no number stays as it is."""
    if isinstance(raw, list):
        return [_rewritten(item, model, unit, wanted) for item in raw]
    if not isinstance(raw, Mapping):
        return raw
    changed = dict(raw)
    for name in raw.keys() & model.model_fields.keys():
        inner = _part_in(model.model_fields[name].annotation)
        if inner is not None:
            changed[name] = _rewritten(raw[name], inner, unit, wanted)
        elif is_temperature(model, name) and type(raw[name]) in (int, float):
            changed[name] = from_celsius(to_celsius(raw[name], unit), wanted)
    return changed
