"""Frames of two tests side by side in compare.html: kept by run, laid over each other by compare."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from hotspot.pipeline import compare
from hotspot.tell.compare_views import panels

SHIFT = (5, 9)  # the later camera saw everything so many rows down and columns to the right
COOLER = 0.4  # of the rise of pin 3 is left


@pytest.fixture(scope="module")
def both(tmp_path_factory, warm_row, sheet) -> Path:
    """A folder with both tests, `first` and `second`, run: to be copied, not to be written to."""
    top = tmp_path_factory.mktemp("both")
    frames = warm_row(8)
    later = np.full((8, 60, 110), 22.0)
    later[:, SHIFT[0] : SHIFT[0] + 48, SHIFT[1] : SHIFT[1] + 96] = frames
    third = slice(48 + SHIFT[1], 68 + SHIFT[1])
    later[:, :, third] = 22.0 + COOLER * (later[:, :, third] - 22.0)
    for name, stack in (("first", frames), ("second", later)):
        (top / name).mkdir()
        np.save(top / name / "stack.npy", stack.astype(np.float32))
        sheet(top / name, 'files = "stack.npy"')
    text = (top / "second" / "session.toml").read_text(encoding="utf-8")
    text = re.sub(r"^x = (\S+)", lambda found: f"x = {float(found[1]) + SHIFT[1]}", text, flags=re.MULTILINE)
    text = re.sub(r"^y = (\S+)", lambda found: f"y = {float(found[1]) + SHIFT[0]}", text, flags=re.MULTILINE)
    (top / "second" / "session.toml").write_text(text, encoding="utf-8")
    for name in ("first", "second"):
        subprocess.run([sys.executable, "-m", "hotspot", "run", top / name], check=True, capture_output=True)
    return top


@pytest.fixture
def pair(tmp_path, both, hotspot_cli):
    """``pair(change, ...)`` -> both folders, run; a change is (old, new) in the later sheet, which is run anew."""

    def make(*changes):
        folders = [tmp_path / name for name in ("first", "second")]
        for folder in folders:
            shutil.copytree(both / folder.name, folder)
        if changes:
            text = (folders[1] / "session.toml").read_text(encoding="utf-8")
            for old, new in changes:
                assert old in text
                text = text.replace(old, new)
            (folders[1] / "session.toml").write_text(text, encoding="utf-8")
            assert hotspot_cli("run", folders[1]).status == 0
        return folders

    return make


def _page(hotspot_cli, folders):
    called = hotspot_cli("compare", *folders, "--out", folders[1] / "comparison")
    assert called.status == 0, called.err
    text = (folders[1] / "comparison" / "compare.html").read_text(encoding="utf-8")
    part = text[text.index("Both tests as the camera saw them") :]
    return part[: part.index("</section>")]


def test_the_page_shows_both_and_what_changed(pair, hotspot_cli):
    folders = pair()
    part = _page(hotspot_cli, folders)
    assert part.count("<svg") == 3
    assert "Before: first, 1:10 into stage full, ambient 22.0 °C" in part
    assert "by the places of the pins in both, which then lie 0 % of their radius apart" in part
    ids = re.findall(r'\bid="([^"]+)"', part)
    assert len(ids) == len(set(ids))
    assert "#fefefe" in part  # names stay light on the picture when the page is dark


def test_the_difference_is_that_of_the_scene(pair):
    (overlay,) = compare(*pair()).overlays
    assert overlay.why is None
    shown = panels(overlay, "C")
    change, rows, columns = shown["change"].values, *np.indices(shown["change"].values.shape)
    rise = 40.0 * (1 - np.exp(-7 / 2.0))
    for name, (x, y, _) in zip(shown["change"].pins, shown["change"].places, strict=True):
        face = change[(columns - x) ** 2 + (rows - y) ** 2 <= 4.0**2]
        expected = (COOLER - 1) * rise if name == "3" else 0.0
        np.testing.assert_allclose(face, expected, atol=0.02)  # stored in hundredths
    assert shown["before"].ends == shown["after"].ends
    assert shown["change"].ends[0] == -shown["change"].ends[1]
    np.testing.assert_allclose(shown["before"].places, shown["after"].places, atol=1e-6)


def test_the_frames_kept_are_the_same_twice(pair, hotspot_cli):
    folder = pair()[0]
    kept = (folder / "results" / "views.npz").read_bytes()
    assert hotspot_cli("run", folder).status == 0
    assert (folder / "results" / "views.npz").read_bytes() == kept
    with np.load(folder / "results" / "views.npz") as held:
        assert held["celsius_0"].dtype == np.float32
        assert max(held["celsius_0"].shape) <= 200
        assert held["pins"].tolist() == ["1", "2", "3", "4"]
        x, y, _ = held["places"][0][2]
        assert held["celsius_0"][round(y), round(x)] == pytest.approx(22.0 + 40.0 * (1 - np.exp(-7 / 2.0)), abs=0.01)


def test_results_without_frames_say_so(pair, hotspot_cli):
    folders = pair()
    (folders[0] / "results" / "views.npz").unlink()
    part = _page(hotspot_cli, folders)
    assert "No frame of this stage was kept (before)" in part
    (folders[1] / "results" / "views.npz").unlink()
    part = _page(hotspot_cli, folders)
    assert "These results hold no frames" in part
    assert "<svg" not in part


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (('face = "mating"', 'face = "wire"'), "different faces of the connector (mating, then wire)"),
        (("ambient = 22.0", ""), "The ambient is not known (after)"),
        ((f"x = {38.0 + SHIFT[1]}", f"x = {30.0 + SHIFT[1]}\n# moved"), ""),
    ],
)
def test_where_no_difference_can_be_drawn_it_is_said_why(pair, hotspot_cli, change, said):
    part = _page(hotspot_cli, pair(change))
    if said:
        assert said in part
        assert part.count("<svg") == 2
        assert "not yet a repair" in part
    else:  # one pin 8 px off: RMS 3.4 px, more than half a radius of 5 px
        assert "of their radius apart (RMS): the views differ too much" in part


def test_damaged_frames_are_one_message(pair, hotspot_cli):
    folders = pair()
    (folders[0] / "results" / "views.npz").write_bytes(b"PK nothing")
    called = hotspot_cli("compare", folders[0] / "results", folders[1])
    assert called.status == 2
    assert "views.npz" in called.err
    assert "Traceback" not in called.err


def test_what_no_picture_shows_is_cut_off_and_the_pins_stay_in_their_places(pair):
    from dataclasses import replace

    (overlay,) = compare(*pair()).overlays
    whole = panels(overlay, "C")["after"]
    blind = overlay.after.celsius.copy()
    blind[:, -14:] = blind[:3] = np.nan  # such as a colour bar and a line of text
    before = replace(overlay.before, celsius=np.full_like(overlay.before.celsius, np.nan))
    cut = panels(replace(overlay, before=before, after=replace(overlay.after, celsius=blind)), "C")["after"]
    assert cut.values.shape == (whole.values.shape[0] - 3, whole.values.shape[1] - 14)
    np.testing.assert_array_equal(cut.values, whole.values[3:, :-14])
    np.testing.assert_allclose(cut.places, whole.places - [0.0, 3.0, 0.0])
