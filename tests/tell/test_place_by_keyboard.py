"""The page of `hotspot place` with the keyboard alone, real keys in Chromium, from a file without a network."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

MOST_TABS = 80


@pytest.fixture
def folder(tmp_path, warm_row):
    """A session that says nothing of its connector."""
    folder = tmp_path / "row"
    folder.mkdir()
    np.save(folder / "stack.npy", warm_row(12).astype(np.float32))
    frames = '[frames]\nfiles = "stack.npy"\nreading = "temperature"\nevery_s = 10.0\n'
    (folder / "session.toml").write_text("ambient = 22.0\n" + frames, encoding="utf-8")
    return folder


class Keys:
    """Nothing but a keyboard."""

    def __init__(self, page) -> None:
        self.page = page

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)

    def where(self) -> str:
        return self.page.evaluate(
            "() => { const at = document.activeElement; return at.getAttribute('aria-label') || at.id; }"
        )

    def to(self, wanted: str, key: str = "Tab") -> None:
        for _ in range(MOST_TABS):
            if self.where().startswith(wanted):
                return
            self.press(key)
        raise AssertionError(f"{wanted} was not reached by {key}, but {self.where()}")

    def fill(self, wanted: str, text: str) -> None:
        self.to(wanted)
        self.press("Control+a")
        self.page.keyboard.type(text)


def test_a_grid_is_laid_moved_named_and_saved_by_keys_alone(folder, browser, hotspot_cli, tmp_path) -> None:
    assert hotspot_cli("place", folder, "--no-open").status == 0
    context = browser.new_context(offline=True, accept_downloads=True)
    page = context.new_page()
    faults = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto((folder / "results" / "place.html").as_uri())
    keys = Keys(page)
    keys.fill("rows", "1")
    keys.fill("columns", "4")
    keys.to("lay")
    keys.press("Enter")
    text = tomllib.loads(page.input_value("#text"))
    first, last = text["pin"][0]["x"], text["pin"][3]["x"]
    keys.to("grid, first end", "Shift+Tab")
    keys.press("ArrowLeft" if first > 18 else "ArrowRight", round(abs(first - 18) / 0.5))
    keys.to("grid, last end")
    keys.press("ArrowLeft" if last > 78 else "ArrowRight", round(abs(last - 78) / 0.5))
    keys.to("whole grid")
    keys.press("ArrowUp")
    keys.press("Control+z")
    keys.press("+", 2)
    keys.to("pin 3")
    assert "Pin 3: mean over its circle" in page.inner_text("#chosen")
    keys.press("Enter")
    keys.press("Control+a")
    page.keyboard.type("C")
    keys.fill("pin1", "lock left")
    keys.to("add-area", "Shift+Tab")
    keys.press("Enter")
    assert keys.where().startswith("area patch 1")
    keys.press("Shift+ArrowDown")
    keys.to("save")
    with page.expect_download() as saved:
        keys.press("Enter")
    path = tmp_path / saved.value.suggested_filename
    saved.value.save_as(path)
    context.close()
    assert not faults
    assert hotspot_cli("place", folder, "--take", path).status == 0
    taken = tomllib.loads((folder / "pins.toml").read_text(encoding="utf-8"))
    assert [pin["name"] for pin in taken["pin"]] == ["1", "2", "C", "4"]
    np.testing.assert_allclose([pin["x"] for pin in taken["pin"]], [18, 38, 58, 78], atol=0.5)
    np.testing.assert_allclose([pin["y"] for pin in taken["pin"]], text["pin"][0]["y"], atol=1e-6)
    assert taken["connector"]["pin1"] == "lock left"
    assert taken["region"][0]["kind"] == "ambient"
    assert hotspot_cli("run", folder).status == 0
