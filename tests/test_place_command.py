"""`hotspot place`: the page and what it starts from, and taking the pins.toml that it saved."""

import base64
import json
import re

import numpy as np
import pandas as pd
import pytest

from hotspot.session import Session

TAKEN = """
[connector]
rows = 1
columns = 4
face = "mating"
on = "stack.npy#9"
[[pin]]
name = "1"
x = 19.0
y = 24.0
radius = 4.0
[[pin]]
name = "2"
x = 39.0
y = 24.0
radius = 4.0
[[pin]]
name = "3"
x = 59.0
y = 24.0
radius = 4.0
[[pin]]
name = "4"
x = 79.0
y = 24.0
radius = 4.0
[[region]]
name = "air"
kind = "ambient"
box = [2, 2, 6, 6]
"""


@pytest.fixture
def row(tmp_path, warm_row, sheet):
    folder = tmp_path / "row"
    folder.mkdir()
    np.save(folder / "stack.npy", warm_row(12).astype(np.float32))
    sheet(folder, 'files = "stack.npy"\nreading = "temperature"')
    return folder


def start_of(folder) -> dict:
    page = (folder / "results" / "place.html").read_text(encoding="utf-8")
    return json.loads(re.search(r'<script type="application/json" id="start">(.*?)</script>', page, re.DOTALL)[1])


def values_of(start: dict) -> np.ndarray:
    whole = np.frombuffer(base64.b64decode(start["values"]["whole"]), "<i2").astype(float)
    shown = start["values"]["middle"] + start["values"]["step"] * whole
    return np.where(whole == -32768, np.nan, shown).reshape(start["height"], start["width"])


def test_the_page_holds_the_frame_with_most_contrast_and_the_pins_that_are_given(row, hotspot_cli):
    called = hotspot_cli("place", row, "--no-open")
    assert (called.status, called.err) == (0, "")
    assert "place.html" in called.out
    assert f"hotspot place {row} --take pins.toml" in called.out
    assert [path.name for path in (row / "results").iterdir()] == ["place.html"]
    start = start_of(row)
    assert (start["file"], start["width"], start["height"], start["symbol"]) == ("stack.npy#11", 96, 48, "°C")
    assert [(pin["name"], pin["x"], pin["y"], pin["radius"]) for pin in start["pins"]] == [
        (name, x, 24.0, 5.0) for name, x in zip("1234", (18.0, 38.0, 58.0, 78.0), strict=True)
    ]
    np.testing.assert_allclose(
        values_of(start), np.load(row / "stack.npy")[11], atol=start["values"]["step"] / 2 + 1e-5
    )
    assert start["values"]["step"] <= 0.01


def test_on_chooses_the_frame_by_name_or_path_and_a_stranger_is_refused(row, hotspot_cli):
    assert hotspot_cli("place", row, "--no-open", "--on", "somewhere/stack.npy#3").status == 0
    assert start_of(row)["file"] == "stack.npy#3"
    called = hotspot_cli("place", row, "--no-open", "--on", "other.png")
    assert called.status == 2
    assert "--on: no frame is called 'other.png'" in called.err


def test_with_out_the_session_folder_stays_as_it_is(row, tmp_path, hotspot_cli):
    assert hotspot_cli("place", row, "--no-open", "--out", tmp_path / "out", "--quiet").out == ""
    assert (tmp_path / "out" / "place.html").is_file()
    assert not (row / "results").exists()


def test_temperatures_of_the_file_go_through_untouched_and_people_read_their_unit(row, hotspot_cli):
    path = row / "session.toml"
    text = path.read_text().replace("ambient = 22.0", 'ambient = 71.6\nunits = "F"')
    path.write_text(
        text.replace("[connector]\n", "[connector]\nrated = 221.0\n").replace('"4"', '"4"\nwire = "AWG 14"')
    )
    assert hotspot_cli("place", row, "--no-open").status == 0
    start = start_of(row)
    assert start["connector"]["rated"] == 221.0
    assert start["pins"][3]["wire"] == "AWG 14"
    assert start["symbol"] == "°F"
    np.testing.assert_allclose(values_of(start), np.load(row / "stack.npy")[11] * 1.8 + 32.0, atol=0.006)


