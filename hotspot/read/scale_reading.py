"""The printed ends of every frame of a camera that fits its scale to each frame: which to type, and all the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from hotspot.read.bar import Bar
from hotspot.read.scale_alphabet import (
    UNKNOWN,
    Alphabet,
    Guess,
    Key,
    Prints,
    best_parts,
    guesses_of,
    learn,
    read_numbers,
    to_type,
    twofold,
    unsure,
)
from hotspot.read.scale_checks import bar_changed, jumps
from hotspot.read.scale_deduce import deduced, refuted
from hotspot.read.scale_digits import Line, characters, parted
from hotspot.read.scale_learn import LOOKS, Zone, lines_of, without_bar, zones_of
from hotspot.read.scale_match import Letters, letters_of, runs_of
from hotspot.read.scale_settle import settled

_LOOKED_AT = 24
_PIXELS = 2000  # of the scene, to see whether it jumps
_FEWEST_PIXELS = 100
_STANDS = 0.002  # of the scale: what moves less is no part of the scene
_ALONG = 32  # colours of the bar that are kept
_HEIGHTS_DIFFER = (1.2, 0.22)  # px, and of the height: two lines of one font, met with other digits
_FEW = 0.05  # of the numbers in doubt: a print that is read well
_OUT_OF_SHAPE = ("scale_no_number", "scale_other_print", "scale_other_format")
_SHAPELESS = 0.1  # of the numbers at an end
_LEAST_WORTH = 0.1  # of the typed numbers found along a line: made print gives 0.2 to 0.6


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
    pairs = []
    for look in LOOKS:
        lows, highs = (lines_of([looks[k].zones[end] for k in spread], zones[end], look) for end in (0, 1))
        pairs += [(a + b, low, high) for (a, low), (b, high) in product(enumerate(lows), enumerate(highs))]
        pairs = [pair for pair in pairs if _one_print(*pair[1:])]
        if pairs:
            break
    for _, low, high in sorted(pairs, key=lambda pair: pair[0])[:6]:
        height = (low.height + high.height) / 2.0  # one font: round digits reach farther than others, so the mean
        lines = _of_height(low, height), _of_height(high, height)
        yield Found(lines, prints_of(looks, zones, lines))


def _one_print(low: Line, high: Line) -> bool:
    """Whether two lines are of one polarity and about one height."""
    most = max(_HEIGHTS_DIFFER[0], _HEIGHTS_DIFFER[1] * high.height)
    return (low.ink > low.ground) == (high.ink > high.ground) and abs(low.height - high.height) <= most


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
    found = max(candidates(looks, zones), key=lambda one: _orderly(one.prints), default=None)
    chosen = [] if found is None else to_type(found.prints, range(len(looks)), most)
    return chosen or sorted({0, len(looks) // 2, len(looks) - 1})


def _orderly(prints: Prints) -> float:
    """Share of the numbers that hold characters, and of the characters that were met more than twice; less for fewer
    kinds than there are digits.
    """
    groups = [group for each in prints.group.values() for group in each if group >= 0]
    if not groups:
        return 0.0
    met = np.bincount(groups)
    numbers = [any(group >= 0 for group in each) for each in prints.group.values()]
    kinds = min(int((met > 2).sum()), 10) / 10
    return round(kinds * float(np.mean(numbers)) * float(met[met > 2].sum() / met.sum()), 2)


def read_ends(
    looks: Sequence[Look], zones: tuple[Zone, Zone], typed: Mapping[int, tuple[str, str]]
) -> tuple[list[End], Alphabet | None]:
    """The ends of every frame by the typed ones (place in `looks` -> texts of low and high), and what was learned.

    Characters are connected strokes; where that leaves doubt, they are looked for along the line as well, and what
    one way cannot read the other may; where they differ, the frame is in doubt. None, and every frame in doubt, where
    the characters typed are not found in the print.
    """
    texts: dict[Key, str] = {(k, end): text for k, both in typed.items() for end, text in enumerate(both)}
    found = list(candidates(looks, zones))
    ways = [_by_strokes(found, looks, zones, texts)]
    ways[0] = ways[0] and _with_contradictions(ways[0], typed)
    mistyped = _mistyped(ways[0], typed)
    if ways[0] is None or (_in_doubt(ways[0].numbers, typed) and not ways[0].contradicted):
        fitting = {key: text for key, text in texts.items() if key not in mistyped}
        ways.append(_by_matching(found, looks, zones, fitting))
    ways = [way for way in ways if way is not None]
    if not ways:
        unread = [
            End(*typed.get(k, ("", "")), "" if k in typed else "scale_print_not_found") for k in range(len(looks))
        ]
        return unread, None
    numbers = ways[0].numbers if len(ways) == 1 else _together(ways[0].numbers, ways[1].numbers)
    best = min(ways, key=lambda way: _in_doubt(way.numbers, typed))
    alphabet = replace(best.alphabet, unaligned=mistyped or best.alphabet.unaligned)
    if not best.contradicted:
        guesses = {
            key: [guess for way in ways if (guess := way.guess(key))] for key, (_, why) in numbers.items() if why
        }
        numbers = settled(numbers, guesses, _scene(looks), typed)
    return _checked(looks, numbers, typed), alphabet


Numbers = dict[Key, tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Way:
    """All numbers as one way of reading gives them, what they may be where they are in doubt, and what was learned."""

    numbers: Numbers
    guesses: dict[Key, Guess]
    alphabet: Alphabet
    prints: Prints

    @property
    def contradicted(self) -> bool:
        """Whether what was typed contradicts itself or the scene: the person has to mend that first."""
        return bool(self.alphabet.conflicts or self.alphabet.refuted or self.alphabet.twofold)

    def guess(self, key: Key) -> Guess | None:
        """What a number may be, read without doubt with or without a minus before it; None where its characters do not
        stand as in the typed ones.
        """
        text, why = self.numbers[key]
        return self.guesses.get(key) if why else Guess(UNKNOWN + text.lstrip("-"), ("", *text.lstrip("-")))


def _with_contradictions(way: Way, typed: Mapping[int, tuple[str, str]]) -> Way:
    """Numbers that hold a digit whose typing contradicts itself are in doubt: one character typed as two digits, or,
    where the print is read well, two characters typed as one.
    """
    well = _in_doubt(way.numbers, typed) <= _FEW * len(way.numbers)
    alphabet = replace(way.alphabet, twofold=twofold(way.prints, way.alphabet)) if well else way.alphabet
    wrong = {digit for each in (alphabet.twofold, *alphabet.conflicts) for digit in each}
    numbers = {
        key: (text, why or ("scale_digit_contradicted" if wrong & set(text) else ""))
        for key, (text, why) in way.numbers.items()
    }
    return replace(way, numbers=numbers, alphabet=alphabet)


def _mistyped(way: Way | None, typed: Mapping[int, tuple[str, str]]) -> tuple[Key, ...]:
    """Typed numbers that do not fit the print, where hardly any other at that end is out of shape: these were typed
    wrongly. Where many are, it is the print.
    """
    if way is None:
        return ()
    shapeless = [end for (k, end), (_, why) in way.numbers.items() if why in _OUT_OF_SHAPE and k not in typed]
    return tuple(key for key in way.alphabet.unaligned if 2 * shapeless.count(key[1]) < _SHAPELESS * len(way.numbers))


def _in_doubt(numbers: Numbers, typed: Mapping[int, tuple[str, str]]) -> int:
    return sum(bool(why) for key, (_, why) in numbers.items() if key[0] not in typed)


def _together(one: Numbers, other: Numbers) -> Numbers:
    """What either way reads without doubt; in doubt where both do, and differ, or where only one sees a minus."""
    out = {}
    for key in one:
        sure = {numbers[key][0] for numbers in (one, other) if not numbers[key][1]}
        begins = {numbers[key][0][:1] for numbers in (one, other)} - {"", UNKNOWN}
        signs = {sign == "-" for sign in begins}
        if len(sure) > 1 or (sure and len(signs) > 1):
            out[key] = (one[key][0], "scale_read_twice")
        else:
            out[key] = (sure.pop(), "") if sure else one[key]
    return out


def _by_strokes(
    found: Sequence[Found], looks: Sequence[Look], zones: tuple[Zone, Zone], texts: Mapping[Key, str]
) -> Way | None:
    """All numbers by connected strokes; None where those of the typed frames are other characters than were typed."""
    for each in found:
        alphabet = learn(each.prints, texts)
        if alphabet is not None and cut_joined(each, alphabet, looks, zones):
            alphabet = learn(each.prints, texts)
        if alphabet is not None:
            return _named_by_scene(each.prints, alphabet, looks, texts)
    return None


def _by_matching(
    found: Sequence[Found], looks: Sequence[Look], zones: tuple[Zone, Zone], texts: Mapping[Key, str]
) -> Way | None:
    """All numbers by pictures moved along the lines; None where the typed numbers are nowhere."""
    best: tuple[Letters, dict[Key, np.ndarray], Found] | None = None
    for each in found:
        lumas = {
            (k, end): without_bar(look.zones[end], zones[end], each.lines[end].ground, beside=3)
            for k, look in enumerate(looks)
            for end in (0, 1)
        }
        letters = letters_of(lumas, each.lines, texts)
        if best is None or letters.worth > best[0].worth:
            best = letters, lumas, each
    if best is None or best[0].worth < _LEAST_WORTH:
        return None
    letters, lumas, each = best
    prints = Prints(runs_of(lumas, each.lines, letters, texts))
    alphabet = learn(prints, texts)
    return None if alphabet is None else _named_by_scene(prints, alphabet, looks, texts)


def _named_by_scene(prints: Prints, alphabet: Alphabet, looks: Sequence[Look], texts: Mapping[Key, str]) -> Way:
    typed = {k: (texts[k, 0], texts[k, 1]) for k, end in texts if end == 0 and (k, 1) in texts}
    alphabet = deduced(prints, alphabet, _scene(looks), typed)
    numbers, guesses = read_numbers(prints, alphabet), guesses_of(prints, alphabet)
    wrong = refuted(prints, alphabet, _scene(looks), typed)
    for key, groups in prints.group.items():
        if not wrong.keys().isdisjoint(groups) and not numbers[key][1]:
            numbers[key] = (numbers[key][0], "scale_digit_refuted")
    return Way(numbers, guesses, replace(alphabet, refuted=tuple(sorted(set(wrong.values())))), prints)


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
