"""Input that cannot be used: one message naming file, key and mend, exit status 2, earlier results untouched."""

import json

import numpy as np
import pytest


def folder_with(tmp_path, warm_row, sheet, more=""):
    np.save(tmp_path / "stack.npy", warm_row(4).astype(np.float32))
    sheet(tmp_path, 'files = "stack.npy"', more)
    return tmp_path


def test_no_such_folder(tmp_path, hotspot_cli):
    called = hotspot_cli("run", tmp_path / "gone")
    assert (called.status, "gone" in called.err, "Traceback" in called.err) == (2, True, False)


def test_no_frames(tmp_path, hotspot_cli):
    called = hotspot_cli("run", tmp_path, "--pins", "1x4")
    assert called.status == 2
    assert 0 < len(called.err.splitlines()) <= 12


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("ambient = 22.0", 'ambient = "warm"', ["ambient", "number"]),
        ("ambient = 22.0", "ambiant = 22.0", ["ambiant", "ambient"]),
        ("ambient = 22.0", "ambient = nan", ["ambient"]),
        ("emissivity = 0.95", "emissivity = 0.0", ["surface.emissivity"]),
        ("emissivity = 0.95", "emissivity = 1.2", ["surface.emissivity"]),
        ("[surface]", "[scale]\nlow = 80.0\nhigh = 20.0\n[surface]", ["scale", "low", "high"]),
        ('name = "2"', 'name = "1"', ["pin", "1"]),
        ("start_s = 0.0", "start_s = 30.0\nend_s = 10.0", ["stage"]),
        ('files = "stack.npy"', 'files = "nothing*.tif"', ["nothing*.tif"]),
        ("x = 18.0", "x = 18.0.0", ["session.toml", "line"]),
    ],
)
def test_a_fault_in_the_sheet(tmp_path, warm_row, sheet, hotspot_cli, old, new, told):
    folder = folder_with(tmp_path, warm_row, sheet)
    assert hotspot_cli("run", folder).status == 0
    kept = (folder / "results" / "findings.json").read_bytes()
    text = (folder / "session.toml").read_text()
    assert old in text
    (folder / "session.toml").write_text(text.replace(old, new, 1))
    called = hotspot_cli("run", folder)
    assert called.status == 2
    assert "session.toml" in called.err
    assert "Traceback" not in called.err
    for word in told:
        assert word in called.err
    assert (folder / "results" / "findings.json").read_bytes() == kept


def test_all_faults_at_once_in_at_most_twelve_lines(tmp_path, warm_row, sheet, hotspot_cli):
    folder = folder_with(tmp_path, warm_row, sheet)
    text = (folder / "session.toml").read_text()
    (folder / "session.toml").write_text(text + "".join(f'[[region]]\nname = "r{k}"\nbax = 3\n' for k in range(9)))
    called = hotspot_cli("run", folder)
    assert called.status == 2
    assert len(called.err.splitlines()) == 12
    assert "more problems" in called.err


def test_one_bad_frame_is_set_aside_and_named(tmp_path, warm_row, sheet, hotspot_cli):
    import json

    import tifffile

    (tmp_path / "frames").mkdir()
    for k, frame in enumerate(warm_row(6)):
        tifffile.imwrite(tmp_path / "frames" / f"f{k}.tif", frame.astype(np.float32))
    (tmp_path / "frames" / "f2.tif").write_bytes(b"II*\0 not a picture")
    sheet(tmp_path, 'files = "frames/*.tif"')
    assert hotspot_cli("run", tmp_path).status == 0
    findings = json.loads((tmp_path / "results" / "findings.json").read_text())
    aside = [w for w in findings["warnings"] if "f2.tif" in w["text"]]
    assert [w["frames"] for w in aside] == [[2]]


def test_check_ends_with_one_only_when_a_pin_is_hot(tmp_path, warm_row, sheet, hotspot_cli):
    folder = folder_with(tmp_path, warm_row, sheet)
    assert hotspot_cli("run", folder, "--check").status == 1
    np.save(folder / "stack.npy", np.full((4, 48, 96), 22.0, np.float32))
    assert hotspot_cli("run", folder, "--check").status == 0


def test_out_leaves_the_session_folder_as_it_was(tmp_path, warm_row, sheet, hotspot_cli):
    folder = tmp_path / "session"
    folder.mkdir()
    folder_with(folder, warm_row, sheet)
    before = sorted((p.name, p.read_bytes()) for p in folder.iterdir())
    assert hotspot_cli("run", folder, "--out", tmp_path / "elsewhere").status == 0
    assert sorted((p.name, p.read_bytes()) for p in folder.iterdir()) == before
    assert (tmp_path / "elsewhere" / "findings.json").is_file()


