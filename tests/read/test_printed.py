"""What is printed on the pictures: one mask from many frames, and no number under it."""

import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image, ImageDraw, ImageFont

from hotspot.doubts import BIT
from hotspot.read import open_recording
from hotspot.session import Session
from hotspot.tell.words import say

_SCRIPTS = Path(__file__).parents[1] / "benchmarks"
sys.path.insert(0, str(_SCRIPTS))
_SPEC = importlib.util.spec_from_file_location("printed_marks_for_tests", _SCRIPTS / "printed_marks.py")
script = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(script)
sys.path.remove(str(_SCRIPTS))

SIZE = (120, 160)
PINS = [(40.0, 70.0), (80.0, 70.0), (120.0, 70.0)]  # x, y; radius 5
FRAMES = 6


def field(k: int) -> np.ndarray:
    rows, columns = np.indices(SIZE)
    place = 0.2 + 0.1 * columns / SIZE[1] + np.random.default_rng(k).normal(0, 0.0012, SIZE)
    for n, (x, y) in enumerate(PINS):
        rise = (0.2 + 0.15 * n) * (1 - np.exp(-(k + 1) / 3))
        place += rise / (1 + np.exp((np.hypot(columns - x, rows - y) - 5) / 0.8))
    return np.clip(place, 0, 1)


def picture(k: int, name: str, ink: str) -> Image.Image:
    """One frame with a clock, a logo, and a cross over the second pin."""
    from matplotlib import colormaps

    image = Image.fromarray(colormaps[name](np.rint(field(k) * 255) / 255, bytes=True)[..., :3])
    pen = ImageDraw.Draw(image)
    pen.text((4, 2), f"10:0{k}:2{k}", fill=ink, font=ImageFont.load_default(size=12))
    pen.text((130, 100), "TH", fill=ink, font=ImageFont.load_default(size=16))
    pen.line((72, 70, 88, 70), fill=ink)
    pen.line((80, 62, 80, 78), fill=ink)
    return image


def opened(folder: Path, name: str, suffix: str, ink: str = "white", count: int = FRAMES):
    for k in range(count):
        picture(k, name, ink).save(folder / f"f{k}{suffix}", **({"quality": 75} if suffix == ".jpg" else {}))
    scale = {"low": 0.0, "high": 100.0, "map": name}
    return open_recording(
        Session.model_validate({"folder": folder, "frames": {"files": f"*{suffix}", "every_s": 5.0}, "scale": scale})
    )


@pytest.mark.parametrize("suffix", [".png", ".jpg"])
@pytest.mark.parametrize(
    ("name", "ink"), [("inferno", "white"), ("turbo", "black"), ("jet", "white"), ("gray", "white")]
)
def test_marks_are_found_and_pins_are_left(tmp_path: Path, name: str, ink: str, suffix: str) -> None:
    recording = opened(tmp_path, name, suffix, ink)
    assert "printed_marks" in [said.code for said in recording.notices]
    rows, columns = np.indices(SIZE)
    for frame in recording.frames():
        celsius, doubt, _ = frame.pixels.at(rows.ravel(), columns.ravel())
        printed = (doubt & BIT["printed_over"] > 0).reshape(SIZE)
        inked = np.any(np.asarray(picture(frame.index, name, ink)) != np.asarray(bare(frame.index, name)), axis=2)
        assert printed[inked].mean() > 0.95
        assert np.isnan(celsius.reshape(SIZE)[printed]).all()
        for x, y in (PINS[0], PINS[2]):
            assert not printed[np.hypot(columns - x, rows - y) <= 6].any()
        assert printed[70, 72:89].all()
        assert printed.mean() < 0.15


def bare(k: int, name: str) -> Image.Image:
    from matplotlib import colormaps

    return Image.fromarray(colormaps[name](np.rint(field(k) * 255) / 255, bytes=True)[..., :3])


def test_two_frames_are_too_few_to_tell(tmp_path: Path) -> None:
    recording = opened(tmp_path, "inferno", ".jpg", count=2)
    assert "printed_marks" not in [said.code for said in recording.notices]


