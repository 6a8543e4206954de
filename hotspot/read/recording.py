"""A session's frames as one stream in time order, one in memory at a time."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.doubts import BIT
from hotspot.errors import refuse
from hotspot.read.carrier import Broken, Carrier, CarrierTrouble, Options, Raw, carrier_of
from hotspot.read.counts import law_of, settle_reading
from hotspot.read.find import find_files, names_of
from hotspot.read.fingerprint import sha256_of
from hotspot.read.pixels import ArrayPixels
from hotspot.read.text_grid import TextGrid
from hotspot.records import Frame, Pixels, Stamp, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    from hotspot.calibration import Calibration
    from hotspot.read.colours import ColourReader
    from hotspot.read.scale import Scale
    from hotspot.read.scale_moves import EndsWatch
    from hotspot.read.screen import ScreenReader

LOOKED_AT, FILM_START = 12, 240
"""Frames looked at for what is printed on all of them; in a film among the first ones, which must all be decoded."""

LARGEST_FILE = 1 << 30
"""Bytes; a file of one frame that is larger is set aside: it would have to be held whole."""


@dataclass(frozen=True, slots=True)
class _Source:
    """One file: its name, path and carrier, how many frames it holds, or why it cannot be read."""

    name: str
    path: Path
    carrier: Carrier | None
    options: Options
    count: int = 1
    many: bool = False
    times_s: tuple[float, ...] | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a frame is: which file, which number in it."""

    source: _Source
    number: int

    @property
    def name(self) -> str:
        return f"{self.source.name}#{self.number}" if self.source.many else self.source.name


