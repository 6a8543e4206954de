"""`hotspot scale`, and runs with the table that it writes."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from hotspot.synthetic.self_ranging import Lettering, ranged_picture, ranged_scene

FRAMES = 16
SIZE = (160, 240)
SHEET = """
ambient = 20.0
[frames]
files = "frames/*.png"
every_s = 10.0
[surface]
emissivity = 0.95
set_emissivity = 0.95
[connector]
face = "mating"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> tuple[Path, dict[str, tuple[str, str]], np.ndarray]:
    """A session of a self-ranging camera, the true texts by file, and the true frames."""
    from PIL import Image

    folder = tmp_path_factory.mktemp("ranged") / "session"
    (folder / "frames").mkdir(parents=True)
    scene = ranged_scene(np.random.default_rng(8), FRAMES, SIZE, 18.0, 92.0, warm_k=4.0)
    truth = {}
    for k, celsius in enumerate(scene.celsius):
        picture, low, high = ranged_picture(celsius, Lettering("DejaVuSans", 13))
        Image.fromarray(picture).save(folder / "frames" / f"f{k:02d}.png")
        truth[f"f{k:02d}.png"] = (low, high)
    pins = [
        f'[[pin]]\nname = "{k + 1}"\nx = {SIZE[1] * (0.2 + 0.12 * k):.1f}\ny = 80.0\nradius = 5.0' for k in range(6)
    ]
    (folder / "session.toml").write_text(SHEET + "\n".join(pins), encoding="utf-8")
    return folder, truth, scene.celsius


@pytest.fixture
def session(made, tmp_path) -> Path:
    import shutil

    return Path(shutil.copytree(made[0], tmp_path / "session"))


def rows_of(folder: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((folder / "scale.csv").read_text(encoding="utf-8").splitlines()))


def typed(truth, *files: str) -> list[str]:
    return [word for file in files for word in ("--typed", f"{file}={truth[file][0]}:{truth[file][1]}")]


def asked_for(told: str) -> list[str]:
    return [word.partition("=")[0] for word in told.split() if word.endswith("=LOW:HIGH")]


def test_frames_to_type_are_shown_then_the_rest_is_read(session, made, hotspot_cli):
    truth = made[1]
    first = hotspot_cli("scale", session)
    assert first.status == 0
    wanted = asked_for(first.out)
    assert 2 <= len(wanted) <= 3
    assert (session / "results" / "scale-to-type.png").is_file()
    assert not (session / "scale.csv").exists()
    second = hotspot_cli("scale", session, *typed(truth, *wanted))
    assert second.status == 0, second.err
    rows = rows_of(session)
    assert list(rows[0]) == ["file", "low", "high", "how"]
    assert [row["file"] for row in rows] == sorted(truth)
    assert {row["file"] for row in rows if row["how"] == "typed"} == set(wanted)
    read = [row for row in rows if row["how"] == "read"]
    assert [(row["low"], row["high"]) for row in read] == [truth[row["file"]] for row in read]
    assert len(read) >= FRAMES - len(wanted) - 1
    assert (session / "results" / "scale-check.png").is_file()


def test_typed_rows_are_written_over_only_by_force_and_are_kept(session, made, hotspot_cli):
    truth = made[1]
    wanted = asked_for(hotspot_cli("scale", session).out)
    assert hotspot_cli("scale", session, *typed(truth, *wanted)).status == 0
    before = (session / "scale.csv").read_text()
    refused = hotspot_cli("scale", session, *typed(truth, "f05.png"))
    assert refused.status == 2
    assert "--force" in refused.err
    assert (session / "scale.csv").read_text() == before
    assert hotspot_cli("scale", session, "--force", *typed(truth, "f05.png")).status == 0
    assert {row["file"] for row in rows_of(session) if row["how"] == "typed"} == {*wanted, "f05.png"}


