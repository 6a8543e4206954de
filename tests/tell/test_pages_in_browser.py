"""Every page, opened from disk in Chromium with the network off: no error, nothing asked, accessible, valid HTML."""

import base64
import dataclasses

import html5lib
import numpy as np
import pytest
from opened_page import Opened
from told_pages import comparison_page, page_files, report_page
from told_sessions import analysis

from hotspot.placing import Placing
from hotspot.records import Papers, Photo, Statement
from hotspot.tell import marked, place_page

HOSTILE = "<script>alert(1)</script> \"quoted\" 'single' & {{ 7*7 }} \u202e\u05d0\u05d1 " + "long " * 60
JOB = dict.fromkeys(("id", "item", "customer", "technician", "complaint", "changed", "notes"), HOSTILE)


def _everything() -> str:
    """Notes, photographs, checks, doubts, quoted criteria: each part that a report can have."""
    check = {"pin": "3", "kind": "drop", "stage": "full", "volts": 0.045, "amps": 9.0, "note": "by hand"}
    job = {
        "id": "2071",
        "complaint": "plug hot",
        "cause": "loose socket",
        "correction": "new pair",
        "changed": "cleaned",
    }
    told = analysis(about={"job": job, "check": [check], "camera": {"name": "x", "accuracy_k": 2.0}})
    told.readings.loc[told.readings["pin"] == "2", "quality"] = "reads_low;emissivity_unknown"
    steady = Statement("steady_too_short", {"criteria": ("A", "B"), "pins": (), "lasted_s": 60.0, "stage": ""})
    raw = base64.b64decode(marked.data_uri(np.full((40, 60, 3), 200, np.uint8)).split(",")[1])
    lines = (
        "# Seen",
        "",
        "- pin 2 *browned*",
        "",
        "| pin | fit |",
        "|--|:--|",
        "| 2 | loose |",
        "",
        "```",
        "code",
        "```",
    )
    notes = "\n".join((*lines, "> said", "", "---", "1. one"))
    papers = Papers(notes, (Photo("pin 2 browned.jpg", raw, 60, 40),))
    return report_page(dataclasses.replace(told, papers=papers, notices=(*told.notices, steady)))


def _place() -> str:
    told = analysis()
    placing = Placing(told.snapshots[-1], told.pin_map, told.session.region)
    return place_page.page(told.session, placing, {"connector": {}, "pin": [], "region": []})


def _hostile() -> str:
    about = {"title": HOSTILE, "job": JOB, "event": [{"time_s": 1.0, "what": HOSTILE}]}
    return report_page(analysis([HOSTILE, "\u05d0\u05d1\u05d2", "<b>3</b>", "4"], about=about))


def _nothing() -> str:
    told = analysis([], frames=0, staged=False, about={"event": []})
    return report_page(dataclasses.replace(told, snapshots=(), pin_map=None, stages=(), notices=(), inputs={}))


PAGES = {
    "report": _everything,
    "compare": comparison_page,
    "place": _place,
    "hostile": _hostile,
    "200 pins": lambda: report_page(analysis([f"P{k}" for k in range(200)], frames=21)),
    "no stage": lambda: report_page(analysis(staged=False)),
    "1 frame": lambda: report_page(analysis(frames=1)),
    "nothing": _nothing,
}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return page_files(tmp_path_factory.mktemp("pages"), PAGES)


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_html_without_a_parse_error(name, files):
    # html5lib: the parsing rules of the WHATWG HTML standard; strict raises on every parse error that it names
    html5lib.HTMLParser(strict=True).parse(files[name].read_text(encoding="utf-8"))


def test_the_published_checker_finds_no_error(files, checker):
    assert checker(list(files.values())) == ""


@pytest.mark.parametrize("name", PAGES)
def test_the_page_opens_without_an_error_and_asks_for_nothing(name, files, browser):
    with Opened(browser, files[name]) as page:
        assert page.said == []
        assert page.outside() == []
        assert page.asked == [files[name].as_uri(), *page.asked[1:]]


def test_a_page_that_asks_and_fails_would_be_noticed(tmp_path, browser):
    bad = tmp_path / "bad.html"
    bad.write_text('<!doctype html><img src="http://host.invalid/x.png" alt=""><script>gone();</script>')
    with Opened(browser, bad) as page:
        assert any("gone is not defined" in line for line in page.said)
        assert page.outside() == ["http://host.invalid/x.png"]


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [1280, 390, 320])
def test_nothing_sticks_out_sideways(name, width, files, browser):
    # WCAG 2.2, 1.4.10 Reflow: no scrolling in two dimensions at 320 CSS pixels
    with Opened(browser, files[name], width) as page:
        assert page.tab.evaluate("document.documentElement.scrollWidth") <= width


LOOKS = [(name, scheme) for name in PAGES for scheme in ("light", "dark") if (name, scheme) != ("200 pins", "dark")]
"""The page of 200 pins takes axe longer than all others, and has no colour of its own."""


@pytest.mark.parametrize(("name", "scheme"), LOOKS)
def test_axe_finds_no_violation(name, scheme, files, browser, axe):
    with Opened(browser, files[name], scheme=scheme) as page:
        page.tab.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.tab.evaluate(axe)
        found = page.tab.evaluate("axe.run(document, { resultTypes: ['violations'] })")["violations"]
        told = [(one["id"], one["nodes"][0]["html"][:200], len(one["nodes"])) for one in found]
        assert told == []


def test_axe_would_find_one(tmp_path, browser, axe):
    bad = tmp_path / "bad.html"
    bad.write_text('<!doctype html><html lang="en"><title>x</title><main><h1>x</h1><img src="data:,"></main></html>')
    with Opened(browser, bad) as page:
        page.tab.evaluate(axe)
        assert "image-alt" in [one["id"] for one in page.tab.evaluate("axe.run()")["violations"]]
