"""notes.md and photos/ of a session: small, the right way up, without their data; trouble is told, not raised."""

import io

import numpy as np
import pytest
from PIL import Image

from hotspot.read import papers
from hotspot.read.find import find_files
from hotspot.session import Session


def _session(folder, **more) -> Session:
    return Session.model_validate(more).model_copy(update={"folder": folder})


def _picture(width=300, height=200) -> Image.Image:
    """Left half red, right half blue."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2, 0] = pixels[:, width // 2 :, 2] = 255
    return Image.fromarray(pixels)


def test_without_notes_and_photos_there_is_nothing(tmp_path):
    told = papers.read_papers(_session(tmp_path))
    assert (told.notes, told.photos, told.notices, dict(told.inputs)) == ("", (), (), {})


def test_notes_are_text_and_fingerprinted(tmp_path):
    (tmp_path / "notes.md").write_bytes("\ufeffPlug browned.\n".encode())
    told = papers.read_papers(_session(tmp_path))
    assert told.notes == "Plug browned.\n"
    # SHA-256 of the bytes: FIPS 180-4 by Python's hashlib
    assert len(told.inputs["notes.md"]) == 64
    (tmp_path / "notes.md").write_bytes(b"caf\xe9 " + b"x" * 50_000)
    told = papers.read_papers(_session(tmp_path))
    assert [said.code for said in told.notices] == ["notes_odd_characters", "notes_cut"]
    assert len(told.notes) == papers.MOST_NOTES


def test_a_photograph_is_turned_as_its_exif_says_and_keeps_none_of_its_data(tmp_path):
    (tmp_path / "photos").mkdir()
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.32, Orientation 6: to be turned a quarter clockwise
    exif[0x010F] = "maker"
    _picture().save(tmp_path / "photos" / "b.jpg", exif=exif)
    (told,) = papers.read_papers(_session(tmp_path)).photos
    image = Image.open(io.BytesIO(told.jpeg))
    assert image.size == (told.width, told.height) == (200, 300)
    assert not image.getexif()
    top, bottom = (image.getpixel((100, row)) for row in (50, 250))
    assert top[0] > 200 > 100 > top[2]
    assert bottom[2] > 200 > 100 > bottom[0]


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "L", "1", "CMYK", "I;16", "F"])
def test_every_kind_of_picture_becomes_a_jpeg(mode, tmp_path):
    (tmp_path / "photos").mkdir()
    plain = _picture()
    if mode == "I;16":
        image = Image.fromarray(np.arange(60000, dtype=np.uint16).reshape(200, 300))
    elif mode == "F":
        image = Image.fromarray(np.linspace(20, 80, 60000, dtype=np.float32).reshape(200, 300))
    else:
        image = plain.convert(mode)
    image.save(tmp_path / "photos" / ("x.tif" if mode in ("CMYK", "F") else "x.png"))
    told = papers.read_papers(_session(tmp_path))
    assert [said.code for said in told.notices] == []
    assert Image.open(io.BytesIO(told.photos[0].jpeg)).mode == "RGB"


def test_what_is_broken_or_no_picture_is_told_and_the_others_are_shown(tmp_path):
    folder = tmp_path / "photos"
    folder.mkdir()
    _picture().save(folder / "good.png")
    (folder / "empty.jpg").write_bytes(b"")
    (folder / "text.jpg").write_text("no picture")
    whole = io.BytesIO()
    _picture().save(whole, "JPEG")
    (folder / "half.jpg").write_bytes(whole.getvalue()[: len(whole.getvalue()) // 2])
    (folder / "film.heic").write_bytes(b"\0\0\0\x18ftypheic")
    (folder / ".hidden").write_text("")
    told = papers.read_papers(_session(tmp_path))
    assert [photo.name for photo in told.photos] == ["good.png"]
    assert [said.code for said in told.notices] == ["photo_set_aside"] * 4
    assert {said.values["file"] for said in told.notices} == {"empty.jpg", "text.jpg", "half.jpg", "film.heic"}


def test_many_large_photographs_stay_within_the_room_of_a_report(tmp_path):
    (tmp_path / "photos").mkdir()
    noise = np.random.default_rng(1).integers(0, 256, (900, 1200, 3), dtype=np.uint8)
    for place in range(15):
        Image.fromarray(noise).save(tmp_path / "photos" / f"p{place:02d}.jpg", quality=90)
    told = papers.read_papers(_session(tmp_path))
    assert len(told.photos) == papers.MOST_PHOTOS
    assert told.notices[-1].code == "photos_left_out"
    assert told.notices[-1].values["count"] == 3
    # noise is the worst case of every codec: only then the smallest form may still be larger than its share
    assert sum(len(photo.jpeg) for photo in told.photos) <= papers.MOST_BYTES


def test_photos_are_no_frames_unless_the_session_says_so(tmp_path):
    (tmp_path / "photos").mkdir()
    _picture().save(tmp_path / "photos" / "a.png")
    _picture().save(tmp_path / "f.png")
    every = _session(tmp_path, frames={"files": "**/*.png"})
    assert [path.name for path in find_files(every)] == ["f.png"]
    named = _session(tmp_path, frames={"files": "photos/*.png"})
    assert [path.name for path in find_files(named)] == ["a.png"]
    assert papers.read_papers(named).photos == ()
