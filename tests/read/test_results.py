"""Results as they lie on disk: names stay text, empty numbers are NaN, what is missing is named."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hotspot.columns import PINS, READINGS, column_names
from hotspot.errors import InputError
from hotspot.read.fingerprint import sha256_of
from hotspot.read.results import load_results, true_results
from hotspot.session import Session


def results(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    reading = dict.fromkeys(column_names(READINGS), "")
    rows = [
        {**reading, "frame": "0", "file": "a.png", "time_s": "0.0", "pin": "01", "temperature_c": "20.5"},
        {**reading, "frame": "0", "file": "a.png", "time_s": "0.0", "pin": "NA", "stage": "null"},
    ]
    pd.DataFrame(rows).to_csv(folder / "readings.csv", index=False)
    pin = dict.fromkeys(column_names(PINS), "")
    rows = [{**pin, "pin": "01", "amps": "9"}, {**pin, "pin": "NA", "stage": "1", "verdict": "hot"}]
    pd.DataFrame(rows).to_csv(folder / "pins.csv", index=False)
    (folder / "findings.json").write_text(json.dumps({"hottest_pin": "NA", "answer": "é"}), encoding="utf-8")
    return folder


def refused(folder: Path) -> list[str]:
    with pytest.raises(InputError) as error:
        load_results(folder)
    return [str(problem).replace(f"{folder}/", "") for problem in error.value.problems]


def test_names_stay_text_and_empty_numbers_are_not_known(tmp_path):
    found = load_results(results(tmp_path / "test 1" / "results"))
    assert found.name == "test 1"
    assert found.readings["pin"].tolist() == ["01", "NA"]
    assert found.readings["stage"].tolist() == ["", "null"]
    assert found.readings["frame"].tolist() == [0, 0]
    assert found.readings["frame"].dtype == np.int64
    assert found.readings["temperature_c"].tolist()[0] == 20.5
    assert np.isnan(found.readings["temperature_c"].tolist()[1])
    assert found.pins["pin"].tolist() == ["01", "NA"]
    assert found.pins["stage"].tolist() == ["", "1"]
    assert found.pins["verdict"].tolist() == ["", "hot"]
    assert found.pins["amps"].tolist()[0] == 9.0
    assert np.isnan(found.pins["amps"].tolist()[1])
    assert found.findings == {"hottest_pin": "NA", "answer": "é"}


def test_a_session_folder_with_results_and_a_folder_of_any_name(tmp_path):
    results(tmp_path / "test 1" / "results")
    assert load_results(tmp_path / "test 1").name == "test 1"
    assert load_results(results(tmp_path / "out")).name == "out"


def test_further_columns_are_kept_as_text(tmp_path):
    folder = results(tmp_path / "out")
    table = pd.read_csv(folder / "pins.csv", dtype=str, keep_default_na=False)
    table.assign(extra="007").to_csv(folder / "pins.csv", index=False)
    assert load_results(folder).pins["extra"].tolist() == ["007", "007"]


MEND = "Name a folder that hotspot run wrote (session/results, or its --out), or run it on the session again."


def test_every_missing_file_is_named(tmp_path):
    folder = results(tmp_path / "out")
    (folder / "pins.csv").unlink()
    (folder / "findings.json").unlink()
    assert refused(folder) == [f"pins.csv: is missing. {MEND}", f"findings.json: is missing. {MEND}"]
    assert refused(tmp_path / "nowhere") == [f"{tmp_path / 'nowhere'}: there is no such folder. {MEND}"]


def test_every_missing_column_is_named(tmp_path):
    folder = results(tmp_path / "out")
    table = pd.read_csv(folder / "pins.csv", dtype=str)
    table.drop(columns=["amps", "verdict"]).to_csv(folder / "pins.csv", index=False)
    assert refused(folder) == [
        f"pins.csv: amps: there is no such column. {MEND}",
        f"pins.csv: verdict: there is no such column. {MEND}",
    ]


def test_a_word_in_place_of_a_number_is_named_with_its_row(tmp_path):
    folder = results(tmp_path / "out")
    text = (folder / "readings.csv").read_text().replace("20.5", "warm")
    (folder / "readings.csv").write_text(text)
    assert refused(folder) == [f'readings.csv: temperature_c: row 1 holds "warm", a number is wanted. {MEND}']


@pytest.mark.parametrize("text", ["{", "[]", ""])
def test_broken_findings_are_refused(tmp_path, text):
    folder = results(tmp_path / "out")
    (folder / "findings.json").write_text(text)
    assert refused(folder)[0].startswith("findings.json: ")


def test_an_empty_table_is_refused(tmp_path):
    folder = results(tmp_path / "out")
    (folder / "readings.csv").write_text("")
    assert refused(folder)[0].startswith("readings.csv: cannot be read as a table (")


def analysed(folder: Path) -> Path:
    """A session folder of two frames with results that name them."""
    results(folder / "results")
    (folder / "frames").mkdir()
    for name in ("a.png", "b.png"):
        (folder / "frames" / name).write_bytes(name.encode())
    (folder / "session.toml").write_text("ambient = 20.0\n")
    inputs = [folder / "session.toml", *(folder / "frames").iterdir()]
    findings = {
        "version": "1",
        "inputs": [{"name": path.name, "sha256": sha256_of(path)} for path in inputs],
        "settings": {"session": Session(ambient=20.0).model_dump(mode="json")},
    }
    (folder / "results" / "findings.json").write_text(json.dumps(findings), encoding="utf-8")
    return folder


def test_results_are_true_while_no_file_they_were_made_from_changes(tmp_path):
    assert true_results(analysed(tmp_path), "1").name == tmp_path.name
    assert true_results(tmp_path, "2") is None
    assert true_results(tmp_path / "frames", "1") is None


@pytest.mark.parametrize(
    "change",
    [
        lambda folder: (folder / "frames" / "b.png").write_bytes(b"another"),
        lambda folder: (folder / "frames" / "b.png").unlink(),
        lambda folder: (folder / "frames" / "c.png").write_bytes(b"one more"),
        lambda folder: (folder / "session.toml").write_text("ambient = 21.0\n"),
        lambda folder: (folder / "log.csv").write_text("time_s,amps\n0,9\n"),
        lambda folder: (folder / "results" / "pins.csv").unlink(),
        lambda folder: (folder / "results" / "findings.json").write_text("{}"),
    ],
)
def test_results_are_not_true_once_a_file_changed_went_or_came(tmp_path, change):
    change(analysed(tmp_path))
    assert true_results(tmp_path, "1") is None