def test_pins_and_areas_of_a_moving_camera_are_carried_to_the_shown_frame(row, monkeypatch):
    """Frame k lies turned by k degrees, a hundredth larger each, and shifted: worked out here with complex numbers."""
    from types import SimpleNamespace

    from hotspot.locate import to_place
    from hotspot.pipeline.places import to_place as asked
    from hotspot.poses import Pose

    turns = [(1.0 + 0.01 * k) * np.exp(1j * np.radians(k)) for k in range(12)]
    shifts = [complex(0.4 * k, -0.3 * k) for k in range(12)]
    poses = [Pose(a.real, a.imag, s.real, s.imag) for a, s in zip(turns, shifts, strict=True)]
    poses[0] = Pose(1.0, 0.0, 2.0, 1.0)
    turns[0], shifts[0] = 1.0, complex(2.0, 1.0)
    steady = SimpleNamespace(sampled=SimpleNamespace(poses=poses), looks_still=False)
    monkeypatch.setattr(to_place, "steadying", lambda frames: steady)
    more = '[[region]]\nname = "air"\nkind = "ambient"\nbox = [10.0, 10.0, 9.0, 7.0]\n'
    path = row / "session.toml"
    path.write_text(path.read_text().replace('pin1 = "lock left"\n', 'pin1 = ""\non = "stack.npy#4"\n') + more)

    def carried(point: complex, one: int, two: int) -> complex:
        return turns[two] * (point - shifts[one]) / turns[one] + shifts[two]

    placing = asked(Session.load(row), "stack.npy#9")
    for k, x in enumerate((18.0, 38.0, 58.0, 78.0)):
        there = carried(complex(x, 24.0), 4, 9)
        assert (placing.pins.x_px[k], placing.pins.y_px[k]) == pytest.approx((there.real, there.imag), abs=1e-9)
    assert placing.pins.radius_px == pytest.approx([5.0 * 1.09 / 1.04] * 4)
    x, y, wide, high = placing.regions[0].box
    middle = carried(complex(14.0, 13.0), 4, 9)
    assert (x + (wide - 1) / 2, y + (high - 1) / 2) == pytest.approx((middle.real, middle.imag))
    assert wide == pytest.approx(9.0 * 1.09 / 1.04)
    assert [said.code for said in placing.said] == ["place_start_given"]
    poses[9] = None
    lost = asked(Session.load(row), "stack.npy#9")
    assert lost.pins.x_px.tolist() == [18.0, 38.0, 58.0, 78.0]
    assert [said.code for said in lost.said] == ["place_start_given", "place_not_laid"]
    assert asked(Session.load(row)).shown.file != "stack.npy#9"


def test_where_nothing_is_placed_the_page_says_so_and_begins_empty(row, hotspot_cli):
    path = row / "session.toml"
    path.write_text(path.read_text().split("[connector]")[0])
    called = hotspot_cli("place", row, "--no-open")
    assert called.status == 0
    assert "Nothing is placed yet" in called.out
    assert start_of(row)["pins"] == []
    assert hotspot_cli("place", row, "--no-open", "--pins", "1x4").status == 0
    assert (start_of(row)["connector"]["rows"], start_of(row)["connector"]["columns"]) == (1, 4)


def test_a_title_cannot_break_out_of_the_page(row, hotspot_cli):
    path = row / "session.toml"
    path.write_text(path.read_text().replace('pin1 = "lock left"', 'pin1 = "</script><b>left</b>"'))
    assert hotspot_cli("place", row, "--no-open").status == 0
    assert "</script><b>" not in (row / "results" / "place.html").read_text(encoding="utf-8")
    assert start_of(row)["connector"]["pin1"] == "</script><b>left</b>"


def test_what_is_taken_is_read_by_run_and_told(row, tmp_path, hotspot_cli):
    saved = tmp_path / "pins (1).toml"
    saved.write_text(TAKEN)
    called = hotspot_cli("place", row, "--take", saved)
    assert (called.status, called.err) == (0, "")
    assert "4 pins and 1 area." in called.out
    assert (row / "pins.toml").read_bytes() == saved.read_bytes()
    assert Session.load(row).pin[0].x == 19.0
    assert hotspot_cli("run", row).status == 0
    findings = json.loads((row / "results" / "findings.json").read_text())
    assert findings["settings"]["places"] == "pins.toml"
    assert "pins.toml" in [one["name"] for one in findings["inputs"]]
    assert [pin["x_px"] for pin in findings["pins"]] == [19.0, 39.0, 59.0, 79.0]
    assert "from pins.toml, in place of those of session.toml" in (row / "results" / "report.html").read_text()
    assert not list(row.glob(".pins*"))


def test_without_pins_toml_nothing_is_told_of_it(row, hotspot_cli):
    assert hotspot_cli("run", row).status == 0
    assert "places" not in json.loads((row / "results" / "findings.json").read_text())["settings"]


