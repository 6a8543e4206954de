"""The pages of made-up analyses, as text and as files for a browser."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from told_sessions import comparison

from hotspot.records import Analysis
from hotspot.tell import charts, compare_page, look, report

WRITTEN = "2026-03-11 14:00"
"""The clock line of every page made for a test."""


def report_page(told: Analysis) -> str:
    return report.page(told, report.drawn(told, look.svg_text(charts.trend(told))), written=WRITTEN)


def comparison_page() -> str:
    return compare_page.page([comparison()], written=WRITTEN)


def page_files(folder: Path, pages: Mapping[str, Callable[[], str]]) -> dict[str, Path]:
    """Name -> the page's file in `folder`, each written once."""
    made = {name: folder / f"{name.replace(' ', '-')}.html" for name in pages}
    for name, path in made.items():
        path.write_text(pages[name](), encoding="utf-8")
    return made
