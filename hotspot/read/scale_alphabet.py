"""A camera's digits, learned from a few numbers that a person typed, and numbers read with them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from hotspot.read.scale_digits import DASH, POINT, RING, SCRAP, TALL, Character, alike_groups, pictures_of, unlikeness

_ALIKE = (0.07, 0.045, 0.03)  # of one group; the next where a group holds two digits
_MOST_UNLIKE = 0.22  # a character may be to the nearest digit
_CLEARER = 0.62  # of the distance to the next nearest
# A group that nobody typed joins a digit by: while some digits were met nowhere, and when all ten are known. On
# simulated print a digit lies up to 0.13 from its own, and at least 0.21 from another.
_SPREAD = ((0.12, 0.5), (0.18, 0.6))
_MAY_BE, _NEARLY = 0.3, 1.3  # unlikeness to a digit that it may be, and times that to the nearest
_TWOFOLD, _MET_AGAIN = 0.2, 3  # unlikeness of a digit's pictures to the nearest other, at most; times met, at least
_WIDER = 1.15  # times the usual width of a digit: perhaps two that touch
NOT_THAT = 0.33  # unlikeness to a digit, which a character then is not
_SIGNS = {POINT: ".", DASH: "-"}
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_MOST_KINDS = 600  # frames of different characters that are weighed against each other for typing
_BEGINNINGS, _EACH_MISSING, _NO_BETTER = 8, 0.25, 1e-2
UNKNOWN = "?"
Key = tuple[int, int]
"""Frame and end (0 low, 1 high) that a number is printed at."""


@dataclass(slots=True)
class Prints:
    """Every number's characters, and the tall ones sorted into groups of alike ones.

    `group[key]` holds a group per character, -1 for points, dashes, rings.
    """

    runs: dict[Key, list[Character]]
    pictures: np.ndarray = field(init=False)
    group: dict[Key, list[int]] = field(init=False)
    means: np.ndarray = field(init=False)
    rows: dict[Key, list[int]] = field(init=False)

    def __post_init__(self) -> None:
        tall = [(key, k, one) for key, run in self.runs.items() for k, one in enumerate(run) if one.kind == TALL]
        self.rows = {key: [-1] * len(run) for key, run in self.runs.items()}
        for row, (key, k, _) in enumerate(tall):
            self.rows[key][k] = row
        self.pictures = pictures_of([one for _, _, one in tall])
        self.sort(_ALIKE[0])

    def sort(self, most: float) -> None:
        """Sort the pictures into groups anew."""
        of_row, self.means = alike_groups(self.pictures, most)
        self.group = {key: [int(of_row[r]) if r >= 0 else -1 for r in rows] for key, rows in self.rows.items()}


@dataclass(frozen=True, slots=True)
class Alphabet:
    """Models (m, cells) and their labels; how many characters stand before and behind a number, the labels of those
    behind, and how many decimals a number may have. `conflicts` are pairs of labels that one group was typed as.
    """

    labels: tuple[str, ...]
    models: np.ndarray
    lead: int
    tail: tuple[str, ...]
    decimals: frozenset[int]
    unaligned: tuple[Key, ...] = ()
    conflicts: tuple[tuple[str, ...], ...] = ()
    strangers: tuple[int, ...] = ()  # groups of `Prints` that nobody typed
    refuted: tuple[tuple[str, str], ...] = ()  # digits typed, and what they are by the scene
    twofold: tuple[str, ...] = ()  # digits typed for characters of two pictures
    typed: tuple[tuple[int, str], ...] = ()  # groups that were typed, and as what
    renamed: tuple[tuple[str, str], ...] = ()  # digits as read, and what they are by the scene as a whole

    def with_group(self, prints: Prints, group: int, label: str) -> Alphabet:
        """The alphabet with one of its strangers known."""
        rest = tuple(each for each in self.strangers if each != group)
        models = np.vstack([self.models, prints.means[group][None]])
        return replace(self, labels=(*self.labels, label), models=models, strangers=rest)


def learn(prints: Prints, typed: Mapping[Key, str]) -> Alphabet | None:
    """The digits by the typed numbers; None where the print does not have the characters that were typed.

    `typed` are texts of digits, point and minus. Raises nothing: numbers that do not fit are in `unaligned`.
    """
    frame = _framing(prints, typed)
    if frame is None:
        return None
    lead, behind, fitting = frame
    for most in _ALIKE:
        prints.sort(most)
        votes = _votes(prints, typed, fitting, lead)
        conflicts = tuple(tuple(sorted(each)) for each in votes.values() if _contradicts(each))
        if not conflicts:
            break
    labels, rows = [], []
    for key in fitting:
        for place, label in _named(prints, key, typed[key], lead):
            labels.append(label)
            rows.append(prints.pictures[prints.rows[key][place]])
    by_group = {group: next(iter(each)) for group, each in votes.items() if len(each) == 1}
    strangers = [group for group in range(len(prints.means)) if group not in votes]
    labels += list(by_group.values())
    rows += [prints.means[group] for group in by_group]
    decimals = frozenset(len(text.partition(".")[2]) for text in typed.values())
    unaligned = tuple(key for key in typed if key not in fitting)
    made = Alphabet(tuple(labels), np.stack(rows), lead, behind, decimals, unaligned, conflicts, tuple(strangers))
    return spread(prints, replace(made, typed=tuple(by_group.items())))


def _contradicts(labels: set[str]) -> bool:
    """Whether one group was typed as different things; parts of a unit are none."""
    return len(labels) > 1 and any(label.isdigit() for label in labels)


def spread(prints: Prints, alphabet: Alphabet) -> Alphabet:
    """Groups that clearly look like one digit are that digit; looked at again with each that joins."""
    while alphabet.strangers:
        near, clearer = _SPREAD[set("0123456789") <= set(alphabet.labels)]
        unlike = unlikeness(prints.means[list(alphabet.strangers)], alphabet.models)
        best, second, nearest = _two_best(unlike, alphabet.labels)
        clear = (best < near) & (best < clearer * second)
        if not clear.any():
            break
        k = int(np.argmin(np.where(clear, best, np.inf)))
        alphabet = alphabet.with_group(prints, alphabet.strangers[k], alphabet.labels[nearest[k]])
    return alphabet


def _two_best(unlike: np.ndarray, labels: Sequence[str]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For each row: distance to the nearest model, to the nearest of another label, and the nearest's number."""
    names = np.array(labels)
    nearest = unlike.argmin(axis=1)
    best = unlike[np.arange(len(unlike)), nearest]
    other = np.where(names[None] != names[nearest][:, None], unlike, 2.0).min(axis=1)
    return best, other, nearest


