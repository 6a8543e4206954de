"""Where colour maps come from: matplotlib's tables, and picture files that hold a strip of colours."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from hotspot.errors import refuse
from hotspot.read.colour_image import ColourImage, rgb_to_ycc
from hotspot.records import Statement

ENTRIES = 256
_FEWEST = 24  # colours: a map of fewer is a set of labels, not a scale
_APART = 0.05  # of the scale: closer colours are neighbours, not repetitions
_END = 0.1  # of the scale: repetitions within this of both ends are the ends meeting
_TWIN, _MEETING = 2.0, 8.0  # levels, chroma at half weight: where two colours count as one
_TURN, _SAME_LUMA, _CONFUSED = 0.03, 3.0, 40.0  # of the scale; levels of luma, of chroma
_MOST_REPEATED = 0.05  # of the scale: clean maps have none, the striped ones 0.65 and more


@dataclass(frozen=True, slots=True)
class ColourMap:
    """Colours in order, `rgb` float (n, 3) 0-255, at `places` (n,) 0-1: the first at `low`, the last at `high`.

    `widths` (n,) is the stretch of the scale that each colour stands for.
    """

    name: str
    rgb: np.ndarray
    places: np.ndarray
    widths: np.ndarray

    def reversed(self) -> ColourMap:
        """The same colours from the other end."""
        name = self.name.removesuffix("_r") if self.name.endswith("_r") else f"{self.name}_r"
        return ColourMap(name, self.rgb[::-1], 1.0 - self.places[::-1], self.widths[::-1])

    def corners(self) -> tuple[np.ndarray, np.ndarray]:
        """Colours (m, 3) and places (m,) of the line through the map, on which a stretch of one colour has two ends."""
        beyond = (self.widths - self.widths.min()) / 2.0
        beyond[[0, -1]] = 0.0
        twice = 1 + (beyond > 0.0)
        places = np.repeat(self.places - beyond, twice)
        places[np.cumsum(twice) - 1] = self.places + beyond
        return np.repeat(self.rgb, twice, axis=0), places


def known_names() -> list[str]:
    """Names of matplotlib's maps, without importing pyplot."""
    from matplotlib import colormaps

    return sorted(colormaps)


@cache
def known_map(name: str) -> ColourMap:
    """A map of matplotlib by name, entry k of 256 at k / 255. Raises KeyError for a name that it does not know.

    The colours are matplotlib's own bytes: fractions of a level are cut off. Entries that are one colour in
    8 bits share the place in their middle.
    """
    from matplotlib import colormaps

    return _of_table(name, colormaps[name](np.linspace(0.0, 1.0, ENTRIES), bytes=True)[:, :3].astype(float))


@cache
def rounded_map(name: str) -> ColourMap:
    """known_map with its colours rounded to 8 bits instead of cut."""
    from matplotlib import colormaps

    return _of_table(name, np.rint(255.0 * colormaps[name](np.linspace(0.0, 1.0, ENTRIES))[:, :3]))


def _of_table(name: str, table: np.ndarray) -> ColourMap:
    starts, middle, length = _runs_of_one_colour(table)
    places = middle / (ENTRIES - 1)
    places[0], places[-1] = 0.0, 1.0
    return ColourMap(name, table[starts], places, length / (ENTRIES - 1))


def from_colours(name: str, rgb: np.ndarray) -> ColourMap:
    """Colours (n, 3) in order, evenly spaced. Runs of one colour become one entry at their middle, and the
    first and the last run are the two ends of the scale. Raises ValueError where there is only one colour.
    """
    rgb = np.asarray(rgb, dtype=float)
    starts, middle, length = _runs_of_one_colour(rgb)
    if len(starts) < 2:
        raise ValueError("only one colour")
    span = middle[-1] - middle[0]
    return ColourMap(name, rgb[starts], (middle - middle[0]) / span, length / span)


