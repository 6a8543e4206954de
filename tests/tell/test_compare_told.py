"""What a comparison says of the smallest change that would have shown, and the intervals on its chart."""

import dataclasses
import re

import numpy as np
import pytest
from told_sessions import comparison

from hotspot.tell import compare_page, terminal
from hotspot.tell.basis import least_shown


def sized():
    """Two stages of one comparison, the second with changes that would have shown from further on."""
    import pandas as pd

    told = comparison()
    first = told.table.assign(stage="half", smallest_change_c=[0.5, 0.9, 0.7, np.nan], smallest_heat_change=None)
    shares = [0.11, np.nan, 0.2, np.nan]
    second = told.table.assign(smallest_change_c=[1.5, 9.0, 2.0, np.nan], smallest_heat_change=shares)
    return dataclasses.replace(told, table=pd.concat([first, second], ignore_index=True))


def test_each_stage_says_its_own_smallest_change_on_page_and_terminal():
    told = sized()
    page, lines = compare_page.page([told]), terminal.comparison_summary([told])
    for text in ("of rise 0.5 to 0.9 K.", "of rise 1.5 to 9.0 K; of heat 11 to 20 %."):
        assert f"Smallest change that would have shown, by pin: {text}" in page
        assert f"Smallest change that would have shown, by pin: {text}" in lines
    assert lines.index("0.5 to 0.9 K.") < lines.index("Stage full:") < lines.index("1.5 to 9.0 K;")


def test_sizes_are_in_the_readers_unit_and_absent_where_nothing_could_show():
    row = {"smallest_change_c": 1.0, "smallest_heat_change": None}
    assert least_shown([row], "F") == "Smallest change that would have shown: of rise 1.8 °F."
    assert least_shown([row | {"smallest_change_c": None}], "C") == ""


@pytest.mark.parametrize("units", ["C", "F"])
def test_the_chart_carries_the_intervals_of_readings_and_of_what_was_expected(units):
    told = comparison()
    later = dataclasses.replace(told.after, findings={**told.after.findings, "units": units})
    told = dataclasses.replace(told, after=later)
    step = 1.8 if units == "F" else 1.0
    pair = compare_page.pairs_of(told)[1]
    row = told.table.iloc[1]
    np.testing.assert_allclose(pair.sides["before"][2], 1.96 * 0.8 * step)  # standard uncertainty of every reading
    ends = [step * (row["after_rise_c"] - row[f"change_{end}_c"]) for end in ("high", "low")]
    assert pair.within == pytest.approx(ends)
    assert pair.expected == pytest.approx(step * row["expected_rise_c"])
    axes = compare_page.chart(told).axes[1]
    assert len(axes.collections) == 2  # a band to each test
    assert any(list(line.get_ydata()) == pytest.approx(ends) for line in axes.lines)
    low, high = axes.get_ylim()
    assert low <= min(ends)
    assert max(ends) <= high


def test_the_words_beside_the_chart_tell_its_intervals():
    assert re.search(r"band of its 95 % interval", compare_page.chart_words(comparison()))
