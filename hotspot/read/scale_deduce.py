"""Digits that nobody typed, from the scene: what does not warm tells nearly what the ends of the scale must be.

A character that is not known may be any digit. Where it stands for units or tens, only one digit gives ends with which
the scene goes on from the frames before and after; that one it is, in every frame.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import numpy as np

from hotspot.read.scale_alphabet import UNKNOWN, Alphabet, Key, Prints, read_numbers, spread
from hotspot.read.scale_digits import unlikeness

_BANDS = 24  # of places along the scale, each counted once whatever its share of the picture
_WORTH = 0.9  # times the doubt of the foretold end that a digit must weigh at least to be told
_FITS, _CLEARER = 1.0, 1.8  # misfits, in doubts: of the digit; by how much the next best is worse, over root n frames
_MOST_FRAMES = 9  # that count as independent
_CAPPED = 4.0  # doubts: a misfit that is larger counts so much
_ROBUST = 2 * 1.4826  # standard deviations, from the median of absolute errors
_OF_STEP = 0.45  # of the last printed digit: two roundings, at least
_WIDE, _NEAREST, _ONE_SIDED = 4, 4, 1.5  # frames before and after; of those missed so; times what one frame misses
_MOST_ROUNDS = 12
_NOT_THAT = 0.3  # unlikeness to a known digit, which it then is not
_DIGITS = "0123456789"


def deduced(prints: Prints, alphabet: Alphabet, places: np.ndarray, typed: Mapping[int, tuple[str, str]]) -> Alphabet:
    """The alphabet with the characters that the scene tells. `places` (n, pixels) of the frames in time order."""
    for _ in range(_MOST_ROUNDS):
        if not alphabet.strangers:
            return alphabet
        numbers = read_numbers(prints, alphabet)
        known = known_ends(numbers, typed, len(places))
        ahead, doubt = foretold(places, known, 10.0 ** -max(alphabet.decimals))
        told = [(*_digit_of(group, prints, alphabet, numbers, (ahead, doubt)), group) for group in alphabet.strangers]
        clear = [one for one in told if one[0]]
        if not clear:
            return alphabet
        digit, _, group = min(clear, key=lambda one: one[1])
        alphabet = spread(prints, alphabet.with_group(prints, group, digit))
    return alphabet


def known_ends(numbers: Mapping[Key, tuple[str, str]], typed: Mapping[int, tuple[str, str]], count: int) -> np.ndarray:
    """Ends (n, 2) that are typed or were read without doubt, else NaN."""
    known = np.full((count, 2), np.nan)
    for k in range(count):
        texts = typed.get(k) or tuple(numbers[k, end][0] for end in (0, 1) if not numbers[k, end][1])
        if len(texts) == 2 and float(texts[0]) < float(texts[1]):
            known[k] = [float(text) for text in texts]
    return known


def foretold(places: np.ndarray, known: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Ends (n, 2) of every frame as its scene goes on from the known frames around it, and how doubtful these are.

    What a straight line between two frames misses grows as the product of the distances to them (the error of linear
    interpolation, Abramowitz and Stegun 25.2.3, from memory), what one frame alone misses as the distance to it; both
    are measured on the known frames.
    """
    sure = np.flatnonzero(np.isfinite(known).all(axis=1))
    ends, doubts = np.full((len(places), 2), np.nan), np.full((len(places), 2), np.inf)
    if len(sure) < 2:
        return ends, doubts
    missed = {apart: _missed(places, known, sure, apart) for apart in ((-1, 1), (-_WIDE, _WIDE), (-1,))}
    least = _OF_STEP * step
    beside, alone = (_usual(missed[apart][1], least) for apart in ((-1, 1), (-1,)))
    for k in range(len(places)):
        at = np.searchsorted(sure, k)
        around = np.r_[sure[:at][-1:], sure[at:][sure[at:] > k][:1]]
        ends[k] = _carried(k, around, places, known)
        if len(around) == 2:
            curving = _curving(around, *missed[-_WIDE, _WIDE], beside, least)
            doubts[k] = beside + curving * float(np.prod(np.abs(around - k)))
        else:
            doubts[k] = _ONE_SIDED * alone * abs(int(around[0]) - k)
    return ends, doubts


