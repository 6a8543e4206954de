"""report.html opened from disk in Chromium: no error on the console, nothing asked of a network, script at work."""

import html
import json
import re
import shutil
import subprocess

import html5lib
import pytest
from told_sessions import analysis, comparison

from hotspot.tell import charts, compare_page, look, report, trend_table

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")


def _report(told):
    return report.page(told, report.drawn(told, look.svg_text(charts.trend(told))))


PAGES = {"report": lambda: _report(analysis()), "compare": lambda: compare_page.page([comparison()])}


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_html_without_a_parse_error(name):
    # html5lib: the parsing rules of the WHATWG HTML standard; strict raises on every parse error that it names
    html5lib.HTMLParser(strict=True).parse(PAGES[name]())


def _opened(page, folder):
    """The page's HTML after its scripts ran, lines of the console, and the addresses that it asked of a network."""
    (folder / "page.html").write_text(page, encoding="utf-8")
    off = ("--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run")
    called = subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", *off, f"--user-data-dir={folder / 'profile'}"]
        + ["--host-resolver-rules=MAP * ~NOTFOUND", "--enable-logging=stderr", f"--log-net-log={folder / 'net.json'}"]
        + ["--dump-dom", (folder / "page.html").as_uri()],
        capture_output=True,
        text=True,
        timeout=120,
    )
    said = [line for line in called.stderr.splitlines() if "CONSOLE" in line]
    asked = [event.get("params", {}) for event in json.loads((folder / "net.json").read_text("utf-8"))["events"]]
    # what the browser asks for itself (its updates) has no origin; what a page asks for has the page's
    of_page = {e["url"] for e in asked if "url" in e and e.get("initiator", "not an origin") != "not an origin"}
    return called.stdout, said, {url for url in of_page if not url.startswith(("file:", "data:"))}


@needs_chromium
@pytest.mark.slow
@pytest.mark.parametrize("name", PAGES)
def test_the_page_opens_without_an_error_and_asks_for_nothing(name, tmp_path):
    shown, said, asked = _opened(PAGES[name](), tmp_path)
    assert "</html>" in shown
    assert said == []
    assert asked == set()
    if name == "report":
        # the script has run: a slider for the chart and one for the frames, a button for each pin, one frame shown
        assert shown.count('type="range"') == 2
        assert shown.count('aria-pressed="false"') == 6
        assert len(re.findall(r'<figure class="(?:end )?on">', shown)) == 1


@needs_chromium
@pytest.mark.slow
def test_a_page_that_asks_and_fails_would_be_noticed(tmp_path):
    page = '<!doctype html><title>x</title><img src="http://host.invalid/x.png" alt=""><script>gone();</script></html>'
    _, said, asked = _opened(page, tmp_path)
    assert any("gone is not defined" in line for line in said)
    assert asked == {"http://host.invalid/x.png"}


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
    assert data["value"] == json.loads(html.unescape(re.search(r"data-trend='([^']*)'", _report(told))[1]))["value"]


def test_a_missing_reading_is_read_out_as_missing_and_many_pins_stay_small():
    told = analysis()
    told.readings.loc[(told.readings["pin"] == "2") & (told.readings["frame"] == 60), "temperature_c"] = float("nan")
    assert trend_table.readout(told, (0.0, 1.0))["value"][1][-1] is None
    many = trend_table.readout(analysis([str(i) for i in range(200)], frames=181), (0.0, 1.0))
    assert len(many["time"]) * 200 <= trend_table.MOST_VALUES
    assert trend_table.readout(analysis([], frames=0, staged=False, about={"event": []}), (0.0, 1.0)) is None