def test_the_hottest_pin_at_the_moving_top_is_a_reading_in_every_frame(session, made, hotspot_cli):
    """The top of the scale is the frame's own extreme: nothing is clipped there, and nothing left out."""
    truth, celsius = made[1], made[2]
    lines = ["file,low,high,how", *(f"{file},{low},{high},read" for file, (low, high) in truth.items())]
    (session / "scale.csv").write_text("\n".join(lines), encoding="utf-8")
    done = hotspot_cli("run", session, "-q")
    assert done.status == 0, done.err
    readings = list(csv.DictReader((session / "results" / "readings.csv").read_text(encoding="utf-8").splitlines()))
    hottest = [row for row in readings if row["pin"] == max(readings, key=lambda r: float(r["temperature_c"]))["pin"]]
    assert len(hottest) == FRAMES
    assert all(row["clipped"] == "" for row in hottest)
    y, x = np.indices(SIZE)
    centre = SIZE[1] * (0.2 + 0.12 * (int(hottest[0]["pin"]) - 1))
    face = (x - round(centre, 1)) ** 2 + (y - 80.0) ** 2 <= 25.0
    for row, frame in zip(hottest, celsius, strict=True):
        assert float(row["temperature_c"]) == pytest.approx(frame[face].mean(), abs=1.0)
        assert frame[face].max() >= frame.max() - 1.0


def test_doubtful_frames_are_set_aside_until_confirmed(session, made, hotspot_cli):
    truth = made[1]
    lines = ["file,low,high,how"]
    for k, (file, (low, high)) in enumerate(truth.items()):
        lines.append(f"{file},?,{high},doubtful" if k in (3, 9) else f"{file},{low},{high},read")
    (session / "scale.csv").write_text("\n".join(lines), encoding="utf-8")
    assert hotspot_cli("run", session, "-q").status == 0
    files = set()
    for row in csv.DictReader((session / "results" / "readings.csv").read_text(encoding="utf-8").splitlines()):
        files.add(row["file"])
    assert files == set(truth) - {"f03.png", "f09.png"}
    import json

    told = json.loads((session / "results" / "findings.json").read_text(encoding="utf-8"))["warnings"]
    (said,) = [one for one in told if one["code"] == "scale_rows_doubtful"]
    assert said["frames"] == [3, 9]
    assert "f03.png" in said["text"]
    assert not [one for one in told if one["code"] in ("scale_rows_broken", "scale_rows_missing", "frame_set_aside")]
    text = (session / "scale.csv").read_text().replace("?", truth["f03.png"][0], 1).replace("doubtful", "typed", 1)
    (session / "scale.csv").write_text(text)
    assert hotspot_cli("run", session, "-q").status == 0
    assert "f03.png" in (session / "results" / "readings.csv").read_text()


def test_a_table_of_doubtful_rows_only_is_refused(session, made, hotspot_cli):
    (session / "scale.csv").write_text("file,low,high,how\nf00.png,1,2,doubtful\n", encoding="utf-8")
    refused = hotspot_cli("run", session)
    assert refused.status == 2
    assert "doubtful" in refused.err


@pytest.mark.parametrize("command", ["run", "scale"])
def test_an_unknown_word_in_the_column_how_is_refused(session, hotspot_cli, command):
    """A misspelt `doubtful` would be taken for a reading; no word at all is a row typed by hand."""
    table = session / "scale.csv"
    table.write_text("file,low,high,how\nf00.png,18.1,21.5,\nf01.png,1,2,dubtful\n", encoding="utf-8")
    refused = hotspot_cli(command, session)
    assert refused.status == 2
    assert refused.err.count("\n") == 1
    assert all(word in refused.err for word in ("scale.csv", "line 3", "'dubtful'", "doubtful to leave"))
    assert typed_rows_left(table, "TYPED ") == {"f00.png": ("18.1", "21.5"), "f01.png": ("1", "2")}


def typed_rows_left(table: Path, word: str) -> dict[str, tuple[str, str]]:
    from hotspot.read.scale_session import typed_rows

    table.write_text(table.read_text(encoding="utf-8").replace("dubtful", word), encoding="utf-8")
    return typed_rows(table)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("f00.png=9:3", "not below"),
        ("f00.png=warm:3", "LOW:HIGH"),
        ("zz.png=1:3", "no frame"),
        ("1:3", "LOW:HIGH"),
    ],
)
def test_what_is_typed_wrongly_is_refused(session, hotspot_cli, text, words):
    refused = hotspot_cli("scale", session, "--typed", text)
    assert refused.status == 2
    assert words in refused.err
    assert not (session / "scale.csv").exists()


