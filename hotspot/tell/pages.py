"""What every page shares: the template machinery, which escapes all text, and the forms of its cells."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Sequence
from functools import cache
from numbers import Real
from typing import TYPE_CHECKING, Any

from hotspot.tell import look, words
from hotspot.units import DIFFERENCE_SYMBOL, SYMBOL, difference_from_kelvin, from_celsius

if TYPE_CHECKING:
    from jinja2 import Environment

ABSENT = "–"
MOST_FILES = 200
"""Files listed on a page; findings.json and compare.json list them all."""


@cache
def environment() -> Environment:
    """Templates of hotspot/tell/templates; every value is escaped, and one that is missing is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loader = PackageLoader("hotspot.tell", "templates")
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    made.filters["short"] = words.number
    made.filters["frames"] = frame_list
    made.globals["t"] = words.text
    return made


def render(template: str, **content: Any) -> str:
    """A page as text, LF line ends."""
    return (
        environment()
        .get_template(template)
        .render(light=look.css_variables("light"), dark=look.css_variables("dark"), most_files=MOST_FILES, **content)
    )


def inline_svg(svg: str, prefix: str = "") -> str:
    """An SVG file of ours as part of a page: no XML head, colours that follow the page's theme.

    `prefix` is put before every id, so that several charts stand on one page.
    """
    text = slim(look.themed(svg[svg.index("<svg") :]))
    return re.sub(r'((?:\bid="|href="#|url\(#))', rf"\g<1>{prefix}", text) if prefix else text


def slim(svg: str) -> str:
    """The same drawing in fewer bytes: tenths of a point (hundredths below ten), no metadata, no blank space.

    Colours lose what they fall back to, and words their font: both are the page's.
    """
    text = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    text = re.sub(r"var\((--\w+), #\w+\)", r"var(\1)", text)
    text = re.sub(r" font-family: [^;\"]*;", "", text)
    text = re.sub(r' transform="rotate\(-?0(?: [^)]*)?\)"', "", text)
    text = re.sub(r"(?<= )(d|x|y|points)=\"[^\"]*\"", lambda found: _LONG.sub(_shorter, found[0]), text)
    text = re.sub(r"(?<=translate\()[^)]*", lambda found: _LONG.sub(_shorter, found[0]), text)
    return re.sub(r"\s*\n\s*", "\n", text)


_LONG = re.compile(r"-?\d+\.\d{2,}")


def _shorter(found: re.Match[str]) -> str:
    value = float(found[0])
    return f"{value:.{1 if abs(value) >= 10 else 2}f}".rstrip("0").rstrip(".")


def inline_both(name: str, wide: str, narrow: str) -> str:
    """Two drawings of one thing, for wide screens and paper and for narrow screens; `name` parts their ids."""
    parts = (("wide", inline_svg(wide, f"{name}w-")), ("narrow", inline_svg(narrow, f"{name}n-")))
    return "".join(f'<div class="on-{word}">{svg}</div>' for word, svg in parts)


def inline_wide(name: str, wide: str) -> str:
    """One drawing for every screen, which a narrow one scrolls; `name` parts its ids."""
    return f'<div class="on-all">{inline_svg(wide, f"{name}w-")}</div>'


def written_now() -> str:
    """The clock line of a page: the only text that differs from one writing to the next."""
    return datetime.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %z")


def temp_cell(celsius: Any, units: str) -> str:
    """An absolute temperature without its symbol, one decimal; a dash where it is not known."""
    if not known(celsius):
        return ABSENT
    return words.at_bound_short(celsius, _decimal(from_celsius(float(celsius), units)))


def rise_cell(kelvin: Any, units: str) -> str:
    """A difference without its symbol, one decimal; a dash where it is not known."""
    if not known(kelvin):
        return ABSENT
    return words.at_bound_short(kelvin, _decimal(difference_from_kelvin(float(kelvin), units)))


def ranged(middle: str, low: str, high: str) -> str:
    """A value with its interval: `70.0 (66.0 to 75.0)`."""
    return middle if ABSENT in (middle, low, high) else f"{middle} ({low} to {high})"


def ratio_cell(value: Any) -> str:
    """A ratio, two significant digits; a dash where it is not known."""
    return words.ratio(float(value)) if known(value) else ABSENT


def known(value: Any) -> bool:
    """True for a finite number."""
    return isinstance(value, Real) and math.isfinite(value)


def without_empty(heads: Sequence[str], stages: Sequence[dict[str, Any]]) -> list[str]:
    """Leave out the columns that no row of any stage fills: the heads that stay; the rows' cells are cut."""
    rows = [row for stage in stages for row in stage["rows"]]
    kept = [i for i in range(len(heads)) if not rows or any(row["cells"][i] != ABSENT for row in rows)]
    for row in rows:
        row["cells"] = [row["cells"][i] for i in kept]
    return [heads[i] for i in kept]


def units_in_words(units: str) -> tuple[str, str]:
    """The symbols of a temperature and of a difference."""
    return SYMBOL[units], DIFFERENCE_SYMBOL[units]


def frame_list(frames: Sequence[int]) -> str:
    """Numbers of frames in short: `frames 3, 4 and 5`, or how many if there are more than six."""
    if len(frames) > 6:
        return words.text("page_frames_many", count=len(frames), first=frames[0])
    return words.text("page_frames", frames=list(frames))


def _decimal(value: float) -> str:
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text
