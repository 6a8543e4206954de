"""The numbers of criteria.toml, and the survey table that is quoted beside verdicts."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any, Literal


@cache
def table() -> dict[str, dict[str, Any]]:
    """All sections of criteria.toml; each has its `source`."""
    return tomllib.loads(files("hotspot.handbook").joinpath("criteria.toml").read_text(encoding="utf-8"))


def section(name: str) -> dict[str, Any]:
    """One section of criteria.toml. Raises KeyError for a name that is not there."""
    return table()[name]


def survey_action(rise_k: float, against: Literal["like", "air"]) -> str | None:
    """Words of the survey table (ANSI/NETA ATS-2003, Table 100.18) for a rise [K]; None below its first row.

    `against`: `like` a similar component under similar load, `air` ambient air. The table prints whole
    degrees and leaves gaps between rows; the rise is rounded half up, which closes them.
    """
    rows = section("survey")
    whole = math.floor(rise_k + 0.5)
    action = None
    for low, words in zip(rows[f"{against}_low_k"], rows[f"{against}_action"], strict=True):
        if whole >= low:
            action = words
    return action
