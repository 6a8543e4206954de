"""Names in a session.toml that must agree: pins, stages, and what refers to them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from hotspot.errors import Problem
from hotspot.read.session_faults import Path, Where, nearest


def disagreements(raw: Mapping[str, Any], where: Where, faulty: Collection[Path] = ()) -> list[Problem]:
    """Problems between keys that are each sound: repeated pin names, names that nothing bears, half a grid.

    `raw` lacks the `faulty` keys, which have a problem of their own; what only follows from that is not told.
    """
    found = list(_repeated(raw, where))
    grid_sound = not any(path[0] == "connector" and path[-1] in ("rows", "columns") for path in faulty)
    names_sound = not any(path[0] == "pin" and path[-1] in ("name", "pin") for path in faulty)
    if grid_sound:
        found.extend(_grid(raw, where))
    known = pin_names(raw) if grid_sound and names_sound else []
    for path, name in references(raw):
        if name not in known and known:
            found.append(where.problem(path, f'no pin is called "{name}"', _mend(name, known, "pin")))
    for path, name in _own_returns(raw):
        found.append(where.problem(path, f'pin "{name}" cannot return its own current', "Name the other pins."))
    found.extend(_stages(raw, where))
    return found


def pin_names(raw: Mapping[str, Any]) -> list[str]:
    """Every name that a pin of this session may bear; empty where it cannot be known before looking.

    [[pin]] names, the numbers of the grid (as long as [[pin]] does not name all its places), and the pins
    that frames.columns speaks of. The pins of a logger without columns are its headings: not known here.
    """
    frames = _table(raw, "frames")
    columns = frames.get("columns")
    if frames.get("reading") == "table" and not isinstance(columns, Mapping):
        return []
    names = [name for _, name in _named_pins(raw)]
    numbers = grid_numbers(raw)
    empty = _texts(_table(raw, "connector").get("empty"))
    if len(names) < len(numbers) - len(empty):
        names += [number for number in numbers if number not in empty and number not in names]
    if isinstance(columns, Mapping):
        names += [name for name in columns if name not in names]
    return names


def grid_numbers(raw: Mapping[str, Any]) -> list[str]:
    """`1` to rows x columns; empty without a whole grid."""
    connector = _table(raw, "connector")
    rows, columns = connector.get("rows"), connector.get("columns")
    if type(rows) is not int or type(columns) is not int or rows < 1 or columns < 1:
        return []
    return [str(k + 1) for k in range(min(rows, 64) * min(columns, 64))]


def _repeated(raw: Mapping[str, Any], where: Where) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for place, name in _named_pins(raw):
        if name in first:
            told = f'the name "{name}" is already that of pin {first[name] + 1}'
            yield where.problem(("pin", place, "name"), told, "Give every pin a name of its own.")
        first.setdefault(name, place)


def _grid(raw: Mapping[str, Any], where: Where) -> Iterator[Problem]:
    connector, numbers = _table(raw, "connector"), grid_numbers(raw)
    for one, other in (("rows", "columns"), ("columns", "rows")):
        if one in connector and other not in connector:
            told = f"is missing beside {one}"
            yield where.problem(("connector", other), told, "Give both rows and columns of the pins.")
    if not numbers:
        return
    empty = _texts(connector.get("empty"))
    named = [name for _, name in _named_pins(raw)]
    for place, name in enumerate(empty):
        if name not in numbers and name not in named:
            told = f'"{name}" is no place of the {connector["rows"]} x {connector["columns"]} grid'
            yield where.problem(("connector", "empty", place), told, f"Places are 1 to {len(numbers)}.")
    if len(set(empty) & {*numbers, *named}) >= len(numbers):
        yield where.problem(("connector", "empty"), "leaves no pin at all", "Name only places without a pin.")
    unplaced = [pin for pin in _items(raw, "pin") if "x" not in pin[1]]
    if len(unplaced) > len(numbers):
        told = f"{len(unplaced)} pins without x and y, but the grid has {len(numbers)} places"
        yield where.problem(("pin",), told, "Correct rows and columns, or take the surplus pins out.")


def references(raw: Mapping[str, Any]) -> Iterator[tuple[Path, str]]:
    """Every place that names a pin, in the file's usual order."""
    for place, pin in _items(raw, "pin"):
        returned = _texts(pin.get("return_of"))
        yield from ((("pin", place, "return_of", k), name) for k, name in enumerate(returned))
    for place, stage in _items(raw, "stage"):
        if isinstance(stage.get("amps"), Mapping):
            yield from ((("stage", place, "amps", name), name) for name in stage["amps"])
    for table in ("region", "check", "event"):
        for place, item in _items(raw, table):
            if isinstance(item.get("pin"), str):
                yield (table, place, "pin"), item["pin"]


def _own_returns(raw: Mapping[str, Any]) -> Iterator[tuple[Path, str]]:
    for place, pin in _items(raw, "pin"):
        for k, name in enumerate(_texts(pin.get("return_of"))):
            if name == pin.get("name"):
                yield ("pin", place, "return_of", k), name


def _stages(raw: Mapping[str, Any], where: Where) -> Iterator[Problem]:
    names = [stage.get("name", "") for _, stage in _items(raw, "stage")]
    for place, check in _items(raw, "check"):
        name = check.get("stage")
        if isinstance(name, str) and name not in names:
            path = ("check", place, "stage")
            yield where.problem(path, f'no stage is called "{name}"', _mend(name, names, "stage"))


def _mend(name: str, known: Iterable[str], what: str) -> str:
    named = [one for one in known if one]
    close = nearest(name, named)
    if close:
        return f'The nearest name is "{close}".'
    listed = ", ".join(f'"{one}"' for one in named[:8]) + (", ..." if len(named) > 8 else "")
    return f"Known: {listed}." if named else f"No [[{what}]] has a name: add one, or take this out."


def _named_pins(raw: Mapping[str, Any]) -> list[tuple[int, str]]:
    pins = ((place, pin.get("name")) for place, pin in _items(raw, "pin"))
    return [(place, name) for place, name in pins if isinstance(name, str)]


def _items(raw: Mapping[str, Any], name: str) -> list[tuple[int, Mapping[str, Any]]]:
    value = raw.get(name)
    items = enumerate(value) if isinstance(value, list) else ()
    return [(place, item) for place, item in items if isinstance(item, Mapping)]


def _table(raw: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    value = raw.get(name)
    return value if isinstance(value, Mapping) else {}


def _texts(value: Any) -> list[str]:
    return [item for item in value if isinstance(item, str)] if isinstance(value, list) else []
