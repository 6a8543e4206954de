"""The only code that knows the order: read -> locate -> extract -> reason, for one session and for two."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hotspot.poses import Motion
from hotspot.records import Analysis, Comparison, Extracted, Frame, PinMap, Recording, Results, StageSpan, Stamp
from hotspot.session import Session
from hotspot.version import __version__

if TYPE_CHECKING:
    from hotspot.locate import Steady
    from hotspot.placing import Placing
    from hotspot.read.stages_found import LaidStages
    from hotspot.records import Snapshot

Progress = Callable[[int, int], None]
SHOWN_FRAMES = 60
SAMPLE_FRAMES = 12


def analyse(session: Session, progress: Progress | None = None) -> Analysis:
    """One session from its frames (or its logger's table) to the findings.

    `progress` is called with (frames done, frames in all). Raises hotspot.errors.InputError where the input
    cannot be used.
    """
    return _analyse_table(session) if is_table(session) else _analyse_frames(session, progress)


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


def budget_of(session: Session, pin: str, at_s: float, progress: Progress | None = None) -> Any:
    """The uncertainty of the reading of `pin` nearest to `at_s`, term by term (`ReadingBudget` of
    hotspot.extract.reading_budget). Raises InputError for a logger's table and for a pin without a reading.
    """
    from hotspot.errors import refuse

    budget = None if is_table(session) else analyse(session, progress).budget
    if budget is None:
        found = "the session is a logger's table, whose uncertainty is its noise and camera.accuracy_k"
        raise refuse(session.folder, "frames.reading", found, "Name a session of frames.")
    try:
        return budget.at(pin, at_s)
    except KeyError:
        names = ", ".join(budget.series.pin_map.names)
        raise refuse("command line", "--pin", f"no reading of a pin {pin!r}", f"The pins are {names}.") from None


def to_place(session: Session, on: str | None = None) -> Placing:
    """The frame to place pins on (`on`, a frame's name or path; None: the clearest) and what there is to start from.

    Raises InputError for a logger's table and for a frame that the session does not have.
    """
    from hotspot import locate
    from hotspot.errors import refuse
    from hotspot.read import open_recording

    if is_table(session):
        raise refuse(session.folder, "frames.reading", "a logger's table has no picture", "Name its pins in columns.")
    recording = open_recording(session)
    by_name = {stamp.file: stamp.index for stamp in recording.stamps}
    wanted = on if on is None or on in by_name else Path(on).name
    if wanted is not None and wanted not in by_name:
        names = list(by_name)
        mend = f"Name one of its {len(names)} frames, {names[0]} to {names[-1]}."
        raise refuse("command line", "--on", f"no frame is called {on!r}", mend)
    sample = {frame.index: frame for frame in Sample(recording)}
    missing = {by_name[name] for name in (wanted, session.connector.on) if name in by_name} - sample.keys()
    sample |= {frame.index: frame for frame in recording.frames(sorted(missing))} if missing else {}
    if wanted is not None and by_name[wanted] not in sample:
        raise refuse("command line", "--on", f"{wanted} cannot be read", "Name another frame.")
    return locate.laid_out(session, [sample[index] for index in sorted(sample)], wanted)


def placed_by(folder: Path, places: Path) -> tuple[Session, PinMap]:
    """The session of `folder` with the file `places` in place of its pins.toml, and its pins on `connector.on`.

    Raises InputError where the file does not fit the session: a pin without a place, a frame that is not there.
    """
    from hotspot import locate
    from hotspot.errors import refuse
    from hotspot.read import open_recording
    from hotspot.read.session_file import load_with, parsed

    session = load_with(folder, places)
    without = [pin.name for pin in session.pin if pin.x is None]
    if without or not (parsed(places) or {}).get("pin"):
        found = f"pins without x and y: {', '.join(without)}" if without else "holds no [[pin]]"
        raise refuse(places, "pin", found, "Place every pin on the page and save it again.")
    recording, on = open_recording(session), session.connector.on
    numbers = {stamp.file: stamp.index for stamp in recording.stamps}
    if on is not None and on not in numbers:
        mend = "Save it from the page of this session, or name one of its frames."
        raise refuse(places, "connector.on", f"the session has no frame called {on!r}", mend)
    frame = next(iter(recording.frames(None if on is None else [numbers[on]])), None)
    if frame is None:
        raise refuse(places, "connector.on", f"{on} cannot be read", "Place the pins on another frame.")
    pin_map = locate.place(session, [frame])
    beyond = [said for said in pin_map.notices if said.code == "pins_beyond_picture"]
    if beyond:
        names = ", ".join(beyond[0].values["pins"])
        found = f"outside the picture of {frame.shape[1]} x {frame.shape[0]} pixels: {names}"
        raise refuse(places, "pin", found, "Place them on the page and save it again.")
    return session, pin_map


def is_table(session: Session) -> bool:
    """True for a logger's CSV: said so, or a mapping of columns to pins is given."""
    return session.frames.reading == "table" or (session.frames.reading is None and session.frames.columns is not None)


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


def _analyse_frames(session: Session, progress: Progress | None) -> Analysis:
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
    stages, extracted = _felt(session, laid, extracted)
    stage_of = {index: span.name for span in stages.spans for index in span.frames}
    findings = reason.judge(session, extracted.readings, stages.spans, pin_map, pictures=extracted.rise_pictures)
    notices = (*recording.notices, *(log.notices if log else ()), *stages.notices, *pin_map.notices)
    return _analysis(
        session,
        extracted,
        stages,
        findings,
        {
            "notices": (*notices, *motion.notices, *extracted.notices, *findings.notices),
            "inputs": {**sheet_inputs(session), **recording.inputs, **(log.inputs if log else {})},
            "settings": {
                "clock": recording.clock,
                "reading": recording.reading,
                "started": _started(recording.stamps),
                **recording.settings,
            },
            "pin_map": pin_map,
            "slides": tuple(replace(slide, stage=stage_of.get(slide.index, "")) for slide in slides),
        },
    )


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
    motion = steady.again(recording.frames).motion(pin_map)
    pin_map = locate.on_first(session, pin_map, motion, recording.stamps)
    return read(counted(recording, progress), motion, pin_map), motion, pin_map


def _analyse_table(session: Session) -> Analysis:
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
    stages, extracted = _felt(session, laid, replace(extracted, readings=marked(extracted.readings)))
    findings = reason.judge(session, extracted.readings, stages.spans, None)
    notices = (*logged.notices, *(log.notices if log else ()), *stages.notices)
    return _analysis(
        session,
        extracted,
        stages,
        findings,
        {
            "notices": (*notices, *extracted.notices, *findings.notices),
            "inputs": {**sheet_inputs(session), **logged.inputs, **(log.inputs if log else {})},
            "settings": {"clock": logged.source, "reading": "table", "started": _started(logged.stamps)},
        },
    )


def _felt(session: Session, laid: LaidStages, extracted: Extracted) -> tuple[LaidStages, Extracted]:
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


def _analysis(
    session: Session,
    extracted: Extracted,
    stages: LaidStages,
    findings: Any,
    rest: dict[str, Any],
) -> Analysis:
    stated = {"stages": stages.origin, "session": session.model_dump(mode="json"), **_placed_in(session)}
    return Analysis(
        session=session,
        readings=extracted.readings,
        ambient=extracted.ambient,
        stages=stages.spans,
        findings=findings,
        notices=rest["notices"],
        inputs=rest["inputs"],
        settings=stated | rest["settings"] | dict(findings.settings),
        version=__version__,
        pin_map=rest.get("pin_map"),
        snapshots=extracted.snapshots,
        budget=extracted.budget,
        slides=rest.get("slides", ()),
    )


def _placed_in(session: Session) -> dict[str, str]:
    """That pins.toml stands in for blocks of session.toml, where it does."""
    return {"places": "pins.toml"} if (session.folder / "pins.toml").is_file() else {}


def _started(stamps: Sequence[Stamp]) -> str | None:
    """Clock time of the first frame in ISO form, where there is one."""
    return stamps[0].clock.isoformat() if stamps and stamps[0].clock else None


def sheet_inputs(session: Session) -> dict[str, str]:
    """SHA-256 of the session's own files, where they exist."""
    from hotspot.read.fingerprint import sha256_of

    paths = (session.folder / name for name in ("session.toml", "pins.toml"))
    return {path.name: sha256_of(path) for path in paths if path.is_file()}


class Sample(Sequence[Frame]):
    """The first good frame, then some spread evenly over the test up to the last good one.

    Pins that are placed need the first one only, and a video would be decoded once more for the others: those are
    read when they are asked for.
    """

    def __init__(self, recording: Recording) -> None:
        self._recording = recording

    def __len__(self) -> int:
        return len(self._all)

    def __bool__(self) -> bool:
        return self._first is not None

    def __getitem__(self, place):
        return self._first if place == 0 and self._first is not None else self._all[place]

    @cached_property
    def _first(self) -> Frame | None:
        return next(iter(self._recording.frames()), None)

    @cached_property
    def _all(self) -> list[Frame]:
        if self._first is None:
            return []
        last = len(self._recording.stamps) - 1
        wanted = {round(k * last / (SAMPLE_FRAMES - 1)) for k in range(SAMPLE_FRAMES)}
        return [self._first, *self._recording.frames(k for k in wanted if k > self._first.index)]


def counted(recording: Recording, progress: Progress | None) -> Iterator[Frame]:
    """The frames of a recording, telling `progress` how far it is."""
    total = len(recording.stamps)
    for frame in recording.frames():
        if progress:
            progress(frame.index + 1, total)
        yield frame


def shown_frames(recording: Recording, stages: Iterable[StageSpan]) -> dict[int, str]:
    """Number -> stage of the frames kept for showing: first, middle and last of each stage, at most sixty."""
    kept: dict[int, str] = {}
    for span in stages:
        if span.frames:
            for place in (0, len(span.frames) // 2, len(span.frames) - 1):
                kept[span.frames[place]] = span.name
    if not kept and recording.stamps:
        kept[recording.stamps[0].index] = ""
    return dict(sorted(kept.items())[:SHOWN_FRAMES])