class FileRecording:
    """The Recording of hotspot.records, over any of the carriers."""

    def __init__(self, session: Session, scale: Scale | None = None) -> None:
        """Lists the files, settles the clock, and finds the first good frame. Raises InputError.

        `scale` stands in for the ends of the colour scale that the session gives.
        """
        self._scale = scale
        self.colours: ColourReader | ScreenReader | None = None
        self.notices: list[Statement] = []
        self.inputs: dict[str, str] = {}
        self.settings: dict[str, Any] = {}
        self._session = session
        self._aside: set[int] = set()
        self._no_size = ""
        sources = [self._listed(name, path) for name, path in self._files()]
        if self._no_size and all(source.why for source in sources):
            raise refuse(sources[0].path, "frames.size", self._no_size, _SIZE)
        self._lay_on_clock([_Place(source, number) for source in sources for number in range(source.count)])
        self._shape: tuple[int, int] | None = None
        self._to_pixels: Callable[[Raw, str], Pixels] | None = None
        self._open_first()

    def frames(self, indices: Iterable[int] | None = None) -> Iterator[Frame]:
        """The frames, or those of the given numbers, in time order. A broken one is left out and noticed once."""
        wanted = range(len(self.stamps)) if indices is None else sorted(set(indices))
        for index, raw in self._decoded([i for i in wanted if 0 <= i < len(self.stamps)]):
            pixels = self._pixels(index, raw)
            if pixels is not None:
                stamp = self.stamps[index]
                yield Frame(index, stamp.file, stamp.time_s, pixels, stamp.doubts)

    def _files(self) -> list[tuple[str, Path]]:
        files = find_files(self._session)
        return list(zip(names_of(files, self._session.folder), files, strict=True))

    def _listed(self, name: str, path: Path) -> _Source:
        from hotspot.read.csv_grid import NeedsSize

        size = self._session.frames.size
        options = Options(name, (size[0], size[1]) if size else None)
        try:
            carrier = carrier_of(path)
            contents = carrier.list_frames(path, options)
        except CarrierTrouble as trouble:
            if isinstance(trouble, NeedsSize):
                self._no_size = self._no_size or str(trouble)
            return _Source(name, path, None, options, why=str(trouble))
        self.notices.extend(contents.notices)
        if contents.many:
            self.inputs[name] = sha256_of(path)
        return _Source(name, path, carrier, options, contents.count, contents.many, contents.times_s)

    def _lay_on_clock(self, places: list[_Place]) -> None:
        from hotspot.read.clock import stamp_frames

        own = [p.source.times_s[p.number] if p.source.times_s else np.nan for p in places]
        clocked = stamp_frames(
            self._session,
            [place.name for place in places],
            [place.source.path for place in places],
            own if np.isfinite(own).any() else None,
        )
        self.stamps: tuple[Stamp, ...] = clocked.stamps
        self.clock = clocked.source
        self.notices.extend(clocked.notices)
        self.inputs.update(clocked.inputs)
        self._places = [places[position] for position in clocked.order]

    def _open_first(self) -> None:
        """Settle on the first good frame what all frames are: their size, their reading, their scale."""
        reasons: list[str] = []
        for index, raw in self._decoded(range(len(self._places))):
            if not isinstance(raw, Broken):
                if why := self._odd_one(index, raw):
                    self._set_aside(index, why)
                    continue
                why = self._settled(index, raw)
                if not why:
                    return
                raw = Broken(why)
            self._set_aside(index, raw.why)
            reasons.append(raw.why)
            if self._session.frames.filmed and len(reasons) >= SCREENS_TRIED:
                break
        first = self._places[0].source.path
        if self._session.frames.filmed:
            found = f"no bar to read by on the screen in {len(reasons)} frames: {reasons[0]}"
            raise refuse(_SHEET, "frames.screen", found, _SHOW_SCREEN)
        found = f"none of {len(reasons)} frames can be read: {reasons[0]}"
        raise refuse(first, "", found, "Check that the files were copied whole, and that frames.files is right.")

    def _odd_one(self, index: int, raw: Raw) -> str:
        """Why a frame is not the one to measure the others by: a cut CSV is a smaller frame to look at, so a
        frame whose size two later ones of other files agree against is not the first good one.
        """
        later = [k for k in (index + 1, index + 2) if k < len(self._places) and not self._places[k].source.many]
        sizes = [tuple(other.shape) for _, other in self._decoded(later) if not isinstance(other, Broken)]
        if len(sizes) < 2 or sizes[0] != sizes[1] or sizes[0] == tuple(raw.shape):
            return ""
        (rows, columns), (others_rows, others_columns) = raw.shape, sizes[0]
        return f"it has {columns} x {rows} pixels, the frames after it {others_columns} x {others_rows}"

    def _settled(self, index: int, first: Raw) -> str:
        """`_settle`, or why a photo of a screen cannot be the frame to settle on."""
        if not self._session.frames.filmed:
            self._settle(index, first)
            return ""
        try:
            self._settle(index, first)
        except CarrierTrouble as trouble:
            return str(trouble)
        return ""

    def _settle(self, index: int, first: Raw) -> None:
        path = self._places[index].source.path
        self._shape = tuple(first.shape)
        if isinstance(first, TextGrid):
            first = np.asarray(first)
        self.reading = settle_reading(self._session, first, path)
        if self.reading != "colours":
            if self._session.frames.filmed:
                raise refuse(_SHEET, "frames.screen", f"a screen, but frames of {self.reading}", _NO_SCREEN)
            law = law_of(self._session, self.reading, first)
            dtype = first.dtype
            if law.calibration is not None:
                self._note_calibration(law.calibration)
            self._to_pixels = lambda raw, _: ArrayPixels(_as_numbers(raw, dtype), law)
            return
        names = [stamp.file for stamp in self.stamps]
        reader = self.colours = _open_colours(self._session, _as_colours(first), names, self._scale)
        self._aside.update(k for k, name in enumerate(names) if name in reader.scale.doubtful)  # said once for all
        watch = self._ends_watch(reader)
        reader.learn_printed(self._spread() if watch is None else watch.over(self._spread()))
        if watch is not None:
            _tell_moves(watch, reader)
        self.notices.extend(reader.notices)
        self.inputs.update(reader.inputs)
        self.settings.update(reader.describe())
        self._to_pixels = lambda raw, file: reader.pixels(_as_colours(raw), file)

    def _note_calibration(self, made: Calibration) -> None:
        """Say what must be known of the calibration file, and which one it was."""
        from hotspot.read.calibration_file import about, day_of

        file = self._session.frames.calibration
        self.notices.extend(about(self._session, made, day_of(self._session, self.stamps[0].clock)))
        self.inputs[file] = sha256_of(self._session.folder / file)
        kept = {"kind": made.kind, "date": made.date.isoformat() if made.date else None}
        self.settings["calibration"] = {"file": file, **kept, "level_k": made.level_k, "sha256": self.inputs[file]}

    def _ends_watch(self, reader: ColourReader | ScreenReader) -> EndsWatch | None:
        """What looks whether the printed ends stay, where one fixed pair is to be good for all frames."""
        from hotspot.read.scale_moves import EndsWatch

        one_pair = self._scale is None and reader.scale.fixed is not None and not reader.scale.rows
        if not one_pair or self._session.frames.filmed or reader.bar is None:
            return None
        return EndsWatch(reader.bar, self._shape)

    def _spread(self) -> Iterator[Any]:
        """Coloured frames of the first one's size, spread over the recording (over the start of a film)."""
        film = self._places[0].source.many
        last = min(len(self._places), FILM_START if film else len(self._places)) - 1
        wanted = sorted({round(k * last / (LOOKED_AT - 1)) for k in range(LOOKED_AT)})
        for _, raw in self._decoded(wanted):
            if not isinstance(raw, Broken) and tuple(raw.shape) == self._shape:
                try:
                    yield _as_colours(raw)
                except CarrierTrouble:
                    continue

    def _pixels(self, index: int, raw: Raw | Broken) -> Pixels | None:
        """What the frame holds, or None: set aside, with the reason noticed the first time."""
        if isinstance(raw, Broken):
            return self._set_aside(index, raw.why)
        if tuple(raw.shape) != self._shape:
            (rows, columns), (rows_1, columns_1) = raw.shape, self._shape
            why = f"it has {columns} x {rows} pixels, the first good frame {columns_1} x {rows_1}"
            return self._set_aside(index, why)
        try:
            return self._to_pixels(raw, self.stamps[index].file)
        except CarrierTrouble as trouble:
            return self._set_aside(index, str(trouble))

    def _set_aside(self, index: int, why: str) -> None:
        if index not in self._aside:
            self._aside.add(index)
            values = {"file": self.stamps[index].file, "why": why}
            self.notices.append(Statement("frame_set_aside", values, (index,)))

    def _decoded(self, indices: Sequence[int]) -> Iterator[tuple[int, Raw | Broken]]:
        """(number, content) of each asked frame, in order; one forward pass through each file."""
        for run in _runs(indices, self._places):
            source = self._places[run[0]].source
            numbers = [self._places[index].number for index in run]
            by_number = dict(zip(numbers, run, strict=True))
            for number, raw in self._contents(source, numbers):
                yield by_number[number], raw

    def _contents(self, source: _Source, numbers: list[int]) -> Iterator[tuple[int, Raw | Broken]]:
        if source.many:
            yield from source.carrier.decode(source.path, numbers, source.options)
            return
        data, why = self._whole(source)
        if why:
            yield 0, Broken(why)
        else:
            yield from source.carrier.decode(data, numbers, source.options)

    def _whole(self, source: _Source) -> tuple[io.BytesIO, str]:
        """A one-frame file, read once: its bytes are what is hashed and what is decoded."""
        try:
            if source.path.stat().st_size > LARGEST_FILE:
                return io.BytesIO(), f"it is larger than {LARGEST_FILE >> 20} MB"
            data = source.path.read_bytes()
        except OSError as error:
            return io.BytesIO(), source.why or f"it cannot be read ({error.strerror})"
        if source.name not in self.inputs:
            self.inputs[source.name] = hashlib.sha256(data).hexdigest()
        return io.BytesIO(data), source.why


