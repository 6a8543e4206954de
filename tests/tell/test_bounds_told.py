"""What the scale clips is told as a bound, wherever a temperature or a rise of a pin is shown. Invented data."""

import dataclasses

import numpy as np
import pytest
from told_sessions import analysis, comparison

from hotspot.records import Bound, Statement, bounded
from hotspot.tell import charts, compare_page, large_frame, marked, report, report_parts, terminal, trend_table, words
from hotspot.tell.trend_data import trend_of

SIGN = {"high": "≥ ", "low": "≤ "}
WORDS = {"high": "at least ", "low": "at most "}


def clipped(side, pin="2", last=20):
    """The usual test, in which the scale clips one pin in the last frames and at the end of stage `full`."""
    told = analysis()
    late = told.readings["frame"] > told.readings["frame"].max() - last
    hit = late & (told.readings["pin"] == pin)
    table = told.findings.pin_table
    ends = np.where((table["pin"] == pin) & (table["stage"] == "full"), side, "")
    return dataclasses.replace(
        told,
        readings=told.readings.assign(clipped=np.where(hit, side, "")),
        findings=dataclasses.replace(told.findings, pin_table=table.assign(last_clipped=ends), limits=()),
    )


def test_a_bound_is_a_number_that_says_from_which_side_it_is_known():
    value = Bound(45.0, "high")
    assert (value, value.side, type(value - 20.0)) == (45.0, "high", float)
    assert bounded(45.0, "low").side == "low"
    assert type(bounded(45.0, "")) is float
    assert bounded(None, "high") is None
    assert bounded(45.0, float("nan")) == 45.0  # an empty cell of a table


@pytest.mark.parametrize("side", ["high", "low"])
def test_sentences_say_at_least_or_at_most_and_cells_have_a_sign(side):
    value = Bound(45.0, side)
    assert words.temperature(value, "F") == f"{WORDS[side]}113.0 °F"
    assert words.difference(value, "F") == f"{WORDS[side]}81.0 °F"
    assert words.worded(Bound(0.4, side), "pct", "C") == f"{WORDS[side]}40 %"
    assert words.at_bound_short(value, "45.0") == f"{SIGN[side]}45.0"
    where = Statement("limit_where", {"last": value, "at": 60.0, "rise": value, "ambient": 20.0, "amps": 9.0})
    assert words.say(where).startswith(f"{WORDS[side]}45.0 °C at 1:00, {WORDS[side]}45.0 K over an ambient of 20.0 °C")


def test_a_whole_number_is_rounded_to_the_side_on_which_the_bound_holds():
    assert [words.whole(value) for value in (45.6, Bound(45.6, "high"), Bound(45.4, "low"))] == ["46", "≥ 45", "≤ 46"]
    assert [words.whole(Bound(value, "high")) for value in (44.97, 44.94)] == ["≥ 45", "≥ 44"]


@pytest.mark.parametrize("side", ["high", "low"])
def test_terminal_and_report_never_show_a_clipped_pin_as_an_ordinary_number(side):
    told = clipped(side)
    row = report_parts.hottest_rows(told)["2"]
    last, rise = f"{row['last_c']:.1f}", f"{row['rise_c']:.1f}"
    heading = next(line for line in terminal.summary(told).splitlines() if line.startswith("  2 "))
    assert f"{WORDS[side]}{last} °C, {WORDS[side]}{rise} K over ambient" in heading
    page = report.page(told, report.drawn(told, "<svg></svg>"), "now")
    for plain in (f"{last} °C", f"{rise} K"):
        shown = [before[-len(WORDS[side]) :] for before in page.split(plain)[:-1]]
        assert len(shown) >= 2
        assert all(before == WORDS[side] for before in shown)
    (table,) = [one for one in report_parts.stage_tables(told) if "full" in one["caption"]]
    cells = dict(zip(table["heads"], table["rows"][1]["cells"], strict=True))
    assert cells["at the end [°C]"] == SIGN[side] + last
    assert cells["over ambient [K]"] == SIGN[side] + rise
    assert cells["over the others [K]"] == f"{SIGN[side]}{row['over_neighbours_c']:.1f}"
    assert SIGN[side] not in " ".join(table["rows"][0]["cells"])
    meaning = words.text("report_meaning_bound")
    assert meaning in page
    assert meaning not in report_parts.legend(report_parts.stage_tables(analysis()), "C")


