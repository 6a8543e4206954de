"""Results of a made or logged test, as they would lie on disk, for the tests of comparing."""

from __future__ import annotations

from readings_made import session_of

from hotspot.reason.findings import judge
from hotspot.records import Results


def results_of(readings, spans=(), name="test", digest="a", **keys) -> Results:
    """Judges the readings and keeps what the comparison reads of findings.json."""
    session = session_of(**keys)
    findings = judge(session, readings, tuple(spans), None, lambda *_: None)
    readings = readings.copy()
    for span in spans:
        readings.loc[readings["frame"].isin(span.frames), "stage"] = span.name
    times = readings["time_s"]
    stages = [{"name": s.name, "start_s": s.start_s, "end_s": s.end_s, "frames": len(s.frames)} for s in spans] or [
        {"name": "", "start_s": float(times.min()), "end_s": float(times.max()), "frames": len(times)}
    ]
    return Results(
        name=name,
        readings=readings,
        pins=findings.pin_table,
        findings={
            "pins": [{"name": pin.name, "verdict": pin.verdict} for pin in findings.pins],
            "source_pins": list(findings.source_pins),
            "stages": stages,
            "inputs": [{"name": "log.csv", "sha256": digest}],
            "settings": {"session": session.model_dump(mode="json")},
            "version": "0",
        },
    )
