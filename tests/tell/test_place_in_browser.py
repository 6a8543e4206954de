"""The page of `hotspot place` in Chromium: drags, keys and fields change the text of pins.toml, which is taken."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tomllib

import cv2
import numpy as np
import pytest

from hotspot.locate.numbering import order

CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), ""
)
pytestmark = pytest.mark.skipif(not CHROMIUM, reason="no Chromium here to open the page in")

HELPERS = """
<script>
const faults = [];
addEventListener("error", (event) => faults.push(String(event.message)));
addEventListener("securitypolicyviolation", (event) => faults.push("policy: " + event.blockedURI));
const seen = {};
function handleAt(what, k) { return board.querySelector(`[data-what="${what}"][data-k="${k}"]`); }
function point(name, target, x, y) {
  const frame = board.getBoundingClientRect();
  target.dispatchEvent(new PointerEvent(name, { bubbles: true, cancelable: true, pointerId: 1, button: 0,
    clientX: frame.left + (x + 0.5) / WIDE * frame.width, clientY: frame.top + (y + 0.5) / HIGH * frame.height }));
}
function dragFrom(what, k, x, y, dx, dy) {
  point("pointerdown", handleAt(what, k), x, y);
  point("pointermove", board, x + dx / 2, y + dy / 2);
  point("pointermove", board, x + dx, y + dy);
  point("pointerup", board, x + dx, y + dy);
}
function press(key, more) {
  const pressed = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true, ...more });
  (document.activeElement || board).dispatchEvent(pressed);
}
function type(id, value) {
  byId(id).value = value;
  byId(id).dispatchEvent(new Event("change", { bubbles: true }));
}
function text() { return byId("text").value; }
</script>
"""

END = """
<script>
seen.faults = faults;
seen.fetched = performance.getEntriesByType("resource").map((one) => one.name).filter((name) => !/^data:/.test(name));
const told_ = document.createElement("script");
told_.type = "application/json"; told_.id = "seen";
told_.textContent = JSON.stringify(seen).replace(/</g, "\\\\u003c");
document.body.append(told_);
</script>
"""


@pytest.fixture
def played(tmp_path, warm_row, sheet, hotspot_cli):
    """``played(script, before)`` -> what the script left in `seen`, with the page opened in Chromium."""
    folder = tmp_path / "row"
    folder.mkdir()
    np.save(folder / "stack.npy", warm_row(12).astype(np.float32))
    sheet(folder, 'files = "stack.npy"\nreading = "temperature"', "rows = 1\ncolumns = 4\nrated = 105.0\n")

    def play(script: str, change=lambda text: text) -> dict:
        path = folder / "session.toml"
        path.write_text(change(path.read_text()))
        assert hotspot_cli("place", folder, "--no-open").status == 0
        page = (folder / "results" / "place.html").read_text(encoding="utf-8")
        copy = folder / "results" / "played.html"
        more = HELPERS + f"<script>{script}</script>" + END + "</body>"
        copy.write_text(page.replace("</body>", more), encoding="utf-8")
        words = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'profile'}"]
        words += ["--window-size=1200,900", "--enable-logging=stderr", "--virtual-time-budget=2000", "--dump-dom"]
        ended = subprocess.run([*words, copy.as_uri()], capture_output=True, text=True, timeout=120, check=True)
        copy.unlink()
        assert "CONSOLE" not in ended.stderr
        found = re.search(r'<script type="application/json" id="seen">(.*?)</script>', ended.stdout, re.DOTALL)
        assert found, ended.stderr[-2000:]
        seen = json.loads(found[1])
        assert seen.pop("faults") == []
        assert seen.pop("fetched") == []
        return seen

    play.folder = folder
    return play


def pins(text: str) -> dict[str, tuple[float, float, float]]:
    return {pin["name"]: (pin["x"], pin["y"], pin["radius"]) for pin in tomllib.loads(text)["pin"]}


def test_drags_keys_fields_and_undo_change_the_text_which_is_then_taken(played, hotspot_cli):
    seen = played("""
        seen.start = text();
        dragFrom("pin", 1, 38, 24, 3, -2); seen.dragged = text();
        press("ArrowRight"); press("ArrowDown", { shiftKey: true }); press("+"); seen.nudged = text();
        for (let k = 0; k < 3; k++) press("z", { ctrlKey: true });
        seen.undone = text();
        press("z", { ctrlKey: true, shiftKey: true }); seen.redone = text();
        press("z", { ctrlKey: true }); press("z", { ctrlKey: true }); seen.before = text();
        handleAt("corner", 1).focus(); press("ArrowUp", { shiftKey: true }); seen.corner = text();
        handleAt("whole", 0).focus(); press("ArrowLeft"); seen.whole = text();
        handleAt("pin", 0).focus(); type("pin-name", 'B "1"\\u00e9'); type("pin-radius", "3.5"); seen.renamed = text();
        byId("add-pin").click(); seen.added = text(); press("Delete"); seen.taken_out = text();
        byId("add-area").click(); press("ArrowDown");
        type("area-kind", "wire"); type("area-pin", "2"); type("area-mm", "15");
        type("area-name", "wire of 2"); type("face", "wire"); type("pin1", "lock right"); seen.all = text();
        seen.facing = byId("facing").textContent;
        point("pointermove", board, 58, 24); seen.under = byId("under").textContent;
        handleAt("pin", 2).focus(); seen.chosen = byId("chosen").textContent;
        byId("view").value = "grey"; byId("view").dispatchEvent(new Event("change"));
        seen.grey = photo.getAttribute("href").slice(0, 15);
        byId("zoom").value = "2"; byId("zoom").dispatchEvent(new Event("change")); seen.zoom = board.style.width;
    """)
    start = pins(seen["start"])
    assert start == {str(k + 1): (18.0 + 20.0 * k, 24.0, 5.0) for k in range(4)}
    assert pins(seen["dragged"]) == {**start, "2": (pytest.approx(41.0, abs=0.02), pytest.approx(22.0, abs=0.02), 5.0)}
    x, y, radius = pins(seen["dragged"])["2"]
    assert pins(seen["nudged"])["2"] == (pytest.approx(x + 0.5), pytest.approx(y + 5.0), 5.5)
    assert seen["undone"] == seen["dragged"]
    assert pins(seen["redone"])["2"] == (pytest.approx(x + 0.5), pytest.approx(y), 5.0)
    assert seen["before"] == seen["start"]
    assert [place[1] for place in pins(seen["corner"]).values()] == pytest.approx([24.0, 22.33, 20.67, 19.0])
    assert [place[0] for place in pins(seen["whole"]).values()] == pytest.approx([17.5, 37.5, 57.5, 77.5])
    assert pins(seen["renamed"])['B "1"é'][2] == 3.5
    assert len(pins(seen["added"])) == 5
    assert seen["taken_out"] == seen["renamed"]
    whole = tomllib.loads(seen["all"])
    assert whole["region"][0] == {"name": "wire of 2", "kind": "wire", "box": [5, 2.5, 8, 8], "pin": "2", "at_mm": 15}
    assert whole["connector"]["rated"] == 105
    assert whole["connector"]["on"] == "stack.npy#11"
    assert seen["facing"] == "Wire face seen; pin 1: lock right."
    hottest = np.load(played.folder / "stack.npy")[11, 24, 58]
    assert seen["under"] == f"x 58.0, y 24.0: {hottest:.1f} °C"
    assert seen["chosen"].startswith("Pin 3: mean over its circle ")
    assert (seen["grey"], seen["zoom"]) == ("data:image/png;", "200%")
    saved = played.folder / "saved.toml"
    saved.write_text(seen["all"], encoding="utf-8")
    called = hotspot_cli("place", played.folder, "--take", saved)
    assert (called.status, called.err) == (0, "")
    assert "4 pins and 1 area." in called.out


def test_a_grid_laid_on_an_empty_frame_lies_as_the_corners_say_by_opencv(played):
    """Between four corners: cv2.getPerspectiveTransform; numbering: `hotspot.locate.numbering.order`."""
    ways = ("row", "column", "snake", "row mirror", "column mirror", "snake mirror")
    seen = played(
        """
        seen.start = text(); seen.faults_told = byId("faults").textContent;
        type("rows", "3"); type("columns", "4"); type("empty", "5"); byId("lay").click(); seen.laid = text();
        seen.corners = [];
        [[-3, 2], [4, -3], [2, 5], [-6, 1]].forEach(([dx, dy], k) => {
          const [x, y] = ends()[k].at;
          dragFrom("corner", k, x, y, dx, dy);
        });
        seen.corners = state.grid.corners; seen.placed = text();
        seen.orders = WAYS.map((way) => placesInOrder(3, 4, way));
        """.replace("WAYS", json.dumps(ways)),
        lambda text: text.split("[connector]")[0],
    )
    assert "pin" not in tomllib.loads(seen["start"])
    assert "There is no pin yet." in seen["faults_told"]
    assert seen["orders"] == [[list(cell) for cell in order(3, 4, way)] for way in ways]
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], np.float32)
    corners = np.array(seen["corners"], np.float32)
    transform = cv2.getPerspectiveTransform(square, corners)
    numbers = [str(k + 1) for k in range(12) if k != 4]
    cells = [cell for k, cell in enumerate(order(3, 4, "row")) if k != 4]
    wanted = cv2.perspectiveTransform(np.array([[(c / 3, r / 2) for r, c in cells]], np.float32), transform)[0]
    placed = pins(seen["placed"])
    assert list(placed) == numbers
    centres = wanted[:, None, :] - wanted[None, :, :]
    apart = np.hypot(centres[..., 0], centres[..., 1]) + np.diag(np.full(11, np.inf))
    np.testing.assert_allclose([place[2] for place in placed.values()], 0.3 * apart.min(axis=1), atol=0.01)
    np.testing.assert_allclose([place[:2] for place in placed.values()], wanted, atol=0.01)
    assert np.abs(np.array([place[:2] for place in pins(seen["laid"]).values()]) - wanted).max() > 2.0


def test_areas_that_were_taken_out_do_not_come_back_from_the_sheet(played, hotspot_cli):
    seen = played(
        """
        handleAt("area", 0).focus(); seen.there = text(); press("Delete"); seen.gone = text();
        """,
        lambda text: text + '\n[[region]]\nname = "air"\nkind = "ambient"\nbox = [2.0, 2.0, 6.0, 6.0]\n',
    )
    assert tomllib.loads(seen["there"])["region"][0]["name"] == "air"
    assert tomllib.loads(seen["gone"])["region"] == []
    saved = played.folder / "saved.toml"
    saved.write_text(seen["gone"], encoding="utf-8")
    assert hotspot_cli("place", played.folder, "--take", saved).out.splitlines()[0].endswith(": 4 pins.")


def test_what_is_typed_goes_to_the_pin_that_was_chosen_when_another_is_touched(played):
    seen = played("""
        handleAt("pin", 0).focus(); press("Enter"); byId("pin-name").select();
        document.execCommand("insertText", false, "first");
        dragFrom("pin", 2, 58, 24, 0, 4); seen.text = text();
        type("pin-name", "first"); seen.twice = byId("faults").textContent;
    """)
    assert list(pins(seen["text"])) == ["first", "2", "3", "4"]
    assert pins(seen["text"])["3"][1] == pytest.approx(28.0, abs=0.02)
    assert "Two pins bear one name: first." in seen["twice"]