def test_frames_that_are_no_colours_need_no_scale(tmp_path, warm_row, sheet, hotspot_cli):
    np.save(tmp_path / "x.npy", warm_row(4))
    sheet(tmp_path, 'files = "x.npy"')
    refused = hotspot_cli("scale", tmp_path)
    assert refused.status == 2
    assert "not colours" in refused.err


def test_one_frame_typed_reads_only_what_it_can_and_says_what_is_missing(session, made, hotspot_cli):
    truth = made[1]
    done = hotspot_cli("scale", session, *typed(truth, "f05.png"))
    assert done.status == 0
    assert "Never met in the typed frames" in done.out
    rows = rows_of(session)
    assert [row["how"] for row in rows].count("typed") == 1
    assert all((row["low"], row["high"]) == truth[row["file"]] for row in rows if row["how"] == "read")


def test_numbers_that_are_not_printed_read_nothing(session, hotspot_cli):
    done = hotspot_cli("scale", session, "--typed", "f00.png=1:2", "--typed", "f08.png=3:4")
    assert done.status == 0
    assert "check the typed frames" in done.out
    assert "beside 0" not in done.out
    assert {row["how"] for row in rows_of(session)} == {"typed", "doubtful"}
    refused = hotspot_cli("run", session)  # two typed rows only, and those say nothing of the others
    assert "doubtful" in refused.out + refused.err


def test_a_frame_of_another_size_is_set_aside_by_name(session, made, hotspot_cli):
    from PIL import Image

    path = session / "frames" / "f07.png"
    picture = Image.open(path)
    picture.resize((2 * picture.width, 2 * picture.height)).save(path)
    done = hotspot_cli("scale", session, *typed(made[1], "f00.png", "f04.png", "f09.png"))
    assert done.status == 0
    assert "f07.png was set aside" in done.out
    assert "f07.png" not in {row["file"] for row in rows_of(session)}


def test_frames_without_a_bar_are_refused(session, made, hotspot_cli):
    from PIL import Image

    for path in (session / "frames").iterdir():
        Image.open(path).crop((0, 0, SIZE[1], SIZE[0])).save(path)
    refused = hotspot_cli("scale", session, *typed(made[1], "f00.png"))
    assert refused.status == 2
    assert "no colour bar" in refused.err


def test_results_that_are_no_folder_are_refused_in_words(session, made, hotspot_cli):
    (session / "results").write_text("", encoding="utf-8")
    for given in ([], typed(made[1], "f00.png", "f04.png", "f09.png")):
        refused = hotspot_cli("scale", session, *given)
        assert refused.status == 2
        assert "cannot be written" in refused.err
        assert "Traceback" not in refused.err
    assert not (session / "scale.csv").exists()


def test_a_file_that_is_no_scale_table_is_not_written_over(session, made, hotspot_cli):
    (session / "scale.csv").write_text("weights of the pans\n3\n", encoding="utf-8")
    refused = hotspot_cli("scale", session, *typed(made[1], "f00.png", "f04.png", "f09.png"))
    assert refused.status == 2
    assert "no column file" in refused.err
    assert (session / "scale.csv").read_text(encoding="utf-8").startswith("weights")


def test_doubtful_prints_stand_first_on_the_sheet():
    from hotspot.records import ScaleRow
    from hotspot.tell.scale_sheet import MOST_ROWS, _shown

    rows = [ScaleRow(f"f{k}", "1", "2", how) for k, how in enumerate(["read", "typed", "doubtful", "read", "doubtful"])]
    assert [row.file for row in _shown(rows)] == ["f2", "f4", "f1", "f0", "f3"]
    many = [ScaleRow(f"f{k}", "1", "2", "doubtful" if k % 3 == 0 else "read") for k in range(3 * MOST_ROWS)]
    assert {row.how for row in _shown(many)} == {"doubtful"}
