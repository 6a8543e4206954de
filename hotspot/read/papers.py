"""What lies beside the frames for people: notes.md and the photographs of photos/, made small enough for a report."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hotspot.read.find import PHOTOS
from hotspot.read.fingerprint import sha256_of
from hotspot.records import Papers, Photo, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    from PIL.Image import Image

NOTES = "notes.md"
MOST_NOTES = 40_000
"""Characters of notes.md that go into a report."""
MOST_PHOTOS = 12
MOST_BYTES = 300_000
"""Of all photographs of a report together: with frames and charts it stays within 1.5 MB."""
_MOST_EACH = 90_000
_FORMS = ((1280, 78), (1024, 72), (800, 66), (640, 60), (480, 52), (360, 45), (240, 35))
"""Longest side [px] and JPEG quality, tried in turn until a photograph is small enough."""
_MOST_PIXELS = 200_000_000


def read_papers(session: Session) -> Papers:
    """Notes and photographs of the session folder; both may be absent. What cannot be shown is told, never refused."""
    notes, said, inputs = _notes(session.folder / NOTES)
    photos, about_photos, photo_inputs = _photos(session)
    return Papers(notes, photos, (*said, *about_photos), {**inputs, **photo_inputs})


def _notes(path: Path) -> tuple[str, tuple[Statement, ...], dict[str, str]]:
    if not path.is_file():
        return "", (), {}
    try:
        raw, digest = path.read_bytes(), sha256_of(path)
    except OSError as error:
        return "", (Statement("notes_unread", {"why": error.strerror or str(error)}),), {}
    text = raw.decode("utf-8-sig", errors="replace")
    said = [Statement("notes_odd_characters")] if "\ufffd" in text else []
    if len(text) > MOST_NOTES:
        said.append(Statement("notes_cut", {"most": MOST_NOTES, "length": len(text)}))
    return text[:MOST_NOTES], tuple(said), {path.name: digest}


def _photos(session: Session) -> tuple[tuple[Photo, ...], tuple[Statement, ...], dict[str, str]]:
    folder = session.folder / PHOTOS
    if not folder.is_dir() or (session.frames.files or "").startswith(PHOTOS):  # those are the frames
        return (), (), {}
    paths = sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))
    most_each = min(_MOST_EACH, MOST_BYTES // max(1, min(len(paths), MOST_PHOTOS)))
    photos: list[Photo] = []
    said, inputs = [], {}
    for place, path in enumerate(paths):
        if len(photos) == MOST_PHOTOS:
            said.append(Statement("photos_left_out", {"most": MOST_PHOTOS, "count": len(paths) - place}))
            break
        try:
            inputs[f"{PHOTOS}/{path.name}"] = sha256_of(path)
            photos.append(_photo(path, most_each))
        except _Unshown as why:
            said.append(Statement("photo_set_aside", {"file": path.name, "why": str(why)}))
        except OSError as error:
            said.append(Statement("photo_set_aside", {"file": path.name, "why": error.strerror or "it is damaged"}))
    return tuple(photos), tuple(said), inputs


class _Unshown(Exception):
    """Why a file of photos/ is not shown."""


def _photo(path: Path, most: int) -> Photo:
    """A photograph the right way up, without its place and other data, in at most `most` bytes."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a warning of the picture's data is nobody's business here
        try:
            with Image.open(path) as image:
                if image.width * image.height > _MOST_PIXELS:
                    raise _Unshown("it has more pixels than can be shown")
                image.draft("RGB", (_FORMS[0][0], _FORMS[0][0]))
                small = _on_white(ImageOps.exif_transpose(image))
        except UnidentifiedImageError:
            raise _Unshown("it is no picture that can be read; save it as JPEG or PNG") from None
        except (ValueError, SyntaxError, EOFError, Image.DecompressionBombError) as error:
            raise _Unshown("it is damaged") from error
    return _shrunk(path.name, small, most)


def _on_white(image: Image) -> Image:
    """RGB, transparent parts white; numbers of 16 bits or more brought to 8."""
    from PIL import Image as Pillow

    if image.mode.startswith(("I", "F")):
        values = np.nan_to_num(np.asarray(image, float))
        low, high = values.min(), max(values.max(), values.min() + 1e-9)
        return Pillow.fromarray(((values - low) * (255.0 / (high - low))).astype(np.uint8)).convert("RGB")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        image = image.convert("RGBA")
        return Pillow.alpha_composite(Pillow.new("RGBA", image.size, "white"), image).convert("RGB")
    return image.convert("RGB")


def _shrunk(name: str, image: Image, most: int) -> Photo:
    for side, quality in _FORMS:
        small, out = image.copy(), io.BytesIO()
        small.thumbnail((side, side))
        small.save(out, "JPEG", quality=quality, optimize=True)
        if out.tell() <= most:
            break
    return Photo(name, out.getvalue(), small.width, small.height)