def test_a_run_that_fails_says_that_the_results_are_of_an_earlier_one(tmp_path, warm_row, sheet, hotspot_cli):
    folder = folder_with(tmp_path, warm_row, sheet)
    text = (folder / "session.toml").read_text()
    broken = text.replace("emissivity = 0.95", "emissivity = 1.2")
    (folder / "session.toml").write_text(broken)
    first = hotspot_cli("run", folder)
    assert (first.status, "earlier run" in first.err) == (2, False)
    (folder / "session.toml").write_text(text)
    assert hotspot_cli("run", folder, "--quiet").status == 0
    (folder / "session.toml").write_text(broken)
    again = hotspot_cli("run", folder)
    assert again.status == 2
    assert again.err.startswith(first.err.rstrip())
    last = again.err.splitlines()[-1]
    assert last == f"This run gave no results: what lies in {folder / 'results'} is of an earlier run."


def test_new_writes_a_sheet_that_loads_and_never_over_another(tmp_path, warm_row, hotspot_cli):
    from hotspot.session import Session

    np.save(tmp_path / "stack.npy", warm_row(4).astype(np.float32))
    called = hotspot_cli("new", tmp_path)
    assert called.status == 0, called.err
    assert "4 frames of 96 x 48" in called.out
    assert Session.load(tmp_path).frames.files == "stack.npy"
    kept = (tmp_path / "session.toml").read_bytes()
    again = hotspot_cli("new", tmp_path)
    assert again.status == 2
    assert "--force" in again.err
    assert (tmp_path / "session.toml").read_bytes() == kept


def test_new_quotes_a_name_that_toml_would_trip_over(tmp_path, warm_row, hotspot_cli):
    from hotspot.session import Session

    np.save(tmp_path / 'bench "2".npy', warm_row(4).astype(np.float32))
    assert hotspot_cli("new", tmp_path).status == 0
    assert Session.load(tmp_path).frames.files == 'bench "2".npy'


def test_chart_redraws_from_the_readings(tmp_path, warm_row, sheet, hotspot_cli):
    folder = folder_with(tmp_path, warm_row, sheet)
    hotspot_cli("run", folder)
    full = (folder / "results" / "trend.svg").read_bytes()
    called = hotspot_cli("chart", folder, "--only", "1,3", "--within", "full", "--rise", "--out", tmp_path / "c")
    assert called.status == 0, called.err
    assert (tmp_path / "c" / "trend_only_1_3_within_full_rise.svg").read_bytes() != full
    for wrong in (("--only", "9"), ("--units", "R"), ("--within", "x")):
        called = hotspot_cli("chart", folder, *wrong)
        assert (called.status, wrong[0] in called.err) == (2, True)


def test_amps_on_the_command_line_leave_the_stages_of_the_sheet(tmp_path, warm_row, sheet, hotspot_cli):
    import json

    folder = folder_with(tmp_path, warm_row, sheet, '\n[[stage]]\nname = "late"\nstart_s = 20.0')
    called = hotspot_cli("run", folder, "--amps", "7", "--json")
    assert called.status == 0, called.err
    stages = json.loads(called.out)["stages"]
    assert [(stage["name"], stage["amps"]) for stage in stages] == [("full", 7.0), ("late", 7.0)]


def test_new_writes_a_sheet_for_a_loggers_table_that_runs(tmp_path, hotspot_cli):
    rows = "".join(f"{10 * k};{20 + k},5;{20 + 2 * k},0;\n" for k in range(12))
    (tmp_path / "logger.csv").write_text(f'Zeit;Pin 1;Pin "2";Bemerkung\n{rows}', encoding="utf-8")
    made = hotspot_cli("new", tmp_path)
    assert (made.status, made.err) == (0, "")
    assert "12 rows, a column of times and 2 of values" in made.out
    done = hotspot_cli("run", tmp_path)
    assert done.status == 0, done.err
    pins = json.loads((tmp_path / "results" / "findings.json").read_text(encoding="utf-8"))["pins"]
    assert [pin["name"] for pin in pins] == ["1", "2"]


def test_stages_that_no_frame_lies_in_are_told_as_such(tmp_path, warm_row, sheet, hotspot_cli):
    folder = folder_with(tmp_path, warm_row, sheet)
    done = hotspot_cli("run", folder, "--stage", "full=9000:9600")
    assert done.status == 0, done.err
    found = json.loads((folder / "results" / "findings.json").read_text(encoding="utf-8"))
    assert "No frame lies in any of the stages" in found["answer"]
    assert not any("into view" in step for step in found["next"])


def test_an_ambient_above_the_pins_is_told(tmp_path, warm_row, sheet, hotspot_cli):
    folder = folder_with(tmp_path, warm_row, sheet)
    hotspot_cli("run", folder, "--ambient", "80")
    found = json.loads((folder / "results" / "findings.json").read_text(encoding="utf-8"))
    assert "pins_below_ambient" in [warning["code"] for warning in found["warnings"]]


def test_amps_that_can_be_read_in_two_ways_are_asked_back(tmp_path, warm_row, sheet, hotspot_cli):
    refused = hotspot_cli("run", folder_with(tmp_path, warm_row, sheet), "--amps", "10,5")
    assert refused.status == 2
    assert "two ways" in refused.err