def _framing(prints: Prints, typed: Mapping[Key, str]) -> tuple[int, tuple[str, ...], list[Key]] | None:
    """How many characters stand before a number, the kinds behind it, and which typed numbers fit that."""
    choices: Counter[tuple[int, tuple[str, ...]]] = Counter()
    for key, text in typed.items():
        run = prints.runs.get(key, [])
        for lead in range(len(run) - len(text) + 1):
            beside = [*run[:lead][-1:], *run[lead + len(text) :][:1]]
            if any(one.kind == POINT for one in beside):  # a part of a number: its decimals were left out
                continue
            if _fits(run[lead : lead + len(text)], text):
                choices[lead, tuple(one.kind for one in run[lead + len(text) :])] += 1
    if not choices:
        return None
    (lead, behind), count = min(choices.items(), key=lambda one: (-one[1], one[0][0]))
    if count < max(2, len(typed) / 3):
        return None
    fitting = []
    for key, text in typed.items():
        run = prints.runs.get(key, [])
        kinds = tuple(one.kind for one in run[lead + len(text) :])
        if kinds == behind and _fits(run[lead : lead + len(text)], text):
            fitting.append(key)
    return lead, behind, fitting


def _fits(run: Sequence[Character], text: str) -> bool:
    return len(run) == len(text) and all(
        _SIGNS.get(one.kind, "") == sign if sign in ".-" else one.kind == TALL
        for one, sign in zip(run, text, strict=True)
    )


