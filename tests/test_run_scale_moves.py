"""A camera that fits its scale to every frame, read with one fixed pair of ends: told, never a silent number; and a
fixed scale with a clock beside the bar is never taken for one."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from hotspot.doubts import BIT
from hotspot.read import open_recording
from hotspot.session import Session
from hotspot.synthetic.self_ranging import Lettering, ranged_picture, ranged_scene

SIZE, FRAMES = (160, 240), 9
REFUSED = "differ from frame to frame"
FIXED = [
    ("inferno", 95, Lettering("DejaVuSans", 13), "clock"),
    ("inferno", 60, Lettering("DejaVuSans", 12), "clock"),
    ("jet", 85, Lettering("DejaVuSans-Bold", 14, unit="°C"), "clock"),
    ("gray", 75, Lettering("DejaVuSansMono", 13, ground="outlined"), "clock"),
    ("gray", 92, Lettering("DejaVuSans", 15, ground="outlined"), "shaken"),
    ("viridis", 70, Lettering("pillow", 14, decimals=0), "clock"),
    ("hot", 50, Lettering("DejaVuSans", 13, place="left"), "spot"),
    ("magma", 80, Lettering("simplex", 15, place="right"), "shaken"),
    ("turbo", 90, Lettering("DejaVuSerif", 14, light=False), "spot"),
    ("bone", 85, Lettering("DejaVuSans", 13, ground="outlined", decimals=0, unit="C"), "spot"),
    ("plasma", 65, Lettering("duplex", 15), "clock"),
    ("inferno", 75, Lettering("DejaVuSans", 11, place="left", ground="outlined"), "shaken"),
    ("cividis", 95, None, "clock"),  # a bar without numbers
    ("inferno", 80, None, "spot"),
]
MOVING = [
    ("inferno", 90, Lettering("DejaVuSans", 13)),
    ("gray", 75, Lettering("DejaVuSansMono", 14)),
    ("jet", 85, Lettering("DejaVuSans-Bold", 13, unit="°C", place="right")),
    ("viridis", 60, Lettering("pillow", 15, decimals=0)),
]


def write(folder: Path, drawn: str, quality: int, lettering: Lettering | None, beside: str = "", **scale) -> Path:
    """JPEG frames of six pins that warm; `scale` low and high are what the camera holds, else it fits them to each.
    `beside`: a clock that runs, or a spot's temperature, is printed too, or the camera is shaken."""
    (folder / "frames").mkdir(parents=True)
    rng = np.random.default_rng(quality)
    scene = ranged_scene(np.random.default_rng(11), FRAMES, SIZE, 19.0, 84.0)
    for k, celsius in enumerate(scene.celsius):
        if scale:
            if beside == "shaken":
                celsius = np.roll(celsius, tuple(rng.integers(-4, 5, 2)), (0, 1))
            celsius = np.clip(celsius, scale["low"], scale["high"])
            celsius[0, 0], celsius[0, 1] = scale["low"], scale["high"]
        rgb, *_ = ranged_picture(celsius, lettering or Lettering(), drawn)
        picture = Image.fromarray(rgb)
        draw = ImageDraw.Draw(picture)
        if lettering is None:
            across, down = picture.size
            draw.rectangle([SIZE[1], 0, across, 21], fill=(24, 24, 24))
            draw.rectangle([SIZE[1], down - 22, across, down], fill=(24, 24, 24))
        text = {"clock": f"{9 + k:02d}:{(17 * k) % 60:02d}:{(23 * k) % 60:02d}", "spot": f"{celsius.max() - 3:.1f} °C"}
        if beside in text:
            font = ImageFont.load_default(size=13)
            draw.text((SIZE[1] - 70, 2), text[beside], fill="white", font=font)
            draw.text((4, SIZE[0] - 20), text[beside], fill="white", font=font)
        picture.save(folder / "frames" / f"f{k}.jpg", quality=quality)
    pins = "".join(f'[[pin]]\nname = "{n + 1}"\nx = {48 + 28.8 * n}\ny = 80.0\nradius = 5.0\n' for n in range(6))
    ends = "".join(f"{key} = {value}\n" for key, value in (scale or {"low": 19.0, "high": 84.0}).items())
    (folder / "session.toml").write_text(
        f'ambient = 20.0\n[frames]\nfiles = "frames/*.jpg"\nevery_s = 30.0\n[scale]\nmap = "{drawn}"\n{ends}{pins}'
    )
    return folder


@pytest.mark.parametrize(("drawn", "quality", "lettering", "beside"), FIXED)
def test_a_fixed_scale_is_never_said_to_move(tmp_path: Path, drawn, quality, lettering, beside) -> None:
    folder = write(tmp_path / "s", drawn, quality, lettering, beside, low=15.0, high=70.0)
    recording = open_recording(Session.load(folder))  # what a run begins with; it refuses ends that move
    assert "scale_may_move" not in [said.code for said in recording.notices]
    assert recording.colours is not None
    assert recording.colours.bar is not None, "no bar was found: nothing was looked at"
    assert not recording.colours.doubts & BIT["scale_doubtful"]