def _missed(
    places: np.ndarray, known: np.ndarray, sure: np.ndarray, apart: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Known frames (m,) and by how far their ends (m, 2) are missed from those that stand `apart` from them."""
    whole = set(sure.tolist())
    those = [k for k in sure if all(k + step in whole for step in apart)]
    off = [np.abs(_carried(k, np.array([k + step for step in apart]), places, known) - known[k]) for k in those]
    found = np.array(off).reshape(-1, 2)
    good = np.isfinite(found).all(axis=1)
    return np.array(those, dtype=int)[good], found[good]


def _usual(missed: np.ndarray, least: float) -> np.ndarray:
    """Two standard deviations of both ends (2,), of normal errors, by the median; infinite where too few were met."""
    return np.maximum(_ROBUST * np.median(missed, axis=0), least) if len(missed) > 2 else np.full(2, np.inf)


def _curving(
    around: np.ndarray, frames: np.ndarray, missed: np.ndarray, beside: np.ndarray, least: float
) -> np.ndarray:
    """What is missed for each further frame squared (2,): the most of what is missed over a wide gap near either of the
    two frames.
    """
    if len(frames) < 3:
        return beside
    near = np.unique([np.argsort(np.abs(frames - k), kind="stable")[:_NEAREST] for k in around])
    return np.maximum(missed[near].max(axis=0) - beside, least / _WIDE) / (_WIDE**2 - 1.0)


def _carried(k: int, around: np.ndarray, places: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Ends of frame `k` from one or two known frames around it, (2,)."""
    share = np.array([1.0])
    if len(around) == 2:
        share = np.array([around[1] - k, k - around[0]]) / (around[1] - around[0])
    low, span = known[around, 0, None], (known[around, 1] - known[around, 0])[:, None]
    return _ends_by(places[k].astype(float), share @ (low + places[around].astype(float) * span))


def _ends_by(places: np.ndarray, celsius: np.ndarray) -> np.ndarray:
    """Low and high of the straight line through (place, temperature), every band of places counting once."""
    band = np.minimum((places * _BANDS).astype(int), _BANDS - 1)
    met = np.unique(band)
    if len(met) < 3:
        return np.full(2, np.nan)
    x = np.array([np.median(places[band == b]) for b in met])
    y = np.array([np.median(celsius[band == b]) for b in met])
    slope, low = np.polyfit(x, y, 1)
    return np.array([low, low + slope])


def _digit_of(group: int, prints: Prints, alphabet: Alphabet, numbers, foretold) -> tuple[str, float]:
    """The digit that a group must be, with its misfit; empty where the scene does not tell."""
    possible = _possible(group, prints, alphabet)
    misfit, telling = [], []
    for text, places, weight, (end, doubt) in _met(group, prints, alphabet, numbers, foretold):
        misfit.append(np.abs(_with_each(text, places) - end) / doubt)
        telling.append(weight >= _WORTH * doubt)
    misfit = [one for one, tells in zip(misfit, telling, strict=True) if tells]
    if not misfit or not possible:
        return "", np.inf
    every = np.minimum(np.stack(misfit), _CAPPED).mean(axis=0)
    worth = every[possible]
    best = int(np.argmin(worth))
    if worth[best] > every.min():  # a broken digit may look like none of the known ones and still be one
        return "", np.inf
    second = float(np.delete(worth, best).min()) if len(possible) > 1 else np.inf
    clear = worth[best] <= _FITS and (second - worth[best]) * np.sqrt(min(len(misfit), _MOST_FRAMES)) >= _CLEARER
    return (_DIGITS[possible[best]], float(worth[best])) if clear else ("", np.inf)


def refuted(
    prints: Prints, alphabet: Alphabet, places: np.ndarray, typed: Mapping[int, tuple[str, str]]
) -> dict[int, tuple[str, str]]:
    """Groups of characters that the scene says are another digit than was typed: group -> (typed, by the scene)."""
    numbers = read_numbers(prints, alphabet)
    ends, doubts = foretold(places, known_ends(numbers, typed, len(places)), 10.0 ** -max(alphabet.decimals))
    met: dict[tuple[int, str], list[np.ndarray]] = {}
    for (frame, side), groups in prints.group.items():
        text, why = numbers[frame, side]
        if why or frame in typed or not np.isfinite(ends[frame, side]):
            continue
        inside = groups[alphabet.lead : alphabet.lead + len(text)]
        for group in {one for one in inside if one >= 0}:
            at = [k for k, one in enumerate(inside) if one == group]
            doubt = doubts[frame, side]
            if _weight(text, at[0]) >= _WORTH * doubt:
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


def _possible(group: int, prints: Prints, alphabet: Alphabet) -> list[int]:
    """Digits that a group may be: those not known yet, and the known ones that look somewhat like it."""
    unlike = unlikeness(prints.means[group][None], alphabet.models)[0]
    labels = np.array(alphabet.labels)
    known = {digit: unlike[labels == digit].min() for digit in _DIGITS if digit in alphabet.labels}
    return [k for k, digit in enumerate(_DIGITS) if known.get(digit, 0.0) < _NOT_THAT]


def _met(group: int, prints: Prints, alphabet: Alphabet, numbers, foretold) -> Iterator[tuple]:
    """Numbers in which the group is the only unknown character: text, its places, the weight of its first place, and
    the end foretold with its doubt.
    """
    ends, doubts = foretold
    for (frame, side), groups in prints.group.items():
        text = numbers[frame, side][0]
        if UNKNOWN not in text or not np.isfinite(ends[frame, side]):
            continue
        inside = groups[alphabet.lead : alphabet.lead + len(text)]
        unknown = [k for k, sign in enumerate(text) if sign == UNKNOWN]
        places = [k for k, one in enumerate(inside) if one == group]
        stem = text.replace(UNKNOWN, "0")
        decimals = len(stem.partition(".")[2])
        if unknown != places or decimals not in alphabet.decimals or not stem.replace(".", "", 1).lstrip("-").isdigit():
            continue
        yield text, set(places), _weight(text, places[0]), (ends[frame, side], doubts[frame, side])
