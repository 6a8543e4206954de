"""Colour sessions that are wrong, through `hotspot run`: one message and exit 2, or words and doubts."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image

SIZE = (120, 160)
PINS = ((40, 0.1), (80, 0.25), (120, 0.4))  # x, and how far it warms above the ground, shares of the scale
LOW, HIGH, FRAMES = 20.0, 80.0, 6


def field(k: int, higher: float) -> np.ndarray:
    rows, columns = np.indices(SIZE)
    place = 0.15 + np.random.default_rng(k).normal(0, 0.0012, SIZE)
    for x, rise in PINS:
        warm = (rise + higher) * (1 - np.exp(-(k + 1) / 3))
        place += warm / (1 + np.exp((np.hypot(columns - x, rows - 70) - 6) / 0.8))
    return place


def write(folder: Path, scale: str, drawn: str = "inferno", bar: str | None = None, **more) -> Path:
    """A folder of six pictures drawn through a map, with a bar of 8 x 100 px or none; `more`: higher, suffix."""
    from matplotlib import colormaps

    (folder / "frames").mkdir(parents=True)
    suffix = more.get("suffix", ".png")
    for k in range(FRAMES):
        place = np.clip(field(k, more.get("higher", 0.0)), 0, 1)
        picture = colormaps[drawn](np.rint(place * 255) / 255, bytes=True)[..., :3].copy()
        if bar:
            picture[10:110, 148:156] = colormaps[bar](np.linspace(1, 0, 100), bytes=True)[:, None, :3]
        Image.fromarray(picture).save(folder / "frames" / f"f{k}{suffix}")
    pins = "".join(f'[[pin]]\nname = "{n + 1}"\nx = {x}\ny = 70.0\nradius = 5.0\n' for n, (x, _) in enumerate(PINS))
    (folder / "session.toml").write_text(
        f'[frames]\nfiles = "frames/*"\nreading = "colours"\nevery_s = 5.0\n[scale]\n{scale}\n{pins}'
    )
    return folder


ENDS = f"low = {LOW}\nhigh = {HIGH}\n"


@pytest.mark.parametrize(
    ("scale", "drawn", "words"),
    [
        ('low = 80.0\nhigh = 20.0\nmap = "inferno"', "inferno", ("scale.low", "80 is not below high 20")),
        ('low = 20.0\nhigh = 20.0\nmap = "inferno"', "inferno", ("scale.low", "is not below")),
        ('low = nan\nhigh = 80.0\nmap = "inferno"', "inferno", ("scale.low", "no number")),
        (ENDS, "inferno", ("scale.map", "no map given, and no colour bar found", "Name the camera's colour map")),
        (f'{ENDS}map = "bar"', "inferno", ("scale.map", "no colour bar found", "Give its box")),
        (f'{ENDS}map = "infernoo"', "inferno", ("scale.map", "infernoo", "Nearest names: inferno")),
        (f'{ENDS}map = "prism"', "prism", ("scale.map", "colours of prism repeat over", "shows each temperature")),
        (f'{ENDS}map = "flag"', "flag", ("scale.map", "colours of flag repeat over", "shows each temperature")),
        (f'{ENDS}map = "bar"\nbar = [300, 10, 8, 100]', "inferno", ("scale.bar", "does not lie in the picture")),
        (f'{ENDS}map = "bar"\nbar = [148, 10, -8, 100]', "inferno", ("scale.bar", "does not lie in the picture")),
        (
            f'{ENDS}map = "bar"\nbar = [10, 10, 8, 100]',
            "inferno",
            ("scale.bar", "no colour bar", "160 x 120", "in pixels", "frames.files"),
        ),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_message(tmp_path: Path, hotspot_cli, scale, drawn, words) -> None:
    ended = hotspot_cli("run", write(tmp_path / "s", scale, drawn))
    assert ended.status == 2
    assert all(word in ended.err for word in ("session.toml", *words)), ended.err
    assert len(ended.err.strip().splitlines()) <= 3
    assert not (tmp_path / "s" / "results").exists()


def run(hotspot_cli, folder: Path) -> tuple[dict[str, str], pd.DataFrame]:
    """Warnings by code, and the readings."""
    ended = hotspot_cli("run", folder)
    assert ended.status == 0, ended.err
    found = json.loads((folder / "results" / "findings.json").read_text(encoding="utf-8"))
    read = pd.read_csv(folder / "results" / "readings.csv", dtype={"pin": str, "clipped": str}, keep_default_na=False)
    read["temperature_c"] = pd.to_numeric(read["temperature_c"])
    return {said["code"]: said["text"] for said in found["warnings"]}, read


@pytest.mark.parametrize("suffix", [".png", ".jpg"])
def test_a_bar_of_another_map_than_stated_is_said_and_doubted_on_every_reading(tmp_path, hotspot_cli, suffix) -> None:
    folder = write(tmp_path / "s", f'{ENDS}map = "jet"', bar="inferno", suffix=suffix)
    told, read = run(hotspot_cli, folder)
    assert "not the stated map jet" in told["bar_of_another_map"]
    assert "fits inferno" in told["bar_of_another_map"]
    assert read["quality"].str.split(";").map(lambda names: "map_doubtful" in names).all()


def test_a_bar_unlike_a_map_that_the_picture_bears_out_is_said_too(tmp_path: Path, hotspot_cli) -> None:
    told, read = run(hotspot_cli, write(tmp_path / "s", f'{ENDS}map = "inferno"', bar="jet"))
    assert "differs from the stated map inferno" in told["bar_unlike_map"]
    assert read["quality"].str.contains("map_doubtful").all()


@pytest.mark.parametrize("suffix", [".png", ".jpg"])
def test_a_map_that_the_picture_is_not_drawn_in_is_doubted_and_called_no_print(tmp_path, hotspot_cli, suffix) -> None:
    told, read = run(hotspot_cli, write(tmp_path / "s", f'{ENDS}map = "jet"', suffix=suffix))
    assert "Check scale.map" in told["colour_map_misfits_picture"]
    assert "printed_marks" not in told
    assert "pins_printed_over" not in told
    assert read["quality"].str.contains("map_doubtful").all()
    if suffix == ".png":
        assert read["temperature_c"].isna().all()
        steps = json.loads((tmp_path / "s" / "results" / "findings.json").read_text(encoding="utf-8"))["next"]
        assert any(step.startswith("Correct the colour map") for step in steps), steps
        assert not any("into view" in step for step in steps), steps


@pytest.mark.parametrize("suffix", [".png", ".jpg"])
def test_a_pin_above_the_top_is_a_bound_and_said(tmp_path: Path, hotspot_cli, suffix: str) -> None:
    told, read = run(hotspot_cli, write(tmp_path / "s", f'{ENDS}map = "inferno"', higher=0.8, suffix=suffix))
    assert "pins 2 and 3 are above the top of the scale" in told["pins_clipped_high"].lower()
    assert "at least the one shown" in told["pins_clipped_high"]
    last = read[read["frame"] == FRAMES - 1].set_index("pin")
    assert last["clipped"].to_dict() == {"1": "", "2": "high", "3": "high"}
    assert (last.loc[["2", "3"], "temperature_c"] <= HIGH).all()
    assert "clipped_high" in last.loc["3", "quality"]


@pytest.mark.parametrize("name", ["hsv", "twilight"])
def test_a_map_whose_ends_meet_is_read_with_a_warning_and_doubts_near_the_shared_colour(
    tmp_path: Path, hotspot_cli, name: str
) -> None:
    """The third pin comes to the shared colour in the last frames; the first stays far from it."""
    told, read = run(hotspot_cli, write(tmp_path / "s", f'{ENDS}map = "{name}"', drawn=name, higher=0.62))
    assert f"two ends of the map {name} have nearly the same colour" in told["colour_map_ends_meet"]
    doubted = read["quality"].str.split(";").map(lambda names: "ambiguous_colour" in names or "no_value" in names)
    assert doubted[(read["pin"] == "3") & (read["frame"] == FRAMES - 1)].all()
    first = read[read["pin"] == "1"]
    assert not doubted[first.index].any()
    face = np.hypot(*(np.indices(SIZE) - np.array([70, PINS[0][0]])[:, None, None])) <= 5.0
    wanted = [LOW + (HIGH - LOW) * field(k, 0.62)[face].mean() for k in first["frame"]]
    np.testing.assert_allclose(first["temperature_c"], wanted, atol=0.3)