def _runs_of_one_colour(rgb: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """First entry, middle and length of every run of one colour."""
    starts = np.flatnonzero(np.r_[True, np.any(np.diff(rgb, axis=0) != 0, axis=1)])
    stops = np.r_[starts[1:], len(rgb)]
    return starts, (starts + stops - 1) / 2.0, (stops - starts).astype(float)


def strip_map(image: ColourImage, name: str, high_end: str | None) -> ColourMap:
    """The colours along the long axis of a picture of a strip; `high_end` top, bottom, left or right.

    Without `high_end` the hot end is the right or the top one. Each colour is the median across the strip.
    Raises InputError for a strip too short, too few colours, or a `high_end` across it.
    """
    rows, columns = image.shape
    lying = columns > rows or (columns == rows and high_end in ("left", "right"))
    allowed = ("left", "right") if lying else ("top", "bottom")
    if max(rows, columns) < _FEWEST:
        raise refuse(
            name, "scale.map", f"a strip of {max(rows, columns)} pixels", f"Give one of at least {_FEWEST} pixels."
        )
    if high_end is not None and high_end not in allowed:
        found = f"{high_end!r}, but {name} is {columns} wide and {rows} high"
        raise refuse("session.toml", "scale.high_end", found, f"Give {' or '.join(allowed)}.")
    colours = np.median(image.as_rgb().astype(float), axis=0 if lying else 1)
    hot_last = (high_end or "right") == "right" if lying else high_end == "bottom"
    return _enough(from_strip(name, colours if hot_last else colours[::-1]), name)


def from_strip(name: str, colours: np.ndarray) -> ColourMap:
    """from_colours for colours off a picture; raises InputError where it holds a single colour."""
    try:
        return from_colours(name, colours)
    except ValueError as error:
        raise refuse(name, "scale.map", "one colour from end to end", "Give a picture of the scale.") from error


def named_map(folder: Path, name: str, high_end: str | None) -> tuple[ColourMap, Path | None]:
    """A known map by its name, or a strip picture in `folder`; and the file that was read, if any.

    Raises InputError for a name that is neither, with the nearest names.
    """
    path = folder / name
    if path.is_file():
        return strip_map(_strip_picture(path, name), name, high_end), path
    names = known_names()
    if name in names:
        return _enough(known_map(name), name), None
    near = difflib.get_close_matches(name.lower(), names, n=3, cutoff=0.5)
    hint = f"Nearest names: {', '.join(near)}." if near else "Known are, for example, inferno, turbo, jet and gray."
    raise refuse(
        "session.toml", "scale.map", f"{name!r} is neither a known map nor a file beside it", f"{hint} Or give 'bar'."
    )


def _strip_picture(path: Path, name: str) -> ColourImage:
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(path) as picture:
            mode = "RGBA" if "A" in picture.getbands() or "transparency" in picture.info else "RGB"
            return ColourImage.from_rgb(np.asarray(picture.convert(mode)))
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as error:
        raise refuse(name, "scale.map", "cannot be read as a picture", "Give a PNG of the strip.") from error


def _enough(colours: ColourMap, name: str) -> ColourMap:
    if len(colours.rgb) < _FEWEST:
        found = f"{name} has only {len(colours.rgb)} different colours"
        raise refuse("session.toml", "scale.map", found, "Use a map whose colours change steadily.")
    return colours


@dataclass(frozen=True, slots=True)
class Repeats:
    """Where a map's colours occur twice, masks (n,) over its entries: `near` in a blurred picture, `same` in
    any; and whether it is its ends that meet."""

    near: np.ndarray
    same: np.ndarray
    ends_meet: bool


def repeats(colours: ColourMap) -> Repeats:
    """Entries whose colour comes back elsewhere. Raises InputError for a map that repeats over a stretch."""
    ycc = rgb_to_ycc(colours.rgb) * (1.0, 0.5, 0.5)
    distance = np.sqrt(((ycc[:, None] - ycc[None]) ** 2).sum(axis=2))
    early = np.minimum(colours.places[:, None], colours.places[None])
    late = np.maximum(colours.places[:, None], colours.places[None])
    joined = (early < _END) & (late > 1.0 - _END)
    apart = late - early > _APART
    twins = (apart & ~joined & (distance < _TWIN)).any(axis=1)
    if twins.mean() > _MOST_REPEATED:
        found = f"the colours of {colours.name} repeat over {twins.mean():.0%} of the scale"
        raise refuse("session.toml", "scale.map", found, "Record with a map that shows each temperature differently.")
    meeting = (joined & (distance < _MEETING)).any(axis=1)
    same = twins | (joined & (distance < _TWIN)).any(axis=1)
    return Repeats(twins | meeting, same, bool(meeting.any()))


def folds(colours: ColourMap) -> np.ndarray:
    """Entries (n,) at whose luma the map is twice within a chroma that compression may confuse: where lightness
    turns (jet, turbo and rainbow in the middle, nipy_spectral four times), a reading led by luma may slip across.
    """
    ycc = rgb_to_ycc(colours.rgb)
    luma = np.abs(ycc[:, None, 0] - ycc[None, :, 0])
    chroma = np.hypot(*(ycc[:, None, k] - ycc[None, :, k] for k in (1, 2)))
    apart = np.abs(colours.places[:, None] - colours.places[None]) > _TURN
    return (apart & (luma < _SAME_LUMA) & (chroma < _CONFUSED)).any(axis=1)


def meeting_notice(colours: ColourMap, found: Repeats) -> list[Statement]:
    """What to say of a map whose ends meet."""
    if not found.ends_meet:
        return []
    values: dict[str, Any] = {"map": colours.name, "share": float(found.near.mean())}
    return [Statement("colour_map_ends_meet", values)]
