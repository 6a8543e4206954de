"""When a picture was taken, by the EXIF header it carries. Only the header is read, never the picture.

Tags of the Exif standard (CIPA DC-008, 4.6.5, "Tags relating to date and time"): DateTimeOriginal 0x9003,
OffsetTimeOriginal 0x9011, SubSecTimeOriginal 0x9291, in the Exif IFD 0x8769. Numbers from memory; the tests
hold them to Pillow's table of tags.
"""

from __future__ import annotations

import datetime
import re
import warnings
from dataclasses import dataclass
from pathlib import Path

from hotspot.read.moments import believable

_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp"})
_EXIF_IFD, _ORIGINAL, _OFFSET, _SUBSEC = 0x8769, 0x9003, 0x9011, 0x9291


@dataclass(frozen=True)
class Taken:
    """The camera's local time, and its offset from universal time where it says so."""

    local: datetime.datetime
    offset: datetime.timedelta | None = None

    @property
    def universal(self) -> datetime.datetime:
        """Universal time; the local time where the offset is not known."""
        return self.local - (self.offset or datetime.timedelta())


def taken(path: Path) -> Taken | None:
    """DateTimeOriginal with its sub-seconds and offset; None where there is none or the file is no picture."""
    if path.suffix.lower() not in _SUFFIXES:
        return None
    tags = _exif_tags(path)
    try:
        local = believable(datetime.datetime.strptime(_text(tags.get(_ORIGINAL)), "%Y:%m:%d %H:%M:%S"))
    except ValueError:
        return None
    if local is None:
        return None
    fraction = _text(tags.get(_SUBSEC))
    if fraction.isdigit():
        local += datetime.timedelta(microseconds=int(fraction[:6].ljust(6, "0")))
    zone = re.fullmatch(r"([+-])(\d\d):(\d\d)", _text(tags.get(_OFFSET)))
    if zone is None:
        return Taken(local)
    offset = datetime.timedelta(hours=int(zone[2]), minutes=int(zone[3]))
    return Taken(local, -offset if zone[1] == "-" else offset)


def _exif_tags(path: Path) -> dict:
    """The Exif IFD of a picture, empty where it cannot be read."""
    from PIL import Image

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a broken header is a missing time here, not a message for people
        try:
            with Image.open(path) as picture:
                # not picture.getexif(): for a PNG without EXIF that decodes the whole picture to look behind it
                return dict(Image.Image.getexif(picture).get_ifd(_EXIF_IFD))
        except Exception:  # noqa: BLE001 - Pillow raises many kinds for broken files
            return {}


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("ascii", errors="replace")
    return value.strip("\0 ") if isinstance(value, str) else ""
