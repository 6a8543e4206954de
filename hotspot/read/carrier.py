"""What every carrier of frames offers, and which carrier a file is.

A carrier is a module with two functions::

    list_frames(file, options) -> Contents        what is in it, without decoding pixels
    decode(file, wanted, options) -> Iterator     (number within the file, Raw or Broken) for each wanted number

`file` is a path, or the bytes of a file that holds one frame. `wanted` are numbers within the file, rising.
A grey frame is a numeric array (rows, columns) just as it is stored (of a text file a TextGrid, which stands for
one); a coloured one a ColourImage.
`decode` answers for every wanted number, in that order: a frame that cannot be read is a `Broken` with the
reason, never a shorter answer. Only what leaves no frame at all is raised, as `CarrierTrouble`.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TypeAlias

import numpy as np

from hotspot.records import Statement

if TYPE_CHECKING:
    from hotspot.read.colour_image import ColourImage
    from hotspot.read.text_grid import TextGrid

Raw: TypeAlias = "np.ndarray | TextGrid | ColourImage"
"""A grey frame (rows, columns) as it is stored, one whose numbers are still text, or a coloured one."""

MOST_PIXELS = 50_000_000
"""A frame that claims more pixels is not decoded: a damaged or made-up header would fill the memory."""

MOST_FRAMES = 2_000_000
"""Two weeks at more than one frame a second; a file that claims more has a damaged header."""

File: TypeAlias = Path | io.BytesIO


class CarrierTrouble(Exception):
    """A file that cannot be read at all; the text is the reason."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A frame that is there but cannot be used, with the reason."""

    why: str


@dataclass(frozen=True, slots=True)
class Contents:
    """What a file holds: `count` frames, each at `times_s` if the file itself says so; what was noticed."""

    count: int
    times_s: tuple[float, ...] | None = None
    notices: tuple[Statement, ...] = ()
    many: bool = False
    """True for a carrier that can hold many frames, so that even a single one is named name#0."""


@dataclass(frozen=True, slots=True)
class Options:
    """What the session says about how to read: the (width, height) of frames written as one line."""

    name: str
    size: tuple[int, int] | None = None


class Carrier(Protocol):
    """The one signature of every module that SUFFIXES names."""

    def list_frames(self, file: File, options: Options) -> Contents:
        """What is in the file, without decoding it. CarrierTrouble for a file that cannot be read at all."""
        ...

    def decode(self, file: File, wanted: Sequence[int], options: Options) -> Iterator[tuple[int, Raw | Broken]]:
        """The frames of the `wanted` numbers, rising, one at a time; one that cannot be used comes as Broken."""
        ...


SUFFIXES: dict[str, tuple[str, ...]] = {
    "tiff": (".tif", ".tiff"),
    "png": (".png",),
    "picture": (".jpg", ".jpeg"),
    "npy": (".npy", ".npz"),
    "csv_grid": (".csv", ".tsv", ".txt"),
    "video": (".mkv", ".mp4", ".m4v", ".mov"),
}
_BY_SUFFIX = {suffix: kind for kind, suffixes in SUFFIXES.items() for suffix in suffixes}
_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"II*\0", "tiff"),
    (b"MM\0*", "tiff"),
    (b"II+\0", "tiff"),
    (b"MM\0+", "tiff"),
    (b"\x89PNG\r\n\x1a\n", "png"),
    (b"\xff\xd8\xff", "picture"),
    (b"\x93NUMPY", "npy"),
    (b"PK\x03\x04", "npy"),
    (b"\x1aE\xdf\xa3", "video"),
)


def kind_of(path: Path) -> str | None:
    """Name of the carrier by content, else by suffix; None for a file that is neither.

    Raises CarrierTrouble where the file cannot be opened.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(16)
    except OSError as error:
        raise CarrierTrouble(f"it cannot be opened ({error.strerror})") from error
    for magic, kind in _MAGIC:
        if head.startswith(magic):
            return kind
    return "video" if head[4:8] == b"ftyp" else _BY_SUFFIX.get(path.suffix.lower())


def carrier_of(path: Path) -> Carrier:
    """The module that reads `path`. Raises CarrierTrouble for a file that no carrier knows."""
    kind = kind_of(path)
    if kind is None:
        raise CarrierTrouble("it is no kind of file that holds frames")
    return import_module(f"hotspot.read.{kind}")


def check_size(rows: int, columns: int) -> None:
    """Raises CarrierTrouble for a frame without pixels or with more than MOST_PIXELS."""
    if rows < 1 or columns < 1:
        raise CarrierTrouble(f"it has {columns} x {rows} pixels")
    if rows * columns > MOST_PIXELS:
        raise CarrierTrouble(f"it claims {columns} x {rows} pixels, more than {MOST_PIXELS // 1_000_000} million")


def check_count(count: int) -> None:
    """Raises CarrierTrouble for a file that claims more than MOST_FRAMES frames."""
    if count > MOST_FRAMES:
        raise CarrierTrouble(f"it claims {count} frames, more than {MOST_FRAMES // 1_000_000} million")


def short(error: BaseException) -> str:
    """The first line of a library's own words, for the reason of a Broken; addresses in memory say nothing."""
    lines = str(error).strip().splitlines()
    text = re.sub(r"<[^<>]* object at 0x[0-9a-fA-F]+>", "this", lines[0]) if lines else type(error).__name__
    return text[:160]
