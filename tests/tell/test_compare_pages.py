"""The page of a comparison: both sides, what it rests on, odd input."""

import dataclasses
import re

import numpy as np
import pytest
from page_checked import checked
from told_sessions import SAID, comparison

from hotspot.records import Statement
from hotspot.tell import compare_page, look, terminal

OTHER = Statement("caution_air", {})


def test_the_comparison_page_says_both_sides():
    told = comparison()
    page = compare_page.page([told], written="2026-03-11 14:00")
    checked(page)
    for wanted in ("FIXED", "-27.6 (-30.0 to -24.0)", "0.36 (0.20 to 0.50)", "2.5 K", "2" * 64, "Stage full"):
        assert wanted in page, wanted
    pairs = compare_page.pairs_of(told)
    assert [pair.pin for pair in pairs] == ["1", "2", "3", "4"]
    # seconds into the stage, not of the session
    assert pairs[1].sides["after"][0][0] == 0.0
    assert pairs[1].sides["after"][1][-1] == pytest.approx(0.4 * pairs[1].sides["before"][1][-1])


def test_what_some_rows_rest_on_is_said_once_with_stage_and_pins():
    told = comparison()
    table = told.table.assign(basis=[(SAID, OTHER), (SAID,), (SAID, OTHER), (SAID,)])
    told = dataclasses.replace(told, table=table, basis=(SAID, OTHER))
    page = compare_page.page([told])
    assert page.count("Stage full, pins 1 and 3: Run an engine only") == 1
    assert page.count("<li>Run an engine only") == 2  # noticed, and among the cautions
    # what all rows rest on is said plain
    assert "<li>Shiny metal" in page
    lines = terminal.comparison_summary([told])
    assert "Stage full, pins 1 and 3: Run an engine only" in lines
    one = dataclasses.replace(told, table=table.assign(basis=[(SAID, OTHER), (SAID,), (SAID,), (SAID,)], stage=""))
    assert "Pin 1: Run an engine only" in compare_page.page([one])


def test_a_pin_that_only_cooled_with_its_neighbours_is_said_to():
    told = comparison()
    table = told.table.assign(verdict=["better", "better", "better", "not comparable"], repaired=["", "yes", "", ""])
    page = compare_page.page([dataclasses.replace(told, table=table)])
    assert page.count("cooler, like its neighbours") == 2
    assert "cannot tell whether its rise changed" in page
    # the pin that made the heat before (2) is not said to be like its neighbours
    bare = compare_page.page([dataclasses.replace(told, table=table.assign(repaired=""))])
    assert bare.count("cooler, like its neighbours") == 2
    assert bare.count("a rise alone does not show") == 1
    assert "cannot tell whether its rise changed" not in compare_page.page([told])


def test_columns_and_legends_that_no_row_fills_are_not_there():
    told = comparison()
    assert ">repaired</th>" in compare_page.page([told])
    empty = told.table.assign(repaired="", heat_change=None)
    page = compare_page.page([dataclasses.replace(told, table=empty)])
    for word in ("repaired</th>", "heat after / before", "Heat: "):
        assert word not in page


def test_the_narrow_comparison_has_every_pin_in_two_columns():
    wide, narrow = (compare_page.chart(comparison(), width) for width in (10.0, 4.2))
    assert len(wide.axes) == len(narrow.axes) == 4
    assert len({round(axes.get_position().x0, 3) for axes in narrow.axes}) == 2
    assert len({round(axes.get_position().x0, 3) for axes in wide.axes}) == 4


def test_a_comparison_of_nothing_and_of_many_pins_stands():
    told = comparison([f"A{i}" for i in range(40)])
    assert len(compare_page.chart(told).axes) == 42
    bare = dataclasses.replace(told, table=told.table.iloc[:0], smallest_change_k=None, answer="cannot tell")
    page = compare_page.page([bare])
    checked(page)
    assert "No pin could be compared" in page
    assert terminal.comparison_summary([bare]).startswith("CANNOT TELL")


def test_comparison_where_one_side_has_no_rise():
    told = comparison()
    table = told.before.readings.assign(rise_c=np.nan)
    told = dataclasses.replace(told, before=dataclasses.replace(told.before, readings=table))
    assert compare_page.pairs_of(told)[0].sides["before"].shape == (4, 0)
    assert look.png_bytes(compare_page.chart(told)).startswith(b"\x89PNG")


def test_a_history_shows_every_later_test_against_the_first():
    second = comparison()
    third = dataclasses.replace(second, after=dataclasses.replace(second.after, name="third test"))
    page = compare_page.page([second, third], written="2026-03-11 14:00")
    checked(page)
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert "All tests in turn" in page
    assert page.index("third test against") < page.index(f"{second.after.name} against")
