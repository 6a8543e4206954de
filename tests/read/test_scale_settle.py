"""What is learned from few typed numbers: which frames to type, digits that the scene tells, lines that show rarely."""

from itertools import combinations

import numpy as np
import pytest

from hotspot.read.scale_alphabet import Alphabet, Guess, Prints, _contradicts, _regular, to_type
from hotspot.read.scale_deduce import _digit_of, _met
from hotspot.read.scale_digits import HIGH, TALL, Character
from hotspot.read.scale_learn import LOOKS, Zone, lines_of
from hotspot.read.scale_match import _alone, _means
from hotspot.read.scale_scene import Scene, foretold
from hotspot.read.scale_settle import settled
from hotspot.read.scale_strip import half_width, rough, window
from hotspot.read.scale_ways import Way, as_typed, contradicted, with_each_other_s

FRAMES = 20


def warming() -> tuple[np.ndarray, np.ndarray]:
    """Places of a ground at 20 and pins that warm by 2 K a frame, and the tops of the scale in every frame."""
    celsius = np.stack(
        [np.r_[np.linspace(18.0, 22.0, 300), np.linspace(25.0, 60.0 + 2.0 * k, 60)] for k in range(FRAMES)]
    )
    return (celsius - 18.0) / (celsius.max(axis=1) - 18.0)[:, None], celsius.max(axis=1)


def numbers_but(frame: int, text: str, why: str = "scale_character_unknown"):
    """All numbers of `warming`, the upper one of `frame` in doubt, and two typed frames."""
    tops = warming()[1]
    numbers = {(k, 0): ("18.0", "") for k in range(FRAMES)} | {(k, 1): (f"{tops[k]:.1f}", "") for k in range(FRAMES)}
    typed = {k: (numbers[k, 0][0], numbers[k, 1][0]) for k in (2, 15)}
    numbers[frame, 1] = (text, why)
    return numbers, typed


def told(frame: int, *guesses: Guess) -> tuple[str, str]:
    numbers, typed = numbers_but(frame, guesses[0].text)
    return settled(numbers, {(frame, 1): list(guesses)}, Scene(warming()[0]), typed)[frame, 1]


@pytest.mark.parametrize(
    ("guess", "expected"),
    [
        (Guess("7?.0", ("7", "38", ".", "0")), "78.0"),
        (Guess("?8.0", ("17", "8", ".", "0")), "78.0"),
        (Guess("?78.0", ("1", "7", "8", ".", "0")), "78.0"),  # a speck of the scene before the number
        (Guess("??.0", ("17", "38", ".", "0")), "78.0"),
    ],
    ids=["units", "tens", "speck", "both"],
)
def test_of_the_digits_that_it_looks_like_the_scene_tells_one(guess, expected):
    assert told(9, guess) == (expected, "")


@pytest.mark.parametrize(
    "guess",
    [
        Guess("7?.0", ("7", "36", ".", "0")),
        Guess("78.?", ("7", "8", ".", "01")),  # a step of the last decimal is within the doubt
        Guess("?8.5", ("7", "8", ".", "5")),
        Guess("???.0", ("", "7", "8", ".", "0")),
    ],
    ids=["looks like others", "last decimal", "the known digits are wrong", "too many"],
)
def test_what_the_scene_does_not_tell_stays_in_doubt(guess):
    assert told(9, guess)[1] != ""


def test_of_two_ways_that_differ_the_scene_tells_the_right_one_if_they_differ_enough():
    assert told(9, Guess("-78.0", tuple("-78.0")), Guess("78.0", tuple("78.0"))) == ("78.0", "")
    assert told(9, Guess("78.0", tuple("78.0")), Guess("78.1", tuple("78.1")))[1] != ""