def _named(prints: Prints, key: Key, text: str, lead: int) -> Iterator[tuple[int, str]]:
    """Places of the tall characters of a typed number with what they are: a digit, or what stands around it."""
    for place, one in enumerate(prints.runs[key]):
        if one.kind == TALL:
            within = 0 <= place - lead < len(text)
            yield place, text[place - lead] if within else f"beside {place - lead - (len(text) if place > lead else 0)}"


def _votes(prints: Prints, typed: Mapping[Key, str], fitting: Sequence[Key], lead: int) -> dict[int, set[str]]:
    votes: dict[int, set[str]] = {}
    for key in fitting:
        for place, label in _named(prints, key, typed[key], lead):
            votes.setdefault(prints.group[key][place], set()).add(label)
    return votes


@dataclass(frozen=True, slots=True)
class Guess:
    """A number as far as its characters are known, and for every place what it looks like: one where known."""

    text: str
    like: tuple[str, ...]
    ruled_out: tuple[str, ...] = ()  # for every place, digits that the print alone rules out; none if empty


def twofold(prints: Prints, alphabet: Alphabet, often: int = _MET_AGAIN) -> tuple[str, ...]:
    """Digits that were typed for groups of two kinds, as unlike as those of two digits, with none in between. In made
    print that is read without doubt, those of one digit go over into each other, and those of two lie at least 0.21
    apart; broken print has such without a mistake. Groups met less `often` count for nothing:
    they make hardly another number wrong.
    """
    met = Counter(group for each in prints.group.values() for group in each)
    out = []
    for digit in "0123456789":
        own = prints.means[[group for group, label in alphabet.typed if label == digit and met[group] >= often]]
        near = unlikeness(own, own) <= _TWOFOLD
        reached = near[0] if len(own) else np.ones(1, dtype=bool)
        for _ in own:
            reached = near[reached].any(axis=0)
        if not reached.all():
            out.append(digit)
    return tuple(out)


def read_numbers(prints: Prints, alphabet: Alphabet) -> dict[Key, tuple[str, str]]:
    """Number -> its text ('?' for a character that is not known) and why it is in doubt (a code; empty if not)."""
    labels, sure = _spelled(prints, alphabet)
    clear = [label if ok else UNKNOWN for label, ok in zip(labels, sure, strict=True)]
    return {key: _number_of(_signs(prints, key, clear), run, alphabet) for key, run in prints.runs.items()}


def guesses_of(prints: Prints, alphabet: Alphabet) -> dict[Key, Guess]:
    """Number -> what it may be, of those in doubt whose characters stand as in the typed numbers."""
    out = {}
    unlike = unlikeness(prints.pictures, alphabet.models)
    names = np.array(alphabet.labels)
    for key, (text, why) in read_numbers(prints, alphabet).items():
        rows = prints.rows[key][alphabet.lead : alphabet.lead + len(text)]
        if not why or len(rows) != len(text) or len(text.partition(".")[2]) not in alphabet.decimals:
            continue
        unknown = [sign == UNKNOWN and row >= 0 for sign, row in zip(text, rows, strict=True)]
        like = [
            _looks(unlike[row], names) if open_ else sign for sign, row, open_ in zip(text, rows, unknown, strict=True)
        ]
        apart = [
            ruled_out(unlike[row], alphabet.labels) if open_ else "" for row, open_ in zip(rows, unknown, strict=True)
        ]
        out[key] = Guess(text, tuple(like), tuple(apart))
    return out


def _looks(unlike: np.ndarray, names: np.ndarray) -> str:
    """The digits that a character may be by its distances to the models of those names."""
    near = unlike <= max(_MAY_BE, _NEARLY * float(unlike.min()))
    return "".join(sorted({str(name) for name in names[near] if name.isdigit()}))


