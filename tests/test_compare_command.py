"""`hotspot compare` misused: every message names the folder and what mends it; nothing is subtracted in silence."""

import json
import re

import numpy as np
import pytest

STAGE = '[[stage]]\nname = "full"\nstart_s = 0.0\namps = 9.0\n'


@pytest.fixture
def session(tmp_path, warm_row, sheet):
    """``session(name, (old, new), ..., cooler=...)`` -> a folder with frames and a sheet so changed."""

    def make(name, *changes, cooler=1.0, count=12):
        folder = tmp_path / name
        folder.mkdir()
        frames = warm_row(count) + np.random.default_rng(len(name)).normal(0.0, 0.02, (count, 48, 96))
        frames[:, :, 48:68] = 22.0 + cooler * (frames[:, :, 48:68] - 22.0)
        np.save(folder / "stack.npy", frames.astype(np.float32))
        sheet(folder, 'files = "stack.npy"')
        text = (folder / "session.toml").read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        (folder / "session.toml").write_text(text, encoding="utf-8")
        return folder

    return make


def told(folder):
    return json.loads((folder / "compare.json").read_text(encoding="utf-8"))


def warned(content):
    return {each["code"] for each in content["warnings"]}


def test_a_session_that_cannot_be_analysed_is_named(session, hotspot_cli, tmp_path):
    whole = re.compile(r"\[\[pin\]\].*?radius = 5.0\n", re.DOTALL)
    before, after = session("first"), session("second")
    text = (after / "session.toml").read_text(encoding="utf-8")
    (after / "session.toml").write_text(whole.sub("", text), encoding="utf-8")
    called = hotspot_cli("compare", before, after, "--out", tmp_path / "out")
    assert called.status == 2
    assert called.err.startswith(f"{after / 'session.toml'}: connector.rows: ")
    assert not (tmp_path / "out").exists()
    flat = text.replace("[connector]", "[connector]\nrows = 3\ncolumns = 5")
    (after / "session.toml").write_text(whole.sub("", flat), encoding="utf-8")
    np.save(after / "stack.npy", np.random.default_rng(1).normal(22.0, 0.1, (12, 48, 96)))
    called = hotspot_cli("compare", before, after, "--out", tmp_path / "out")
    assert called.status == 2
    assert called.err.startswith(f"{after / 'session.toml'}: pin: the 3 x 5 pins were not found")
    assert f"hotspot place {after}" in called.err
    assert "Traceback" not in called.err


def test_the_same_folder_twice_is_no_answer_but_a_warning(session, hotspot_cli, tmp_path):
    folder = session("first")
    assert hotspot_cli("compare", folder, folder, "--out", tmp_path / "out").status == 0
    content = told(tmp_path / "out")
    assert content["answer"] == "cannot tell"
    assert "same_inputs" in warned(content)
    assert {row["repaired"] for row in content["pins"]} <= {"", "no"}


def test_swapped_in_time_is_a_warning(session, hotspot_cli, tmp_path):
    before = session("first", ("[frames]", '[job]\ndate = "2026-03-11"\n[frames]'))
    after = session("second", ("[frames]", '[job]\ndate = "2026-03-09"\n[frames]'))
    called = hotspot_cli("compare", before, after, "--out", tmp_path / "out")
    assert called.status == 0
    assert "swapped" in warned(told(tmp_path / "out"))
    assert "are they swapped?" in " ".join(called.out.split())


def test_without_ambient_there_is_no_silent_subtraction(session, hotspot_cli, tmp_path):
    warm = 22.0 + 10.0  # the load came on before the first frame, so that no cold start tells the ambient either
    before, after = session("first"), session("second", ("ambient = 22.0\n", ""))
    stack = np.load(after / "stack.npy")
    np.save(after / "stack.npy", np.where(stack > 23.0, np.maximum(stack, warm), stack))
    assert hotspot_cli("compare", before, after, "--out", tmp_path / "out").status == 0
    content = told(tmp_path / "out")
    for row in content["pins"]:
        assert row["verdict"] == "not comparable" or any("estimate" in text for text in row["basis"]), row


def test_layouts_that_differ_are_told_or_refused(session, hotspot_cli, tmp_path):
    before = session("first")
    renamed = [(f'name = "{pin}"', f'name = "{name}"') for pin, name in zip("1234", "abcd", strict=True)]
    after = session("second", *renamed)
    assert hotspot_cli("compare", before, after, "--out", tmp_path / "a").status == 0
    assert "pins_by_position" in warned(told(tmp_path / "a"))
    third = re.compile(r'\[\[pin\]\]\nname = "4"\n.*?radius = 5.0\n', re.DOTALL)
    text = third.sub("", (after / "session.toml").read_text(encoding="utf-8").replace('"d"', '"4"'))
    (after / "session.toml").write_text(text, encoding="utf-8")
    called = hotspot_cli("compare", before, after, "--out", tmp_path / "b")
    assert called.status == 2
    assert "Compare two tests of the same connector, or say with --match which pin is which." in called.err
    assert str(after.name) in called.err


