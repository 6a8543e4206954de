"""Before and after seen from different places and scales, only rows and columns stated: the same pins are compared.

The truth is the simulator's.
"""

import csv
import json
from dataclasses import replace

import numpy as np
import pytest

from hotspot.pipeline import compare
from hotspot.synthetic.camera import CameraSpec, film
from hotspot.synthetic.connector import ConnectorSpec, Load, LoadStage, simulate

BEFORE = CameraSpec(320, 240, 4.0, rotation_deg=-7.0, centre_px=(112.0, 96.0), noise_k=0.05, pin_emissivity=(0.86,) * 8)
AFTER = replace(BEFORE, px_per_mm=5.1, rotation_deg=11.0, centre_px=(196.0, 139.0))
FAULTY = 5  # from 0: pin 6
AMPS = 9.0


@pytest.fixture(scope="module")
def filmed():
    sound = [2e-3] * 8
    raised = [5.0 * ohm if pin == FAULTY else ohm for pin, ohm in enumerate(sound)]
    made = []
    for ohms, camera in ((raised, BEFORE), (sound, AFTER)):
        spec = ConnectorSpec(2, 4, tuple(ohms), (1.5,) * 8)
        load = Load((LoadStage("full", 1500.0, (AMPS,) * 8),), 21.0)
        made.append(film(simulate(spec, load, dt=10.0), camera, 60.0, seed=3))
    return made


@pytest.fixture(scope="module")
def folders(filmed, tmp_path_factory):
    made = []
    for name, footage in zip(("before", "after"), filmed, strict=True):
        folder = tmp_path_factory.mktemp("pair") / name
        folder.mkdir()
        np.save(folder / "stack.npy", footage.celsius)
        text = f"""
ambient = 21.0
[frames]
files = "stack.npy"
reading = "temperature"
every_s = 60.0
[camera]
name = "bench camera"
[surface]
emissivity = 0.95
set_emissivity = 0.95
[connector]
rows = 2
columns = 4
face = "mating"
pin1 = "lock above"
[[stage]]
name = "full"
start_s = 0.0
end_s = 1501.0
amps = {AMPS}
supply = "bench"
load = "resistive"
"""
        (folder / "session.toml").write_text(text, encoding="utf-8")
        made.append(folder)
    return made


@pytest.fixture(scope="module")
def comparison(folders):
    return compare(*folders)


def test_run_finds_the_pins_in_both(folders, filmed, hotspot_cli) -> None:
    for folder, footage in zip(folders, filmed, strict=True):
        assert hotspot_cli("run", folder).status == 0
        pins = json.loads((folder / "results" / "findings.json").read_text(encoding="utf-8"))["pins"]
        assert [pin["name"] for pin in pins] == list("12345678")
        assert {pin["placed"] for pin in pins} == {"found"}
        x, y = (np.array([pin[key] for pin in pins]) for key in ("x_px", "y_px"))
        assert np.sqrt(np.mean((x - footage.x_px) ** 2 + (y - footage.y_px) ** 2)) < 0.5


def test_the_mended_pin_is_the_one_that_is_better(folders, hotspot_cli, tmp_path) -> None:
    called = hotspot_cli("compare", *folders, "--out", tmp_path / "told")
    assert called.status == 0, called.err
    with (tmp_path / "told" / "compare.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["pin"]: row for row in csv.DictReader(file)}
    assert list(rows) == list("12345678")
    changes = {pin: float(row["change_c"]) for pin, row in rows.items()}
    assert min(changes, key=changes.get) == str(FAULTY + 1)
    assert rows[str(FAULTY + 1)]["verdict"] == "better"
    heat = {pin: float(row["heat_change"]) for pin, row in rows.items()}
    assert min(heat, key=heat.get) == str(FAULTY + 1)
    assert rows[str(FAULTY + 1)]["repaired"] == "yes"
    assert all(row["repaired"] != "yes" for pin, row in rows.items() if pin != str(FAULTY + 1))


def test_the_pictures_are_laid_over_each_other_by_the_pins_and_not_by_the_pixels(comparison, filmed) -> None:
    (overlay,) = comparison.overlays
    before, after = (np.column_stack([footage.x_px, footage.y_px]) for footage in filmed)
    assert np.hypot(*(before - after).T).min() > 40.0  # no pin is where it was
    # the pictures are cut to the pins, at whole pixels
    before -= np.rint(np.median(before - overlay.before.places[:, :2], axis=0))
    after -= np.rint(np.median(after - overlay.after.places[:, :2], axis=0))
    laid = after @ overlay.to_before[:, :2].T + overlay.to_before[:, 2]
    assert np.sqrt(np.mean(np.sum((laid - before) ** 2, axis=1))) < 0.5
    scale = np.sqrt(abs(np.linalg.det(overlay.to_before[:, :2])))
    assert scale == pytest.approx(BEFORE.px_per_mm / AFTER.px_per_mm, rel=0.02)
