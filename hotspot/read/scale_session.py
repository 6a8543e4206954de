"""`hotspot scale`: the frames of a session looked at for their printed ends, and the table of them that is there."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePath

from hotspot.errors import refuse
from hotspot.read.recording import FileRecording
from hotspot.read.scale import DEFAULT_TABLE, DOUBTFUL, HOW, READ, TYPED, Ends, Scale, how_of
from hotspot.read.scale_alphabet import Alphabet
from hotspot.read.scale_names import by_names
from hotspot.read.scale_reading import Look, Looker, frames_to_type, read_ends
from hotspot.records import ScaleRow, Statement
from hotspot.session import Session

_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
Progress = Callable[[int, int], None]


@dataclass(slots=True)
class ScaleReading:
    """All frames of a session, looked at. `table` is the name of its scale table."""

    session: Session
    looks: list[Look]
    looker: Looker
    table: str
    said: list[Statement] = field(default_factory=list)

    @property
    def files(self) -> list[str]:
        """Names of the frames in time order."""
        return [look.file for look in self.looks]

    def to_type(self) -> list[ScaleRow]:
        """Two or three frames that a person should type, with their prints."""
        chosen = frames_to_type(self.looks, self.looker.zones)
        return [ScaleRow(self.looks[k].file, "", "", TYPED, prints=self.looks[k].zones) for k in chosen]

    def read(self, typed: Mapping[str, tuple[str, str]]) -> list[ScaleRow]:
        """A row per frame in time order, by typed frames (file -> texts of low and high); `said` grows."""
        places = {file: k for k, file in enumerate(self.files)}
        by_place = {places[file]: both for file, both in typed.items()}
        ends, alphabet = read_ends(self.looks, self.looker.zones, by_place)
        self.said.extend(_said(alphabet, self.looks, by_place))
        rows = []
        for k, (look, end) in enumerate(zip(self.looks, ends, strict=True)):
            how = TYPED if k in by_place else DOUBTFUL if end.why else READ
            why = "" if k in by_place else end.why
            rows.append(ScaleRow(look.file, end.low, end.high, how, why, look.zones))
        return rows


def look_at_scale(session: Session, progress: Progress | None = None) -> ScaleReading:
    """Every frame of a session, around the ends of its colour bar.

    Raises InputError where the frames are no colour pictures, or hold no bar to find the numbers by.
    """
    recording = FileRecording(session, Scale(Ends(0.0, 1.0)))
    if recording.colours is None:
        found = f"the frames hold {recording.reading}, not colours"
        raise refuse(
            "session.toml", "frames.reading", found, "Such frames need no scale: hotspot run reads them as is."
        )
    bar = recording.colours.bar
    if bar is None:
        mend = "Give its box as scale.bar: the ends are looked for beside it."
        raise refuse("session.toml", "scale.bar", "no colour bar found in the picture", mend)
    looker, looks = None, []
    for frame in recording.frames():
        looker = looker or Looker(bar, frame.shape)
        looks.append(looker.look(frame.index, frame.file, frame.pixels.picture(), frame.grey()))
        if progress:
            progress(frame.index + 1, len(recording.stamps))
    notices = [said for said in recording.notices if said.code == "frame_set_aside"]
    return ScaleReading(session, looks, looker, session.scale.table or DEFAULT_TABLE, notices)


def _said(alphabet: Alphabet | None, looks: Sequence[Look], typed: Mapping[int, tuple[str, str]]) -> list[Statement]:
    if alphabet is None:
        return [Statement("scale_typed_nowhere")]
    digits = sorted({label for label in alphabet.labels if label.isdigit()})
    said = [Statement("scale_camera_learned", {"digits": " ".join(digits)})]
    lacking = [digit for digit in "0123456789" if digit not in digits]
    if lacking and alphabet.strangers:
        said.append(Statement("scale_digits_missing", {"digits": lacking}))
    for frame, end in alphabet.unaligned:
        values = {"file": looks[frame].file, "text": typed[frame][end]}
        said.append(Statement("scale_typed_unlike_print", values, (looks[frame].index,)))
    for each in alphabet.conflicts:
        digits = [label for label in each if label.isdigit()]  # what stands beside the number is none
        several = len(digits) > 1
        said.append(Statement("scale_typed_contradict" if several else "scale_typed_in_part", {"digits": digits}))
    names = dict(alphabet.renamed)
    for frame, both in sorted(typed.items()):
        for text in both:
            if (scene := by_names(text, names)) != text:
                values = {"file": looks[frame].file, "text": text, "scene": scene}
                said.append(Statement("scale_typed_renamed", values, (looks[frame].index,)))
    said += [Statement("scale_typed_refuted", {"typed": one, "scene": other}) for one, other in alphabet.refuted]
    said += [Statement("scale_typed_twofold", {"digit": digit}) for digit in alphabet.twofold]
    return said


def typed_of(given: Sequence[str], files: Sequence[str]) -> dict[str, tuple[str, str]]:
    """`FRAME=LOW:HIGH` -> file -> texts of the ends, with a point for a comma. FRAME may lack its suffix.

    Raises InputError for a frame that is not there or not one, and for ends that are no numbers, low below high.
    """
    typed = {}
    for text in given:
        name, _, ends = text.rpartition("=")
        low, _, high = ends.partition(":")
        low, high = (each.strip().replace("−", "-") for each in (low, high))
        mend = "Write FRAME=LOW:HIGH as printed, such as IMG_0042.jpg=21.4:86.0."
        if not name or not all(_NUMBER.fullmatch(each) for each in (low, high)):
            raise refuse("command line", "--typed", f"found {text!r}", mend)
        low, high = (each.replace(",", ".").removeprefix("+") for each in (low, high))
        if float(low) >= float(high):
            raise refuse("command line", "--typed", f"{text!r}: {low} is not below {high}", "Give the lower one first.")
        typed[_file_of(name, files)] = (low, high)
    return typed


def _file_of(name: str, files: Sequence[str]) -> str:
    if name in files:
        return name
    alike = [file for file in files if PurePath(file).name == name or PurePath(file).stem == name]
    if len(alike) == 1:
        return alike[0]
    found = f"{name!r} is {'no frame' if not alike else f'the name of {len(alike)} frames'} of this test"
    raise refuse("command line", "--typed", found, f"Name one of them, such as {files[0]}.")


def typed_rows(path: Path) -> dict[str, tuple[str, str]]:
    """The rows of a scale table that a person typed: all that are neither read nor doubtful. Empty without a table.

    Raises InputError for a table that cannot be read, lacks a column, or says `how` in another word.
    """
    if not path.is_file():
        return {}
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise refuse(path, "", "is not text in UTF-8", "Save it as CSV, UTF-8.") from error
    delimiter = ";" if lines and ";" in lines[0] else ","
    reader = csv.DictReader([lines[0].lower(), *lines[1:]] if lines else [], delimiter=delimiter)
    lacking = {"file", "low", "high"}.difference(name.strip() for name in reader.fieldnames or ())
    if lacking and lines:
        found = f"no column {' and no column '.join(sorted(lacking))}"
        raise refuse(path, "line 1", found, "It is no scale table: head it file,low,high, or put it away.")
    typed = {}
    for row in reader:
        cells = {(key or "").strip(): (value or "").strip() for key, value in row.items() if isinstance(value, str)}
        low, high = (cells.get(end, "").replace(",", ".") for end in ("low", "high"))
        whole = cells.get("file") and _NUMBER.fullmatch(low) and _NUMBER.fullmatch(high)
        if how_of(cells.get(HOW, ""), path, reader.line_num) == TYPED and whole:
            typed[cells["file"]] = (low, high)
    return typed
