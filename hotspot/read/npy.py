"""NumPy stacks: .npy mapped from the disk, .npz read as a stream. Pickled content is never opened.

A stack is (frames, rows, columns), one frame (rows, columns), coloured ones uint8 (..., 3 or 4). An archive may
hold its times in an array named time_s, times or time.
"""

from __future__ import annotations

import io
import math
import struct
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np

from hotspot.read.carrier import Broken, CarrierTrouble, Contents, File, Options, Raw, check_count, check_size, short
from hotspot.records import Statement

# What zipfile meets in a damaged archive: damage, an unknown method, a claimed password, bad names, an early end.
_ZIP_FAULTS = (
    zipfile.BadZipFile,
    zlib.error,
    NotImplementedError,
    RuntimeError,
    UnicodeDecodeError,
    OSError,
    EOFError,
    struct.error,
)
_TIMES = ("time_s", "times_s", "times", "time")


def list_frames(file: File, options: Options) -> Contents:
    """Frames that the header promises, also where the file ends early. Raises CarrierTrouble with the reason."""
    with _opened(file) as (stream, size, archive):
        layout = _Layout.read(stream, options.size)
        times = _times(archive, layout.count) if archive else None
        harmed = archive is not None and not _sound(archive, stream.name)
    missing = layout.count - layout.whole(size)
    notices = []
    if missing > 0 and layout.stacked:
        values = {"file": options.name, "found": layout.count - missing, "told": layout.count}
        notices.append(Statement("frames_missing", values))
    elif harmed:
        what = "the archive's checksum is wrong: some of its values are damaged"
        notices.append(Statement("carrier_trouble", {"file": options.name, "what": what}))
    return Contents(layout.count, times, tuple(notices), many=layout.stacked)


def decode(file: File, wanted: Sequence[int], options: Options) -> Iterator[tuple[int, Raw | Broken]]:
    """Grey (rows, columns) as stored, or a ColourImage; only the wanted frames are read."""
    try:
        with _opened(file) as (stream, size, _):
            layout = _Layout.read(stream, options.size)
            for number in wanted:
                yield number, layout.frame(stream, number, size)
    except CarrierTrouble as trouble:
        for number in wanted:
            yield number, Broken(str(trouble))