def test_another_face_is_not_comparable_in_rise_but_keeps_order(session, hotspot_cli, tmp_path):
    """Common practice, no source: the mating face, seen just after unplugging, reads hotter than the outside."""
    before, after = session("first"), session("second", ('face = "mating"', 'face = "housing"'))
    assert hotspot_cli("compare", before, after, "--out", tmp_path / "out").status == 0
    content = told(tmp_path / "out")
    assert {row["verdict"] for row in content["pins"]} == {"not comparable"}
    assert any("the pins by their rise, largest first" in text for text in content["basis"])
    assert content["answer"] == "cannot tell"


def test_a_missing_renamed_or_shorter_stage_is_a_matter_of_its_rows(session, hotspot_cli, tmp_path):
    two = ('[[stage]]\nname = "full"', '[[stage]]\nname = "half"\nstart_s = 0.0\nend_s = 60.0\namps = 4.5\n')
    before = session("first", (two[0], two[1] + two[0]), ("start_s = 0.0\namps = 9.0", "start_s = 60.0\namps = 9.0"))
    lone = session("second", ("start_s = 0.0", "start_s = 60.0"))
    assert hotspot_cli("compare", before, lone, "--out", tmp_path / "a").status == 0
    rows = told(tmp_path / "a")["pins"]
    verdicts = {stage: {r["verdict"] for r in rows if r["stage"] == stage} for stage in ("half", "full")}
    assert verdicts["half"] == {"not comparable"}
    assert verdicts["full"] != {"not comparable"}
    renamed = session("third", ('name = "full"', 'name = "all on"'))
    alone = session("fourth")
    assert hotspot_cli("compare", alone, renamed, "--out", tmp_path / "b").status == 0
    content = told(tmp_path / "b")
    assert "stages_by_load" in warned(content)
    assert {row["stage"] for row in content["pins"]} == {"all on"}
    assert {row["verdict"] for row in content["pins"]} != {"not comparable"}
    short = session("fifth", count=7)
    assert hotspot_cli("compare", alone, short, "--out", tmp_path / "c").status == 0
    basis = told(tmp_path / "c")["basis"]
    assert "Rises over ambient, 1:00 into the stage in both tests." in basis


def test_another_camera_and_supply_are_said(session, hotspot_cli, tmp_path):
    one, other = ("[surface]", '[camera]\nname = "shop camera"\naccuracy_k = 2.0\n[surface]'), "loan camera"
    before = session("first", one, ("amps = 9.0", 'amps = 9.0\nsupply = "battery"'))
    after = session(
        "second", (one[0], one[1].replace("shop camera", other)), ("amps = 9.0", 'amps = 9.0\nsupply = "engine"')
    )
    assert hotspot_cli("compare", before, after, "--out", tmp_path / "out").status == 0
    basis = " ".join(told(tmp_path / "out")["basis"])
    assert "Different cameras" in basis
    assert "Different supplies (battery, then engine)" in basis


def test_match_is_followed_and_refused_with_the_pins_that_there_are(session, hotspot_cli, tmp_path):
    before, after = session("first"), session("second")
    called = hotspot_cli("compare", before, after, "--match", "1=9", "--out", tmp_path / "out")
    assert called.status == 2
    assert called.err.startswith("second: --match: there is no pin '9' in that test. Its pins are: 1, 2, 3, 4.")
    assert hotspot_cli("compare", before, after, "--match", "1", "--out", tmp_path / "out").status == 2
    assert hotspot_cli("compare", before, after, "--match", "1=2", "--match", "3=2").status == 2
    assert hotspot_cli("compare", before).status == 2
    crossed = ("--match", "1=2", "--match", "2=1")
    assert hotspot_cli("compare", before, after, *crossed, "--out", tmp_path / "out").status == 0
    assert "Pins are matched as --match says: 1 to 2 and 2 to 1." in told(tmp_path / "out")["basis"]


def test_a_pin_that_became_worse_is_said_before_one_that_was_mended(session, hotspot_cli, tmp_path):
    before, after = session("first", count=40), session("second", cooler=0.5, count=40)
    stack = np.load(after / "stack.npy")
    stack[:, :, 68:88] = 22.0 + 3.0 * (stack[:, :, 68:88] - 22.0)
    np.save(after / "stack.npy", stack)
    assert hotspot_cli("compare", before, after, "--out", tmp_path / "out").status == 0
    content = told(tmp_path / "out")
    assert content["answer"] == "worse"
    assert content["sentence"].startswith("Worse: pin 4 now rises")
    assert "pin 3 makes" in content["sentence"]


def test_three_sessions_are_the_history_of_one_connector(session, hotspot_cli, tmp_path):
    folders = [session("first"), session("second"), session("third", cooler=0.5)]
    assert hotspot_cli("compare", *folders, "--out", tmp_path / "out").status == 0
    content = told(tmp_path / "out")
    assert [block["after"] for block in content["later"]] == ["second", "third"]
    assert {block["before"] for block in content["later"]} == {"first"}
    page = (tmp_path / "out" / "compare.html").read_text(encoding="utf-8")
    assert "All tests in turn" in page
    for name in ("compare.csv", "compare.png"):
        assert (tmp_path / "out" / name).is_file()
