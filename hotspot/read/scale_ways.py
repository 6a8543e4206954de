"""What one way of reading gives of all numbers, and two ways held against each other and against what was typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from hotspot.read.scale_alphabet import (
    UNKNOWN,
    Alphabet,
    Guess,
    Key,
    Prints,
    guesses_of,
    read_numbers,
    twofold,
)
from hotspot.read.scale_deduce import deduced, refuted
from hotspot.read.scale_names import Names, judged
from hotspot.read.scale_scene import Scene
from hotspot.read.scale_settle import settled

_ROUNDS = 4
_OFTEN = 3  # times that a character is met, to tell that it is no chance
_SPELLED = ("", "scale_digit_refuted", "scale_digit_contradicted")  # all characters of the number are known
_FEW = 0.05  # of the numbers in doubt: a print that is read well
_OUT_OF_SHAPE = ("scale_no_number", "scale_other_print", "scale_other_format")
_SHAPELESS = 0.1  # of the numbers at an end
Numbers = dict[Key, tuple[str, str]]
"""Number -> its text, and why it is in doubt (a code; empty if not)."""
Texts = tuple[str, str]
"""Low and high as typed."""


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


def named_by_scene(
    prints: Prints, alphabet: Alphabet, scene: Scene, texts: Mapping[Key, str], read: Numbers | None = None
) -> Way:
    """All numbers, with the characters that the scene tells; `texts` were typed, `read` is known by other ways."""
    typed = {k: (texts[k, 0], texts[k, 1]) for k, end in texts if end == 0 and (k, 1) in texts}
    alphabet = deduced(prints, alphabet, scene, typed, read)
    numbers, guesses = read_numbers(prints, alphabet), guesses_of(prints, alphabet)
    wrong = refuted(prints, alphabet, scene, typed)
    digits = {digit for pair in wrong.values() for digit in pair}
    for key, (text, why) in numbers.items():
        if not why and not digits.isdisjoint(text):
            numbers[key] = (text, "scale_digit_refuted")
    return Way(numbers, guesses, replace(alphabet, refuted=tuple(sorted(set(wrong.values())))), prints)


def settled_by_all(ways: Sequence[Way], scene: Scene, typed: Mapping[int, Texts]) -> tuple[Numbers, Sequence[Way]]:
    """All numbers as the ways read them together and the scene settles them. What one way reads makes the scene known
    to the other, which then names more characters: again, until nothing is gained.
    """
    texts = {(k, end): text for k, both in typed.items() for end, text in enumerate(both)}
    for _ in range(_ROUNDS):
        numbers = read_by_all(ways)
        if contradicted(ways) or names_of(numbers, scene, typed).renamed:
            return numbers, ways
        guesses = {
            key: [guess for way in ways if (guess := way.guess(key))] for key, (_, why) in numbers.items() if why
        }
        numbers = settled(numbers, guesses, scene, typed)
        if not in_doubt(numbers, typed):
            break
        more = [
            way if way.contradicted else named_by_scene(way.prints, way.alphabet, scene, texts, numbers) for way in ways
        ]
        if all(len(one.alphabet.labels) == len(other.alphabet.labels) for one, other in zip(ways, more, strict=True)):
            break
        ways = more
    return numbers, ways


def names_of(numbers: Numbers, scene: Scene, typed: Mapping[int, Texts]) -> Names:
    """What the scene as a whole says of the names of the digits."""
    texts = dict(typed)
    for k in {frame for frame, _ in numbers} - set(typed):
        both = numbers[k, 0], numbers[k, 1]
        if all(why in _SPELLED for _, why in both):
            texts[k] = both[0][0], both[1][0]
    return judged(texts, scene, typed)


def without_misnamed(numbers: Numbers, names: Names, typed: Mapping[int, Texts]) -> Numbers:
    """The numbers, in doubt those with a digit that is named wrongly or may be, or that nobody typed: wrong names
    misled the scene that told it.
    """
    met = {sign for both in typed.values() for text in both for sign in text}
    sound = (met | set(".-")) - set(names.renamed) - names.unsure
    reason = "scale_digit_refuted" if names.renamed else "scale_digit_unsure"
    return {key: (text, why or ("" if sound.issuperset(text) else reason)) for key, (text, why) in numbers.items()}


def read_by_all(ways: Sequence[Way]) -> Numbers:
    """All numbers as the ways read them together."""
    return ways[0].numbers if len(ways) == 1 else together(ways[0].numbers, ways[1].numbers)


def contradicted(ways: Sequence[Way]) -> bool:
    """Whether the person has to mend first what was typed. Where one way only says that a digit was typed for two
    characters, or that the scene refutes it, its print is broken.
    """
    return any(way.alphabet.conflicts for way in ways) or all(way.contradicted for way in ways)


def with_contradictions(way: Way, typed: Mapping[int, Texts]) -> Way:
    """Numbers that hold a digit whose typing contradicts itself are in doubt: one character typed as two digits, or,
    where the print is read well, two characters typed as one.
    """
    well = in_doubt(way.numbers, typed) <= _FEW * len(way.numbers)
    alphabet = replace(way.alphabet, twofold=twofold(way.prints, way.alphabet)) if well else way.alphabet
    wrong = {digit for each in (alphabet.twofold, *alphabet.conflicts) for digit in each}
    return _doubting(replace(way, alphabet=alphabet), wrong)


def with_each_other_s(one: Way, other: Way) -> tuple[Way, Way]:
    """Two ways that know what contradicts itself in the other: a digit that both find typed for two characters was
    mistyped however badly the print is read, and conflicts of one put the numbers of both in doubt.
    """
    often, ever = ([set(twofold(way.prints, way.alphabet, least)) for way in (one, other)] for least in (_OFTEN, 1))
    both = (often[0] & ever[1]) | (often[1] & ever[0])
    wrong = both | {digit for way in (one, other) for each in way.alphabet.conflicts for digit in each}
    told = [
        replace(way, alphabet=replace(way.alphabet, twofold=tuple(sorted(both | set(way.alphabet.twofold)))))
        for way in (one, other)
    ]
    return _doubting(told[0], wrong), _doubting(told[1], wrong)


def _doubting(way: Way, digits: set[str]) -> Way:
    """The way with all numbers in doubt that hold one of the digits."""
    numbers = {
        key: (text, why or ("scale_digit_contradicted" if digits & set(text) else ""))
        for key, (text, why) in way.numbers.items()
    }
    return replace(way, numbers=numbers)


def mistyped(way: Way | None, typed: Mapping[int, Texts]) -> tuple[Key, ...]:
    """Typed numbers that do not fit the print, where hardly any other at that end is out of shape: these were typed
    wrongly. Where many are, it is the print.
    """
    if way is None:
        return ()
    shapeless = [end for (k, end), (_, why) in way.numbers.items() if why in _OUT_OF_SHAPE and k not in typed]
    return tuple(key for key in way.alphabet.unaligned if 2 * shapeless.count(key[1]) < _SHAPELESS * len(way.numbers))


def as_typed(way: Way, texts: Mapping[Key, str]) -> set[Key]:
    """Typed numbers that this way reads as they were typed, as far as it knows their characters, without having been
    told: those only seemed typed wrongly, for their print is broken.
    """
    return {
        key
        for key, text in texts.items()
        if len(way.numbers[key][0]) == len(text)
        and all(sign in (UNKNOWN, other) for sign, other in zip(way.numbers[key][0], text, strict=True))
    }


def in_doubt(numbers: Numbers, typed: Mapping[int, Texts]) -> int:
    """How many numbers of frames that were not typed are in doubt."""
    return sum(bool(why) for key, (_, why) in numbers.items() if key[0] not in typed)


def together(one: Numbers, other: Numbers) -> Numbers:
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