@dataclass(frozen=True, slots=True)
class _Layout:
    """How the frames lie in the data after the header."""

    dtype: np.dtype
    shape: tuple[int, ...]
    fortran: bool
    start: int
    frame_shape: tuple[int, ...]
    stacked: bool

    @classmethod
    def read(cls, stream: BinaryIO, size: tuple[int, int] | None) -> _Layout:
        shape, fortran, dtype = _header(stream)
        if dtype.hasobject:
            raise CarrierTrouble("it holds pickled objects, which are never opened; save plain numbers")
        if dtype.kind not in "iuf":
            raise CarrierTrouble(f"it holds {dtype}, no plain numbers")
        coloured = dtype == np.uint8 and len(shape) in (3, 4) and shape[-1] in (3, 4)
        frame_shape = shape[-3:] if coloured else shape[-2:]
        stacked = len(shape) == len(frame_shape) + 1
        if not coloured and size is not None and len(shape) in (1, 2) and shape[-1] == size[0] * size[1]:
            frame_shape, stacked = (size[1], size[0]), len(shape) == 2
        elif len(shape) not in (len(frame_shape), len(frame_shape) + 1) or len(frame_shape) < 2:
            raise CarrierTrouble(f"an array of shape {shape} is neither a frame nor a stack of frames")
        check_size(*frame_shape[:2])
        if stacked and shape[0] == 0:
            raise CarrierTrouble("it is a stack of no frames")
        check_count(shape[0] if stacked else 1)
        return cls(dtype, shape, fortran, stream.tell(), frame_shape, stacked)

    @property
    def count(self) -> int:
        return self.shape[0] if self.stacked else 1

    @property
    def frame_bytes(self) -> int:
        return math.prod(self.frame_shape) * self.dtype.itemsize

    def whole(self, size: int) -> int:
        """How many frames lie wholly within a file of `size` bytes."""
        if self.fortran and self.stacked:  # every frame reaches to the end of the data
            return self.count if size >= self.start + self.count * self.frame_bytes else 0
        return min(self.count, max(0, size - self.start) // self.frame_bytes)

    def frame(self, stream: BinaryIO, number: int, size: int) -> Raw | Broken:
        from hotspot.read.colour_image import ColourImage

        if number >= self.whole(size):
            return Broken("the file ends before or within this frame")
        try:
            array = self._array(stream, number)
        except (ValueError, *_ZIP_FAULTS) as error:
            return Broken(f"it cannot be read ({short(error)})")
        return ColourImage.from_rgb(array) if array.ndim == 3 else array

    def _array(self, stream: BinaryIO, number: int) -> np.ndarray:
        if self.fortran:
            return self._array_fortran(stream, number)
        stream.seek(self.start + number * self.frame_bytes)
        data = stream.read(self.frame_bytes)
        if len(data) < self.frame_bytes:
            raise EOFError("it ends within this frame")
        return np.frombuffer(data, self.dtype).reshape(self.frame_shape)

    def _array_fortran(self, stream: BinaryIO, number: int) -> np.ndarray:
        """Columns first: the values of one frame lie `count` apart; mapped where it is a plain file."""
        if isinstance(stream, io.BufferedReader):
            whole = np.memmap(stream.name, self.dtype, "r", self.start, self.shape, "F")
        else:
            stream.seek(self.start)
            data = stream.read(self.count * self.frame_bytes)
            whole = np.frombuffer(data, self.dtype).reshape(self.shape, order="F")
        return np.array(whole[number] if self.stacked else whole).reshape(self.frame_shape)


def _header(stream: BinaryIO) -> tuple[tuple[int, ...], bool, np.dtype]:
    try:
        version = np.lib.format.read_magic(stream)
        reader = np.lib.format.read_array_header_1_0
        if version[0] >= 2:
            reader = np.lib.format.read_array_header_2_0
        return reader(stream)
    except Exception as error:  # NumPy reads the header as source text: damage ends in whatever parsing raises
        raise CarrierTrouble(f"it is no NumPy array ({short(error)})") from error


@contextmanager
def _opened(file: File):
    """(stream at the header of the array of frames, its size in bytes, the archive or None)."""
    raw = file if isinstance(file, io.BytesIO) else file.open("rb")
    try:
        raw.seek(0)
        head = raw.read(4)
        raw.seek(0)
        if head != b"PK\x03\x04":
            end = raw.seek(0, io.SEEK_END)
            raw.seek(0)
            yield raw, end, None
            return
        try:
            archive = zipfile.ZipFile(raw)
            name = _member(archive)
            stream = archive.open(name)
        except _ZIP_FAULTS as error:
            raise CarrierTrouble(f"it is no whole .npz ({short(error)})") from error
        with archive, stream:
            yield stream, archive.getinfo(name).file_size, archive
    finally:
        if raw is not file:
            raw.close()


def _member(archive: zipfile.ZipFile) -> str:
    """Name of the one array of frames. Raises CarrierTrouble where there is none or no telling which."""
    names = [name for name in archive.namelist() if name.endswith(".npy")]
    frames = [name for name in names if name[:-4] not in _TIMES]
    if "frames.npy" in frames:
        frames = ["frames.npy"]
    if len(frames) != 1:
        held = ", ".join(name[:-4] for name in names[:5]) or "nothing"
        raise CarrierTrouble(f"an .npz must hold one array of frames, or one named frames; it holds {held}")
    return frames[0]


def _sound(archive: zipfile.ZipFile, name: str) -> bool:
    """Whether the whole member gives the checksum that the archive states (it is read in blocks)."""
    try:
        with archive.open(name) as stream:
            while stream.read(1 << 20):
                pass
    except _ZIP_FAULTS:
        return False
    return True


def _times(archive: zipfile.ZipFile, count: int) -> tuple[float, ...] | None:
    for name in _TIMES:
        if f"{name}.npy" in archive.namelist():
            try:
                times = np.load(io.BytesIO(archive.read(f"{name}.npy")), allow_pickle=False)
            except (ValueError, *_ZIP_FAULTS):
                return None
            good = times.shape == (count,) and times.dtype.kind in "iuf" and np.isfinite(times).all()
            return tuple(float(t) for t in times) if good else None
    return None
