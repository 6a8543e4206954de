"""A session that is a logger's table: no pictures, no pins to find."""

from __future__ import annotations

from dataclasses import replace

from hotspot.pipeline.assembled import assembled, sheet_inputs, started, with_felt_stages
from hotspot.records import Analysis
from hotspot.session import Session


def is_table(session: Session) -> bool:
    """True for a logger's CSV: said so, or a mapping of columns to pins is given."""
    return session.frames.reading == "table" or (session.frames.reading is None and session.frames.columns is not None)


def analyse_table(session: Session) -> Analysis:
    """The logger's table -> everything about the session. Raises InputError where the table cannot be used."""
    from hotspot import reason
    from hotspot.extract.logged import complete
    from hotspot.read.log import read_log
    from hotspot.read.stages_found import lay_stages
    from hotspot.read.table import open_table
    from hotspot.reason.rise import marked

    logged = open_table(session)
    log = read_log(session, logged.stamps[0].clock)
    laid = lay_stages(session, logged.stamps, log)
    extracted = complete(session, logged.readings, laid.spans, None if log is None else log.ambient())
    stages, extracted = with_felt_stages(session, laid, replace(extracted, readings=marked(extracted.readings)))
    findings = reason.judge(session, extracted.readings, stages.spans, None)
    notices = (*logged.notices, *(log.notices if log else ()), *stages.notices)
    return assembled(
        session,
        extracted,
        stages,
        findings,
        {
            "notices": (*notices, *extracted.notices, *findings.notices),
            "inputs": {**sheet_inputs(session), **logged.inputs, **(log.inputs if log else {})},
            "settings": {"clock": logged.source, "reading": "table", "started": started(logged.stamps)},
        },
    )
