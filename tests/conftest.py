"""What several tests share: the program as a person calls it, and a small scene of known temperatures."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

if "PYTEST_XDIST_WORKER" in os.environ:  # a worker per core: threads of their own would only get into each other's way
    os.environ |= dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM"), "1")

import numpy as np  # noqa: E402 - it reads the number of threads when it is imported

HERE = Path(__file__).parent

SLOW = frozenset(
    [
        "test_cost_scripts",
        "test_scale_reading",
        "test_steadiness_script",
        "test_run_tables",
        "test_run_every_carrier",
        "test_run_moving_camera",
        "test_compare_command",
        "test_docs",
        "test_demo",
        "test_refusals",
        "test_scale_command",
        "test_scale_digits",
        "test_steady",
        "test_finding",
        "test_certainty",
        "test_pins_refused",
        "test_place_by_keyboard",
        "test_compare_from_elsewhere",
        "test_walls",
        "test_placing",
        "test_scenes",
        "test_pages",
        "test_write",
        "test_charts",
        "test_colour_lossy",
        "test_printed",
        "test_bar_found",
        "test_demo_sessions",
        "test_carriers_colours",
        "test_any_input",
        "test_large_frame",
        "test_not_easy",
        "test_screen",
        "test_pages_in_browser",
        "test_printed_pages",
        "test_report_in_browser",
        "test_compare_views",
        "test_run_found_stages",
        "test_run_ambient",
        "test_compare_pages",
        "test_made_connectors",
        "test_slides",
        "test_place_command",
        "test_place_in_browser",
        "test_heat_picture",
        "test_calibration_commands",
        "test_run_bad_stages",
        "test_budget_command",
        "test_run_settling",
        "test_compare_told",
        "test_papers",
        "test_run_scale_moves",
        "test_run_colours_misused",
        "test_scale_settle",
        "test_stripes",
        "test_scale_names",
        "test_held_out",
        "test_screen_told",
        "test_bounds_told",
    ]
)
"""Files of tests that take more than a few seconds: left out by `pytest -m "not slow"`."""


os.environ["COLUMNS"] = "120"  # or lines would break as the window, or the worker, of whoever runs the tests is wide


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Slow files are marked so; a file stays in one worker, and all that read the one demo do."""
    for item in items:
        if item.path.stem in SLOW:
            item.add_marker("slow")
        shared = "demo" if "demo" in getattr(item, "fixturenames", ()) else item.path.relative_to(HERE).as_posix()
        item.add_marker(pytest.mark.xdist_group(shared))
    if "PYTEST_XDIST_WORKER" in os.environ:  # the long ones first, so that no worker is left with them alone
        items.sort(key=lambda item: item.path.stem not in SLOW)


SPEAKING = frozenset(["extract", "reason", "published"])
"""Folders of tests in which everything that is said must have its sentence: `told_in_words`."""


@pytest.fixture(autouse=True)
def told_in_words(request, monkeypatch) -> Iterator[None]:
    """Whatever a test makes the rooms say, the catalogue has a sentence for it and gets every value it asks for."""
    if request.path.parent.name not in SPEAKING:
        yield
        return
    from hotspot.records import Statement
    from hotspot.tell.words import say

    said: list[Statement] = []
    made = Statement.__init__

    def noted(self: Statement, *given: object, **named: object) -> None:
        made(self, *given, **named)
        said.append(self)

    monkeypatch.setattr(Statement, "__init__", noted)
    yield
    for statement in said:
        assert say(statement)


@dataclass
class Called:
    """What a command left behind."""

    status: int
    out: str
    err: str


@pytest.fixture
def hotspot_cli(capsys, monkeypatch) -> Callable[..., Called]:
    """``hotspot_cli("run", folder, "--pins", "1x2")`` -> status, stdout, stderr."""

    def call(*words: object) -> Called:
        from hotspot.cli import main

        monkeypatch.setattr("sys.argv", ["hotspot", *map(str, words)])
        capsys.readouterr()
        status = 0
        try:
            main()
        except SystemExit as ended:
            status = int(ended.code or 0)
        told = capsys.readouterr()
        return Called(status, told.out, told.err)

    return call


@dataclass
class Demo:
    """`hotspot demo` as it was called once for all tests: read its folder, do not write to it."""

    folder: Path
    called: Called


@pytest.fixture(scope="session")
def demo(tmp_path_factory) -> Demo:
    folder = tmp_path_factory.mktemp("demo") / "demo"
    command = [sys.executable, "-m", "hotspot", "demo", str(folder)]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    return Demo(folder, Called(ended.returncode, ended.stdout, ended.stderr))


@pytest.fixture(scope="session")
def warm_row() -> Callable[[int], np.ndarray]:
    """``warm_row(n)`` -> n frames (n, 48, 96) float64 °C: four pins in a row that warm from 22 °C.

    Pins are discs of radius 5 px at x = 18, 38, 58, 78, y = 24; pin 3 rises twice as far as the others. Made
    for exercising carriers, not for judging heat.
    """

    def scene(count: int) -> np.ndarray:
        rows, columns = np.indices((48, 96))
        frames = np.full((count, 48, 96), 22.0)
        for place, x in enumerate((18, 38, 58, 78)):
            disc = (columns - x) ** 2 + (rows - 24) ** 2 <= 6.5**2
            final = 40.0 if place == 2 else 20.0
            for k in range(count):
                frames[k][disc] += final * (1.0 - np.exp(-k / max(1.0, count / 4.0)))
        return frames

    return scene


SHEET = """
title = "Row of four"
ambient = 22.0
[frames]
{frames}
every_s = 10.0
[surface]
emissivity = 0.95
set_emissivity = 0.95
[connector]
face = "mating"
pin1 = "lock left"
{more}
[[pin]]
name = "1"
x = 18.0
y = 24.0
radius = 5.0
[[pin]]
name = "2"
x = 38.0
y = 24.0
radius = 5.0
[[pin]]
name = "3"
x = 58.0
y = 24.0
radius = 5.0
[[pin]]
name = "4"
x = 78.0
y = 24.0
radius = 5.0
[[stage]]
name = "full"
start_s = 0.0
amps = 9.0
"""


@pytest.fixture(scope="session")
def sheet() -> Callable[..., None]:
    """``sheet(folder, 'files = "x.npy"', more="")`` writes a session.toml for `warm_row`."""

    def write(folder: Path, frames: str, more: str = "") -> None:
        head, _, tables = more.partition("\n[")
        tables = "[" + tables if tables else ""
        text = SHEET.format(frames=frames, more=head)
        folder.joinpath("session.toml").write_text(text + ("\n" + tables if tables else ""), encoding="utf-8")

    return write
