"""The demo as a person runs it."""

import csv
import json

import numpy as np

from hotspot.synthetic.demo import LOOSE_FACTOR, LOOSE_PIN


def test_the_demo_names_the_loose_pin_and_sees_the_repair(demo):
    called = demo.called
    assert called.status == 0, called.err
    before = json.loads((demo.folder / "before" / "results" / "findings.json").read_text())
    after = json.loads((demo.folder / "after" / "results" / "findings.json").read_text())
    loose = str(LOOSE_PIN + 1)  # the truth that the simulator was given
    assert before["source_pins"] == [loose]
    assert after["source_pins"] == []
    table = list(csv.DictReader((demo.folder / "comparison" / "compare.csv").read_text().splitlines()))
    mended = [row for row in table if row["pin"] == loose]
    assert mended[-1]["verdict"] == "better"
    assert {row["repaired"] for row in mended} == {"yes"}
    assert {row["repaired"] for row in table if row["pin"] != loose} == {"no"}  # they only cooled with it
    assert float(mended[-1]["heat_change_low"]) < 1 / LOOSE_FACTOR < float(mended[-1]["heat_change_high"])
    told = json.loads((demo.folder / "comparison" / "compare.json").read_text())
    assert told["answer"] == "fixed"
    assert "By hand the joint of pin 4 fell from 10.2 mΩ" in told["sentence"]
    for name in ("compare.json", "compare.png", "compare.html"):
        assert (demo.folder / "comparison" / name).is_file()
    assert before["answer"].split()[0] in called.out


def test_the_demo_keeps_out_of_a_folder_that_holds_other_things(tmp_path, hotspot_cli):
    (tmp_path / "session.toml").write_text("", encoding="utf-8")
    called = hotspot_cli("demo", tmp_path)
    assert (called.status, called.out) == (2, "")
    assert "session.toml" in called.err
    assert [path.name for path in tmp_path.iterdir()] == ["session.toml"]


def test_a_demo_that_cannot_be_written_is_one_message(tmp_path, hotspot_cli):
    (tmp_path / "file").write_text("", encoding="utf-8")
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        called = hotspot_cli("demo", folder)
        assert called.status == 2
        assert len(called.err.splitlines()) <= 12
        assert str(folder) in called.err


def test_the_demo_as_json_is_what_lies_in_its_files(tmp_path, warm_row, sheet, hotspot_cli, monkeypatch):
    folders = [tmp_path / "demo" / name for name in ("before", "after")]

    def small(folder):
        for count, made in enumerate(folders):
            made.mkdir(parents=True)
            np.save(made / "stack.npy", warm_row(4 + count).astype(np.float32))
            sheet(made, 'files = "stack.npy"')
        return folders

    monkeypatch.setattr("hotspot.synthetic.demo.write_demo", small)
    called = hotspot_cli("demo", tmp_path / "demo", "--json", "-q")
    assert (called.status, called.err) == (0, "")
    told = json.loads(called.out)
    for made in folders:
        assert told[made.name] == json.loads((made / "results" / "findings.json").read_text())
    assert told["comparison"] == json.loads((tmp_path / "demo" / "comparison" / "compare.json").read_text())


def test_the_camera_of_the_demo_stood_still(demo):
    for name in ("before", "after"):
        readings = list(csv.DictReader((demo.folder / name / "results" / "readings.csv").read_text().splitlines()))
        assert {float(row["shift_px"]) for row in readings} == {0.0}