def drawn(text: str, broken: str = "") -> list[Character]:
    """Characters of rough digits; the one that is `broken` lacks its upper half."""
    out = []
    for k, sign in enumerate(text):
        picture = np.clip(rough(15)[sign], 0.0, 1.0).astype(np.float32)
        if sign == broken:
            picture = np.where(np.arange(HIGH)[:, None] < HIGH // 2, 0.0, picture)
        out.append(Character(TALL if sign != "." else "point", 10.0 * k, 10.0 * k + 8.0, picture.ravel()))
    return out


@pytest.mark.parametrize(
    ("end", "doubt", "expected"),
    [(6.0, 0.05, "0"), (6.1, 0.05, ""), (6.03, 0.2, "")],
    ids=["told", "the scene says another", "the scene does not tell"],
)
def test_a_broken_digit_is_not_taken_for_the_only_missing_one(end, doubt, expected):
    """All digits but 0 are known; what looks like none of them is 0 only where the scene says so."""
    prints = Prints({(k, 0): drawn("6.1", "1") for k in range(4)})
    known = "123456789"
    models = np.stack([rough(15)[digit].ravel() for digit in known])
    group = prints.group[0, 0][2]
    alphabet = Alphabet(tuple(known), models, 0, (), frozenset({1}), strangers=(group,))
    numbers = {(k, 0): ("6.?", "scale_character_unknown") for k in range(4)}
    foretold = np.full((4, 2), end), np.full((4, 2), doubt)
    met = _met(prints, alphabet, numbers, foretold)
    assert _digit_of(group, prints, alphabet, met.get(group, []))[0] == expected


def test_the_frames_to_type_are_the_best_three():
    """Against all threes: numbers that hold nothing but what is typed, one missing digit counting a quarter."""
    rng = np.random.default_rng(5)
    texts = [
        ("".join(rng.choice(list("0123456789"), 2)), "".join(rng.choice(list("0123456789"), 2))) for _ in range(18)
    ]
    prints = Prints({(k, end): drawn(text) for k, both in enumerate(texts) for end, text in enumerate(both)})
    assert len({group for each in prints.group.values() for group in each}) == 10

    def worth(chosen) -> float:
        met = {digit for k in chosen for text in texts[k] for digit in text}
        return sum(0.25 ** len(set("".join(both)) - met) for both in texts)

    chosen = to_type(prints, range(18))
    assert len(chosen) == 3
    assert worth(chosen) == pytest.approx(max(worth(three) for three in combinations(range(18), 3)))


def test_a_minus_and_the_digit_behind_it_are_two_pictures():
    """They stand so near that the window of each holds a part of the other."""
    strips, places = {}, {}
    for key, text, at in (((0, 0), "-6", (60, 70)), ((1, 0), "-8", (60, 70)), ((2, 0), "66", (70, 85))):
        strip = np.zeros((HIGH, 140), np.float32)
        for sign, middle in zip(text, at, strict=True):
            half = half_width(sign, 15)
            strip[:, middle - half : middle + half] += window(np.clip(rough(15)[sign], 0, 1), half)
        strips[key], places[key] = strip, list(at)
    pictures = _means(strips, {(0, 0): "-6", (1, 0): "-8", (2, 0): "66"}, places, 15)
    alone = np.clip(rough(15)["6"], 0, 1)
    half = half_width("6", 15)
    assert np.abs(window(pictures["6"], half) - window(alone, half)).max() < 0.35
    assert pictures["-"][: HIGH // 3].max() == 0.0  # of the digit
    assert pictures["-"].max() > 0.5
    assert (_alone(strips[0, 0], "-6", places[0, 0], 1)[:, :64] == 0.0).all()


def test_a_line_that_breaks_in_many_frames_is_found_in_the_last_look():
    zone = Zone((0, 0, 80, 40), (60.0, 25.0), (66, 0, 78, 25))
    lumas = []
    for k in range(20):
        luma = np.full((40, 80), 20, np.uint8)
        luma[10 : 18 if k % 5 < 3 else 15, 50:54] = 230
        lumas.append(luma)
    assert lines_of(lumas, zone, LOOKS[0]) == []
    light = [line for line in lines_of(lumas, zone, LOOKS[-1]) if line.ink > line.ground]
    assert (light[0].top, light[0].bottom) == pytest.approx((10.0, 18.0), abs=0.5)


def test_over_a_long_gap_what_is_foretold_is_as_doubtful_as_it_is_wrong():
    """A scene that warms ever slower, known at its beginning and its end only: the straight line between misses it by
    the product of the distances times half its second derivative.
    """
    frames = np.arange(80)
    pins = 60.0 * (1.0 - np.exp(-frames / 20.0))
    celsius = np.stack([np.r_[np.linspace(18.0, 22.0, 300), np.linspace(25.0, 30.0 + pin, 60)] for pin in pins])
    low, high = celsius.min(axis=1), celsius.max(axis=1)
    places = (celsius - low[:, None]) / (high - low)[:, None]
    known = np.column_stack([low, high])
    known[17:62] = np.nan
    ends, doubts = foretold(Scene(places), known, 0.1)
    off = np.abs(ends[17:62, 1] - high[17:62])
    assert off.max() > 5.0  # else this tests nothing
    assert (off <= 1.5 * doubts[17:62, 1]).all()
    one = np.column_stack([low, high])
    one[30] = np.nan
    ends, doubts = foretold(Scene(places), one, 0.1)
    assert abs(ends[30, 1] - high[30]) <= doubts[30, 1] < 0.5


def test_parts_of_a_unit_contradict_nothing_and_two_digits_do():
    assert not _contradicts({"beside 0", "beside 1"})
    assert not _contradicts({"3"})
    assert _contradicts({"3", "beside 0"})
    assert _contradicts({"3", "8"})


def test_a_number_in_pieces_is_not_asked_for():
    whole, pieces = drawn("12.5"), [*drawn("1"), *drawn("."), *drawn("2.5")]
    assert _regular(whole)
    assert not _regular(pieces)
    prints = Prints({(k, end): pieces if k == 0 else whole for k in range(4) for end in (0, 1)})
    assert 0 not in to_type(prints, range(4))


def way(often: int, as_one: bool) -> Way:
    """Numbers 62, read without doubt; 2 and 6 are `as_one` digit by what was typed. 2 is met `often` times."""
    prints = Prints({(k, 0): drawn("62" if k < often else "6") for k in range(6)})
    groups = prints.group[0, 0]
    typed = ((groups[0], "6"), (groups[1], "6" if as_one else "2"))
    alphabet = Alphabet(("6", "2"), prints.means, 0, (), frozenset({0}), typed=typed)
    return Way({key: ("66" if as_one else "62", "") for key in prints.runs}, {}, alphabet, prints)


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        (way(6, True), way(6, True), True),
        (way(6, True), way(1, True), True),  # in pieces, the other way hardly meets the character again
        (way(6, True), way(6, False), False),
        (way(1, True), way(1, True), False),
    ],
    ids=["both", "one hardly", "one only", "both hardly"],
)
def test_two_characters_typed_as_one_digit_are_told_where_both_ways_see_them(one, other, told):
    both = with_each_other_s(one, other)
    assert contradicted(both) == told
    assert [each.alphabet.twofold for each in both] == [("6",) if told else ()] * 2
    assert all(bool(why) == told for each in both for _, why in each.numbers.values())


@pytest.mark.parametrize(
    ("read", "typed", "fits"), [("6?", "62", True), ("62", "62", True), ("62", "26", False), ("162", "62", False)]
)
def test_a_typed_number_that_is_read_so_was_not_typed_wrongly(read, typed, fits):
    one = way(6, False)
    one.numbers[0, 0] = (read, "")
    assert as_typed(one, {(0, 0): typed}) == ({(0, 0)} if fits else set())
