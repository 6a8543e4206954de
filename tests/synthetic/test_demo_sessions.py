"""The demo's two sessions and the samples made from them."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from hotspot.session import Session
from hotspot.synthetic.demo import LOOSE_PIN, SCALE, run, scenes, write_demo, write_scene
from hotspot.synthetic.draw import colours
from hotspot.synthetic.samples import KEEP, readme_text

SAMPLES = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return write_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def films():
    return [run(scene)[1] for scene in scenes()]


def levels(picture):
    """(rows, columns) number of each pixel's colour in the map, by exact match."""
    codes = np.array([65536, 256, 1])
    table = colours(SCALE.map).astype(int) @ codes
    order = np.argsort(table)
    level = order[np.searchsorted(table[order], picture.astype(int) @ codes)]
    assert (table[level] == picture.astype(int) @ codes).all()
    return level


def described(folder):
    return Session(folder=folder, **tomllib.loads((folder / "session.toml").read_text(encoding="utf-8")))


def test_both_sessions_are_whole(demo):
    assert [folder.name for folder in demo] == ["before", "after"]
    sizes = [path.stat().st_size for folder in demo for path in folder.rglob("*") if path.is_file()]
    assert sum(sizes) < 8e6
    for folder in demo:
        session = described(folder)
        assert len(list(folder.glob(session.frames.files))) == 76
        assert (folder / "frames" / session.connector.on).is_file()
        assert [pin.name for pin in session.pin] == ["1", "2", "3", "4", "5", "6"]
        assert session.stage[-1].end_s == 1500.0
        assert all(stage.equal for stage in session.stage)


def test_what_the_session_says_is_what_is_in_the_pictures(demo, films):
    from PIL import Image

    table = colours(SCALE.map).astype(int)
    for folder, footage in zip(demo, films, strict=True):
        session = described(folder)
        last = sorted((folder / "frames").iterdir())[-1]
        with Image.open(last) as image:
            picture = np.asarray(image).astype(int)
        x, y, wide, high = (int(v) for v in session.scale.bar)
        assert (picture[y, x] == table[255]).all()
        assert (picture[y + high - 1, x + wide - 1] == table[0]).all()
        level = levels(picture[:, :272])
        shown = session.scale.low + (session.scale.high - session.scale.low) * level / 255
        assert level.min() > 0
        assert level.max() < 255  # nothing clips
        rows, columns = np.indices(shown.shape)
        for k, pin in enumerate(session.pin):
            disc = np.hypot(columns - pin.x, rows - pin.y) <= pin.radius
            assert shown[disc].mean() == pytest.approx(footage.truth_c[-1, k], abs=2.0)
        left, top, across, down = (int(v) for v in session.region[0].box)
        assert shown[top : top + down, left : left + across].mean() == pytest.approx(footage.ambient_c[-1], abs=1.5)


def test_the_story_is_true(films):
    before, after = scenes()
    truth, mended = films
    assert truth.truth_c[-1].argmax() == LOOSE_PIN
    assert np.sort(truth.truth_c[-1])[-1] - np.sort(truth.truth_c[-1])[-2] > 10.0
    others = np.arange(6) != LOOSE_PIN
    ratio = before.contact_ohm[LOOSE_PIN] / np.median(before.contact_ohm[others])
    assert ratio == pytest.approx(4.0, rel=0.05)
    rises = mended.truth_c[-1] - mended.ambient_c[-1]
    assert rises.max() / np.median(rises) < 1.1
    assert after.amps / before.amps == pytest.approx(1.04, abs=0.005)
    assert after.ambient_c - before.ambient_c == pytest.approx(3.0)


def test_same_bytes_every_time(demo, tmp_path):
    first = scenes()[0]
    again = write_scene(first, tmp_path, [0, 30, 75])
    names = sorted(path.name for path in (again / "frames").iterdir())
    assert len(names) == 3
    for name in names:
        assert (again / "frames" / name).read_bytes() == (demo[0] / "frames" / name).read_bytes()
    assert (again / "session.toml").read_bytes() == (demo[0] / "session.toml").read_bytes()


def test_samples_are_what_the_program_makes(demo):
    assert (SAMPLES / "README.md").read_text(encoding="utf-8") == readme_text()
    total = 0
    for folder in demo:
        sample = SAMPLES / folder.name
        assert (sample / "session.toml").read_bytes() == (folder / "session.toml").read_bytes()
        frames = sorted((folder / "frames").iterdir())
        assert sorted(p.name for p in (sample / "frames").iterdir()) == [frames[k].name for k in KEEP]
        total += sum(path.stat().st_size for path in sample.rglob("*") if path.is_file())
    assert total < 1e6
