"""Digits that nobody typed, from the scene: what does not warm tells nearly what the ends of the scale must be.

A character that is not known may be any digit. Where it stands for units or tens, only one digit gives ends with which
the scene goes on from the frames before and after; that one it is, in every frame.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import product

import numpy as np

from hotspot.read.scale_alphabet import NOT_THAT, UNKNOWN, Alphabet, Key, Prints, read_numbers, ruled_out, spread
from hotspot.read.scale_digits import unlikeness
from hotspot.read.scale_scene import Scene, foretold, known_ends

_TELLS = 0.9  # times the doubt of the foretold end that a digit must weigh to be refuted
_WORTH = 0.5  # times the doubt of the foretold end that a digit must weigh at least to tell anything
_FITS, _CLEARER = 1.0, 1.8  # misfits, in doubts: of the digit; by how much the next best is worse, over root n frames
_SURELY = 5.0  # sum of squared misfits, in doubts, that any other digit must be worse by
_AT_ODDS = 1.0  # the same, by which the scene may prefer another digit that the print rules out
_MOST_FRAMES = 9  # that count as independent
_CAPPED = 4.0  # doubts: a misfit that is larger counts so much
_MOST_ROUNDS = 40
_MOST_UNKNOWN = 2  # characters of one number
_DIGITS = "0123456789"


def deduced(
    prints: Prints,
    alphabet: Alphabet,
    scene: Scene,
    typed: Mapping[int, tuple[str, str]],
    read: Mapping[Key, tuple[str, str]] | None = None,
) -> Alphabet:
    """The alphabet with the characters that print and scene tell together. `read` are numbers (text, why in doubt) that
    are known by other ways.
    """
    sure = {key: number for key, number in (read or {}).items() if not number[1]}
    for _ in range(_MOST_ROUNDS):
        if not alphabet.strangers:
            return alphabet
        numbers = read_numbers(prints, alphabet)
        known = known_ends(numbers | sure, typed, len(scene))
        ahead = foretold(scene, known, 10.0 ** -max(alphabet.decimals))
        met = _met(prints, alphabet, numbers, ahead)
        told = [(*_digit_of(group, prints, alphabet, met.get(group, [])), group) for group in alphabet.strangers]
        clear = [one for one in told if one[0]]
        if not clear:
            return alphabet
        digit, _, group = max(clear, key=lambda one: one[1])
        alphabet = spread(prints, alphabet.with_group(prints, group, digit))
    return alphabet


def _digit_of(group: int, prints: Prints, alphabet: Alphabet, met: list[np.ndarray]) -> tuple[str, float]:
    """The digit that a group must be, and by how much the next one is worse; empty where that cannot be told.

    `met` are misfits (10,) of all digits with the foretold end, in doubts, one for each number that tells.
    """
    unlike = unlikeness(prints.means[group][None], alphabet.models)[0]
    possible = _possible(unlike, alphabet.labels)
    if not met or not possible:
        return "", 0.0
    misfit = np.minimum(np.stack(met), _CAPPED)
    independent = min(len(misfit), _MOST_FRAMES) / len(misfit)
    by_scene = (misfit**2).sum(axis=0) * independent
    out = ruled_out(unlike, alphabet.labels)
    worth = by_scene + _SURELY * np.array([digit in out for digit in _DIGITS])
    best = min(possible, key=lambda k: worth[k])
    margin = float(np.delete(worth, best).min() - worth[best])
    # A broken digit may look like none of the known ones and still be one: the scene must not prefer it.
    fits = misfit[:, best].mean() <= _FITS and by_scene[best] <= by_scene.min() + _AT_ODDS and _DIGITS[best] not in out
    return (_DIGITS[best], margin) if fits and margin >= _SURELY else ("", 0.0)


def refuted(
    prints: Prints, alphabet: Alphabet, scene: Scene, typed: Mapping[int, tuple[str, str]]
) -> dict[int, tuple[str, str]]:
    """Groups of characters that the scene says are another digit than was typed: group -> (typed, by the scene)."""
    numbers = read_numbers(prints, alphabet)
    ends, doubts = foretold(scene, known_ends(numbers, typed, len(scene)), 10.0 ** -max(alphabet.decimals))
    met: dict[tuple[int, str], list[np.ndarray]] = {}
    for (frame, side), groups in prints.group.items():
        text, why = numbers[frame, side]
        if why or frame in typed or not np.isfinite(ends[frame, side]):
            continue
        inside = groups[alphabet.lead : alphabet.lead + len(text)]
        for group in {one for one in inside if one >= 0}:
            at = [k for k, one in enumerate(inside) if one == group]
            doubt = doubts[frame, side]
            if _weight(text, at[0]) >= _TELLS * doubt:
                values = _with_each(text, at)
                met.setdefault((group, text[at[0]]), []).append(np.abs(values - ends[frame, side]) / doubt)
    out = {}
    for (group, digit), misfit in met.items():
        worth = np.minimum(np.stack(misfit), _CAPPED).mean(axis=0)
        best, own = int(np.argmin(worth)), float(worth[_DIGITS.index(digit)])
        if own > _FITS >= worth[best] and (own - worth[best]) * np.sqrt(min(len(misfit), _MOST_FRAMES)) >= _CLEARER:
            out[group] = (digit, _DIGITS[best])
    return out


def _with_each(text: str, at: Collection[int]) -> np.ndarray:
    """The number with each digit at those places, (10,)."""
    return np.array([float("".join(d if k in at else sign for k, sign in enumerate(text))) for d in _DIGITS])


def _weight(text: str, at: int) -> float:
    """What one more of the digit at a place adds."""
    whole = len(text.partition(".")[0])
    return 10.0 ** (whole - 1 - at if at < whole else whole - at)


def _possible(unlike: np.ndarray, labels: tuple[str, ...]) -> list[int]:
    """Digits that a group may be by how unlike it is to models of those labels: those not known yet, and the known ones
    that look somewhat like it.
    """
    names = np.array(labels)
    known = {digit: unlike[names == digit].min() for digit in _DIGITS if digit in labels}
    return [k for k, digit in enumerate(_DIGITS) if known.get(digit, 0.0) < NOT_THAT]


def _met(prints: Prints, alphabet: Alphabet, numbers, foretold) -> dict[int, list[np.ndarray]]:
    """Misfits (10,) of all digits with the foretold end, in doubts, for every stranger and number that tells of it."""
    ends, doubts = foretold
    out: dict[int, list[np.ndarray]] = {}
    for (frame, side), groups in prints.group.items():
        text, end, doubt = numbers[frame, side][0], ends[frame, side], doubts[frame, side]
        if UNKNOWN not in text or not np.isfinite(end) or not np.isfinite(doubt):
            continue
        inside = groups[alphabet.lead : alphabet.lead + len(text)]
        unknown = [inside[k] for k, sign in enumerate(text) if sign == UNKNOWN and k < len(inside)]
        if not _may_be_number(text, alphabet.decimals) or len(set(unknown)) > _MOST_UNKNOWN or min(unknown) < 0:
            continue
        for group in set(unknown):
            places = [k for k, one in enumerate(inside) if one == group]
            if all(text[k] == UNKNOWN for k in places) and _weight(text, places[0]) >= _WORTH * doubt:
                rest = sorted({one for one in unknown if one != group})
                out.setdefault(group, []).append(np.abs(_nearest(text, inside, group, rest, end) - end) / doubt)
    return out


def _may_be_number(text: str, decimals: Collection[int]) -> bool:
    """Whether a text with unknown digits stands as a number does."""
    stem = text.replace(UNKNOWN, "0")
    return len(stem.partition(".")[2]) in decimals and stem.replace(".", "", 1).lstrip("-").isdigit()


def _nearest(text: str, inside: list[int], group: int, rest: list[int], end: float) -> np.ndarray:
    """The number with each digit for the group, (10,), of all digits for the `rest` those that are nearest to `end`."""
    own = [k for k, one in enumerate(inside) if one == group]
    values = []
    for digits in product(_DIGITS, repeat=len(rest)):
        names = dict(zip(rest, digits, strict=True))
        filled = "".join(
            names.get(one, sign) if sign == UNKNOWN else sign for one, sign in zip(inside, text, strict=True)
        )
        values.append(_with_each(filled, own))
    table = np.stack(values)
    return table[np.abs(table - end).argmin(axis=0), np.arange(len(_DIGITS))]
