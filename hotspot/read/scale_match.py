"""Numbers taken apart without looking at strokes: pictures of the characters are moved along the line of print.

Thin strokes break and touch, and then connected strokes are no characters. Where a number is typed, its characters are
known in order, and rough pictures of digits tell where each stands, as speech is aligned with its text. What stands
there are the camera's own characters; with them every other line is taken apart so that most of its ink is explained:
dynamic programming over columns, a matched filter per character. What none explains is a character without a name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.read.scale_digits import CELLS, DASH, HIGH, POINT, SCRAP, TALL, WIDE, Character, Line
from hotspot.read.scale_strip import (
    DIGITS,
    behind,
    cell,
    column_of,
    cut,
    gain,
    half_width,
    likeness,
    rough,
    strip_of,
    window,
)

_STEPS = (0.5, 1.15)  # of the height: from digit to digit
_NEAR, _FAR = 0.55, 1.05  # of the step: from a point to the digits beside it
_DASH_NEAR, _DASH_FAR = 0.4, 1.2  # of the height: from a minus to the digit behind it
_SLACK = 2  # cells that a character may stand off its usual distance
_TAIL = 2.4  # of the height: width of what may stand behind
_LEAST_TAIL = 0.15  # of a digit's squared ink: less is no tail
_TAIL_DIFFERS = 0.35  # of its own squared ink: what stands behind is not the same in all numbers
_FOOT = round((HIGH - CELLS) / 2 + 0.7 * CELLS)  # rows of cells above a point
_DASH_ROWS = tuple(round((HIGH - CELLS) / 2 + part * CELLS) for part in (0.3, 0.85))  # rows of cells of a minus
_POINT_WIDE = 0.5  # of the height: how far behind a digit a point begins
_POINT_INK = 0.04  # of a digit's squared ink: fainter things are no point
_STRANGE, _TAX = 0.7, 0.22  # share of its ink that a nameless character explains, and what it costs, of a digit's ink
_BEFORE, _UNREAD = 0.8, 0.04  # of the step: how far before a number; of a digit's squared ink: more is print
_SIGN_TAX = 0.4  # of its own squared ink: the edge of a digit is no minus
_LEFT_WEIGHS = 2.0  # ink left over, against likeness to the rough pictures
_TURNS = 3
_SLANTS = (0.0, 0.2)
_MOST_DIGITS = 4  # before the point
_NEVER = -1e6
Key = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Letters:
    """A camera's characters: mean pictures (HIGH, WIDE), what stands behind the number (HIGH, any), the step from digit
    to digit [cells], the distances of neighbours by their kinds, a digit's mean squared ink, decimals, the slant, and
    the columns of the typed characters. `worth` tells how surely the typed numbers were found, 1 at most.
    """

    pictures: dict[str, np.ndarray]
    tail: np.ndarray
    step: float
    reach: dict[str, tuple[int, int]]
    ink: float
    decimals: frozenset[int]
    places: dict[Key, list[int]]
    slant: float
    worth: float


def letters_of(zones: Mapping[Key, np.ndarray], lines: Sequence[Line], typed: Mapping[Key, str]) -> Letters:
    """The characters learned from typed numbers, `zones` being their luma without the bar and `lines` those of the
    low and the high end.
    """
    found = []
    for slant in _SLANTS:
        strips = {key: strip_of(zones[key], lines[key[1]], slant) for key in typed}
        for step in range(round(_STEPS[0] * CELLS), round(_STEPS[1] * CELLS) + 1):
            found.append(_learned(strips, typed, step, slant))
    return max(found, key=lambda one: one.worth)


def _learned(strips: Mapping[Key, np.ndarray], typed: Mapping[Key, str], step: int, slant: float) -> Letters:
    """Places by the rough pictures, then with what stands behind, then by the camera's own characters."""
    drawn = _likes(strips, typed, rough(step), 0.72 * CELLS)
    places = {key: _placed(drawn[key], text, step) for key, text in typed.items()}
    pictures = _means(strips, typed, places, step)
    tail, ink = _tail_of(strips, places, step), _ink_of(pictures)
    for turn in range(_TURNS):
        own = drawn if turn == 0 else _likes(strips, typed, pictures, step)
        places = {
            key: _placed(own[key], text, step, _tail_worth(strips[key], tail, step, ink)) for key, text in typed.items()
        }
        pictures = _means(strips, typed, places, step)
        tail, ink = _tail_of(strips, places, step), _ink_of(pictures)
    like = np.mean(
        [
            np.mean([drawn[key][sign][x] for sign, x in zip(text, places[key], strict=True)])
            for key, text in typed.items()
        ]
    )
    worth = float(like) - _LEFT_WEIGHS * _left_over(strips, typed, places, (pictures, tail, step))
    if not _one_tail(strips, places, tail, step, ink):
        worth = -1.0
    decimals = frozenset(len(text.partition(".")[2]) for text in typed.values())
    return Letters(pictures, tail, step, _reaches(typed, places, step), ink, decimals, places, slant, worth)