def test_a_clipped_pin_is_not_taken_for_a_mark(tmp_path: Path) -> None:
    """Grey: a face of 5 px and one of 10 px that are white in every frame are clipped, not printed."""
    rows, columns = np.indices(SIZE)
    for k in range(4):
        place = np.full(SIZE, 0.3) + np.random.default_rng(k).normal(0, 0.0012, SIZE)
        for x, radius in ((40, 2.5), (110, 5.0)):
            place += 1.2 / (1 + np.exp((np.hypot(columns - x, rows - 60) - radius) / 0.7))
        Image.fromarray(np.rint(np.clip(place, 0, 1) * 255).astype(np.uint8)).save(tmp_path / f"f{k}.jpg", quality=85)
    session = {"folder": tmp_path, "frames": {"files": "*.jpg", "every_s": 5.0}}
    recording = open_recording(Session.model_validate(session | {"scale": {"low": 0.0, "high": 9.0, "map": "gray"}}))
    frame = next(iter(recording.frames()))
    doubt = frame.pixels.at(rows.ravel(), columns.ravel())[1].reshape(SIZE)
    for x, radius in ((40, 2.5), (110, 5.0)):
        face = np.hypot(columns - x, rows - 60) <= radius
        assert (doubt[face] & BIT["clipped_high"] > 0).sum() >= 3  # what makes a pin clipped
        assert not (doubt[face] & BIT["printed_over"]).any()


@pytest.mark.parametrize(("suffix", "least"), [(".png", 0.98), (".jpg", 0.95)])
@pytest.mark.parametrize("name", ["inferno", "gray", "hot"])
def test_black_ink_on_dark_ground_is_found(tmp_path: Path, name: str, suffix: str, least: float) -> None:
    """It differs from the ground by a fifth of the scale; thin letters by less."""
    recording = opened(tmp_path, name, suffix, "black")
    rows, columns = np.indices(SIZE)
    frame = next(iter(recording.frames()))
    doubt = frame.pixels.at(rows.ravel(), columns.ravel())[1].reshape(SIZE)
    printed = doubt & BIT["printed_over"] > 0
    inked = np.any(np.asarray(picture(0, name, "black")) != np.asarray(bare(0, name)), axis=2)
    assert printed[inked].mean() > least
    for x, y in (PINS[0], PINS[2]):
        assert not printed[np.hypot(columns - x, rows - y) <= 6].any()


@pytest.mark.parametrize("ground", [0.01, 0.03, 0.045])
@pytest.mark.parametrize("suffix", [".png", ".jpg"])
def test_a_dark_gap_between_warm_blades_is_no_mark(tmp_path: Path, suffix: str, ground: float) -> None:
    """It is as narrow and as dark as ink, but runs out into ground of its own colour."""
    from matplotlib import colormaps

    rows, columns = np.indices(SIZE)
    blade = (columns - 30) % 11 < 8
    warm = np.where((abs(rows - 60) < 20) & (columns >= 30) & (columns < 118) & blade, 0.6, ground)
    for k in range(FRAMES):
        place = np.clip(warm + np.random.default_rng(k).normal(0, 0.0012, SIZE), 0, 1)
        image = Image.fromarray(colormaps["inferno"](np.rint(place * 255) / 255, bytes=True)[..., :3])
        image.save(tmp_path / f"f{k}{suffix}", **({"quality": 75} if suffix == ".jpg" else {}))
    scale = {"low": 0.0, "high": 100.0, "map": "inferno"}
    session = {"folder": tmp_path, "frames": {"files": f"*{suffix}", "every_s": 5.0}, "scale": scale}
    recording = open_recording(Session.model_validate(session))
    assert "printed_marks" not in [said.code for said in recording.notices]


