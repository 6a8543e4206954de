"""Browser, accessibility rules and validator for the pages: fetched from registries, or skipped with the reason."""

from __future__ import annotations

import shutil
import subprocess
import tarfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), ""
)
AXE, VNU = ("axe-core", "4.14.1", "axe.min.js"), ("vnu-jar", "26.9.27", "build/dist/vnu.jar")
"""Packages of the npm registry: accessibility rules (Deque Systems), and the Nu Html Checker that W3C runs."""


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """The system's Chromium, driven by Playwright; it is started once."""
    if not CHROMIUM:
        pytest.skip("no Chromium here to open the page in (Debian: apt-get install chromium)")
    driver = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra dev)")
    with driver.sync_playwright() as playwright:
        quiet = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=quiet)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def axe(tmp_path_factory) -> str:
    """The script of axe-core."""
    return _from_npm(AXE, tmp_path_factory.mktemp("axe")).read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def checker(tmp_path_factory) -> Callable[[list[Path]], str]:
    """``checker(pages)`` -> the messages of the Nu Html Checker, empty where it has nothing to say."""
    if not shutil.which("java"):
        pytest.skip("no Java here to run the Nu Html Checker with (Debian: apt-get install default-jre-headless)")
    jar = _from_npm(VNU, tmp_path_factory.mktemp("checker"))

    def check(pages: list[Path]) -> str:
        command = ["java", "-jar", str(jar), "--format", "gnu", "--stdout", *map(str, pages)]
        return subprocess.run(command, capture_output=True, text=True, timeout=120).stdout

    return check


def _from_npm(package: tuple[str, str, str], folder: Path) -> Path:
    """One file of a package of the npm registry; skips where npm or the registry is not to be had."""
    name, version, wanted = package
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip(f"no npm here to fetch {name} with")
    command = [npm, "pack", f"{name}@{version}", "--silent", "--prefer-offline", "--fetch-retries=1"]
    try:
        called = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120)
    except subprocess.TimeoutExpired:
        pytest.skip(f"{name} did not come from the npm registry in time")
    if called.returncode:
        pytest.skip(f"{name} {version} is not to be had from the npm registry here")
    with tarfile.open(folder / called.stdout.split()[-1]) as packed:
        packed.extract(f"package/{wanted}", folder, filter="data")
    return folder / "package" / wanted