def _ink_of(pictures: Mapping[str, np.ndarray]) -> float:
    return float(np.mean([(one**2).sum() for sign, one in pictures.items() if sign in DIGITS]))


def _likes(
    strips: Mapping[Key, np.ndarray], typed: Mapping[Key, str], pictures: Mapping[str, np.ndarray], step: float
) -> dict[Key, dict[str, np.ndarray]]:
    return {
        key: {sign: likeness(strips[key], window(pictures[sign], half_width(sign, step))) for sign in set(text)}
        for key, text in typed.items()
    }


def _placed(like: Mapping[str, np.ndarray], text: str, step: float, after: np.ndarray | float = 0.0) -> list[int]:
    """Columns of the characters where the sum of their `like` (sign -> columns) is largest; `after` is the worth of
    what follows the last one, by its column.
    """
    total, back = like[text[0]], []
    for one, other in zip(text, text[1:], strict=False):
        before, which = _best_before(total, *_reach(one, other, step))
        back.append(which)
        total = before + like[other]
    columns = [int((total + after).argmax())]
    for which in reversed(back):
        columns.append(int(which[columns[-1]]))
    return columns[::-1]


def _reach(one: str, other: str, step: float) -> tuple[int, int]:
    """Least and most distance between the middles of two neighbours before any were met, cells."""
    if "." in (one, other):
        return round(_NEAR * step), round(_FAR * step)
    if "-" in (one, other):
        return round(_DASH_NEAR * CELLS), round(_DASH_FAR * CELLS)
    return round(step) - _SLACK, round(step) + _SLACK


def _reaches(typed: Mapping[Key, str], places: Mapping[Key, list[int]], step: float) -> dict[str, tuple[int, int]]:
    """The same as met in the typed numbers, by kinds ('d' is a digit), with a little slack."""
    met: dict[str, list[int]] = {}
    for key, text in typed.items():
        for k, pair in enumerate(zip(text, text[1:], strict=False)):
            kinds = "".join("d" if one in DIGITS else one for one in pair)
            met.setdefault(kinds, []).append(places[key][k + 1] - places[key][k])
    out = {"dd": _reach("0", "0", step), "-d": _reach("-", "0", step)}
    for kinds, gaps in met.items():
        middle = round(float(np.median(gaps)))
        out[kinds] = (middle - _SLACK, middle + _SLACK)
    return out


def _best_before(total: np.ndarray, least: int, most: int) -> tuple[np.ndarray, np.ndarray]:
    """For each column the best total of those `least` to `most` before it, and which column that was."""
    columns = len(total)
    stack = np.full((most - least + 1, columns), _NEVER, np.float32)
    for k, gap in enumerate(range(least, most + 1)):
        stack[k, gap:] = total[: columns - gap]
    best = stack.argmax(axis=0)
    return stack[best, np.arange(columns)], np.arange(columns) - least - best


def _means(
    strips: Mapping[Key, np.ndarray], typed: Mapping[Key, str], places: Mapping[Key, list[int]], step: float
) -> dict[str, np.ndarray]:
    """Mean picture of every typed character; each is moved to where it fits those before it best."""
    met: dict[str, list[np.ndarray]] = {}
    for key, text in typed.items():
        for k, sign in enumerate(text):
            half, at = half_width(sign, step), places[key][k]
            strip = _alone(strips[key], text, places[key], k)
            if sign not in met:
                met[sign] = [cell(strip, at, half)]
                continue
            mean = np.mean(met[sign], axis=0)
            tries = [cell(strip, at + shift, half) for shift in range(-3, 4)]
            met[sign].append(max(tries, key=lambda one: float((2.0 * one * mean - one**2).sum())))
    return {sign: np.mean(each, axis=0) for sign, each in met.items()}