_SHEET = "session.toml"
_NO_SCREEN = "Take frames.screen out, or the other reading: only colours are read off a screen."
_SHOW_SCREEN = (
    "Show the whole screen with its bar. The border of a screen as dark as its rim is not found: write its corners, "
    "screen = [x, y, x, y, x, y, x, y] under [frames] (top left, top right, bottom right, bottom left, in pixels of "
    "the photo), and if its bar is not found then, bar = [x, y, width, height] under [scale], in pixels of the "
    "straightened screen."
)
SCREENS_TRIED = 12
"""Photos of a screen looked at for one that shows a bar; a search costs seconds."""
_ENDS_MOVE = (
    "one low and high are given for all frames, but the numbers printed at the ends of the bar differ from frame to "
    "frame: the camera fits its scale to each"
)
_READ_ENDS = (
    "Read the ends of every frame into scale.csv: hotspot scale FOLDER. (If the scale did stay as it was, a scale.csv "
    "with these ends in every row says so.)"
)
_SIZE = 'State frames.size = [width, height]; if the columns are pins of a logger, state frames.reading = "table".'


def open_recording(session: Session) -> FileRecording:
    """The frames of a session, ready to be read. Raises InputError where there is nothing to read."""
    return FileRecording(session)


def _runs(indices: Iterable[int], places: list[_Place]) -> Iterator[list[int]]:
    """Neighbours in time that lie in one file in rising number: each run is one forward pass."""
    run: list[int] = []
    for index in indices:
        before = places[run[-1]] if run else None
        if before and not (places[index].source is before.source and places[index].number > before.number):
            yield run
            run = []
        run.append(index)
    if run:
        yield run


def _as_numbers(raw: Raw, first: np.dtype) -> np.ndarray | TextGrid:
    """The frame's numbers. Raises CarrierTrouble where they are stored otherwise than the first good frame's."""
    if not isinstance(raw, np.ndarray | TextGrid):
        raise CarrierTrouble("it is a coloured picture among frames of numbers")
    same = raw.dtype.kind == first.kind and (first.kind == "f" or raw.dtype.itemsize == first.itemsize)
    if not same:
        raise CarrierTrouble(f"its numbers are {raw.dtype.name}, those of the first good frame {first.name}")
    return raw


def _open_colours(session: Session, first, names: list[str], scale: Scale | None) -> ColourReader | ScreenReader:
    if session.frames.filmed:
        from hotspot.read.screen import open_screen

        return open_screen(session, first, names, scale)
    from hotspot.read.colours import open_scale

    return open_scale(session, first, names, scale)


def _tell_moves(watch: EndsWatch, reader: ColourReader | ScreenReader) -> None:
    """Raises InputError where one fixed pair of ends is clearly wrong; where it may be, all readings are in doubt."""
    moves = watch.moves()
    if moves == "clearly":
        raise refuse(_SHEET, "scale.low", _ENDS_MOVE, _READ_ENDS)
    if moves == "perhaps":
        reader.doubts |= BIT["scale_doubtful"]
        reader.notices.append(Statement("scale_may_move"))


def _as_colours(raw: Raw):
    """The frame as a ColourImage; grey of 8 bits becomes grey RGB. Raises CarrierTrouble for other numbers."""
    from hotspot.read.colour_image import ColourImage

    if not isinstance(raw, np.ndarray | TextGrid):
        return raw
    if raw.dtype != np.uint8:
        raise CarrierTrouble("it holds numbers of more than 8 bits among pictures")
    return ColourImage.from_rgb(raw)
