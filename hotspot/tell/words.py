"""Statements -> sentences. Every sentence that a person reads lies in `catalogue/*.toml`, one file per room.

A template holds placeholders: `{x:temp}` an absolute temperature in the reader's unit, `{x:rise}` a
difference, `{x:time}` seconds as m:ss, `{x:num}` a short number, `{x:ratio}` two significant digits,
`{x:pct}` a share as per cent, `{x:list}` names joined, `{x}` as it is (a Statement is said in turn).
`{x:lies|lie}` is the first word for one name (or the number 1) and the second for any other count; "pin", "pins",
"frame" or "frames" right before a list takes the number of the list by itself.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from importlib import resources
from numbers import Integral, Real
from string import Formatter
from typing import Any

from hotspot.records import Bound, Statement
from hotspot.units import DIFFERENCE_SYMBOL, SYMBOL, difference_from_kelvin, from_celsius

NOT_KNOWN = "not known"
_FORMS = ("", "temp", "rise", "time", "num", "ratio", "pct", "list")


class CatalogueError(LookupError):
    """A statement and the catalogue do not fit: a mistake in the program, never in the user's input."""


@cache
def catalogue() -> Mapping[str, str]:
    """Code -> template, over all files of the catalogue.

    Raises CatalogueError for a code given twice or a placeholder of an unknown form.
    """
    together: dict[str, str] = {}
    folder = resources.files("hotspot.tell") / "catalogue"
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if not entry.name.endswith(".toml"):
            continue
        for code, template in tomllib.loads(entry.read_text(encoding="utf-8")).items():
            if code in together:
                raise CatalogueError(f"{entry.name}: the code {code!r} is defined twice")
            placeholders(template)
            together[code] = template
    return together


def placeholders(template: str) -> dict[str, str]:
    """Names of the placeholders of a template -> their form. Raises CatalogueError for an unknown form."""
    found: dict[str, str] = {}
    for _, name, form, _ in Formatter().parse(template):
        if name is None:
            continue
        if not name or (form not in _FORMS and form.count("|") != 1):
            raise CatalogueError(f"{template!r}: {{{name}:{form}}} is no placeholder; forms are {_FORMS}")
        found.setdefault(name, form or "")
    return found


def say(statement: Statement, units: str = "C") -> str:
    """The sentence of a statement, temperatures in `units` (C, F or K).

    Raises CatalogueError for a code that no file defines, or a value that the sentence needs and lacks.
    """
    template = catalogue().get(statement.code)
    if template is None:
        raise CatalogueError(f"no sentence for the code {statement.code!r} in hotspot/tell/catalogue")
    parts = []
    for text, name, form, _ in Formatter().parse(template):
        parts.append(text)
        if name is None:
            continue
        if name not in statement.values:
            raise CatalogueError(f"{statement.code!r}: the sentence needs {name!r}, which has no value")
        value = statement.values[name]
        if form == "list":
            parts[-1] = _NOUN.sub(r"\1s" if _many(value) else r"\1", parts[-1])
        parts.append(worded(value, form or "", units))
    return "".join(parts)


def text(code: str, units: str = "C", **values: Any) -> str:
    """The words of a page, a chart or a terminal: the sentence `code` of the catalogue with these values."""
    return say(Statement(code, values), units)


_NOUN = re.compile(r"\b([Pp]in|frame)s?(?= $)")


def _many(value: Any) -> bool:
    """False for one name, or the number 1."""
    if value is None or isinstance(value, str):
        return False
    return value != 1 if isinstance(value, Real) else len(value) != 1


def say_all(statements: Iterable[Statement] | Statement | str | None, units: str = "C") -> list[str]:
    """Sentences of one statement or of many; text that is worded already passes through."""
    if statements is None or (isinstance(statements, float) and math.isnan(statements)):
        return []
    if isinstance(statements, str):
        return [statements] if statements else []
    if isinstance(statements, Statement):
        return [say(statements, units)]
    return [one for each in statements for one in say_all(each, units)]


