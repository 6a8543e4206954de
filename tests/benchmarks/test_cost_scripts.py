"""The scripts that measure cost still run, on frames few and small; what they measure is not judged here."""

import re

import memory
import pytest
import run_cost
from scene_folders import KINDS, frame_of, make, places


def test_cost_is_measured_in_every_carrier(capsys):
    assert run_cost.main(["--frames", "3", "--size", "96x48", "--repeats", "1"]) == 0
    rows = capsys.readouterr().out.splitlines()[3:]
    assert [row[:16].strip() for row in rows] == list(KINDS)
    for row in rows:
        bare, frames, rest, whole, ratio, share = map(float, row[16:].split())
        assert whole > rest >= 0.0
        assert bare > 0.0
        assert frames > 0.0
        assert ratio > share > 0.0


def test_memory_is_measured_in_a_process_of_its_own(capsys):
    assert memory.main(["--frames", "3", "--size", "96x48", "--carriers", "float TIFF"]) == 0
    row = next(line for line in capsys.readouterr().out.splitlines() if line.startswith("float TIFF"))
    peaks = [float(number) for number in re.findall(r"\d+\.?\d*", row)[:2]]
    assert all(30.0 < peak < 2000.0 for peak in peaks)


@pytest.mark.parametrize("kind", KINDS)
def test_bare_decoding_gives_every_frame(kind, tmp_path):
    folder = tmp_path / "session"
    make(folder, KINDS[kind], 3, (96, 48))
    assert sum(1 for _ in KINDS[kind].decode(folder)) == 3


def test_links_stand_for_frames(tmp_path):
    folder = tmp_path / "session"
    memory.build(folder, "CSV", memory.APART + 5, (24, 16))
    files = sorted((folder / "frames").iterdir())
    assert len(files) == memory.APART + 5
    assert files[0].samefile(files[memory.APART])


def test_the_scene_has_its_hot_pin_in_the_third_place():
    size = (96, 48)
    last = frame_of(9, 10, size)
    warm = [last[round(y), round(x)] for x, y, _ in places(size)]
    assert max(range(len(warm)), key=warm.__getitem__) == 2
