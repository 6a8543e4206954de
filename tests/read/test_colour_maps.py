"""Maps by name and from strips; maps whose colours repeat."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from hotspot.errors import InputError
from hotspot.read.colour_maps import known_map, named_map, repeats


def strip_file(path: Path, table: np.ndarray, size: tuple[int, int] = (512, 10)) -> None:
    lying = np.repeat(np.repeat(table[None], size[1], 0), size[0] // len(table), 1)
    Image.fromarray(np.rint(lying).astype(np.uint8)).save(path)


def test_a_strip_of_a_known_map_is_that_map(tmp_path: Path) -> None:
    known = known_map("inferno")
    strip_file(tmp_path / "strip.png", known.rgb)
    colours, path = named_map(tmp_path, "strip.png", None)
    assert path == tmp_path / "strip.png"
    np.testing.assert_allclose(colours.rgb, known.rgb)
    np.testing.assert_allclose(colours.places, known.places, atol=1e-9)


@pytest.mark.parametrize("high_end", ["left", "right", "top", "bottom"])
def test_the_hot_end_is_where_it_is_said(tmp_path: Path, high_end: str) -> None:
    table = known_map("plasma").rgb
    lying = np.repeat(table[None], 12, 0).astype(np.uint8)
    turned = {"right": lying, "left": lying[:, ::-1]}
    turned |= {"bottom": lying.transpose(1, 0, 2), "top": lying.transpose(1, 0, 2)[::-1]}
    Image.fromarray(turned[high_end]).save(tmp_path / "s.png")
    colours, _ = named_map(tmp_path, "s.png", high_end)
    np.testing.assert_allclose(colours.rgb, table)
    if high_end in ("right", "top"):
        np.testing.assert_allclose(named_map(tmp_path, "s.png", None)[0].rgb, table)


def test_a_hot_end_across_the_strip_is_refused(tmp_path: Path) -> None:
    strip_file(tmp_path / "s.png", known_map("plasma").rgb)
    with pytest.raises(InputError, match="scale.high_end.*left or right"):
        named_map(tmp_path, "s.png", "top")


def test_an_unknown_name_is_refused_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="inferno"):
        named_map(tmp_path, "infernal", None)
    with pytest.raises(InputError, match="'bar'"):
        named_map(tmp_path, "no such strip.png", None)


def test_a_file_that_is_no_picture_is_refused(tmp_path: Path) -> None:
    (tmp_path / "s.png").write_text("not a picture")
    with pytest.raises(InputError, match="cannot be read as a picture"):
        named_map(tmp_path, "s.png", None)


def test_a_strip_of_one_colour_is_refused(tmp_path: Path) -> None:
    strip_file(tmp_path / "s.png", np.full((256, 3), 90.0))
    with pytest.raises(InputError, match="one colour"):
        named_map(tmp_path, "s.png", None)


@pytest.mark.parametrize("name", ["prism", "flag"])
def test_striped_maps_are_refused_with_the_reason(name: str) -> None:
    with pytest.raises(InputError, match="repeat over"):
        repeats(known_map(name))


@pytest.mark.parametrize("name", ["tab10", "Set1", "okabe_ito"])
def test_sets_of_labels_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="different colours"):
        named_map(tmp_path, name, None)


@pytest.mark.parametrize("name", ["hsv", "twilight", "twilight_shifted"])
def test_maps_whose_ends_meet_are_known_as_such(name: str) -> None:
    found = repeats(known_map(name))
    assert found.ends_meet
    assert 0.0 < found.near.mean() < 0.2
    middle = found.near[len(found.near) // 4 : 3 * len(found.near) // 4]
    assert not middle.any()


@pytest.mark.parametrize("name", ["inferno", "gray", "jet", "turbo", "nipy_spectral", "hot", "rainbow", "bone"])
def test_maps_that_never_repeat_are_clean(name: str) -> None:
    found = repeats(known_map(name))
    assert not found.ends_meet
    assert not found.near.any()
