"""One session, from its files to the findings."""

from __future__ import annotations

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
    return analyse_table(session) if is_table(session) else analyse_frames(session, progress)