def _alone(strip: np.ndarray, kinds: Sequence[str], places: Sequence[int], k: int) -> np.ndarray:
    """The strip without the minus before character `k`, or where that is the minus, without the digit behind it: the
    two stand nearer to each other than two digits.
    """
    before = k - 1 if k and kinds[k - 1] == "-" else k
    if kinds[before] != "-" or before + 1 >= len(kinds):
        return strip
    first, last = places[before] + 1, places[before + 1]
    ink = strip[:, first:last].sum(axis=0)
    at = first + int(np.flatnonzero(ink <= ink.min() + 1e-6).mean()) if len(ink) else last
    out = strip.copy()
    if before == k:
        out[:, at:] = 0.0
        out[: _DASH_ROWS[0]] = out[_DASH_ROWS[1] :] = 0.0
    else:
        out[:, :at] = 0.0
    return out


def _tail_of(strips: Mapping[Key, np.ndarray], places: Mapping[Key, list[int]], step: float) -> np.ndarray:
    """What stands behind most of the numbers: the median, (HIGH, columns)."""
    half, width = half_width("0", step), 2 * round(_TAIL * CELLS / 2)
    return np.median([cut(strips[key], at[-1] + half, width) for key, at in places.items()], axis=0).astype(np.float32)


def _one_tail(
    strips: Mapping[Key, np.ndarray], places: Mapping[Key, list[int]], tail: np.ndarray, step: float, ink: float
) -> bool:
    """Whether most typed numbers have the same behind them: a unit or nothing, not decimals that were left out."""
    half, width = half_width("0", step), tail.shape[1]
    parts = [cut(strips[key], at[-1] + half, width) for key, at in places.items()]
    begins = np.cumsum(tail[:, : round(_POINT_WIDE * CELLS)] ** 2, axis=1)
    above, foot = begins[:_FOOT].sum(axis=0), begins[_FOOT:].sum(axis=0)
    if (foot > np.maximum(_POINT_INK * ink, 3.0 * above)).any():  # no unit begins with a point
        return False
    usual = float(np.median([(part**2).sum() for part in parts]))
    away = float(np.median([((part - tail) ** 2).sum() for part in parts]))
    return usual < _LEAST_TAIL * ink or away < _TAIL_DIFFERS * usual


def _tail_worth(strip: np.ndarray, tail: np.ndarray, step: float, ink: float) -> np.ndarray | float:
    """How like the tail the print behind a last digit is, by that digit's column."""
    if float((tail**2).sum()) < _LEAST_TAIL * ink:
        return 0.0
    width = tail.shape[1]
    found = likeness(np.pad(strip, ((0, 0), (0, width))), tail)
    return behind(found, half_width("0", step), width, strip.shape[1])