def test_one_that_is_there_is_replaced_only_by_force(row, tmp_path, hotspot_cli):
    saved = tmp_path / "pins.toml"
    saved.write_text(TAKEN)
    (row / "pins.toml").write_text("broken = ")
    called = hotspot_cli("place", row, "--take", saved)
    assert called.status == 2
    assert "--force" in called.err
    assert (row / "pins.toml").read_text() == "broken = "
    assert hotspot_cli("place", row, "--take", saved, "--force").status == 0
    assert hotspot_cli("place", row, "--take", row / "pins.toml").out.startswith("Checked ")
    assert (row / "pins.toml").read_text() == TAKEN


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("stack.npy#9", "other.png", "connector.on: the session has no frame called 'other.png'"),
        ("x = 19.0\ny = 24.0\n", "", "pins without x and y: 1"),
        ("x = 79.0", "x = 179.0", "outside the picture of 96 x 48 pixels: 4"),
        ('name = "2"', 'name = "1"', "1"),
        ("[connector]", "[scale]\nlow = 3.0\n[connector]", "does not belong here"),
        ("box = [2, 2, 6, 6]", "box = [2, 2, 6, 0]", "width and height must be above 0"),
        ("x = 19.0", "x = 19,0", "Write numbers with a point"),
        ("x = 19.0\ny = 24.0\nradius = 4.0", "x = 19.0\ny = 24.0\nradius = 0.0", "pin 1: radius: "),
        ("x = 19.0\ny = 24.0\nradius = 4.0", "x = 19.0\ny = 24.0\nradius = -4.0", "pin 1: radius: "),
        ("x = 19.0\ny = 24.0\nradius = 4.0", "x = 19.0\ny = 24.0\nradius = 24.5", "larger than the picture of 96 x 48"),
    ],
)
def test_what_does_not_fit_is_refused_by_the_name_of_the_file_and_nothing_is_put(
    row, tmp_path, hotspot_cli, old, new, said
):
    saved = tmp_path / "saved.toml"
    saved.write_text(TAKEN.replace(old, new))
    called = hotspot_cli("place", row, "--take", saved)
    assert called.status == 2
    assert said in called.err
    assert "saved.toml" in called.err
    assert len(called.err.strip().splitlines()) <= 12
    assert not (row / "pins.toml").exists()


def test_a_pin_of_two_pixels_is_taken_and_told_and_run_does_not_judge_it(row, tmp_path, hotspot_cli):
    saved = tmp_path / "saved.toml"
    saved.write_text(TAKEN.replace("x = 19.0\ny = 24.0\nradius = 4.0", "x = 19.0\ny = 24.0\nradius = 1.0"))
    called = hotspot_cli("place", row, "--take", saved)
    assert called.status == 0, called.err
    assert "Pin 1 has fewer than 3 pixels across (2 at the least)" in " ".join(called.out.split())
    assert hotspot_cli("run", row).status == 0
    judged = pd.read_csv(row / "results" / "pins.csv", dtype={"pin": str})
    assert (judged[judged.pin == "1"].verdict == "unknown").all()
    assert (judged[judged.pin != "1"].verdict != "unknown").any()


def test_a_pin_larger_than_the_picture_is_refused_by_run_too(row, hotspot_cli):
    path = row / "session.toml"
    path.write_text(path.read_text().replace("radius = 5", "radius = 50", 1))
    called = hotspot_cli("run", row)
    assert called.status == 2
    assert "session.toml: pin.radius: pins larger than the picture of 96 x 48 pixels: 1." in called.err


def test_a_stage_that_names_a_pin_that_was_renamed_is_told(row, tmp_path, hotspot_cli):
    path = row / "session.toml"
    path.write_text(path.read_text().replace("amps = 9.0", 'amps = { "1" = 9.0 }'))
    saved = tmp_path / "saved.toml"
    saved.write_text(TAKEN.replace('name = "1"', 'name = "A"'))
    called = hotspot_cli("place", row, "--take", saved)
    assert called.status == 2
    assert 'no pin is called "1"' in called.err


def test_no_file_and_no_pins_are_refused(row, tmp_path, hotspot_cli):
    assert "there is no such file" in hotspot_cli("place", row, "--take", tmp_path / "none.toml").err
    saved = tmp_path / "saved.toml"
    saved.write_text("[connector]\nrows = 1\ncolumns = 4\n")
    assert "holds no [[pin]]" in hotspot_cli("place", row, "--take", saved).err
    assert not (row / "pins.toml").exists()


def test_a_loggers_table_has_no_picture(tmp_path, hotspot_cli):
    (tmp_path / "t.csv").write_text("time_s,1,2\n0,20,20\n10,21,22\n")
    (tmp_path / "session.toml").write_text('[frames]\nfiles = "t.csv"\nreading = "table"\n')
    called = hotspot_cli("place", tmp_path, "--no-open")
    assert called.status == 2
    assert "has no picture" in called.err
