"""Two digits of a typed number that were exchanged: the scene as a whole tells them, and accuses nobody else."""

from types import SimpleNamespace

import numpy as np
import pytest
from test_scale_digits import looked_at

from hotspot.read.scale_names import by_names, judged
from hotspot.read.scale_reading import read_ends
from hotspot.read.scale_scene import Scene
from hotspot.read.scale_session import ScaleReading
from hotspot.session import Session
from hotspot.synthetic.self_ranging import Lettering
from hotspot.tell.words import say_all

FRAMES = 60


@pytest.fixture(scope="module")
def warming() -> tuple[Scene, dict[int, tuple[str, str]]]:
    """A ground that drifts by 3 K and pins that settle at 118, with noise: the scene and its printed ends."""
    rng = np.random.default_rng(7)
    time = np.linspace(0.0, 4.0, FRAMES)[:, None]
    ground = np.linspace(18.0, 22.0, 300) + 1.5 * np.sin(1.3 * time)
    pins = np.linspace(0.2, 1.0, 60) * (23.0 + 95.0 * (1.0 - np.exp(-time)))
    celsius = np.hstack([ground, np.maximum(pins, 22.0)]) + rng.normal(0.0, 0.08, (FRAMES, 360))
    low, high = celsius.min(axis=1), celsius.max(axis=1)
    places = (celsius - low[:, None]) / (high - low)[:, None]
    return Scene(places), {k: (f"{low[k]:.1f}", f"{high[k]:.1f}") for k in range(FRAMES)}


def called(texts, names):
    """All numbers with their digits called otherwise."""
    return {k: tuple(by_names(text, names) for text in both) for k, both in texts.items()}


@pytest.mark.parametrize("pair", ["38", "12", "67", "09", "45", "78"])
def test_two_digits_called_by_each_other_s_name_are_told(warming, pair):
    scene, texts = warming
    names = {pair[0]: pair[1], pair[1]: pair[0]}
    read = called(texts, names)
    assert read != texts
    assert judged(read, scene, {k: read[k] for k in (4, 30)}).renamed == names


def test_three_digits_called_in_a_ring_are_told(warming):
    scene, texts = warming
    read = called(texts, {"3": "8", "8": "5", "5": "3"})
    assert judged(read, scene, {4: read[4]}).renamed == {"8": "3", "5": "8", "3": "5"}


@pytest.mark.parametrize("step", [1, 3])
def test_right_names_are_accused_of_nothing(warming, step):
    scene, texts = warming
    some = {k: texts[k] for k in range(0, FRAMES, step)}
    names = judged(some, scene, {k: texts[k] for k in (0, 24, 48)})
    assert names.renamed == {}
    assert names.unsure == set()


def test_a_scene_that_leaps_accuses_nobody(warming):
    """A camera that shows another place in every frame: no names fit, and none is preferred."""
    _, texts = warming
    for seed in range(5):
        places = np.random.default_rng(seed).uniform(0.0, 1.0, (FRAMES, 300))
        assert judged(texts, Scene(places), {4: texts[4]}).renamed == {}


def test_what_only_one_typed_number_tells_is_not_sure_where_the_scene_tells_nothing(warming):
    scene, texts = warming
    few = {k: texts[k] for k in (0, 20, 40)}  # too far apart to be held against each other
    typed = {0: ("18.0", "22.0"), 20: ("18.0", "97.5")}
    assert judged(few | typed, scene, typed).unsure == set("975")
    assert judged(few | typed, scene, typed | {40: ("19.7", "20.5")}).unsure == set()


@pytest.fixture(scope="module")
def series():
    return looked_at(Lettering("DejaVuSans", 14))


@pytest.mark.parametrize(
    ("frames", "frame", "end", "wrong"),
    [
        ((0, 20, 29), 29, 0, "-8.5"),
        ((4, 7, 14), 14, 0, "-9.3"),
        ((10, 15, 26), 10, 1, "184.0"),
        ((18, 26, 28), 18, 1, "127.8"),
    ],
    ids=["low", "low, another", "high", "high, by 0.9"],
)
def test_two_digits_exchanged_in_typing_make_no_frame_wrong_and_are_told(series, frames, frame, end, wrong):
    looks, zones, truth = series
    true = truth[frame][end]
    assert sorted(wrong) == sorted(true)
    assert wrong != true
    typed = {k: truth[k] for k in frames}
    typed[frame] = tuple(wrong if side == end else text for side, text in enumerate(truth[frame]))
    reading = ScaleReading(Session(), looks, SimpleNamespace(zones=zones), "scale.csv")
    rows = reading.read({looks[k].file: both for k, both in typed.items()})
    read = {k: row for k, row in enumerate(rows) if row.how == "read"}
    assert [k for k, row in read.items() if (row.low, row.high) != truth[k]] == []
    (said,) = [one for one in reading.said if one.code == "scale_typed_renamed"]
    assert said.values == {"file": f"{frame}.jpg", "text": wrong, "scene": true}
    assert f"({wrong}) is rather {true}" in " ".join(say_all([said]))


def test_where_the_scene_tells_too_little_exchanged_digits_are_in_doubt(series):
    """So few frames are read by these three that nothing says which digit is 7 and which 8."""
    looks, zones, truth = series
    assert truth[4] == ("-5.0", "57.8")
    ends, alphabet = read_ends(looks, zones, {3: truth[3], 4: ("-5.0", "58.7"), 9: truth[9]})
    assert alphabet.renamed == ()
    assert [k for k, end in enumerate(ends) if k != 4 and not end.why and (end.low, end.high) != truth[k]] == []
    assert "scale_digit_unsure" in {end.why for end in ends}
