"""What the rooms gave, put together: stages laid on the readings, and everything about the session in one record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from hotspot.records import Analysis, Extracted, Stamp
from hotspot.session import Session
from hotspot.version import __version__

if TYPE_CHECKING:
    from hotspot.read.stages_found import LaidStages


def with_felt_stages(session: Session, laid: LaidStages, extracted: Extracted) -> tuple[LaidStages, Extracted]:
    """Stages inferred from the readings where nobody told any, and what was measured laid on them; else what the
    readings say against those that were told.
    """
    from hotspot.reason.stage_clock import clock_notices
    from hotspot.reason.stages_felt import felt

    found = felt(extracted.readings, laid.spans[0]) if laid.origin == "whole run" else None
    if found is None:
        said = (*laid.notices, *clock_notices(session, laid.spans, extracted.readings))
        return laid._replace(notices=said), extracted
    laid = laid._replace(spans=found[0], origin="inferred from the readings", notices=(*laid.notices, found[1]))
    stage_of = {index: span.name for span in laid.spans for index in span.frames}
    readings = extracted.readings.assign(stage=extracted.readings["frame"].map(stage_of).fillna(""))
    shots = tuple(replace(shot, stage=stage_of.get(shot.index, "")) for shot in extracted.snapshots)
    return laid, replace(extracted, readings=readings, snapshots=shots, rise_pictures=None)  # those: of the whole run


def assembled(
    session: Session,
    extracted: Extracted,
    stages: LaidStages,
    findings: Any,
    rest: dict[str, Any],
) -> Analysis:
    """One record of all of it. `rest` holds what tables and frames give alike or one of them only: notices, inputs,
    settings; pin_map and slides where there are frames.
    """
    stated = {"stages": stages.origin, "session": session.model_dump(mode="json"), **_placed_in(session)}
    return Analysis(
        session=session,
        readings=extracted.readings,
        ambient=extracted.ambient,
        stages=stages.spans,
        findings=findings,
        notices=rest["notices"],
        inputs=rest["inputs"],
        settings=stated | rest["settings"] | dict(extracted.settings) | dict(findings.settings),
        version=__version__,
        pin_map=rest.get("pin_map"),
        snapshots=extracted.snapshots,
        budget=extracted.budget,
        slides=rest.get("slides", ()),
    )


def _placed_in(session: Session) -> dict[str, str]:
    """That pins.toml stands in for blocks of session.toml, where it does."""
    return {"places": "pins.toml"} if (session.folder / "pins.toml").is_file() else {}


def started(stamps: Sequence[Stamp]) -> str | None:
    """Clock time of the first frame in ISO form, where there is one."""
    return stamps[0].clock.isoformat() if stamps and stamps[0].clock else None


def sheet_inputs(session: Session) -> dict[str, str]:
    """SHA-256 of the session's own files, where they exist."""
    from hotspot.read.fingerprint import sha256_of

    paths = (session.folder / name for name in ("session.toml", "pins.toml"))
    return {path.name: sha256_of(path) for path in paths if path.is_file()}
