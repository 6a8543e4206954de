"""Pins that cannot be found or seen, through the command: an honest 'cannot', the reason, and what to do."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "locate"))
from made_housing import crossed, housing

from hotspot.synthetic.walls import draw_wall


def stack(**more):
    return np.array([frame.celsius() for frame in housing(**more)[0]])


def beside_another(step_px):
    """Two housings of the same layout, one above the other; the lower one moves by `step_px` a frame."""
    lower = [np.roll(frame, (0, step_px * k), (0, 1)) for k, frame in enumerate(stack(turn_deg=-9.0, seed=2))]
    return np.concatenate([stack(seed=1), lower], axis=1)


CASES = {
    "all frames alike and flat": (lambda: np.full((6, 60, 80), 21.0), (2, 4), "nothing with four straight edges"),
    "no value at all": (lambda: np.full((6, 60, 80), np.nan), (2, 4), "were not found"),
    "a wall": (lambda: draw_wall(9001), (2, 4), "no face was seen that such a grid fits into"),
    "one frame alone, pins not to be told from the plastic": (lambda: stack(pin_k=0.0)[-1:], (2, 4), "pins stand out"),
    "a second connector": (lambda: beside_another(0), (2, 4), "two things were seen that it could be"),
    "a second connector that moves": (lambda: beside_another(3), (2, 4), "two things were seen that it could be"),
    "no pins, where others fit as badly": (
        lambda: stack(pin_k=0.0),
        (3, 2),
        "pins stand out",
    ),
    "a column too few": (stack, (2, 3), "2 x 4 would fit better"),
    "rows and columns exchanged": (stack, (4, 2), "rows and columns seem exchanged"),
    "more places than fit": (stack, (40, 40), "were not found"),
}


@pytest.fixture
def folder(tmp_path):
    """``folder(frames, lines of the sheet)`` -> a session folder."""

    def make(frames, *lines):
        np.save(tmp_path / "stack.npy", np.asarray(frames, np.float32))
        head = ["ambient = 20.0", "[frames]", 'files = "stack.npy"', 'reading = "temperature"', "every_s = 10.0"]
        (tmp_path / "session.toml").write_text("\n".join([*head, *lines]) + "\n", encoding="utf-8")
        return tmp_path

    return make


@pytest.mark.parametrize("case", CASES)
def test_a_grid_that_is_not_sure_is_refused_with_the_reason_and_the_way_on(case, folder, hotspot_cli):
    make, (rows, columns), reason = CASES[case]
    session = folder(make(), "[connector]", f"rows = {rows}", f"columns = {columns}")
    called = hotspot_cli("run", session)
    assert called.status == 2
    assert called.out == ""
    assert reason in called.err
    assert f"hotspot place {session}" in called.err
    assert len(called.err.strip().splitlines()) <= 12
    assert [path.name for path in (session / "results").iterdir()] == ["place.png"]


def test_what_is_covered_by_a_region_to_ignore_is_no_second_connector(folder, hotspot_cli):
    """The way out that the refusal names."""
    region = ["[[region]]", 'name = "other"', 'kind = "ignore"', "box = [0, 120, 160, 120]"]
    session = folder(beside_another(0), "[connector]", "rows = 2", "columns = 4", *region)
    assert hotspot_cli("run", session).status == 0


def test_pins_under_a_loose_wire_are_told_in_the_report(folder, hotspot_cli):
    frames, truth = housing()
    wire = crossed(frames, truth[[3, 7]].mean(axis=0), 7.0)
    session = folder([frame.celsius() for frame in wire], "[connector]", "rows = 2", "columns = 4")
    called = hotspot_cli("run", session)
    assert called.status == 0
    assert "runs across the picture and lies over pins 4 and 8" in " ".join(called.out.split())


def test_one_frame_alone_is_read_where_it_shows_the_pins(folder, hotspot_cli):
    session = folder(stack()[-1:], "[connector]", "rows = 2", "columns = 4")
    assert hotspot_cli("run", session).status == 0
    pins = json.loads((session / "results" / "findings.json").read_text(encoding="utf-8"))["pins"]
    assert {pin["placed"] for pin in pins} == {"found"}


def test_a_pin_outside_the_frame_has_no_temperature_and_is_told(folder, hotspot_cli):
    outside = ["[[pin]]", 'name = "1"', "x = 500.0", "y = 20.0"]
    inside = ["[[pin]]", 'name = "2"', "x = 70.0", "y = 60.0"]
    session = folder(stack(), *outside, *inside)
    called = hotspot_cli("run", session)
    assert called.status == 0
    assert "The centre of pin 1 lies outside the picture" in " ".join(called.out.split())
    rows = (session / "results" / "readings.csv").read_text(encoding="utf-8").splitlines()
    names = rows[0].split(",")
    first = [dict(zip(names, row.split(","), strict=False)) for row in rows[1:]]
    assert {row["temperature_c"] for row in first if row["pin"] == "1"} == {""}
    assert all(row["temperature_c"] for row in first if row["pin"] == "2")
