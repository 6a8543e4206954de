"""Which files are frames: not what hotspot itself wrote beside them."""

from pathlib import Path

import pytest

from hotspot.errors import InputError
from hotspot.read.find import find_files
from hotspot.session import Frames, Session
from hotspot.tell.write import COMPARISON, RESULTS


def files(folder: Path, names: list[str]) -> Path:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"x")
    return folder


def found(folder: Path, pattern: str | None = None) -> list[str]:
    paths = find_files(Session(folder=folder, frames=Frames(files=pattern)))
    return [path.relative_to(folder).as_posix() for path in paths]


def test_results_beside_the_frames_are_no_frames(tmp_path):
    files(tmp_path, ["f10.png", "f2.png", *RESULTS, "session.toml", "comparison/x.png"])
    files(tmp_path, [f"comparison/{name}" for name in COMPARISON])
    assert found(tmp_path) == ["f2.png", "f10.png"]
    assert found(tmp_path, "**/*.png") == ["comparison/x.png", "f2.png", "f10.png"]
    assert found(tmp_path, "trend.png") == ["trend.png"]


def test_frames_that_bear_the_name_of_a_result_are_frames(tmp_path):
    assert found(files(tmp_path, ["trend.png", "compare.png"])) == ["compare.png", "trend.png"]


def test_a_folder_of_results_only_holds_no_frames(tmp_path):
    with pytest.raises(InputError, match="no frames found"):
        found(files(tmp_path, list(RESULTS)))
