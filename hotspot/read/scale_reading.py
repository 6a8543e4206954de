"""The printed ends of every frame of a camera that fits its scale to each frame: which to type, and all the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hotspot.read.bar import Bar
from hotspot.read.scale_alphabet import Alphabet, Key, Prints, best_parts, learn, read_numbers, to_type, unsure
from hotspot.read.scale_checks import bar_changed, jumps
from hotspot.read.scale_deduce import deduced
from hotspot.read.scale_digits import Line, characters, parted
from hotspot.read.scale_learn import Zone, lines_of, without_bar, zones_of

_LOOKED_AT = 24
_PIXELS = 2000  # of the scene, to see whether it jumps
_FEWEST_PIXELS = 100
_STANDS = 0.002  # of the scale: what moves less is no part of the scene
_ALONG = 32  # colours of the bar that are kept


@dataclass(frozen=True, slots=True)
class Look:
    """What is kept of one frame: luma around the cold and the hot end, places of some pixels along the scale (n,),
    and the bar's colours along it (m, 3).
    """

    index: int
    file: str
    zones: tuple[np.ndarray, np.ndarray]
    places: np.ndarray
    bar: np.ndarray


class Looker:
    """Takes from every picture what the reading needs. `shape` is (rows, columns)."""

    def __init__(self, bar: Bar, shape: tuple[int, int]) -> None:
        self.bar = bar
        self.zones: tuple[Zone, Zone] = zones_of(bar, shape)
        scene = np.ones(shape, dtype=bool)
        for zone in self.zones:
            zone.of(scene)[:] = False
        x, y, width, height = bar.box
        scene[max(y - 3, 0) : y + height + 3, max(x - 3, 0) : x + width + 3] = False
        rows, columns = np.nonzero(scene)
        step = max(len(rows) // _PIXELS, 1)
        self.rows, self.columns = rows[::step], columns[::step]

    def look(self, index: int, file: str, rgb: np.ndarray, places: np.ndarray) -> Look:
        """`rgb` uint8 (rows, columns, 3), `places` (rows, columns) along the scale, 0-1."""
        import cv2

        luma = cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2GRAY)
        x, y, width, height = self.bar.box
        part = rgb[y : y + height, x : x + width].astype(float)
        along = np.median(part, axis=0 if width > height else 1)
        kept = along[np.linspace(0, len(along) - 1, _ALONG).astype(int)]
        zones = tuple(np.ascontiguousarray(zone.of(luma)) for zone in self.zones)
        seen = places[self.rows, self.columns].astype(np.float32)
        return Look(index, file, zones, seen, kept.astype(np.float32))


@dataclass(frozen=True, slots=True)
class End:
    """Both ends of one frame as text, `read` or `doubtful`, and why in doubt (a code, empty if not)."""

    low: str
    high: str
    why: str = ""


@dataclass(slots=True)
class Found:
    """Where the numbers are printed, and all of them as characters."""

    lines: tuple[Line, Line]
    prints: Prints


def candidates(looks: Sequence[Look], zones: tuple[Zone, Zone]) -> Iterable[Found]:
    """Pairs of lines of alike print at the two ends, the likeliest first."""
    spread = np.unique(np.linspace(0, len(looks) - 1, min(_LOOKED_AT, len(looks))).astype(int))
    lows, highs = ([*lines_of([looks[k].zones[end] for k in spread], zones[end])] for end in (0, 1))
    pairs = [
        (a + b, low, high)
        for a, low in enumerate(lows)
        for b, high in enumerate(highs)
        if (low.ink > low.ground) == (high.ink > high.ground) and abs(low.height - high.height) <= 1.2
    ]
    for _, low, high in sorted(pairs, key=lambda pair: pair[0])[:6]:
        height = (low.height + high.height) / 2.0  # one font: round digits reach farther than others, so the mean
        lines = _of_height(low, height), _of_height(high, height)
        yield Found(lines, prints_of(looks, zones, lines))


def _of_height(line: Line, height: float) -> Line:
    middle = (line.top + line.bottom) / 2.0
    return replace(line, top=middle - height / 2.0, bottom=middle + height / 2.0)


def prints_of(looks: Sequence[Look], zones: tuple[Zone, Zone], lines: tuple[Line, Line]) -> Prints:
    """The characters of both numbers of every frame; the key's frame is the place in `looks`."""
    runs: dict[Key, list] = {}
    for place, look in enumerate(looks):
        for end in (0, 1):
            cleared = without_bar(look.zones[end], zones[end], lines[end].ground)
            runs[place, end] = characters(cleared, lines[end])
    return Prints(runs)


