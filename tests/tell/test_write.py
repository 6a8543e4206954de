"""Results on disk: the same bytes for the same analysis, and nothing lost when writing fails."""

import json
import os

import numpy as np
import pytest
from told_sessions import analysis, comparison

from hotspot.errors import InputError
from hotspot.tell import charts, pages, report, write
from hotspot.tell.trend_data import name_of


def test_results_are_written_and_are_the_same_twice(tmp_path, monkeypatch):
    monkeypatch.setattr(pages, "written_now", lambda: "2026-03-11 14:00")
    told = analysis(["1", "2", "3"])
    first = write.write_results(told, tmp_path / "a" / "results")
    assert [path.name for path in first] == list(write.RESULTS)
    write.write_results(told, tmp_path / "b")
    for name in write.RESULTS:
        assert (tmp_path / "a/results" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name
    # nothing is left lying about
    assert sorted(path.name for path in (tmp_path / "b").iterdir()) == sorted(write.RESULTS)
    assert json.loads((tmp_path / "b/findings.json").read_bytes())["verdict"] == "hot"
    assert b"\r" not in (tmp_path / "b/readings.csv").read_bytes()


def test_only_the_clock_line_differs(tmp_path, monkeypatch):
    told = analysis(["1", "2"])
    for folder, clock in (("a", "2026-03-11 14:00"), ("b", "2027-04-12 15:01")):
        monkeypatch.setattr(pages, "written_now", lambda clock=clock: clock)
        write.write_results(told, tmp_path / folder)
    one, two = ((tmp_path / f / "report.html").read_text("utf-8").splitlines() for f in "ab")
    differing = [(a, b) for a, b in zip(one, two, strict=True) if a != b]
    assert differing == [("<p>Written 2026-03-11 14:00</p>", "<p>Written 2027-04-12 15:01</p>")]


def test_what_fails_leaves_the_earlier_results(tmp_path, monkeypatch):
    out = tmp_path / "results"
    write.write_results(analysis(["1", "2"]), out)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    monkeypatch.setattr(report, "page", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write.write_results(analysis(["1", "2", "3"]), out)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


@pytest.mark.parametrize("at", range(1, 8))
def test_a_move_that_fails_half_way_is_undone(tmp_path, monkeypatch, at):
    out = tmp_path / "results"
    write.put(out, {"a": b"old", "b": b"old", "c": b"old"}, ("a", "b", "c"))
    (out / "mine.txt").write_text("kept")
    moves, real = [], os.replace

    def failing(source, target):
        moves.append(source)
        if len(moves) == at:
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", failing)
    new = {"a": b"new", "b": b"new", "c": b"new"}
    if at == 7:
        write.put(out, new, ("a", "b", "c"))
        assert len(moves) == 6
        return
    with pytest.raises(InputError, match="No space left on device"):
        write.put(out, new, ("a", "b", "c"))
    assert {p.name: p.read_text() for p in out.iterdir()} == {"a": "old", "b": "old", "c": "old", "mine.txt": "kept"}


def test_a_result_of_ours_that_was_not_made_this_time_goes(tmp_path):
    write.put(tmp_path, {"a": b"1", "b": b"1"}, ("a", "b"))
    (tmp_path / "mine.txt").write_text("kept")
    assert write.put(tmp_path, {"a": b"2"}, ("a", "b")) == [tmp_path / "a"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "mine.txt"]


def test_where_it_cannot_be_written_is_said(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="--out"):
        write.put(tmp_path / "file", {"a": b""}, ("a",))
    with pytest.raises(InputError, match="cannot be written there"):
        write.put(tmp_path / "file" / "below", {"a": b""}, ("a",))
    (tmp_path / "out" / "a").mkdir(parents=True)
    with pytest.raises(InputError, match="a is a folder"):
        write.put(tmp_path / "out", {"a": b""}, ("a",))

    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(write.tempfile, "mkdtemp", refused)
    with pytest.raises(InputError, match="Permission denied"):
        write.put(tmp_path / "new", {"a": b""}, ("a",))
    assert not (tmp_path / "new").exists()


def test_a_redrawn_trend_leaves_the_other_results(tmp_path):
    told = analysis(["1", "2", "3"])
    write.write_results(told, tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    write.write_trend(charts.trend(told, as_rise=True), tmp_path)
    after = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert {name for name in before if before[name] != after[name]} == {"trend.png", "trend.svg"}
    write.write_trend(charts.trend(told, only=["1"]), tmp_path, "trend_only_1")
    assert {path.name for path in tmp_path.iterdir()} - set(after) == {"trend_only_1.png", "trend_only_1.svg"}
    assert all((tmp_path / name).read_bytes() == content for name, content in after.items())


def test_a_redrawn_trend_is_named_after_what_is_in_it():
    assert name_of(None, None, None, False) == "trend"
    assert name_of("F", ["1", "A 3"], "full/load", True) == "trend_only_1_A-3_within_full-load_rise_F"
    assert name_of(None, ["../../x"], None, False) == "trend_only_x"
    assert len(name_of(None, [str(i) for i in range(99)], None, False)) <= 100


def test_chart_leaves_the_reports_picture_and_says_when_the_sheet_has_changed(tmp_path, warm_row, sheet, hotspot_cli):
    np.save(tmp_path / "stack.npy", warm_row(4).astype(np.float32))
    sheet(tmp_path, 'files = "stack.npy"')
    assert hotspot_cli("run", tmp_path).status == 0
    kept = (tmp_path / "results" / "trend.png").read_bytes()
    for folder in (tmp_path, tmp_path / "results"):
        called = hotspot_cli("chart", folder, "--only", "1", "--rise")
        assert called.status == 0, called.err
        assert "trend_only_1_rise.png" in called.out
        assert "no longer" not in called.out
    assert (tmp_path / "results" / "trend.png").read_bytes() == kept
    text = (tmp_path / "session.toml").read_text()
    (tmp_path / "session.toml").write_text(text.replace("Row of four", "Another row"))
    for folder in (tmp_path, tmp_path / "results"):
        called = hotspot_cli("chart", folder, "--only", "1")
        assert (called.status, "no longer those of these readings" in called.out) == (0, True)


def test_new_tells_cautions_first_and_short_and_what_is_missing_last(tmp_path, warm_row, hotspot_cli):
    np.save(tmp_path / "stack.npy", warm_row(4).astype(np.float32))
    called = hotspot_cli("new", tmp_path)
    lines = called.out.splitlines()
    heads = [line for line in lines if line and not line.startswith(" ")]
    assert [head.split()[0] for head in heads] == ["Wrote", "Before", "Not"]
    assert max(map(len, lines[1:])) <= 96
    assert lines.index("Not measurable yet:") - lines.index(heads[1]) <= 9


def test_a_comparison_is_written(tmp_path):
    paths = write.write_comparison([comparison()], tmp_path)
    assert [path.name for path in paths] == list(write.COMPARISON)
    content = json.loads((tmp_path / "compare.json").read_text("utf-8"))
    assert content["answer"] == "fixed"
    assert len(content["pins"]) == 4
