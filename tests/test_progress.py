"""The line that tells how far the work is: what it says, when, and that nobody but a terminal sees it."""

import io
import sys

import pytest

from hotspot.cli.progress import teller


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def told(monkeypatch):
    """``told((second, done, total), ...)`` -> what a terminal was shown, piece by piece."""

    def play(*steps):
        shown, now = Terminal(), [0.0]
        monkeypatch.setattr(sys, "stderr", shown)
        monkeypatch.setattr("time.monotonic", lambda: now[0])
        tell = teller(False)
        for second, done, total in steps:
            now[0] = float(second)
            tell(done, total)
        return [piece.strip() for piece in shown.getvalue().split("\r") if piece.strip()]

    return play


def test_nothing_is_told_to_a_file_or_when_quiet(monkeypatch) -> None:
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    assert teller(False) is None
    monkeypatch.setattr(sys, "stderr", Terminal())
    assert teller(True) is None


def test_the_look_beforehand_is_told_and_does_not_count(told) -> None:
    shown = told((0, 0, 100), (30, 1, 100), (40, 11, 100))
    assert shown == [
        "looking at some of 100 frames first",
        "1 of 100 frames, about 0:00 left",
        "11 of 100 frames, about 1:21 left",  # 10 s for 11 frames, 89 to go
    ]


def test_every_pass_has_its_own_clock_and_the_line_goes_when_it_ends(told) -> None:
    shown = told((0, 0, 10), (1, 1, 10), (9, 9, 10), (10, 10, 10), (20, 1, 10), (21, 5, 10), (21.1, 6, 10))
    assert shown[-2:] == ["1 of 10 frames, about 0:00 left", "5 of 10 frames, about 0:01 left"]
    assert "10 of 10 frames, about 0:00 left" in shown