def test_a_pin_partly_under_a_mark_has_the_mean_of_the_rest_and_a_word(tmp_path: Path, hotspot_cli) -> None:
    (tmp_path / "frames").mkdir()
    for k in range(FRAMES):
        image = bare(k, "inferno")
        ImageDraw.Draw(image).line((125, 30, 125, 95), fill="white")  # the rim of the third pin
        image.save(tmp_path / "frames" / f"f{k}.png")
    pins = "".join(f'[[pin]]\nname = "{n + 1}"\nx = {x}\ny = {y}\nradius = 5.0\n' for n, (x, y) in enumerate(PINS))
    (tmp_path / "session.toml").write_text(
        '[frames]\nfiles = "frames/*.png"\nreading = "colours"\nevery_s = 5.0\n'
        '[scale]\nlow = 20.0\nhigh = 80.0\nmap = "inferno"\n' + pins
    )
    ended = hotspot_cli("run", tmp_path)
    assert ended.status == 0, ended.err
    found = json.loads((tmp_path / "results" / "findings.json").read_text(encoding="utf-8"))
    told = {said["code"]: said["text"] for said in found["warnings"]}
    assert "pins_printed_over" not in told
    assert told["pins_partly_printed"].startswith(
        "A mark printed on the picture covers a part of pin 3: its temperature"
    )
    assert told["pins_partly_printed"] in (tmp_path / "results" / "report.html").read_text(encoding="utf-8")
    read = pd.read_csv(tmp_path / "results" / "readings.csv", dtype={"pin": str})
    assert set(read.loc[read["quality"].str.contains("printed_over"), "pin"]) == {"3"}
    rows, columns = np.indices(SIZE)
    face = (np.hypot(columns - PINS[2][0], rows - PINS[2][1]) <= 5.0) & (columns < 124)
    third = read[read["pin"] == "3"]
    wanted = [20.0 + 60.0 * field(k)[face].mean() for k in third["frame"]]
    np.testing.assert_allclose(third["temperature_c"], wanted, atol=0.4)


def test_a_pin_under_a_mark_has_a_doubt_and_no_number(tmp_path: Path) -> None:
    from hotspot.pipeline import analyse

    (tmp_path / "frames").mkdir()
    opened(tmp_path / "frames", "inferno", ".png")
    pins = [{"name": str(n + 1), "x": x, "y": y, "radius": 5.0} for n, (x, y) in enumerate(PINS)]
    session = Session.model_validate(
        {
            "folder": tmp_path,
            "frames": {"files": "frames/*.png", "every_s": 5.0},
            "scale": {"low": 20.0, "high": 80.0, "map": "inferno"},
            "connector": {"rows": 1, "columns": 3},
            "pin": pins,
        }
    )
    found = analyse(session)
    readings = found.readings
    told = {said.code: said for said in found.notices if said.code.startswith("pins_p")}
    assert list(told) == ["pins_printed_over"]
    assert told["pins_printed_over"].values["pins"] == ["2"]
    assert "Switch the marks off" in say(told["pins_printed_over"])
    under = readings[readings["pin"] == "2"]
    assert under["temperature_c"].isna().all()
    assert under["quality"].str.split(";").map(lambda names: "printed_over" in names).all()
    others = readings[readings["pin"] != "2"]
    assert others["temperature_c"].notna().all()
    assert not others["quality"].str.contains("printed_over").any()


def test_the_scripts_counts_bear_out_what_is_claimed_of_a_fresh_seed() -> None:
    for ink in ("black", "none"):
        inked, found, pins, touched, _, _ = script.count("magma", "png", ink, 7_501)
        assert touched == 0
        assert pins >= 16
        assert found >= 0.97 * inked
    assert "0 of 16 pins" in script.row("png", "none", np.array([0, 0, 16, 0, 100, 0]))


def test_black_ink_in_a_compressed_picture_is_found_by_its_luma() -> None:
    """On the blue dark end of gnuplot2, by place along the map alone, 44 % of this picture's ink is found."""
    inked, found, pins, touched, _, _ = script.count("gnuplot2", "q75", "black", 7_502)
    assert found > 0.75 * inked
    assert touched == 0
    assert pins >= 16