def test_of_a_fixed_scale_with_a_clock_new_says_nothing_of_moving(tmp_path: Path, hotspot_cli) -> None:
    folder = write(tmp_path / "s", *FIXED[1], low=15.0, high=70.0)
    looked = hotspot_cli("new", folder, "--force")
    assert looked.status == 0
    assert REFUSED not in " ".join(looked.out.split())


@pytest.mark.parametrize(("drawn", "quality", "lettering"), MOVING)
def test_ends_that_move_are_refused_with_one_pair_and_told_by_new(
    tmp_path: Path, hotspot_cli, drawn, quality, lettering
) -> None:
    folder = write(tmp_path / "s", drawn, quality, lettering, "clock")
    ran = hotspot_cli("run", folder)
    assert ran.status == 2
    assert all(word in ran.err for word in ("session.toml", "scale.low", REFUSED, "hotspot scale", "scale.csv"))
    assert not (folder / "results").exists()
    looked = hotspot_cli("new", folder, "--force")
    said = " ".join(looked.out.split())
    assert REFUSED in said
    assert "hotspot scale" in said


def test_what_the_refusal_names_mends_it(tmp_path: Path, hotspot_cli) -> None:
    folder = write(tmp_path / "s", *MOVING[0])
    assert hotspot_cli("run", folder).status == 2
    assert hotspot_cli("scale", folder).status == 0
    rows = "".join(f"f{k}.jpg,{19 + k},{84 + k}\n" for k in range(FRAMES))
    (folder / "scale.csv").write_text("file,low,high\n" + rows)
    recording = open_recording(Session.load(folder))  # where the run was refused
    assert recording.colours is not None
    assert "scale_may_move" not in [said.code for said in recording.notices]


def test_only_one_end_moves_and_the_other_stays(tmp_path: Path, hotspot_cli) -> None:
    """The cold end is the air's, which stays to the last decimal; the hot end follows the pins."""
    folder = write(tmp_path / "s", "inferno", 85, Lettering("DejaVuSans", 13, decimals=0))
    scene = ranged_scene(np.random.default_rng(11), FRAMES, SIZE, 19.0, 84.0)
    for k, celsius in enumerate(scene.celsius):
        celsius[0, :3] = 17.0
        rgb, low, _ = ranged_picture(celsius.clip(17.0), Lettering("DejaVuSans", 13, decimals=0))
        assert low == "17"
        Image.fromarray(rgb).save(folder / "frames" / f"f{k}.jpg", quality=85)
    ran = hotspot_cli("run", folder)
    assert ran.status == 2
    assert REFUSED in ran.err


def test_where_only_one_end_seems_to_move_every_reading_is_in_doubt(tmp_path: Path, hotspot_cli) -> None:
    """The top creeps by a degree a frame over a scene that hardly sinks for it: too little to refuse the test."""
    folder = write(tmp_path / "s", "inferno", 85, Lettering("DejaVuSans", 13), low=15.0, high=70.0)
    scene = ranged_scene(np.random.default_rng(11), FRAMES, SIZE, 19.0, 60.0)
    for k, celsius in enumerate(scene.celsius):
        celsius[0, :2] = 15.0, 70.0 + 0.7 * k
        rgb, *_ = ranged_picture(celsius, Lettering("DejaVuSans", 13, decimals=0))
        Image.fromarray(rgb).save(folder / "frames" / f"f{k}.jpg", quality=85)
    ran = hotspot_cli("run", folder)
    assert ran.status == 0, ran.err
    told = json.loads((folder / "results" / "findings.json").read_text(encoding="utf-8"))
    said = {one["code"]: one["text"] for one in told["warnings"]}
    assert all(word in said["scale_may_move"] for word in ("scale.low", "hotspot scale", "scale.csv"))
    rows = (folder / "results" / "readings.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert all("scale_doubtful" in row for row in rows)


def test_without_ends_the_command_that_reads_them_is_named(tmp_path: Path, hotspot_cli) -> None:
    folder = write(tmp_path / "s", "inferno", 85, Lettering())
    sheet = folder / "session.toml"
    lines = [line for line in sheet.read_text().splitlines() if not line.startswith(("low", "high"))]
    sheet.write_text("\n".join(lines))
    ran = hotspot_cli("run", folder)
    assert ran.status == 2
    assert all(word in ran.err for word in ("low and high", "not given", "hotspot scale"))


def test_frames_of_two_sizes_are_told_by_new(tmp_path: Path, hotspot_cli) -> None:
    folder = write(tmp_path / "s", "inferno", 85, Lettering(), low=15.0, high=70.0)
    for k in (6, 7, 8):
        path = folder / "frames" / f"f{k}.jpg"
        with Image.open(path) as picture:
            picture.resize((200, 100)).save(path)
    looked = " ".join(hotspot_cli("new", folder, "--force").out.split())
    assert "200 x 100" in looked
    assert "Not all frames are of one size" in looked
