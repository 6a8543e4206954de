"""A session of thermal frames: read -> locate -> extract -> reason."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from hotspot.pipeline.assembled import assembled, sheet_inputs, started, with_felt_stages
from hotspot.pipeline.sample import Progress, Sample, counted, shown_frames
from hotspot.poses import Motion
from hotspot.records import Analysis, Extracted, Frame, PinMap, Recording
from hotspot.session import Session

if TYPE_CHECKING:
    from hotspot.locate import Steady
    from hotspot.records import Snapshot


def analyse_frames(session: Session, progress: Progress | None) -> Analysis:
    """The session's frames -> everything about it; `progress` as for analyse(). Raises InputError for unfit ones."""
    from hotspot import locate, reason
    from hotspot.extract import RiseWatch, measure
    from hotspot.read import open_recording
    from hotspot.read.log import read_log
    from hotspot.read.shown import slide_frames, slides_over
    from hotspot.read.stages_found import lay_stages
    from hotspot.reason.rise import marked

    recording = open_recording(session)
    log = read_log(session, recording.stamps[0].clock)
    laid = lay_stages(session, recording.stamps, log)
    ambient = None if log is None else log.ambient()
    if progress:
        progress(0, len(recording.stamps))
    first_look = Sample(recording)
    steady = locate.steadying(first_look)
    pin_map = locate.place(session, locate.laid_back(steady, first_look))

    slides: list[Snapshot] = []

    def read(frames: Iterable[Frame], motion: Motion, pins: PinMap) -> Extracted:
        watch = RiseWatch(session, pins, laid.spans, recording.stamps, ambient, motion.poses)
        frames = watch.over(locate.posed(frames, motion))
        frames = slides_over(frames, slide_frames(recording.stamps, laid.spans), slides)
        found = measure(session, frames, pins, laid.spans, ambient, shown_frames(recording, laid.spans))
        return replace(found, readings=marked(found.readings), rise_pictures=watch.pictures())

    extracted, motion, pin_map = _steadied(session, recording, steady, pin_map, read, progress)
    stages, extracted = with_felt_stages(session, laid, extracted)
    stage_of = {index: span.name for span in stages.spans for index in span.frames}
    findings = reason.judge(session, extracted.readings, stages.spans, pin_map, pictures=extracted.rise_pictures)
    notices = (*recording.notices, *(log.notices if log else ()), *stages.notices, *pin_map.notices)
    return assembled(
        session,
        extracted,
        stages,
        findings,
        {
            "notices": (*notices, *motion.notices, *extracted.notices, *findings.notices),
            "inputs": {**sheet_inputs(session), **recording.inputs, **(log.inputs if log else {})},
            "settings": _how_read(recording),
            "pin_map": pin_map,
            "slides": tuple(replace(slide, stage=stage_of.get(slide.index, "")) for slide in slides),
        },
    )


def _how_read(recording: Recording) -> dict[str, Any]:
    told = {"clock": recording.clock, "reading": recording.reading, "started": started(recording.stamps)}
    return {**told, **recording.settings}


def _steadied(
    session: Session,
    recording: Recording,
    steady: Steady,
    pin_map: PinMap,
    read: Callable[[Iterable[Frame], Motion, PinMap], Extracted],
    progress: Progress | None,
) -> tuple[Extracted, Motion, PinMap]:
    """What `read` gives where the pins are followed. One pass where nothing moved; else one to see how the frames lie
    and one to read them, and a first one in vain where nothing had moved in the sample only.
    """
    from hotspot import locate

    frames = steady.over(counted(recording, progress))
    if steady.looks_still:
        still = steady.if_still(recording.stamps)
        extracted = read(frames, still, pin_map)
        motion = steady.motion(pin_map)
        if motion.still and bool(motion.poses) == bool(still.poses):
            return extracted, motion, pin_map
    else:
        for _ in frames:
            pass
    motion = steady.again(lambda chosen: counted(recording, progress, chosen)).motion(pin_map)
    pin_map = locate.on_first(session, pin_map, motion, recording.stamps)
    return read(counted(recording, progress), motion, pin_map), motion, pin_map
