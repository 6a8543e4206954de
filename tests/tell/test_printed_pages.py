"""Pages printed from Chromium: no chart is broken by the end of a sheet, no heading is left alone at its foot."""

import io
import re

import pytest
from opened_page import Opened
from told_pages import comparison_page, page_files, report_page
from told_sessions import analysis

MM = 96 / 25.4
"""CSS pixels in a millimetre (CSS Values and Units 3, 6.2)."""
SHEETS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height [mm]: ISO 216; ANSI/ASME Y14.1, size A."""
MARGIN = 14.0


PAGES = {
    "6 pins": lambda: report_page(analysis()),
    "40 pins": lambda: report_page(analysis([str(k) for k in range(40)], frames=21)),
    "compare": comparison_page,
}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return page_files(tmp_path_factory.mktemp("printed"), PAGES)


def _last_lines(tab, sheet: str) -> list[str]:
    """The last line of text of each printed sheet, without its spaces."""
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed (extra dev)")
    told = [each.extract_text().strip() for each in pypdf.PdfReader(io.BytesIO(tab.pdf(format=sheet))).pages]
    return [re.sub(r"\s+", "", text.splitlines()[-1]) for text in told if text]


def _headings(tab) -> set[str]:
    told = tab.evaluate("Array.from(document.querySelectorAll('h2, h3, caption, thead')).map((one) => one.innerText)")
    return {re.sub(r"\s+", "", text) for text in told}


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("name", PAGES)
def test_no_chart_is_broken_and_no_heading_is_left_alone(name, sheet, files, browser):
    wide, high = (int((side - 2 * MARGIN) * MM) for side in SHEETS[sheet])
    with Opened(browser, files[name], wide) as page:
        page.tab.emulate_media(media="print")
        figures = page.tab.evaluate(
            "Array.from(document.querySelectorAll('figure')).filter((one) => one.offsetHeight)"
            ".map((one) => [one.offsetHeight, one.offsetWidth, getComputedStyle(one).breakInside])"
        )
        assert figures
        # what must not be broken has to fit on one sheet
        assert [one for one in figures if one[2] != "avoid" or one[0] > high or one[1] > wide] == []
        ends = _last_lines(page.tab, sheet)
        assert len(ends) >= 2
        assert set(ends) & _headings(page.tab) == set()


def test_a_heading_that_is_left_alone_would_be_noticed(tmp_path, browser):
    bad = tmp_path / "bad.html"
    bad.write_text('<!doctype html><title>x</title><p>x</p><h2>Alone</h2><p style="break-before: page">z</p>')
    with Opened(browser, bad) as page:
        assert "Alone" in set(_last_lines(page.tab, "A4")) & _headings(page.tab)
