"""`hotspot budget FOLDER --pin N --at M:SS` as a person calls it."""

import numpy as np
import pytest


@pytest.fixture
def folder(tmp_path, warm_row, sheet):
    rng = np.random.default_rng(2)
    frames = warm_row(12)
    np.save(tmp_path / "run.npy", frames + rng.normal(0, 0.1, frames.shape))
    sheet(tmp_path, 'files = "run.npy"', "\n[camera]\naccuracy_k = 2.0")
    return tmp_path


def test_the_terms_are_printed_with_what_drops_out(folder, hotspot_cli):
    called = hotspot_cli("budget", folder, "--pin", "3", "--at", "1:30")
    assert called.status == 0, called.err
    lines = {line.split("  ")[0]: line for line in called.out.splitlines()}
    assert called.out.startswith("Pin 3 at 1:30 (run.npy#9)")
    accuracy = lines["camera's stated accuracy"].split()
    assert float(accuracy[3]) == pytest.approx(2.0 / np.sqrt(3), rel=0.03)
    assert "against pin" in lines["term"]
    assert "give or take" in called.out
    left = [float(word) for word in lines["together"].split() if word.replace(".", "").isdigit()]
    assert left[1] < left[0]
    assert left[2] < left[0]
    whole = hotspot_cli("budget", folder, "--pin", "3", "--units", "F").out
    assert "°F" in whole
    assert whole.startswith("Pin 3 at 1:50")


def test_a_time_without_a_reading_is_said(folder, hotspot_cli):
    beyond = hotspot_cli("budget", folder, "--pin", "3", "--at", "59:00").out
    assert beyond.startswith("Pin 3 at 1:50")
    assert "There is no reading of this pin at 59:00: this is the nearest one." in beyond
    assert "no reading" not in hotspot_cli("budget", folder, "--pin", "3", "--at", "1:30").out
    assert "no reading" not in hotspot_cli("budget", folder, "--pin", "3").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--pin", "9"), "The pins are 1, 2, 3, 4"),
        (("--pin", "3", "--at", "noon"), "--at"),
        (("--pin", "3", "--units", "X"), "--units"),
    ],
)
def test_what_cannot_be_told_is_refused(folder, hotspot_cli, words, said):
    called = hotspot_cli("budget", folder, *words)
    assert called.status == 2
    assert said in called.err


def test_a_pin_without_any_reading_is_not_called_unknown(tmp_path, warm_row, sheet, hotspot_cli):
    frames = warm_row(6)
    frames[:, :, frames.shape[2] // 2 :] = np.nan  # a dead half of the picture
    np.save(tmp_path / "run.npy", frames)
    sheet(tmp_path, 'files = "run.npy"')
    called = hotspot_cli("budget", tmp_path, "--pin", "4")
    assert called.status == 2
    assert "pin '4' has no reading in any frame" in called.err
    assert "readings.csv" in called.err


def test_a_loggers_table_is_refused(tmp_path, hotspot_cli):
    (tmp_path / "log.csv.txt").write_text("time_s,1\n0,20\n10,21\n")
    (tmp_path / "session.toml").write_text('[frames]\nfiles = "log.csv.txt"\nreading = "table"\n')
    called = hotspot_cli("budget", tmp_path, "--pin", "1")
    assert called.status == 2
    assert "logger" in called.err
