"""A session's results as they lie on disk -> records.Results, for comparing and for charts."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hotspot.columns import PINS, READINGS, Column
from hotspot.errors import InputError, Problem, refuse
from hotspot.read.find import find_files, names_of
from hotspot.read.fingerprint import sha256_of
from hotspot.read.views import load_views
from hotspot.records import Results
from hotspot.session import Session

if TYPE_CHECKING:
    import pandas as pd

_MEND = "Name a folder that hotspot run wrote (session/results, or its --out), or run it on the session again."
BESIDE = ("session.toml", "pins.toml", "log.csv", "scale.csv", "frames.csv")
FILES = ("readings.csv", "pins.csv", "findings.json")
LATER = frozenset({"common_c", "drift_c", "last_clipped"})
"""Columns that earlier versions did not write: not known where they are missing."""


def load_results(folder: Path) -> Results:
    """`folder` is a results folder, or a session folder with `results` in it.

    Text columns stay text (a pin may be called `01` or `NA`), empty numbers are NaN. Temperatures are °C.
    The name is that of the session's folder. Raises InputError with every file or column that is missing.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise refuse(folder, "", "there is no such folder", _MEND)
    if not (folder / FILES[2]).is_file() and (folder / "results").is_dir():
        folder = folder / "results"
    lacking = [Problem(str(folder / name), "", "is missing", _MEND) for name in FILES if not (folder / name).is_file()]
    if lacking:
        raise InputError(lacking)
    named = folder.resolve()
    return Results(
        name=named.parent.name if named.name == "results" else named.name,
        readings=_table(folder / FILES[0], READINGS),
        pins=_table(folder / FILES[1], PINS),
        findings=_findings(folder / FILES[2]),
        views=load_views(folder / "views.npz"),
    )


def true_results(folder: Path, version: str) -> Results | None:
    """The results in the session folder `folder`, if they are still what an analysis would give.

    None where there are none or only damaged ones, where another `version` made them, or where a file that they
    were made from has changed or gone, or one has come.
    """
    try:
        results = load_results(folder / "results")
        known = {entry["name"]: entry["sha256"] for entry in results.findings["inputs"]}
        session = Session.model_validate(results.findings["settings"]["session"], strict=False)
        now = _inputs_now(session.model_copy(update={"folder": folder}), known)
        same = now.keys() == known.keys() and all(sha256_of(now[name]) == known[name] for name in known)
    except (InputError, ValueError, KeyError, TypeError, OSError):
        return None
    return results if same and results.findings.get("version") == version else None


def _inputs_now(session: Session, known: Iterable[str]) -> dict[str, Path]:
    """Name -> path of the files that an analysis would read today, as far as names can tell. Raises InputError."""
    paths = {name: session.folder / name for name in (*BESIDE, *known)}
    found = {name: path for name, path in paths.items() if path.is_file()}
    if session.frames.reading != "table" and session.frames.columns is None:
        files = find_files(session)
        found.update(zip(names_of(files, session.folder), files, strict=True))
    return found


def _table(path: Path, columns: tuple[Column, ...]) -> pd.DataFrame:
    """A CSV with the columns of the contract in their kinds; further columns are kept as text."""
    import pandas as pd

    try:
        table = pd.read_csv(path, dtype=str, keep_default_na=False, na_filter=False, encoding="utf-8")
    except (ValueError, OSError) as error:
        raise refuse(path, "", f"cannot be read as a table ({_short(error)})", _MEND) from None
    lacking = [column.name for column in columns if column.name not in table and column.name not in LATER]
    if len(table.columns) == 1 and ";" in table.columns[0]:
        found = "its columns stand between semicolons: another program saved it anew"
        raise refuse(path, "", found, "Run hotspot run on the session again, and open copies of its tables.")
    if lacking:
        raise InputError([Problem(str(path), name, "there is no such column", _MEND) for name in lacking])
    for column in columns:
        if column.name not in table:
            table[column.name] = "" if column.kind == "text" else math.nan
        elif column.kind != "text":
            table[column.name] = _numbers(path, table[column.name], column)
    return table


def _numbers(path: Path, cells: pd.Series, column: Column) -> pd.Series:
    import pandas as pd

    filled = cells.str.strip()
    try:
        values = filled.mask(filled == "").astype(float)
    except (ValueError, TypeError):
        bad = filled[(filled != "") & pd.to_numeric(filled, errors="coerce").isna()]
        place = int(bad.index[0]) if len(bad) else 0
        found = f'row {place + 1} holds "{filled.iloc[place]}", a number is wanted'
        raise refuse(path, column.name, found, _MEND) from None
    return values.astype("int64") if column.kind == "int" and values.notna().all() else values


def _findings(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, OSError) as error:
        raise refuse(path, "", f"cannot be read ({_short(error)})", _MEND) from None
    if not isinstance(found, dict):
        raise refuse(path, "", "holds no findings", _MEND)
    return found


def _short(error: Exception) -> str:
    return " ".join(str(error).split())[:80]
