"""Printed ends of a scale: characters, what is learned from typed numbers, what the scene says of them."""

from types import SimpleNamespace

import numpy as np
import pytest

from hotspot.read.bar import find_bar
from hotspot.read.colour_image import ColourImage
from hotspot.read.scale_alphabet import Prints, _before_unit, learn, read_numbers
from hotspot.read.scale_checks import bar_changed, jumps
from hotspot.read.scale_digits import HIGH, POINT, SCRAP, TALL, Line, characters, parted
from hotspot.read.scale_match import Letters, _path, _unread_before
from hotspot.read.scale_reading import Looker, _by_strokes, candidates, frames_to_type, read_ends
from hotspot.read.scale_session import ScaleReading
from hotspot.read.scale_strip import half_width, rough, window
from hotspot.read.scale_ways import together
from hotspot.session import Session
from hotspot.synthetic.self_ranging import Lettering, ranged_picture, ranged_scene
from hotspot.tell.words import say_all

FRAMES = 30


def jpeg(rgb: np.ndarray, quality: int) -> np.ndarray:
    import cv2

    coded = cv2.imencode(".jpg", rgb[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[:, :, ::-1])


def looked_at(lettering: Lettering, seed: int = 3, low_c: float = -6.0, top_c: float = 118.0):
    """Looks, zones and the true texts of a made test."""
    scene = ranged_scene(np.random.default_rng(seed), FRAMES, (240, 320), low_c, top_c)
    looker, looks, truth = None, [], []
    for k, celsius in enumerate(scene.celsius):
        picture, *texts = ranged_picture(celsius, lettering)
        picture = jpeg(picture, 85)
        looker = looker or Looker(find_bar(ColourImage.from_rgb(picture)), picture.shape[:2])
        places = np.zeros(picture.shape[:2])
        places[:, :320] = (celsius - celsius.min()) / np.ptp(celsius)
        looks.append(looker.look(k, f"{k}.jpg", picture, places))
        truth.append(tuple(texts))
    return looks, looker.zones, truth


@pytest.mark.parametrize(
    "lettering",
    [
        Lettering("DejaVuSans", 13, unit="°C"),
        Lettering("simplex", 16, "right", light=False),
        Lettering("pillow", 15, "left", "outlined", unit="°C"),
    ],
    ids=lambda lettering: lettering.font,
)
def test_the_ends_of_a_series_are_read_by_three_typed_frames(lettering):
    looks, zones, truth = looked_at(lettering)
    chosen = frames_to_type(looks, zones)
    assert 2 <= len(chosen) <= 3
    ends, alphabet = read_ends(looks, zones, {k: truth[k] for k in chosen})
    assert alphabet.conflicts == ()
    wrong = [k for k, end in enumerate(ends) if not end.why and (end.low, end.high) != truth[k]]
    assert wrong == []
    assert sum(not end.why for end in ends) >= FRAMES - 1
    assert any(float(low) < 0 for low, _ in truth)


def test_one_that_is_typed_wrongly_is_told_by_the_print():
    looks, zones, truth = looked_at(Lettering("DejaVuSans", 14))
    chosen = frames_to_type(looks, zones)
    typed = {k: truth[k] for k in chosen}
    low, high = typed[chosen[-1]]
    typed[chosen[-1]] = (low, high[1:])  # the first digit left out
    _, alphabet = read_ends(looks, zones, typed)
    assert (chosen[-1], 1) in alphabet.unaligned


def test_decimals_left_out_are_told():
    looks, zones, truth = looked_at(Lettering("DejaVuSans", 14))
    typed = {looks[k].file: tuple(text.partition(".")[0] for text in truth[k]) for k in frames_to_type(looks, zones)}
    reading = ScaleReading(Session(), looks, None, "scale.csv")
    reading.looker = SimpleNamespace(zones=zones)
    rows = reading.read(typed)
    assert {row.how for row in rows} == {"typed", "doubtful"}
    assert {said.code for said in reading.said} <= {
        "scale_typed_nowhere",
        "scale_typed_unlike_print",
        "scale_camera_learned",
    }
    assert "with all decimals" in " ".join(say_all(reading.said))


def test_a_digit_typed_as_two_is_said():
    looks, zones, truth = looked_at(Lettering("DejaVuSans", 14))
    typed = {k: truth[k] for k in frames_to_type(looks, zones)}
    met = {digit for both in typed.values() for text in both for digit in text}
    extra = next(k for k in range(FRAMES) if k not in typed and truth[k][1][-1] in met)
    true = truth[extra][1][-1]
    wrong = "1" if true != "1" else "7"
    typed[extra] = (truth[extra][0], truth[extra][1][:-1] + wrong)
    _, alphabet = read_ends(looks, zones, typed)
    assert {true, wrong} in [set(each) for each in alphabet.conflicts]


@pytest.mark.parametrize(
    "wrong", ["34.9", "14.9", "234.9", "134.2"], ids=["left out", "left out inside", "first", "last"]
)
def test_one_number_typed_wrongly_makes_no_other_frame_wrong(wrong):
    """The digit that was typed wrongly stands in no other typed frame: only print and scene can tell."""
    looks, zones, truth = looked_at(Lettering("DejaVuSans", 14))
    assert truth[25] == ("-5.1", "134.9")
    typed = {0: truth[0], 4: truth[4], 25: (truth[25][0], wrong)}
    ends, alphabet = read_ends(looks, zones, typed)
    read = {k: end for k, end in enumerate(ends) if k not in typed and not end.why}
    assert [k for k, end in read.items() if (end.low, end.high) != truth[k]] == []
    assert alphabet.unaligned or alphabet.conflicts or alphabet.refuted or alphabet.twofold


def test_frames_without_print_are_in_doubt():
    looks, zones, truth = looked_at(Lettering("DejaVuSans", 13))
    blank = [
        type(look)(look.index, look.file, tuple(np.full_like(zone, 24) for zone in look.zones), look.places, look.bar)
        if k == 7
        else look
        for k, look in enumerate(looks)
    ]
    ends, _ = read_ends(blank, zones, {k: truth[k] for k in (2, 12, 25)})
    assert (ends[7].low, ends[7].why) == ("", "scale_no_number")


def line_of_print(text: str, gap_px: int = 3) -> tuple[np.ndarray, Line]:
    """Blocks for characters: `I` a tall bar, `.` a point, 4 px wide."""
    zone = np.full((30, 120), 20, np.uint8)
    x = 10
    for sign in text:
        zone[(10 if sign == "I" else 19) : 22, x : x + (4 if sign == "I" else 3)] = 240
        x += (4 if sign == "I" else 3) + gap_px
    return zone, Line(10.0, 22.0, 240.0, 20.0, 0.5, (60.0, 5.0))


def test_kinds_and_places_of_characters():
    zone, line = line_of_print("II.I")
    found = characters(zone, line)
    assert [one.kind for one in found] == [TALL, TALL, POINT, TALL]
    assert [one.left for one in found] == pytest.approx([10, 17, 24, 30], abs=0.4)


def test_characters_that_touch_can_be_cut():
    zone, line = line_of_print("II", gap_px=0)
    (both,) = characters(zone, line)
    cut = parted(zone, line, both)
    assert min(abs(left.right - 14.0) for left, _ in cut) <= 0.4
    assert all(left.right <= right.left + 0.01 for left, right in cut)


def test_halves_of_a_digit_are_one_and_two_ones_are_two():
    zone, line = line_of_print("II", gap_px=1)
    assert [one.kind for one in characters(zone, line)] == [TALL]
    zone, line = line_of_print("II", gap_px=3)
    assert [one.kind for one in characters(zone, line)] == [TALL, TALL]


def test_a_faint_point_is_seen_in_a_wide_gap_only():
    zone, line = line_of_print("II", gap_px=6)
    assert [one.kind for one in characters(zone, line)] == [TALL, TALL]
    zone[20:22, 16:18] = 100
    assert [one.kind for one in characters(zone, line)] == [TALL, POINT, TALL]
    zone[10:22, 16:18] = 100  # not on the foot of the line only: no point
    assert [one.kind for one in characters(zone, line)] == [TALL, TALL]


def test_nothing_is_learned_where_the_typed_characters_are_not_there():
    zone, line = line_of_print("II.I")
    prints = Prints({(0, 0): characters(zone, line), (0, 1): characters(zone, line)})
    assert learn(prints, {(0, 0): "123.45", (0, 1): "-1.2"}) is None


def warming(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A ground at 20 and pins that warm: places, and the true ends of every frame."""
    celsius = np.stack(
        [np.r_[np.linspace(19.0, 22.0, 200), np.linspace(25.0, 40.0 + 2.0 * k, 50)] for k in range(count)]
    )
    low, high = celsius.min(axis=1), celsius.max(axis=1)
    return (celsius - low[:, None]) / (high - low)[:, None], low, high


def test_true_ends_do_not_jump():
    places, low, high = warming(25)
    assert not jumps(places, np.round(low, 1), np.round(high, 1), 0.1, [3, 12]).any()


@pytest.mark.parametrize(("first", "last"), [(7, 8), (10, 18), (20, 25)], ids=["one", "many", "to the end"])
def test_a_digit_read_as_another_jumps(first, last):
    places, low, high = warming(25)
    high[first:last] -= 30.0  # a 7 read as a 4 in the tens
    mask = jumps(places, low, high, 0.1, [3])
    assert mask.tolist() == [first <= k < last for k in range(25)]


def test_frames_that_were_not_read_do_not_jump_and_break_nothing():
    places, low, high = warming(25)
    low[6:9] = np.nan
    assert not jumps(places, low, high, 0.1, [0]).any()


def test_a_bar_that_changed_is_seen():
    bars = np.tile(np.linspace(0, 255, 32)[None, :, None], (10, 1, 3))
    bars[4] = bars[4, ::-1]
    assert np.flatnonzero(bar_changed(bars)).tolist() == [4]


@pytest.mark.parametrize(
    ("signs", "expected"),
    [
        (["2", "1", ".", "4", "?", "ring"], "21.4"),
        (["2", "1", ".", "4", "7"], ""),
        (["2", "?", ".", "4", "?"], ""),
        (["2", "1", "4"], ""),
    ],
    ids=["unit in pieces", "one digit too many", "not known", "no point"],
)
def test_a_number_before_a_unit_in_pieces(signs, expected):
    assert _before_unit(signs, frozenset({1})) == expected


def test_thin_print_that_breaks_and_touches_is_read_along_the_line():
    looks, zones, truth = looked_at(Lettering("STIXGeneralItalic", 12, "left", "outlined", unit="°C"), seed=5)
    chosen = frames_to_type(looks, zones)
    ends, _ = read_ends(looks, zones, {k: truth[k] for k in chosen})
    assert [k for k, end in enumerate(ends) if not end.why and (end.low, end.high) != truth[k]] == []
    assert sum(not end.why for end in ends) >= FRAMES - 2
    found = list(candidates(looks, zones))
    texts = {(k, end): truth[k][end] for k in chosen for end in (0, 1)}
    strokes = _by_strokes(found, looks, zones, texts)
    assert strokes is None or any(why for _, why in read_numbers(*strokes).values())  # else this tests nothing


def test_characters_stand_where_they_were_drawn():
    """A strip made of known pictures at known columns is taken apart there."""
    steps = rough(15)
    strip = np.zeros((HIGH, 200), np.float32)
    for sign, at in zip("-12.8", (60, 72, 87, 97, 107), strict=True):
        half = half_width(sign, 15)
        strip[:, at - half : at + half] += window(steps[sign], half)
    pictures = {sign: steps[sign] for sign in "12.-"}
    reach = {"dd": (13, 17), "-d": (10, 14), "d.": (8, 12), ".d": (8, 12)}
    ink = float((steps["2"] ** 2).sum())
    letters = Letters(pictures, np.zeros((HIGH, 48), np.float32), 15, reach, ink, frozenset({1}), {}, 0.0, 1.0)
    assert _path(strip, letters) == [("-", 60), ("d", 72), ("d", 87), (".", 97), ("d", 107)]
    line = Line(10.0, 20.0, 250.0, 0.0, 0.5, (0.0, 0.0))
    assert _unread_before(strip, ("-", 60), letters, line) == []
    assert [one.kind for one in _unread_before(strip, ("d", 72), letters, line)] == [SCRAP]


def test_two_ways_that_differ_are_a_doubt_and_what_one_cannot_read_the_other_may():
    one = {(0, 0): ("12", ""), (0, 1): ("3?", "scale_character_unknown"), (1, 0): ("12", "")}
    other = {(0, 0): ("12", ""), (0, 1): ("34", ""), (1, 0): ("-12", "")}
    assert together(one, other) == {(0, 0): ("12", ""), (0, 1): ("34", ""), (1, 0): ("12", "scale_read_twice")}


def test_a_minus_that_one_way_only_sees_is_a_doubt():
    sure, torn = {(0, 0): ("0.3", "")}, {(0, 0): ("-0..3", "scale_other_format")}
    assert together(torn, sure)[0, 0][1] == "scale_read_twice"
    for unknown in (("", "scale_no_number"), ("?.3", "scale_character_unknown"), ("0.?", "scale_character_unknown")):
        assert together(sure, {(0, 0): unknown})[0, 0] == ("0.3", "")
