"""How our charts look: one set of hues, dashes and marks, one ink, for light and for dark pages.

The eight hues are steps of even lightness in OKLab (B. Ottosson, A perceptual color space for image processing,
2020), given to the pins so that neighbours in number differ in lightness and in hue; all reach 3:1 against the paper
(WCAG 2.2, 1.4.11) in both themes, and in grey no two are alike. A hue never stands alone: dashes and marks go with
it, and each line ends in the name of its pin. In SVG on a page, `themed` turns each colour into a CSS variable, so
that the page's dark side can give it another value.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK = "#1d2a33"
SOFT = "#596871"
FAINT = "#dbe2e6"
BAND = "#f1f4f5"
PAPER = "#ffffff"
ALARM = "#a3341f"
"""Ratings and what is hot: also told by words and weight, never by this colour alone."""

DARK = {INK: "#e6edf0", SOFT: "#9fb0ba", FAINT: "#37444c", BAND: "#1d272d", PAPER: "#151c21", ALARM: "#ff9b82"}
_NAMES = {INK: "ink", SOFT: "soft", FAINT: "faint", BAND: "band", PAPER: "paper", ALARM: "alarm"}

_HUES = {
    "light": ("#4c2f02", "#6e43a2", "#8c7f0d", "#05475d", "#a14082", "#4a9d43", "#055752", "#3f6ec9"),
    "dark": ("#ac710b", "#bb90f7", "#e5d450", "#0b95c0", "#f990d3", "#a2f799", "#1ca89f", "#a2c3fd"),
}
_DASHES = ("-", (0, (7, 2.5)), (0, (1.5, 1.5)), (0, (8, 2, 1.5, 2)), (0, (3.5, 2)))
_MARKS = ("o", "s", "^", "D", "v", "P", "X")


class LineStyle(NamedTuple):
    """Hue, dash and mark of one pin's line. The three cycles have no common factor: 280 differ."""

    colour: str
    dash: object
    mark: str


def style_of(place: int) -> LineStyle:
    """The style of the pin at `place` in the order of numbering, the same in every chart of a session."""
    return LineStyle(hues()[place % len(hues())], _DASHES[place % len(_DASHES)], _MARKS[place % len(_MARKS)])


def hues(theme: str = "light") -> tuple[str, ...]:
    """The eight hues of a theme, `light` or `dark`; a place has the same hue in both."""
    return _HUES[theme]


def themed(svg: str) -> str:
    """An SVG of ours with each colour as a CSS variable that falls back to the light one."""
    for colour, name in _NAMES.items():
        svg = svg.replace(colour, f"var(--{name}, {colour})")
    for place, colour in enumerate(hues()):
        svg = svg.replace(colour, f"var(--line{place}, {colour})")
    return svg.replace("'DejaVu Sans'", "'DejaVu Sans', Verdana, 'Noto Sans', sans-serif")


def css_variables(theme: str) -> str:
    """The variables of `themed` as CSS declarations; `theme` is light or dark."""
    plain = {name: colour if theme == "light" else DARK[colour] for colour, name in _NAMES.items()}
    together = plain | {f"line{place}": colour for place, colour in enumerate(hues(theme))}
    return " ".join(f"--{name}: {colour};" for name, colour in together.items())


@contextmanager
def drawing() -> Iterator[None]:
    """Settings under which the same data give the same bytes, and no glyph that a font lacks raises."""
    import warnings

    import matplotlib

    settings = {
        "svg.hashsalt": "hotspot",
        "svg.fonttype": "none",
        "font.family": ["DejaVu Sans"],
        "font.size": 9.0,
        "axes.edgecolor": SOFT,
        "axes.labelcolor": INK,
        "text.color": INK,
        "xtick.color": SOFT,
        "ytick.color": SOFT,
        "text.parse_math": False,
        "path.simplify": True,
    }
    with matplotlib.rc_context(settings), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def png_bytes(figure: Figure, dpi: int = 130) -> bytes:
    """A figure as PNG; no date, no version inside."""
    return _bytes(figure, "png", {"Software": None}, dpi)


def flat_png(figure: Figure, dpi: int) -> bytes:
    """A figure as PNG with at most 96 colours: a third of the bytes, for charts of many pins on a page."""
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.open(io.BytesIO(png_bytes(figure, dpi))).convert("RGB").quantize(96).save(out, "PNG", optimize=True)
    return out.getvalue()


def svg_text(figure: Figure) -> str:
    """A figure as SVG; no date inside."""
    return _bytes(figure, "svg", {"Date": None, "Creator": None}, 72).decode("utf-8")


def _bytes(figure: Figure, form: str, metadata: dict, dpi: int) -> bytes:
    import io

    out = io.BytesIO()
    with drawing():
        figure.savefig(out, format=form, metadata=metadata, dpi=dpi)
    return out.getvalue()


def shortened(text: str, most: int) -> str:
    """A text on one line, at most `most` characters, an ellipsis where it was cut."""
    flat = " ".join(str(text).split())
    return flat if len(flat) <= most else flat[: most - 1].rstrip() + "…"


def width_of(text: str, size: float, weight: str = "normal") -> float:
    """Width in points of a line of text in the charts' own font at `size` points."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    with drawing():
        font = FontProperties(family="DejaVu Sans", size=size, weight=weight)
        return float(text_to_path.get_text_width_height_descent(text, font, False)[0]) if text else 0.0


def fitted(text: str, room: float, size: float, weight: str = "normal") -> str:
    """A text on one line of at most `room` points; where it is cut, then between words if it can, with an ellipsis."""
    flat = shortened(text, 400)
    if width_of(flat, size, weight) <= room:
        return flat
    most = bisect_right(range(len(flat)), room, key=lambda n: width_of(flat[:n] + "…", size, weight)) - 1
    most = max(0, most)
    cut = flat[:most]
    if most and not flat[most].isspace() and cut.rfind(" ") > most / 2:
        cut = cut[: cut.rfind(" ")]
    return cut.rstrip(" ,;·") + "…" if most else ""


def folded(text: str, room: float, size: float, weight: str = "normal", most: int = 2) -> list[str]:
    """A text on at most `most` lines of `room` points, broken between words; what is left over is cut."""
    words, lines = shortened(text, 400).split(), []
    while words and len(lines) < most - 1:
        count = 1
        while count < len(words) and width_of(" ".join(words[: count + 1]), size, weight) <= room:
            count += 1
        if width_of(words[0], size, weight) > room:
            break
        lines.append(" ".join(words[:count]))
        words = words[count:]
    return [*lines, fitted(" ".join(words), room, size, weight)] if words else lines


def spread(wanted: list[float], gap: float, low: float, high: float) -> list[float]:
    """Places for labels: near the `wanted` ones, at least `gap` apart, within [low, high] if they fit at all.

    Labels that touch are moved together about their common middle; order is kept.
    """
    if not wanted:
        return []
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    gap = min(gap, (high - low) / max(1, len(wanted) - 1))
    groups: list[list[int]] = []
    starts: list[float] = []
    for i in order:
        groups.append([i])
        starts.append(min(max(wanted[i], low), high))
        while len(groups) > 1 and starts[-1] < starts[-2] + gap * len(groups[-2]):
            last = groups.pop()
            starts.pop()
            groups[-1] += last
            middle = sum(wanted[j] for j in groups[-1]) / len(groups[-1])
            length = gap * (len(groups[-1]) - 1)
            starts[-1] = min(max(middle - length / 2, low), high - length)
    places = [0.0] * len(wanted)
    for group, start in zip(groups, starts, strict=True):
        for step, i in enumerate(group):
            places[i] = start + gap * step
    return places
