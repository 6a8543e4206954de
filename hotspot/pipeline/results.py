"""Anything that can be compared, as the results that lie on disk."""

from __future__ import annotations

from pathlib import Path

from hotspot.pipeline.analysis import analyse
from hotspot.pipeline.sample import Progress
from hotspot.records import Analysis, Results
from hotspot.session import Session
from hotspot.version import __version__


def as_results(what: str | Path | Session | Analysis | Results, progress: Progress | None = None) -> Results:
    """Anything that compare() takes -> Results, analysing only what has no results of this version yet."""
    if isinstance(what, Results):
        return what
    if isinstance(what, str | Path):
        stored = _stored(Path(what))
        if stored is not None:
            return stored
        what = Session.load(what)
    if isinstance(what, Session):
        what = analyse(what, progress)
    return _results_of(what)


def _results_of(analysis: Analysis) -> Results:
    """A fresh analysis in the form in which results lie on disk."""
    from hotspot.tell.tables import findings_dict
    from hotspot.tell.views import views_of

    return Results(
        name=analysis.session.folder.name,
        readings=analysis.readings,
        pins=analysis.findings.pin_table.assign(reasons=""),
        findings=findings_dict(analysis),
        views=views_of(analysis),
    )


def _stored(folder: Path) -> Results | None:
    """Results on disk, if `folder` is a results folder or a session folder whose results are still true."""
    from hotspot.read.results import load_results, true_results

    if (folder / "findings.json").is_file():
        return load_results(folder)
    return true_results(folder, __version__)