def ruled_out(unlike: np.ndarray, labels: Sequence[str]) -> str:
    """The digits that a character is not by its print, if it looks like any: met, and clearly less alike than that."""
    nearest = float(unlike.min())
    if nearest >= NOT_THAT:
        return ""
    names = np.array(labels)
    known = {digit: float(unlike[names == digit].min()) for digit in set(labels) if digit.isdigit()}
    return "".join(sorted(digit for digit, away in known.items() if nearest <= _CLEARER * away))


def _signs(prints: Prints, key: Key, labels: Sequence[str]) -> list[str]:
    """The characters of a number, by the labels of the tall ones."""
    return [
        labels[row] if one.kind == TALL else _SIGNS.get(one.kind, one.kind)
        for one, row in zip(prints.runs[key], prints.rows[key], strict=True)
    ]


def _spelled(prints: Prints, alphabet: Alphabet) -> tuple[list[str], np.ndarray]:
    """The label that every tall character is nearest to, and whether clearly so."""
    if not len(prints.pictures):
        return [], np.zeros(0, dtype=bool)
    best, second, nearest = _two_best(unlikeness(prints.pictures, alphabet.models), alphabet.labels)
    sure = (best < _MOST_UNLIKE) & (best < _CLEARER * second)
    if alphabet.strangers:
        sure &= best < unlikeness(prints.pictures, prints.means[list(alphabet.strangers)]).min(axis=1)
    return [alphabet.labels[k] for k in nearest], sure


def unsure(prints: Prints, alphabet: Alphabet) -> list[tuple[Key, int]]:
    """Places (number, character) of tall characters that no digit is clearly the nearest to, wider than digits are."""
    labels, sure = _spelled(prints, alphabet)
    wide = [
        one.right - one.left
        for key, run in prints.runs.items()
        for one, row in zip(run, prints.rows[key], strict=True)
        if row >= 0 and sure[row] and labels[row].isdigit()
    ]
    most = _WIDER * float(np.median(wide)) if wide else 0.0
    return [
        (key, k)
        for key, run in prints.runs.items()
        for k, row in enumerate(prints.rows[key])
        if row >= 0 and not sure[row] and run[k].right - run[k].left > most
    ]


def best_parts(parts: Sequence[tuple[Character, Character]], alphabet: Alphabet) -> tuple[Character, Character] | None:
    """Of the ways to cut a character in two, the one that gives two clear characters; None where there is none."""
    tall = [one for both in parts for one in both if one.kind == TALL]
    if not tall:
        return None
    best, second, _ = _two_best(unlikeness(pictures_of(tall), alphabet.models), alphabet.labels)
    clear = (best < _MOST_UNLIKE) & (best < _CLEARER * second)
    worth = dict(zip(map(id, tall), np.where(clear, best, np.inf), strict=True))
    small = {POINT: 0.1, DASH: 0.1, RING: 0.1}
    costs = [sum(worth.get(id(one), small.get(one.kind, np.inf)) for one in both) for both in parts]
    k = int(np.argmin(costs))
    return parts[k] if np.isfinite(costs[k]) else None


def _number_of(signs: list[str], run: Sequence[Character], alphabet: Alphabet) -> tuple[str, str]:
    behind = len(alphabet.tail)
    stop = len(signs) - behind
    if stop <= alphabet.lead:
        return "", "scale_no_number"
    text = "".join(sign if len(sign) == 1 else UNKNOWN for sign in signs[alphabet.lead : stop])
    kinds = tuple(one.kind for one in run[stop:])
    if kinds != alphabet.tail or any(UNKNOWN in sign or sign.isdigit() for sign in signs[stop:]):
        text = _before_unit(signs[alphabet.lead :], alphabet.decimals)
        if not text:
            return "".join(sign if len(sign) == 1 else UNKNOWN for sign in signs[alphabet.lead :]), "scale_other_print"
    if UNKNOWN in text:
        return text, "scale_character_unknown"
    if not _NUMBER.fullmatch(text) or len(text.partition(".")[2]) not in alphabet.decimals:
        return text, "scale_other_format"
    return text, ""


