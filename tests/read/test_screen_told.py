"""A photo of a screen that session.toml does not call one is told; pictures that a camera stored are left alone.

The photos and pictures are made; seeds are not those that the rule was settled on (15100-15109, 15300-15304).
"""

from __future__ import annotations

import importlib.util
import io
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from hotspot.errors import InputError
from hotspot.read.bar import find_bar
from hotspot.read.colour_image import ColourImage
from hotspot.read.colours import open_scale
from hotspot.read.picture import decoded
from hotspot.read.screen_told import is_photo_of_screen
from hotspot.session import Frames, Scale, Session
from hotspot.synthetic.draw import DrawnScale
from hotspot.synthetic.filmed_screen import Filming, Shown, filmed

_SCRIPTS = Path(__file__).parents[1] / "benchmarks"
_DATA = Path(__file__).parents[1] / "data"
SMALL = Filming(width=400, height=300, corners=((46, 30), (359, 42), (345, 270), (35, 256)), moire=0.0)


def script(name: str):
    """A module of tests/benchmarks."""
    sys.path.insert(0, str(_SCRIPTS))
    spec = importlib.util.spec_from_file_location(f"{name}_for_told", _SCRIPTS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    sys.path.remove(str(_SCRIPTS))
    return module


def photo(name: str, filming: Filming = SMALL) -> bytes:
    screen = Shown(script("screens").thermal([40.0, 55.0, 70.0, 80.0]), DrawnScale(20.0, 90.0, name)).pixels()
    kept = io.BytesIO()
    Image.fromarray(filmed(screen, filming, 0, 7)[0]).save(kept, "JPEG", quality=92)
    return kept.getvalue()


def test_new_writes_the_key_and_run_without_it_refuses_and_names_it(tmp_path: Path, hotspot_cli) -> None:
    (tmp_path / "frames").mkdir()
    (tmp_path / "frames" / "f0.jpg").write_bytes(photo("viridis"))
    made = hotspot_cli("new", tmp_path)
    assert made.status == 0, made.err
    assert "look like photos of a screen" in " ".join(made.out.split())
    sheet = tmp_path / "session.toml"
    text = sheet.read_text(encoding="utf-8")
    assert '\nscreen = "find" ' in text
    assert "bar = [" not in text
    bare = '[frames]\nfiles = "frames/*.jpg"\nreading = "colours"\nevery_s = 10.0\n{}[scale]\nlow = 20.0\nhigh = 90.0\n'
    sheet.write_text(bare.format("") + 'map = "viridis"\n[[pin]]\nname = "1"\nx = 120.0\ny = 120.0\nradius = 6.0\n')
    ended = hotspot_cli("run", tmp_path)
    assert ended.status == 2
    assert "session.toml: frames.screen: the pictures look like photos of a screen" in ended.err
    assert 'State screen = "find" under [frames]' in ended.err
    assert not (tmp_path / "results").exists()


def test_with_none_the_pictures_are_read_as_they_stand() -> None:
    image = decoded(io.BytesIO(photo("viridis")))
    scale = Scale(low=20.0, high=90.0, map="viridis")
    forgotten = Session(folder=Path("."), frames=Frames(files="*"), scale=scale)
    with pytest.raises(InputError, match="photos of a screen"):
        open_scale(forgotten, image, ["a.jpg"])
    frames = Frames(files="*", screen="none")
    assert not frames.filmed
    open_scale(forgotten.model_copy(update={"frames": frames}), image, ["a.jpg"])


def test_a_screen_is_told_in_grey_and_held_nearly_square() -> None:
    square = Filming(width=400, height=300, corners=((45, 34), (352, 37), (349, 263), (43, 261)), moire=0.0)
    image = decoded(io.BytesIO(photo("gray", square)))
    assert is_photo_of_screen(image, find_bar(image))


@pytest.mark.parametrize(("name", "seed"), [("inferno", 15104), ("gray", 15101)])
def test_a_camera_s_own_picture_with_something_like_a_border_is_left_alone(name: str, seed: int) -> None:
    """The search for corners finds four sides in these, the drawn bar within. Seeds that the rule was settled on."""
    made = script("bars_and_clips")
    which = ("top", "bottom", "left", "right")[seed % 4]
    image = made.carried(made.with_bar(made.drawn(made.scene(seed).field, name), name, which, seed), "q75")
    assert not is_photo_of_screen(image, find_bar(image))


@pytest.mark.parametrize("size", [(1, 1), (8, 300), (60, 60), (61, 64), (90, 120)])
def test_pictures_of_any_size_and_content_can_be_asked(size: tuple[int, int]) -> None:
    rng = np.random.default_rng(size[1])
    block = np.zeros((*size, 3), np.uint8)
    block[size[0] // 4 : size[0] // 2 + 1, size[1] // 3 : size[1] // 2 + 1] = 200
    for rgb in (np.full((*size, 3), 90, np.uint8), rng.integers(0, 256, (*size, 3)).astype(np.uint8), block):
        assert not is_photo_of_screen(ColourImage.from_rgb(rgb), None)


def test_a_plotted_frame_on_a_page_is_left_alone() -> None:
    """An open screenshot of a plotted frame with its bar (tests/data/picture_inferno_bar_window, see SOURCE.md)."""
    for path in sorted((_DATA / "picture_inferno_bar_window").glob("*.png")):
        with Image.open(path) as picture:
            image = ColourImage.from_rgb(np.asarray(picture.convert("RGB")))
        assert not is_photo_of_screen(image, find_bar(image))