def _left_over(
    strips: Mapping[Key, np.ndarray], typed: Mapping[Key, str], places: Mapping[Key, list[int]], made: tuple
) -> float:
    """Share of the squared ink in and around the typed numbers that their characters and the tail do not explain."""
    pictures, tail, step = made
    left = whole = 0.0
    for key, text in typed.items():
        at = places[key]
        start = at[0] - round(1.4 * step)
        rest = cut(strips[key], start, at[-1] + half_width("0", step) + tail.shape[1] - start)
        whole += float((rest**2).sum())
        for sign, x in zip(text, at, strict=True):
            half = min(half_width(sign, step), WIDE // 2)
            rest[:, x - half - start : x + half - start] -= window(pictures[sign], half)
        rest[:, -tail.shape[1] :] -= tail
        left += float((rest**2).sum())
    return left / max(whole, 1e-9)


def runs_of(
    zones: Mapping[Key, np.ndarray], lines: Sequence[Line], letters: Letters, typed: Mapping[Key, str]
) -> dict[Key, list[Character]]:
    """The characters of every number from left to right, named or not, without what stands behind them."""
    out = {}
    for key, zone in zones.items():
        line = lines[key[1]]
        strip = strip_of(zone, line, letters.slant)
        path = list(zip(typed[key], letters.places[key], strict=True)) if key in typed else _path(strip, letters)
        kinds, places = zip(*path, strict=True)
        out[key] = [
            _character(_alone(strip, kinds, places, k), kind, at, letters.step, line)
            for k, (kind, at) in enumerate(path)
        ]
        if key not in typed:
            out[key] = [*_unread_before(strip, path[0], letters, line), *out[key]]
    return out


def _unread_before(strip: np.ndarray, first: tuple[str, int], letters: Letters, line: Line) -> list[Character]:
    """A scrap where print stands right before the first character: a minus or a digit that was not seen as one."""
    stop = first[1] - half_width(first[0], letters.step) - 1
    start = stop - round(_BEFORE * letters.step)
    part = cut(strip, start, stop - start)
    if float((part**2).sum()) < _UNREAD * letters.ink:
        return []
    return [Character(SCRAP, column_of(start, line), column_of(stop, line), np.zeros(HIGH * WIDE, np.float32))]


def _character(strip: np.ndarray, kind: str, at: int, step: float, line: Line) -> Character:
    half = half_width(kind, step)
    left, right = column_of(at - half, line), column_of(at + half, line)
    return Character({".": POINT, "-": DASH}.get(kind, TALL), left, right, cell(strip, at, half).ravel())


def _path(strip: np.ndarray, letters: Letters) -> list[tuple[str, int]]:
    """Kinds ('d', '.', '-') and columns of a number's characters: those that explain most of the ink."""
    worth, tail = _worths(strip, letters)
    layers: list[_Layer] = []
    ends: list[int] = []

    def follow(kind: str, before: int | None, kinds: str = "") -> int:
        if before is None:
            layers.append(_Layer(kind, worth[kind], None, None))
        else:
            total, which = _best_before(layers[before].total, *letters.reach[kinds])
            layers.append(_Layer(kind, total + worth[kind], which, before))
        return len(layers) - 1

    heads = [follow("d", None)]
    if "-" in worth:
        heads.append(follow("d", follow("-", None), "-d"))
    for at in heads:
        for whole in range(_MOST_DIGITS):
            at = follow("d", at, "dd") if whole else at
            if 0 in letters.decimals:
                ends.append(at)
            if "." in worth and max(letters.decimals):
                tip = follow(".", at, "d.")
                for k in range(max(letters.decimals)):
                    tip = follow("d", tip, "dd" if k else ".d")
                    if k + 1 in letters.decimals:
                        ends.append(tip)
    return _walked_back(layers, max(ends, key=lambda k: float((layers[k].total + tail).max())), tail)


@dataclass(slots=True)
class _Layer:
    """All columns at which the next character may stand: best totals, the column before each, the layer before."""

    kind: str
    total: np.ndarray
    which: np.ndarray | None
    before: int | None


def _walked_back(layers: Sequence[_Layer], end: int, tail: np.ndarray) -> list[tuple[str, int]]:
    column = int((layers[end].total + tail).argmax())
    path, at = [], end
    while at is not None:
        layer = layers[at]
        path.append((layer.kind, column))
        column, at = (column if layer.which is None else int(layer.which[column])), layer.before
    return path[::-1]


def _worths(strip: np.ndarray, letters: Letters) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Ink explained by a digit (known or not), a point, a minus at each column; and by the tail behind a last digit."""
    step, half, columns = letters.step, half_width("0", letters.step), strip.shape[1]
    pictures = {"-": rough(round(step))["-"], **letters.pictures}  # a minus that nobody typed is a short dash
    known = {}
    for sign, one in pictures.items():
        part = window(one, half_width(sign, step))
        tax = 0.0 if sign in DIGITS else _SIGN_TAX * float((part**2).sum())
        known[sign] = gain(strip, part) - tax
    inner = max(half - 2, 3)
    sums = np.concatenate([[0.0], np.cumsum((strip**2).sum(axis=0))])
    at = np.arange(columns)
    around = sums[np.minimum(at + inner, columns)] - sums[np.maximum(at - inner, 0)]
    nameless = _STRANGE * around - _TAX * letters.ink
    digits = [one for sign, one in known.items() if sign in DIGITS]
    worth = {"d": np.max([nameless, *digits], axis=0).astype(np.float32)}
    worth |= {sign: one for sign, one in known.items() if sign not in DIGITS}
    if float((letters.tail**2).sum()) < _LEAST_TAIL * letters.ink:
        return worth, np.zeros(columns, np.float32)
    width = letters.tail.shape[1]
    return worth, behind(gain(np.pad(strip, ((0, 0), (0, width))), letters.tail), half, width, columns)
