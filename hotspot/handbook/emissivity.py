"""The rows of emissivity.toml, each with its source from sources.toml."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import NamedTuple


class Source(NamedTuple):
    """Where a number was printed; `read` is page, quoted or memory: how far the source itself was seen."""

    title: str
    edition: str
    read: str


class SurfaceRow(NamedTuple):
    """Emissivity `low`-`high` of a surface; `band` is `total` or wavelengths in µm; `celsius` None if not said."""

    name: str
    low: float
    high: float
    band: str
    metal: bool
    celsius: tuple[float, float] | None
    source: Source


def _read(name: str) -> dict:
    return tomllib.loads(files("hotspot.handbook").joinpath(name).read_text(encoding="utf-8"))


@cache
def sources() -> dict[str, Source]:
    """Key -> source, over sources.toml."""
    return {key: Source(row["title"], row["edition"], row["read"]) for key, row in _read("sources.toml").items()}


@cache
def surfaces() -> tuple[SurfaceRow, ...]:
    """All rows, in the order of the file. Raises KeyError for a row whose source is not listed."""
    return tuple(
        SurfaceRow(
            row["name"],
            float(row["low"]),
            float(row["high"]),
            row["band"],
            row["metal"],
            tuple(row["celsius"]) if "celsius" in row else None,
            sources()[row["source"]],
        )
        for row in _read("emissivity.toml")["surface"]
    )


def surfaces_like(words: str) -> tuple[SurfaceRow, ...]:
    """Rows whose name holds every word of `words`, whatever the case; empty where none does."""
    wanted = words.lower().split()
    return tuple(row for row in surfaces() if all(word in row.name.lower() for word in wanted))