def worded(value: Any, form: str, units: str) -> str:
    """One value in one of the placeholder forms; what is None, NaN or infinite is `not known`."""
    if isinstance(value, Statement):
        return say(value, units)
    if "|" in form:
        return form.split("|")[_many(value)]
    if form == "list":
        return joined([value] if isinstance(value, str) else value)
    if value is None or (isinstance(value, Real) and not math.isfinite(value)):
        return NOT_KNOWN
    if form == "temp":
        return temperature(value, units)
    if form == "rise":
        return difference(value, units)
    return at_bound(value, _PLAIN[form](value))


def at_bound(value: Any, said: str) -> str:
    """`said` with `at least` or `at most` before it where `value` is known from one side only; else as it is."""
    return text(_BOUND[value.side], said=said) if isinstance(value, Bound) else said


def at_bound_short(value: Any, said: str) -> str:
    """As `at_bound`, with a sign for the words, where room is small."""
    return text(_BOUND_SHORT[value.side], said=said) if isinstance(value, Bound) else said


def whole(value: float) -> str:
    """A whole number, with its sign where it is a bound; that is rounded to the side on which it still holds."""
    if not isinstance(value, Bound):
        return f"{value:.0f}"
    tenths = round(value, 1)  # no more than this is known of it
    return at_bound_short(value, str(math.floor(tenths) if value.side == "high" else math.ceil(tenths)))


def temperature(celsius: float, units: str) -> str:
    """An absolute temperature in °C -> text in the reader's unit, one decimal: `65.2 °C`, `at least 45.0 °C`."""
    return at_bound(celsius, f"{_one_decimal(from_celsius(float(celsius), units))} {SYMBOL[units]}")


def difference(kelvin: float, units: str) -> str:
    """A temperature difference in K -> text in the reader's unit, one decimal: `12.3 K`, `at least 23.7 K`."""
    return at_bound(kelvin, f"{_one_decimal(difference_from_kelvin(float(kelvin), units))} {DIFFERENCE_SYMBOL[units]}")


def clock(seconds: float) -> str:
    """Seconds of the session -> m:ss, rounded to the second; minutes go on past 59."""
    whole = round(abs(float(seconds)))
    sign = "-" if seconds < 0 and whole else ""
    return f"{sign}{whole // 60}:{whole % 60:02d}"


def number(value: Any) -> str:
    """A short number: three significant digits, never an exponent between 0.001 and a million."""
    if isinstance(value, str | bool):
        return str(value)
    if float(value).is_integer() and abs(value) < 1e6:
        return str(int(value))
    return f"{value:.0f}" if 100 <= abs(value) < 1e6 else f"{value:.3g}"


def ratio(value: float) -> str:
    """A ratio with two significant digits: 2.9, 0.12, 120."""
    if not math.isfinite(value) or value == 0:
        return f"{value:g}"
    digits = 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, digits):.{max(0, digits)}f}"


def per_cent(share: float) -> str:
    """A share -> per cent: 0.12 -> `12 %`; below one per cent one more digit."""
    value = 100.0 * share
    return f"{value:.0f} %" if abs(value) >= 1 or value == 0 else f"{value:.1g} %"


def joined(names: Iterable[Any]) -> str:
    """Names -> `1, 2 and 5`."""
    texts = [number(name) if isinstance(name, Real) else str(name) for name in names or ()]
    if len(texts) < 2:
        return texts[0] if texts else "none"
    return f"{', '.join(texts[:-1])} and {texts[-1]}"


def pins_named(names: Iterable[Any]) -> str:
    """Names of pins with their noun: `pin 4`, `pins 3 and 5`."""
    names = list(names)
    return f"pin{'s' if len(names) > 1 else ''} {joined(names)}"


def _one_decimal(value: float) -> str:
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


def _plain(value: Any) -> str:
    if isinstance(value, list | tuple):
        return joined(value)
    broken = isinstance(value, Real) and not isinstance(value, Integral)
    return number(value) if broken else str(value)


_BOUND = {"high": "bound_high", "low": "bound_low"}
BOUND_SIGNS = ("≥", "≤")
"""What the short words of bounds begin with."""
_BOUND_SHORT = {"high": "bound_high_short", "low": "bound_low_short"}
_PLAIN: dict[str, Callable[[Any], str]] = {
    "": _plain,
    "num": number,
    "time": clock,
    "ratio": ratio,
    "pct": per_cent,
}
