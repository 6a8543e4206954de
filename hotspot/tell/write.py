"""Results onto disk: everything is made aside first, then moved into place, so that a failure loses nothing."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hotspot.errors import refuse
from hotspot.records import Analysis, Comparison

if TYPE_CHECKING:
    from matplotlib.figure import Figure


RESULTS = (
    "readings.csv",
    "pins.csv",
    "findings.json",
    "trend.png",
    "trend.svg",
    "marked.png",
    "heat.png",
    "report.html",
    "views.npz",
)
COMPARISON = ("compare.csv", "compare.json", "compare.png", "compare.html")


def write_results(analysis: Analysis, out: Path) -> list[Path]:
    """Write the results of one session into the folder `out`, made if need be; gives the files written.

    The same analysis gives the same bytes, but for the line of report.html that says when it was written.
    Raises InputError where `out` cannot be written; what was there then stays as it was.
    """
    from hotspot.tell import charts, heat_picture, large_frame, look, marked, report, tables, views

    pictures, large = marked.marked_frames(analysis), large_frame.large_frame(analysis)
    figure = charts.trend(analysis)
    svg = look.svg_text(figure)
    sheet = marked.contact_sheet(analysis, pictures, large)
    files: dict[str, bytes] = {
        "readings.csv": _utf8(tables.readings_csv(analysis)),
        "pins.csv": _utf8(tables.pins_csv(analysis)),
        "findings.json": _utf8(tables.json_text(tables.findings_dict(analysis))),
        "trend.png": look.png_bytes(figure),
        "trend.svg": _utf8(svg),
        "report.html": _utf8(report.page(analysis, report.drawn(analysis, svg))),
    }
    if sheet is not None:
        files["marked.png"] = look.png_bytes(sheet, dpi=marked.SHEET_DPI)
    heat = heat_picture.heat_picture(analysis)
    if heat is not None:
        files["heat.png"] = look.png_bytes(heat)
    kept = views.views_of(analysis)
    if kept:
        files["views.npz"] = views.views_bytes(kept)
    return put(out, files, RESULTS)


def write_comparison(history: Sequence[Comparison], out: Path) -> list[Path]:
    """Write compare.csv, compare.json, compare.png and compare.html into `out`, as `write_results` does.

    `history` holds each later session against the first, in order; the picture shows the latest.
    """
    from hotspot.tell import compare_page, look, tables

    files = {
        "compare.csv": _utf8(tables.compare_csv(history)),
        "compare.json": _utf8(tables.json_text(tables.history_dict(history))),
        "compare.png": look.png_bytes(compare_page.chart(history[-1])),
        "compare.html": _utf8(compare_page.page(history)),
    }
    return put(out, files, COMPARISON)


def write_trend(figure: Figure, out: Path, name: str = "trend") -> list[Path]:
    """Write a redrawn chart as `name`.png and `name`.svg into `out`, as `write_results` does; other files stay."""
    from hotspot.tell import look

    files = {f"{name}.png": look.png_bytes(figure), f"{name}.svg": _utf8(look.svg_text(figure))}
    return put(out, files, tuple(files))


def put(out: Path, files: Mapping[str, bytes], ours: tuple[str, ...]) -> list[Path]:
    """Move `files` into `out` all together; those of `ours` that were not made this time go.

    If a move fails, those before it are undone. Raises InputError.
    """
    out = Path(out)
    fresh = not out.exists()
    try:
        out.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".writing-", dir=out))
    except OSError as error:
        _leave_nothing(out, fresh)
        raise _cannot(out, error) from error
    try:
        for name, content in files.items():
            (aside / name).write_bytes(content)
        (aside / "before").mkdir()
        _exchange(out, aside, [name for name in ours if name in files or (out / name).exists()])
    except OSError as error:
        raise _cannot(out, error) from error
    finally:
        shutil.rmtree(aside, ignore_errors=True)
        _leave_nothing(out, fresh)
    return [out / name for name in ours if name in files]


def _leave_nothing(out: Path, fresh: bool) -> None:
    """A folder that was made for this and holds nothing goes again."""
    if fresh and out.is_dir() and not any(out.iterdir()):
        out.rmdir()


def _exchange(out: Path, aside: Path, names: list[str]) -> None:
    """New files in, old ones into aside/before; back again on the first failure."""
    moved: list[tuple[Path, Path]] = []
    try:
        for name in names:
            if (out / name).is_dir():
                raise IsADirectoryError(f"{name} is a folder")
            for source, target in ((out / name, aside / "before" / name), (aside / name, out / name)):
                if source.exists():
                    os.replace(source, target)
                    moved.append((source, target))
    except OSError:
        for source, target in reversed(moved):
            os.replace(target, source)
        raise


def _cannot(out: Path, error: OSError) -> Exception:
    why = error.strerror or str(error)
    return refuse(out, "", f"the results cannot be written there ({why})", "Choose another folder with --out.")


def _utf8(text: str) -> bytes:
    """UTF-8; halves of characters from broken file names are written as their escapes."""
    return text.encode("utf-8", "backslashreplace")
