"""What passes between the rooms.

Arrays are (row, column); tables say `x_px`, `y_px` (x to the right, y down, (0, 0) the centre of the top
left pixel). Temperatures are °C, differences K, times seconds of the session, currents A.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from hotspot.poses import Pose

if TYPE_CHECKING:
    import pandas as pd

    from hotspot.session import Region, Session, Stage
    from hotspot.views import Overlay, View


@dataclass(frozen=True, slots=True)
class Statement:
    """Something to say, without its words: a `code` of the catalogue in `hotspot/tell/catalogue` and its values.

    Values are plain numbers (°C, K, s, A), strings or lists of strings; words and units are put on by `tell`.
    `frames` are the numbers of the frames that it speaks of.
    """

    code: str
    values: Mapping[str, Any] = field(default_factory=dict)
    frames: tuple[int, ...] = ()


class Bound(float):
    """A temperature [°C], a difference [K] or a margin that is known from one side only: `side` is `high` where the
    true one is at least this, `low` where it is at most this. Whatever is worked out from it is a plain float again."""

    __slots__ = ("side",)
    side: str

    def __new__(cls, value: float, side: str) -> Bound:
        made = super().__new__(cls, value)
        made.side = side
        return made


def bounded(value: float | None, side: str) -> float | None:
    """`value` as a Bound where `side` is `high` or `low`, the end of the scale that clips it; else as it is."""
    return Bound(value, side) if value is not None and side in ("high", "low") else value


class Pixels(Protocol):
    """The content of one frame. Implementations work out only the pixels that are asked for."""

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """For n pixels: apparent temperature [°C] (n,), NaN where there is none; doubt bits (n,) uint32;
        standard uncertainty [K] of reading the carrier (n,): quantisation, colour; 0 where there is none.
        """
        ...

    def picture(self) -> np.ndarray | None:
        """The frame as the person saw it, uint8 (rows, columns, 3) RGB; None for carriers without colours."""
        ...

    def grey(self, rows: np.ndarray | None = None, columns: np.ndarray | None = None) -> np.ndarray:
        """A quick picture for laying frames over each other, float32: apparent °C without corrections, doubts or
        care for what is printed in it. Arrays of rows and columns, or nothing for the whole frame.
        """
        ...


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame. `index` counts from 0 in time order over all listed frames, also those set aside.

    `pose` is where it lies against the first good one; None where that was not looked for.
    """

    index: int
    file: str
    time_s: float
    pixels: Pixels
    doubts: int = 0
    pose: Pose | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.pixels.shape

    def celsius(self) -> np.ndarray:
        """The whole frame as float64 (rows, columns) apparent °C, NaN where there is none."""
        rows, columns = np.indices(self.shape)
        return self.pixels.at(rows.ravel(), columns.ravel())[0].reshape(self.shape)

    def grey(self) -> np.ndarray:
        """The whole frame as float32 (rows, columns) for laying frames over each other, see `Pixels.grey`."""
        return self.pixels.grey()


@dataclass(frozen=True, slots=True)
class Stamp:
    """A frame's place in the test: number, name, session time, clock time (where there is one), doubts."""

    index: int
    file: str
    time_s: float
    clock: datetime.datetime | None = None
    doubts: int = 0


@dataclass(frozen=True, slots=True)
class StageSpan:
    """A stage laid on the session's time: [start_s, end_s). `frames` are the numbers of the frames in it.

    `end_s` may lie after the last frame (the stage's planned end). `stage` is what the session says of it;
    None for the one nameless stage of a session without stages.
    """

    name: str
    start_s: float
    end_s: float
    frames: tuple[int, ...]
    stage: Stage | None = None


class Recording(Protocol):
    """An opened set of frames, in time order, one in memory at a time."""

    stamps: tuple[Stamp, ...]
    clock: str  # source of time: every_s, frames.csv, own time stamps, names, exif or file date
    reading: str
    notices: list[Statement]  # grows while frames are read
    settings: dict[str, Any]  # how colours and counts were read
    inputs: dict[str, str]  # name -> SHA-256; grows while frames are read

    def frames(self, indices: Iterable[int] | None = None) -> Iterator[Frame]:
        """The frames (or those of the given numbers) in time order. A broken one is left out and noticed once."""
        ...