@pytest.mark.parametrize("side", ["high", "low"])
def test_chart_and_its_readout_give_a_clipped_value_no_interval(side):
    told = clipped(side)
    found = trend_table.readout(told, (0.0, 1200.0))
    assert found["half"][1][-1] is None
    assert found["half"][1][0] is not None
    assert found["bound"][1][len(found["time"]) - 1] == f"{SIGN[side]}{found['value'][1][-1]:.1f}"
    assert [len(one) for one in found["bound"]] == [0, 20, 0, 0, 0, 0]
    assert trend_table.table(found)["rows"][1]["cells"][-1] == f"{SIGN[side]}{found['value'][1][-1]:.1f}"
    figure = charts.trend(told)
    (band,) = [part for part in figure.axes[0].collections if part.get_gid() == "pin1-band"]
    data = trend_of(told)
    reach = max(path.vertices[:, 0].max() for path in band.get_paths())
    line = data.lines[1]
    assert reach == pytest.approx(line.time_s[line.clipped == 0].max(), abs=1e-6)


@pytest.mark.parametrize("side", ["high", "low"])
def test_marked_frames_put_the_sign_before_the_degrees(side):
    told = clipped(side)
    shot = told.snapshots[-1]
    value = marked.read_in(told, shot)["2"]
    assert marked._values(told, shot)["2"] == f"{words.whole(Bound(value, side))}°"
    assert marked._values(told, shot)["2"].startswith(SIGN[side])
    assert not marked._values(told, shot)["1"].startswith(("≥", "≤"))
    texts = [text.get_text() for text in large_frame.large_frame(told).axes[0].texts]
    assert f"2 hot\n{words.whole(Bound(value, side))} °C" in texts


@pytest.mark.parametrize("side", ["high", "low"])
def test_a_comparison_shows_bounds_of_either_test(side):
    told = comparison()
    table = told.table.assign(before_clipped=["", side, "", ""], after_clipped=["", "", side, ""])
    rows = told.before.readings
    hit = (rows["pin"] == "2") & (rows["time_s"] > 1000.0)
    before = dataclasses.replace(told.before, readings=rows.assign(clipped=np.where(hit, side, "")))
    told = dataclasses.replace(told, table=table, before=before)
    row = table.iloc[1]
    rise = f"{row['before_rise_c']:.1f}"
    line = next(line for line in terminal.comparison_summary([told]).splitlines() if line.startswith("  2 "))
    assert f"rise {SIGN[side]}{rise} to {row['after_rise_c']:.1f} K ({SIGN[side]}{rise} expected)" in line
    page = compare_page.page([told, told], "now")
    assert page.count(f"{SIGN[side]}{rise}") >= 3  # in the table of both, and of all sessions
    assert f"{SIGN[side]}{table.iloc[2]['after_rise_c']:.1f} same" in page
    meaning = words.text("report_meaning_bound")
    assert meaning in page
    assert meaning not in compare_page.page([comparison()], "now")
    pair = compare_page.pairs_of(told)[1]
    end = pair.sides["before"][:, -1]
    assert (np.isnan(end[2]), end[3]) == (True, 1.0 if side == "high" else -1.0)
    assert "Arrows: the scale ends there" in compare_page.chart_words(told)
    assert "Arrows" not in compare_page.chart_words(comparison())
    axes = compare_page.chart(told).axes[1]
    assert len(axes.collections) == 3  # a band to each test, and the arrows


def test_a_doubt_is_told_as_a_share_of_the_readings_of_the_pins_that_have_it():
    told = analysis()
    count = told.readings["frame"].nunique()
    hit = (told.readings["pin"] == "5") & (told.readings["frame"] >= count // 2)
    told = dataclasses.replace(told, readings=told.readings.assign(quality=np.where(hit, "clipped_high", "")))
    (row,) = report_parts.doubt_rows(told)
    assert (row["pins"], row["share"]) == ("5", words.per_cent((count - count // 2) / count))
