"""report.html at work in Chromium: the chart is read by pointer and keys, frames are looked through."""

import html
import json
import re

import pytest
from opened_page import Opened
from told_pages import report_page
from told_sessions import analysis

from hotspot.tell import charts, trend_table


@pytest.fixture
def shown(browser, tmp_path):
    """The report of the six-pin test, open."""
    (tmp_path / "report.html").write_text(report_page(analysis()), encoding="utf-8")
    with Opened(browser, tmp_path / "report.html") as page:
        yield page.tab


def test_the_chart_is_read_out_where_it_is_pointed_at(shown):
    shown.locator(".chart").first.scroll_into_view_if_needed()
    plot = shown.locator("g[id='tw-plot']").bounding_box()
    shown.mouse.move(plot["x"] + 0.47 * plot["width"], plot["y"] + 0.5 * plot["height"])
    told = analysis()
    times = told.readings["time_s"].unique()
    data = trend_table.readout(told, tuple(charts.trend(told).axes[0].get_xlim()))
    pointed = data["span"][0] + 0.47 * (data["span"][1] - data["span"][0])
    nearest = min(times, key=lambda time: abs(time - pointed))
    row = told.readings[(told.readings["pin"] == "2") & (told.readings["time_s"] == nearest)].iloc[0]
    assert shown.locator(".readout button").nth(1).inner_text().startswith(f"2: {row['temperature_c']:.1f} ±")


def test_a_pin_is_singled_out_and_read_by_the_keyboard_alone(shown):
    line = shown.locator("g[id='tw-pin0-line']")
    slider = shown.locator(".readout input[type=range]")
    slider.focus()
    first = shown.locator(".readout p").inner_text()
    shown.keyboard.press("ArrowLeft")
    assert shown.locator(".readout p").inner_text() != first
    shown.keyboard.press("Tab")
    shown.keyboard.press("Tab")
    shown.keyboard.press("Space")
    assert shown.locator(".readout button[aria-pressed=true]").count() == 1
    assert line.evaluate("one => one.style.opacity") == "0.1"
    assert shown.locator("g[id='tw-pin1-line']").evaluate("one => one.style.opacity") == ""
    shown.keyboard.press("Space")
    assert line.evaluate("one => one.style.opacity") == ""


def test_the_frames_are_looked_through_by_the_keyboard_and_the_last_comes_first(shown):
    frames = shown.locator(".slides figure")
    last = frames.nth(frames.count() - 1)
    assert last.is_visible()
    assert shown.locator(".slides figure:visible").count() == 1
    shown.locator("input[type=range]").nth(1).focus()
    shown.keyboard.press("Home")
    assert frames.nth(0).is_visible()
    assert not last.is_visible()


def test_without_script_every_frame_and_the_table_of_the_chart_are_there(browser, tmp_path):
    (tmp_path / "report.html").write_text(report_page(analysis()), encoding="utf-8")
    context = browser.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto((tmp_path / "report.html").as_uri())
    assert tab.locator(".slides figure:visible").count() == 6
    assert tab.locator("summary", has_text="table").count() == 1
    context.close()


def test_what_is_read_out_is_what_was_measured():
    told = analysis()
    data = trend_table.readout(told, (0.0, 1200.0))
    row = told.readings[(told.readings["pin"] == "2") & (told.readings["frame"] == 60)].iloc[0]
    assert data["value"][1][-1] == round(row["temperature_c"], 1)
    assert data["half"][1][-1] == round(2 * row["uncertainty_c"], 1)
    assert (data["clock"][-1], data["unit"]) == ("20:00", "°C")
    shown = trend_table.table(data)
    assert shown["heads"][0] == "0:00 [°C]"
    assert shown["rows"][1]["cells"][-1] == f"{row['temperature_c']:.1f}"
    assert data["value"] == json.loads(html.unescape(re.search(r"data-trend='([^']*)'", report_page(told))[1]))["value"]


def test_a_missing_reading_is_read_out_as_missing_and_many_pins_stay_small():
    told = analysis()
    told.readings.loc[(told.readings["pin"] == "2") & (told.readings["frame"] == 60), "temperature_c"] = float("nan")
    assert trend_table.readout(told, (0.0, 1.0))["value"][1][-1] is None
    many = trend_table.readout(analysis([str(i) for i in range(200)], frames=181), (0.0, 1.0))
    assert len(many["time"]) * 200 <= trend_table.MOST_VALUES
    assert trend_table.readout(analysis([], frames=0, staged=False, about={"event": []}), (0.0, 1.0)) is None