def _before_unit(signs: list[str], decimals: frozenset[int]) -> str:
    """The number that a run begins with, where the unit behind it fell to pieces: it ends with its last decimal, and
    none of what follows is a digit. Empty where that cannot be told.
    """
    if len(decimals) != 1 or 0 in decimals or signs.count(".") < 1:
        return ""
    stop = signs.index(".") + 1 + next(iter(decimals))
    text, rest = "".join(signs[:stop]), signs[stop:]
    return "" if not _NUMBER.fullmatch(text) or any(sign.isdigit() for sign in rest) else text


def to_type(prints: Prints, frames: Sequence[int], most: int = 3) -> list[int]:
    """Up to `most` frames to type, so that as many numbers as can be hold nothing but characters met in these; the
    earliest of equal ones. Characters met once only count for nothing: no other frame is read by them.
    """
    both = {frame: [prints.runs.get((frame, end), []) for end in (0, 1)] for frame in frames}
    printed = [frame for frame, runs in both.items() if all(runs)]
    whole = [frame for frame in printed if all(_regular(run) for run in both[frame])]
    has = {
        frame: {g for end in (0, 1) for g in prints.group[frame, end] if g >= 0}
        for frame in (whole if len(whole) > len(printed) / 2 else printed)
    }
    often = [group for group, count in Counter(g for each in has.values() for g in each).items() if count > 1]
    kinds = {frame: frozenset(each.intersection(often)) for frame, each in has.items()}
    counts = Counter(kinds.values())
    rows = list(counts)[:: len(counts) // _MOST_KINDS + 1]  # in the order of the frames
    if not rows:
        return []
    holds = np.array([[group in row for group in often] for row in rows], dtype=np.float32).reshape(len(rows), -1)
    chosen = _covering(holds, np.array([counts[row] for row in rows], dtype=np.float32), most)
    return sorted(next(frame for frame, each in kinds.items() if each == rows[k]) for k in chosen)


def _regular(run: Sequence[Character]) -> bool:
    """Whether a number has no scraps, one point at most, and a minus in front only."""
    kinds = [one.kind for one in run]
    return kinds.count(POINT) <= 1 and not {DASH, SCRAP} & set(kinds[1:]) and kinds[0] != SCRAP


def _covering(holds: np.ndarray, counts: np.ndarray, most: int) -> list[int]:
    """Up to `most` rows of `holds` (n, characters; 0 or 1) that together hold what the other rows do: the worth of a
    row falls by `_EACH_MISSING` for each of its characters that they lack. Chosen one by one, then each exchanged for a
    better one until none is; from several beginnings. Exact search would try n over 3.
    """

    def best(others: list[int]) -> tuple[float, int]:
        """The row to choose besides others, and the worth of all rows then."""
        have = holds[others].max(axis=0) if others else np.zeros(holds.shape[1], np.float32)
        missing = (1.0 - np.maximum(holds, have)) @ holds.T
        worth = (_EACH_MISSING**missing) @ counts
        return float(worth.max()), int(worth.argmax())

    found: tuple[float, list[int]] = (0.0, [])
    for first in np.unique(np.linspace(0, len(holds) - 1, _BEGINNINGS).astype(int)):
        chosen, now = [int(first)], -np.inf
        while len(chosen) < most:
            chosen.append(best(chosen)[1])
        while True:
            tried = [(*best(chosen[:k] + chosen[k + 1 :]), k) for k in range(most)]
            worth, row, k = max(tried, key=lambda one: one[0])
            if worth <= now + _NO_BETTER:
                break
            now, chosen[k] = worth, row
        if now > found[0] + _NO_BETTER:
            found = now, chosen
    return sorted(set(found[1]))
