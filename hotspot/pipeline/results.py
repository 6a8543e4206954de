"""Anything that can be compared, as the results that lie on disk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hotspot.errors import InputError, PinsNotFound
from hotspot.pipeline.analysis import analyse
from hotspot.pipeline.sample import Progress
from hotspot.records import Analysis, Results
from hotspot.session import Session
from hotspot.version import __version__


def as_results(what: str | Path | Session | Analysis | Results, progress: Progress | None = None) -> Results:
    """Anything that compare() takes -> Results, analysing only what has no results of this version yet.

    Raises InputError, which names the folder: there is more than one here.
    """
    if isinstance(what, Results):
        return what
    if isinstance(what, str | Path):
        stored = _stored(Path(what))
        if stored is not None:
            return stored
        what = Session.load(what)
    if isinstance(what, Analysis):
        return _results_of(what)
    try:
        return _results_of(analyse(what, progress))
    except InputError as error:
        raise _in_folder(error, what.folder) from None


def _in_folder(error: InputError, folder: Path) -> InputError:
    """The same with the folder before files that are named alone, and with what places pins that were not found."""
    from hotspot.read.results import BESIDE

    problems = [replace(one, file=str(folder / one.file)) if one.file in BESIDE else one for one in error.problems]
    if isinstance(error, PinsNotFound):
        problems = [replace(one, mend=f"{one.mend} Or on a page:  hotspot place {folder}") for one in problems]
    return InputError(problems)


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