def cut_joined(found: Found, alphabet: Alphabet, looks: Sequence[Look], zones: tuple[Zone, Zone]) -> bool:
    """Characters that touch are cut where two known ones come out; True where there were any."""
    runs = {key: list(run) for key, run in found.prints.runs.items()}
    cut = False
    for (frame, end), k in reversed(unsure(found.prints, alphabet)):
        line = found.lines[end]
        cleared = without_bar(looks[frame].zones[end], zones[end], line.ground)
        parts = best_parts(parted(cleared, line, runs[frame, end][k]), alphabet)
        if parts is not None:
            runs[frame, end][k : k + 1] = parts
            cut = True
    if cut:
        found.prints = Prints(runs)
    return cut


def frames_to_type(looks: Sequence[Look], zones: tuple[Zone, Zone], most: int = 3) -> list[int]:
    """Places in `looks` of the frames to type, so that most of the camera's characters are met in them; where no
    print is found, the first, middle and last frame.
    """
    found = next(iter(candidates(looks, zones)), None)
    chosen = [] if found is None else to_type(found.prints, range(len(looks)), most)
    return chosen or sorted({0, len(looks) // 2, len(looks) - 1})


def read_ends(
    looks: Sequence[Look], zones: tuple[Zone, Zone], typed: Mapping[int, tuple[str, str]]
) -> tuple[list[End], Alphabet | None]:
    """The ends of every frame by the typed ones (place in `looks` -> texts of low and high), and what was learned.

    None, and every frame in doubt, where the characters typed are not found in the print.
    """
    texts: dict[Key, str] = {(k, end): text for k, both in typed.items() for end, text in enumerate(both)}
    for found in candidates(looks, zones):
        alphabet = learn(found.prints, texts)
        if alphabet is not None and cut_joined(found, alphabet, looks, zones):
            alphabet = learn(found.prints, texts)
        if alphabet is not None:
            alphabet = deduced(found.prints, alphabet, _scene(looks), typed)
            return _checked(looks, read_numbers(found.prints, alphabet), typed), alphabet
    return [
        End(*typed.get(k, ("", "")), "" if k in typed else "scale_print_not_found") for k in range(len(looks))
    ], None


def _scene(looks: Sequence[Look]) -> np.ndarray:
    """Places (frames, pixels) of pixels that show the scene: they have a place in every frame, and not always the same
    one, as a plain panel has.
    """
    places = np.stack([look.places for look in looks])
    whole = places[:, np.isfinite(places).all(axis=0)]
    moving = np.ptp(whole, axis=0) > _STANDS
    return whole[:, moving] if moving.sum() >= _FEWEST_PIXELS else whole


def _checked(
    looks: Sequence[Look], numbers: Mapping[Key, tuple[str, str]], typed: Mapping[int, tuple[str, str]]
) -> list[End]:
    ends = []
    for k in range(len(looks)):
        if k in typed:
            ends.append(End(*typed[k]))
            continue
        (low, why), (high, why_high) = numbers[k, 0], numbers[k, 1]
        why = why or why_high
        if not why and float(low) >= float(high):
            why = "scale_ends_exchanged"
        ends.append(End(low, high, why))
    values = np.array([(float(e.low), float(e.high)) if not e.why else (np.nan, np.nan) for e in ends])
    decimals = max(len(text.partition(".")[2]) for both in typed.values() for text in both)
    jumping = jumps(_scene(looks), values[:, 0], values[:, 1], 10.0**-decimals, sorted(typed))
    changed = bar_changed(np.stack([look.bar for look in looks]))
    return [
        End(e.low, e.high, "scale_scene_jumps" if jumping[k] else "scale_bar_changed")
        if not e.why and k not in typed and (jumping[k] or changed[k])
        else e
        for k, e in enumerate(ends)
    ]
