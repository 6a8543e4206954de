"""One session, from its files to the findings."""

from __future__ import annotations

from dataclasses import replace

from hotspot.pipeline.of_frames import analyse_frames
from hotspot.pipeline.of_table import analyse_table, is_table
from hotspot.pipeline.sample import Progress
from hotspot.records import Analysis
from hotspot.session import Session


def analyse(session: Session, progress: Progress | None = None) -> Analysis:
    """One session from its frames (or its logger's table) to the findings.

    `progress` is called with (frames done, frames in all). Raises hotspot.errors.InputError where the input
    cannot be used.
    """
    return with_papers(analyse_table(session) if is_table(session) else analyse_frames(session, progress))


def with_papers(analysis: Analysis) -> Analysis:
    """The notes and photographs of the session folder added, with their fingerprints and what is to be said of them."""
    from hotspot.read.papers import read_papers

    papers = read_papers(analysis.session)
    return replace(
        analysis,
        papers=papers,
        notices=(*analysis.notices, *papers.notices),
        inputs={**analysis.inputs, **papers.inputs},
    )
