"""Files that a person misnamed or mixed up are told by what they are."""

import pytest

from hotspot.errors import InputError
from hotspot.read.carrier import CarrierTrouble
from hotspot.read.picture import decoded
from hotspot.read.results import load_results
from hotspot.read.session_file import load


def refused(call, *args):
    with pytest.raises(InputError) as error:
        call(*args)
    return str(error.value)


@pytest.mark.parametrize("name", ["session.toml.txt", "session.txt", "Session.TOML.txt"])
def test_a_sheet_under_another_name(tmp_path, name):
    (tmp_path / name).write_text('title = "x"', encoding="utf-8")
    told = refused(load, tmp_path, {})
    assert name in told
    assert "Rename it to session.toml" in told


def test_a_results_folder_in_place_of_the_session(tmp_path):
    results = tmp_path / "results"
    results.mkdir()
    for name in ("findings.json", "readings.csv"):
        (results / name).write_text("", encoding="utf-8")
    assert f"Name the session's folder: {tmp_path}" in refused(load, results, {})


def test_a_table_that_another_program_saved_anew(tmp_path):
    for name in ("findings.json", "readings.csv", "pins.csv"):
        (tmp_path / name).write_text("frame;file;time_s\n0;a;0\n", encoding="utf-8")
    told = refused(load_results, tmp_path)
    assert "semicolons" in told
    assert len(told.splitlines()) == 1


@pytest.mark.parametrize("content", [b"", b"words, not a picture"])
def test_what_is_no_picture_is_told_without_its_address_in_memory(tmp_path, content):
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    with pytest.raises(CarrierTrouble, match="^it is empty, or not a picture, whatever its name says$"):
        decoded(path)