@dataclass(frozen=True, slots=True)
class PinMap:
    """Where the pins are on the first good frame. Arrays are (n,) in the order of numbering, in pixels."""

    names: tuple[str, ...]
    x_px: np.ndarray
    y_px: np.ndarray
    radius_px: np.ndarray
    placed: tuple[str, ...]  # `given` or `found`, per pin
    regions: tuple[Region, ...] = ()
    confidence: float | None = None  # 0-1 for pins that were found; None when all were given
    notices: tuple[Statement, ...] = ()
    outline_px: np.ndarray | None = None  # (k, 2) x, y of the corners of the face, where its edges were found
    covered: tuple[str, ...] = ()  # pins that something lies over: they have no reading
    hidden_px: np.ndarray | None = None  # bool (rows, columns): what that thing covers on the first good frame


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A frame kept for showing. `celsius` is float32 (rows, columns); `picture` RGB uint8 or None."""

    index: int
    file: str
    time_s: float
    stage: str
    celsius: np.ndarray
    picture: np.ndarray | None = None
    pose: Pose | None = None


@dataclass(frozen=True, slots=True)
class RisePictures:
    """Per stage (s): what the connector's patch rose by, on a raster laid along the rows of the n pins.

    `rise_k`, `slope_k_s` and `clipped` are (s, rows, columns): mean over the last minute less the cold frames [K],
    K/s over the last three minutes, and whether the scale clips. `cold_k` (rows, columns): cold frames over the
    air; None where the air is not known. `pin_row`, `pin_column`, `pin_radius` (n,) are in cells. `frames` is how
    many frames each rise rests on. `regions`: rise (s,) of each region by its name. `air`: seen, told or not known.
    """

    rise_k: np.ndarray
    slope_k_s: np.ndarray
    clipped: np.ndarray
    cold_k: np.ndarray | None
    frames: tuple[int, ...]
    pin_row: np.ndarray
    pin_column: np.ndarray
    pin_radius: np.ndarray
    cell_px: float
    regions: Mapping[str, np.ndarray] = field(default_factory=dict)
    air: str = "not known"


@dataclass(frozen=True, slots=True)
class Extracted:
    """What the frames gave: the readings table, the ambient over time, frames kept, things to say."""

    readings: pd.DataFrame
    ambient: pd.DataFrame  # time_s, ambient_c; no rows where it is not known
    snapshots: tuple[Snapshot, ...] = ()
    notices: tuple[Statement, ...] = ()
    rise_pictures: RisePictures | None = None
    budget: Any = None  # hotspot.extract.reading_budget.Budget; None for a logger's table
    settings: Mapping[str, Any] = field(default_factory=dict)  # how it was worked out


@dataclass(frozen=True, slots=True)
class PinFinding:
    """What is said of one pin. x, y, radius in pixels on the first good frame, None for a table."""

    name: str
    verdict: str  # normal, watch, hot or unknown
    reasons: tuple[Statement, ...]
    x_px: float | None = None
    y_px: float | None = None
    radius_px: float | None = None
    placed: str | None = None


@dataclass(frozen=True, slots=True)
class Findings:
    """The answer for the whole session."""

    answer: Statement
    verdict: str
    hottest_pin: str | None
    source_pins: tuple[str, ...]
    not_judged: tuple[dict[str, Any], ...]  # pin, reason (Statement), amps_needed (A or None)
    pins: tuple[PinFinding, ...]
    next: tuple[Statement, ...]
    pin_table: pd.DataFrame  # the columns of pins.csv; `reasons` holds tuples of Statement
    notices: tuple[Statement, ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)  # how it was worked out
    limits: tuple[Statement, ...] = ()  # how near it came to each known limit, the nearest first


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph made small for a report: its file's name, a JPEG, width and height in pixels."""

    name: str
    jpeg: bytes
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Papers:
    """What a person put beside the frames: notes.md as text, photographs, and what is to be said of them."""

    notes: str = ""
    photos: tuple[Photo, ...] = ()
    notices: tuple[Statement, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)  # name -> SHA-256


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything about one session, ready to be told."""

    session: Session
    readings: pd.DataFrame
    ambient: pd.DataFrame
    stages: tuple[StageSpan, ...]
    findings: Findings
    notices: tuple[Statement, ...]
    inputs: dict[str, str]
    settings: dict[str, Any]
    version: str
    pin_map: PinMap | None = None
    snapshots: tuple[Snapshot, ...] = ()
    budget: Any = None
    slides: tuple[Snapshot, ...] = ()  # to look through: evenly chosen, `celsius` quick, see `Pixels.grey`
    papers: Papers = field(default_factory=Papers)


@dataclass(frozen=True, slots=True)
class Results:
    """A session's results as they lie on disk, for comparing: tables in °C and the parsed findings.json."""

    name: str
    readings: pd.DataFrame
    pins: pd.DataFrame
    findings: dict[str, Any]
    views: tuple[View, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sessions on one footing. `table` has the columns of compare.csv; `basis` there holds Statements."""

    before: Results
    after: Results
    table: pd.DataFrame
    answer: str  # fixed, better, no change, worse or cannot tell
    sentence: Statement
    smallest_change_k: float | None
    basis: tuple[Statement, ...]
    notices: tuple[Statement, ...]
    inputs: dict[str, str]
    version: str
    overlays: tuple[Overlay, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """A first look at a folder of frames. `bar_box` is x, y, width, height in pixels; `step_s` the usual time
    between frames; `values` the lowest and highest value of the first frame, as stored."""

    files: str
    kind: str
    count: int
    rows: int
    columns: int
    reading: str
    clock: str
    step_s: float | None
    span_s: float
    unreadable: int = 0
    bar_box: tuple[float, ...] | None = None
    bar_map: str | None = None
    values: tuple[float, float] | None = None
    headings: tuple[str, ...] = ()  # of a logger's table, that of the times first
    ends_move: bool = False  # the numbers printed at the ends of the bar differ from frame to frame
    other_sizes: tuple[tuple[int, int], ...] = ()  # columns and rows of frames that are not like the first one
    filmed: bool = False  # the first frame is plainly a photo of a screen


@dataclass(frozen=True, slots=True)
class ScaleRow:
    """The printed ends of one frame's colour scale, as text in the camera's unit: `read`, `typed` or `doubtful`.

    `why` says what is doubtful (a code, empty if nothing); `prints` are luma (rows, columns) around the cold and the
    hot end. Text may hold a ? for a character that is not known, or be empty.
    """

    file: str
    low: str
    high: str
    how: str
    why: str = ""
    prints: tuple[np.ndarray, np.ndarray] | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class LoadStep:
    """A stage to run: its name, how long [s], pin -> current [A] (None where not known), and why."""

    name: str
    lasts_s: float
    amps: dict[str, float] | None
    why: Statement


@dataclass(frozen=True, slots=True)
class Plan:
    """A load test before it is run: stages in order, what to measure and photograph, when to stop, what stays open."""

    lasts_s: float  # the cold frames included
    steps: tuple[LoadStep, ...]
    measure: tuple[Statement, ...]
    photograph: tuple[Statement, ...]
    stop_c: float
    stop: Statement
    gaps: tuple[Statement, ...]
