"""The only code that knows the order: read -> locate -> extract -> reason, for one session and for several."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from hotspot.pipeline.analysis import analyse
from hotspot.pipeline.results import as_results
from hotspot.records import Analysis, Comparison, Results
from hotspot.session import Session

__all__ = ["analyse", "as_results", "compare", "history"]


def compare(
    before: str | Path | Session | Analysis | Results,
    after: str | Path | Session | Analysis | Results,
    match: Mapping[str, str] | None = None,
) -> Comparison:
    """Two sessions on one footing. Folders may be session folders or results folders; what is not analysed
    yet is analysed. `match` maps names of pins before -> after where they differ.
    """
    from hotspot.reason.before_after import compare as on_one_footing

    return on_one_footing(as_results(before), as_results(after), match)


def history(
    sessions: Sequence[str | Path | Session | Analysis | Results], match: Mapping[str, str] | None = None
) -> list[Comparison]:
    """Each later session against the first, in the order given; `match` as for compare()."""
    first, *later = map(as_results, sessions)
    return [compare(first, results, match) for results in later]
