"""The printed ends of every frame of a camera that fits its scale to each frame: which to type, and all the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from hotspot.read.bar import Bar
from hotspot.read.scale_alphabet import (
    Alphabet,
    Key,
    Prints,
    best_parts,
    learn,
    to_type,
    unsure,
)
from hotspot.read.scale_checks import bar_changed, jumps
from hotspot.read.scale_digits import Line, characters, parted
from hotspot.read.scale_learn import LOOKS, Zone, lines_of, without_bar, zones_of
from hotspot.read.scale_match import Letters, letters_of, runs_of
from hotspot.read.scale_scene import Scene, step_of
from hotspot.read.scale_ways import (
    Numbers,
    Texts,
    Way,
    as_typed,
    in_doubt,
    mistyped,
    named_by_scene,
    names_of,
    read_by_all,
    settled_by_all,
    with_contradictions,
    with_each_other_s,
    without_misnamed,
)

_LOOKED_AT = 24
_PIXELS = 2000  # of the scene, to see whether it jumps
_FEWEST_PIXELS = 100
_STANDS = 0.002  # of the scale: what moves less is no part of the scene
_ALONG = 32  # colours of the bar that are kept
_HEIGHTS_DIFFER = (1.2, 0.22)  # px, and of the height: two lines of one font, met with other digits
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
    looks: Sequence[Look], zones: tuple[Zone, Zone], typed: Mapping[int, Texts]
) -> tuple[list[End], Alphabet | None]:
    """The ends of every frame by the typed ones (place in `looks` -> texts of low and high), and what was learned.

    Characters are connected strokes; where that leaves doubt, they are looked for along the line as well, and what
    one way cannot read the other may; where they differ, the frame is in doubt. None, and every frame in doubt, where
    the characters typed are not found in the print.
    """
    scene = _scene(looks)
    ways, wrong = _ways_of(looks, zones, typed, scene)
    if not ways:
        unread = [
            End(*typed.get(k, ("", "")), "" if k in typed else "scale_print_not_found") for k in range(len(looks))
        ]
        return unread, None
    return _ends_of(ways, wrong, looks, typed, scene)


def _ways_of(
    looks: Sequence[Look], zones: tuple[Zone, Zone], typed: Mapping[int, Texts], scene: Scene
) -> tuple[list[Way], tuple[Key, ...]]:
    """All numbers by strokes, and by matching as well where those leave doubt; and typed numbers unlike their print."""
    texts: dict[Key, str] = {(k, end): text for k, both in typed.items() for end, text in enumerate(both)}
    found = list(candidates(looks, zones))
    learned = _by_strokes(found, looks, zones, texts)
    strokes = learned and with_contradictions(named_by_scene(*learned, scene, texts), typed)
    wrong = mistyped(strokes, typed)
    if strokes is not None and not in_doubt(strokes.numbers, typed):
        return [strokes], wrong
    matching = _matched(found, looks, zones, scene, {key: text for key, text in texts.items() if key not in wrong})
    if matching is not None and (fit := as_typed(matching, {key: texts[key] for key in wrong})):
        wrong = tuple(key for key in wrong if key not in fit)
        fitting = {key: text for key, text in texts.items() if key not in wrong}
        again = _matched(found, looks, zones, scene, fitting)
        if again is not None and in_doubt(again.numbers, typed) < in_doubt(matching.numbers, typed):
            matching = again
    if strokes is not None and matching is not None:
        return list(with_each_other_s(strokes, matching)), wrong
    return [strokes or with_contradictions(matching, typed)] if strokes or matching else [], wrong


def _matched(
    found: Sequence[Found],
    looks: Sequence[Look],
    zones: tuple[Zone, Zone],
    scene: Scene,
    texts: Mapping[Key, str],
) -> Way | None:
    learned = _by_matching(found, looks, zones, texts)
    return learned and named_by_scene(*learned, scene, texts)


def _ends_of(
    ways: Sequence[Way], wrong: tuple[Key, ...], looks: Sequence[Look], typed: Mapping[int, Texts], scene: Scene
) -> tuple[list[End], Alphabet]:
    """The ends of every frame by the ways of reading; `wrong` are typed numbers unlike their print."""
    numbers, more = settled_by_all(ways, scene, typed)
    best = min(more, key=lambda way: in_doubt(way.numbers, typed))
    alphabet = replace(best.alphabet, unaligned=wrong or best.alphabet.unaligned)
    names = names_of(numbers, scene, typed)
    if names.renamed or names.unsure:
        numbers = without_misnamed(read_by_all(ways), names, typed)
    if names.renamed:
        alphabet = replace(alphabet, renamed=tuple(sorted(names.renamed.items())), refuted=())
    return _checked(looks, numbers, typed, scene), alphabet


def _by_strokes(
    found: Sequence[Found], looks: Sequence[Look], zones: tuple[Zone, Zone], texts: Mapping[Key, str]
) -> tuple[Prints, Alphabet] | None:
    """Connected strokes; None where those of the typed frames are other characters than were typed."""
    for each in found:
        alphabet = learn(each.prints, texts)
        if alphabet is not None and cut_joined(each, alphabet, looks, zones):
            alphabet = learn(each.prints, texts)
        if alphabet is not None:
            return each.prints, alphabet
    return None


def _by_matching(
    found: Sequence[Found], looks: Sequence[Look], zones: tuple[Zone, Zone], texts: Mapping[Key, str]
) -> tuple[Prints, Alphabet] | None:
    """Characters found by pictures moved along the lines; None where the typed numbers are nowhere."""
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
    return None if alphabet is None else (prints, alphabet)


def _scene(looks: Sequence[Look]) -> Scene:
    """The pixels that show the scene: they have a place in every frame, and not always the same one, as a plain panel
    has.
    """
    places = np.stack([look.places for look in looks])
    whole = places[:, np.isfinite(places).all(axis=0)]
    moving = np.ptp(whole, axis=0) > _STANDS
    return Scene(whole[:, moving] if moving.sum() >= _FEWEST_PIXELS else whole)


def _checked(looks: Sequence[Look], numbers: Numbers, typed: Mapping[int, Texts], scene: Scene) -> list[End]:
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
    jumping = jumps(scene.places, values[:, 0], values[:, 1], step_of(typed), sorted(typed))
    changed = bar_changed(np.stack([look.bar for look in looks]))
    return [
        End(e.low, e.high, "scale_scene_jumps" if jumping[k] else "scale_bar_changed")
        if not e.why and k not in typed and (jumping[k] or changed[k])
        else e
        for k, e in enumerate(ends)
    ]
