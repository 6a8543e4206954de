"""A photographed screen: corners, the bar in the same photo, intervals that hold, glare, stripes, a spoilt bar.

The photos are made (hotspot/synthetic/filmed_screen.py); seeds are not those that anything was fitted on.
"""

from __future__ import annotations

import importlib.util
import io
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read.carrier import CarrierTrouble
from hotspot.read.colour_image import ColourImage
from hotspot.read.picture import decoded
from hotspot.read.screen import ScreenReader, given_corners, open_screen
from hotspot.read.screen_find import find_corners
from hotspot.session import Frames, Scale, Session
from hotspot.synthetic.draw import DrawnScale
from hotspot.synthetic.filmed_screen import Filming, Shown, filmed, random_filming

_SCRIPTS = Path(__file__).parents[1] / "benchmarks"
sys.path.insert(0, str(_SCRIPTS))
_SPEC = importlib.util.spec_from_file_location("screens_for_tests", _SCRIPTS / "screens.py")
made = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(made)
sys.path.remove(str(_SCRIPTS))

LOW, HIGH, PINS, photo = made.LOW_C, made.HIGH_C, made.PINS, made.photo


def shown(celsius: list[float], name: str = "inferno") -> Shown:
    return Shown(made.thermal(celsius), DrawnScale(LOW, HIGH, name))


def session(screen, **scale) -> Session:
    kept = {"low": LOW, "high": HIGH} | scale
    return Session(folder=Path("."), frames=Frames(files="*", screen=screen), scale=Scale(**kept))


def opened(data: bytes, screen="find", **scale) -> tuple[ScreenReader, ColourImage]:
    image = decoded(io.BytesIO(data))
    return open_screen(session(screen, **scale), image, ["a.jpg"]), image


@pytest.fixture(scope="module")
def inferno() -> tuple[ScreenReader, ColourImage]:
    """One photo, found unaided."""
    return opened(photo(shown([40.0, 55.0, 70.0, 80.0]).pixels(), Filming())[0])


def test_corners_are_found_to_a_pixel_and_a_half() -> None:
    for seed in range(300, 306):
        name = ("inferno", "turbo", "jet")[seed % 3]
        picture, corners = filmed(shown([40.0, 50.0, 60.0, 70.0], name).pixels(), random_filming(seed), seed=seed)
        found = find_corners(picture)
        assert found is not None
        assert np.hypot(*(found - corners).T).max() < 1.5


def test_no_corners_where_there_is_no_screen() -> None:
    rng = np.random.default_rng(3)
    assert find_corners(rng.integers(90, 130, (240, 320, 3)).astype(np.uint8)) is None


def test_pins_lie_within_their_intervals_on_fresh_seeds() -> None:
    """Eight hands, four pins each: at 95 % coverage fewer than 27 of 32 inside has a chance of 1 in 500."""
    inside, errors = 0, []
    for seed in range(400, 408):
        rng = np.random.default_rng(seed)
        true = [float(value) for value in rng.uniform(36.0, 85.0, 4)]
        screen = shown(true, ("inferno", "turbo", "jet", "viridis")[seed % 4]).pixels()
        data, corners = photo(screen, random_filming(seed), seed=seed)
        reader, image = opened(data, [float(v) for v in corners.ravel()], bar=box_of(screen, corners))
        pixels = reader.pixels(image, "a.jpg")
        for pin, value in zip(PINS, true, strict=True):
            face = made.face_in(reader.shape, screen, corners, pin)
            assert not pixels.at(*face)[1].any()
            celsius, half = made.pin_of(pixels, face)
            errors.append(celsius - value)
            inside += abs(errors[-1]) < half
    assert inside >= 27
    assert np.sqrt(np.mean(np.square(errors))) < 0.01 * (HIGH - LOW)


def test_the_ends_of_a_bar_that_changes_fast_are_not_taken_inside_it() -> None:
    """Inferno's yellow end runs on by several levels a pixel: an end taken there reads every pin 1-2 K high."""
    screen = shown([40.0, 55.0, 70.0, 80.0]).pixels()
    for seed in (420, 421, 424):
        data, corners = photo(screen, random_filming(seed, tone=1.18, moire=0.0), seed=seed)
        reader, _ = opened(data, [float(value) for value in corners.ravel()])
        _, y, _, height = reader.bar.box
        _, true_y, _, true_height = box_of(screen, corners)
        assert abs(y - true_y) <= 3
        assert abs(y + height - true_y - true_height) <= 3


@pytest.mark.parametrize("seed", [9507, 9510])
def test_a_screen_some_levels_lighter_than_its_rim_is_found(seed: int) -> None:
    """Which no single place along a side tells from noise, but the whole side does. Seeds that it was settled on."""
    true = [float(value) for value in np.random.default_rng(seed).uniform(36.0, 85.0, 4)]
    data, corners = photo(shown(true, "gray").pixels(), random_filming(seed), seed=seed)
    found = find_corners(decoded(io.BytesIO(data)).as_rgb())
    assert found is not None
    assert np.hypot(*(found - corners).T).max() < 1.5


def test_most_of_the_uncertainty_is_common_to_a_pin(inferno) -> None:
    reader, image = inferno
    pixels = reader.pixels(image, "a.jpg")
    at = np.array([200, 201]), np.array([150, 150])
    celsius, _, own, common = pixels.in_parts(*at)
    np.testing.assert_allclose(np.hypot(own, common), pixels.at(*at)[2])
    np.testing.assert_array_equal(celsius, pixels.at(*at)[0])
    assert (common**2 > 0.7 * (own**2 + common**2)).all()


def box_of(screen: np.ndarray, corners: np.ndarray) -> list[float]:
    """The bar's box in the straightened picture, by the true corners."""
    from hotspot.read.screen import size_of

    rows, columns = size_of(corners)
    across, down = columns / screen.shape[1], rows / screen.shape[0]
    x, y, width, height = shown([40.0] * 4).bar()
    return [round(x * across), round(y * down), round(width * across), round(height * down)]


def test_a_grey_map_is_wide_because_the_phone_darkens_the_corners_too(inferno) -> None:
    """Brightness alone tells temperature there, so the prior of the gain is all that is known of it."""
    data, corners = photo(shown([40.0, 55.0, 70.0, 80.0], "gray").pixels(), Filming())
    grey, image = opened(data, [float(value) for value in corners.ravel()])
    assert grey.bar.known == "gray"
    screen = shown([40.0] * 4).pixels()
    at = made.face_in(grey.shape, screen, corners, PINS[2])  # bright: the same share of light is more levels there
    wide = grey.pixels(image, "a.jpg").at(*at)[2].mean()
    assert wide > 2.0 * inferno[0].pixels(inferno[1], "a.jpg").at(*at)[2].mean()


def test_the_bar_is_found_and_named(inferno) -> None:
    reader, _ = inferno
    assert reader.bar.known == "inferno"
    assert reader.bar.misfit < 0.02


def test_glare_on_a_pin_is_a_doubt_and_no_number() -> None:
    screen = shown([40.0, 55.0, 70.0, 80.0]).pixels()
    at = (2 * PINS[1][0] / screen.shape[1], 2 * PINS[1][1] / screen.shape[0])
    data, corners = photo(screen, Filming(glare=1.5, glare_at=at))
    reader, image = opened(data)
    pixels = reader.pixels(image, "a.jpg")
    celsius, doubts, _ = pixels.at(*made.face_in(reader.shape, screen, corners, PINS[1]))
    assert (doubts & BIT["glare"]).all()
    assert np.isnan(celsius).mean() > 0.5
    assert not pixels.at(*made.face_in(reader.shape, screen, corners, PINS[3]))[1].any()


def test_a_bar_under_glare_sets_the_frame_aside(inferno) -> None:
    reader, _ = inferno
    screen = shown([40.0, 55.0, 70.0, 80.0]).pixels()
    spoilt, _ = photo(screen, Filming(glare=0.8, glare_at=(0.92, 0.6), glare_px=15.0))
    with pytest.raises(CarrierTrouble, match="bar"):
        reader.pixels(decoded(io.BytesIO(spoilt)), "b.jpg")


def test_a_bar_of_another_order_is_over_five_per_cent(inferno) -> None:
    reader, _ = inferno
    whole = shown([40.0, 55.0, 70.0, 80.0])
    screen = whole.pixels()
    x, y, width, height = whole.bar()
    third = height // 3
    swapped = screen.copy()
    swapped[y : y + third, x : x + width] = screen[y + third : y + 2 * third, x : x + width]
    with pytest.raises(CarrierTrouble, match="bar"):
        reader.pixels(decoded(io.BytesIO(photo(swapped, Filming())[0])), "b.jpg")


def test_moving_stripes_are_a_doubt_and_widen_and_steady_light_is_neither(inferno) -> None:
    screen = shown([40.0, 55.0, 70.0, 80.0])
    for strength in (0.0, 0.12):
        filming = Filming(stripes=strength)
        images = [decoded(io.BytesIO(photo(screen.pixels(), filming, frame)[0])) for frame in range(5)]
        reader, _ = inferno
        reader = replace(reader, usual=None)
        reader.learn_printed(images)
        pixels = reader.pixels(images[0], "a.jpg")
        doubts = pixels.at(np.array([200]), np.array([150]))[1]
        assert bool(doubts[0] & BIT["moving_stripes"]) == (strength > 0)
        assert (pixels.striped > 0.01) == (strength > 0)


def test_a_pin_that_warms_is_no_stripe(inferno) -> None:
    reader, _ = inferno
    images = [
        decoded(io.BytesIO(photo(shown([35.0 + 5 * k, 40.0, 40.0 + 9 * k, 45.0]).pixels(), Filming(), k)[0]))
        for k in range(5)
    ]
    reader = replace(reader, usual=None)
    reader.learn_printed(images)
    assert [reader.pixels(image, "a.jpg").striped for image in images] == [0.0] * 5


@pytest.mark.parametrize(
    ("corners", "found"),
    [
        ([0, 0, 900, 0, 900, 400, 0, 400], "outside the picture"),
        ([0, 0, 0, 400, 500, 400, 500, 0], "not clockwise"),
        ([500, 400, 0, 400, 0, 0, 500, 0], "not clockwise"),
        ([0, 0, 40, 0, 40, 30, 0, 30], "under 60 pixels"),
    ],
)
def test_corners_that_cannot_be_are_refused(corners: list[float], found: str) -> None:
    with pytest.raises(InputError, match=found):
        given_corners(corners, (480, 640))


def write_session(folder: Path, screen: str, frames: list[bytes]) -> None:
    (folder / "frames").mkdir(parents=True)
    for k, data in enumerate(frames):
        (folder / "frames" / f"f{k:02d}.jpg").write_bytes(data)
    (folder / "session.toml").write_text(
        f'[frames]\nfiles = "frames/*.jpg"\nreading = "colours"\nevery_s = 30.0\nscreen = {screen}\n'
        f"[scale]\nlow = {LOW}\nhigh = {HIGH}\n[surface]\nemissivity = 0.95\nset_emissivity = 0.95\n"
        "[[pin]]\nname = '1'\nx = {0[0]}\ny = {0[1]}\nradius = 10\n"
        "[[pin]]\nname = '2'\nx = {1[0]}\ny = {1[1]}\nradius = 10\n".format(*places())
    )


def places() -> list[tuple[float, float]]:
    """Where the first and the third pin lie in the straightened picture of the Filming that is used here."""
    from hotspot.read.screen import size_of

    screen = shown([40.0] * 4).pixels()
    corners = np.array(Filming().corners)
    rows, columns = size_of(corners)
    across, down = columns / screen.shape[1], rows / screen.shape[0]
    return [((2 * PINS[k][0] + 1) * across - 0.5, (2 * PINS[k][1] + 1) * down - 0.5) for k in (0, 2)]


def warming(k: int) -> list[float]:
    return [30.0 + 4.0 * k, 35.0, 35.0 + 7.0 * k, 35.0]


@pytest.mark.parametrize("screen", ["find", "given"])
def test_a_filmed_screen_runs_to_the_tables(tmp_path: Path, hotspot_cli, screen: str) -> None:
    shaken = Filming(shake_px=1.5 if screen == "find" else 0.0)
    frames = [photo(shown(warming(k)).pixels(), shaken, k)[0] for k in range(4)]
    spoilt = Filming(glare=0.8, glare_at=(0.92, 0.6), glare_px=15.0)
    frames[3] = photo(shown(warming(3)).pixels(), spoilt, 3)[0]
    corners = [float(value) for corner in Filming().corners for value in corner]
    write_session(tmp_path / "s", '"find"' if screen == "find" else str(corners), frames)
    ended = hotspot_cli("run", tmp_path / "s")
    assert ended.status == 0, ended.err
    read = pd.read_csv(tmp_path / "s" / "results" / "readings.csv", dtype={"pin": str, "quality": str})
    assert 3 not in set(read[read.temperature_c.notna()].frame)
    for name, which in (("1", 0), ("2", 2)):
        rows = read[(read.pin == name) & read.temperature_c.notna()]
        off = rows.temperature_c - [warming(k)[which] for k in rows.frame]
        assert len(rows) == 3
        assert (off.abs() < 2.5 * rows.uncertainty_c).all()
        assert off.abs().max() < 2.0
    report = (tmp_path / "s" / "results" / "report.html").read_text(encoding="utf-8")
    assert "photos of a screen" in report


def test_a_screen_without_a_bar_is_refused(tmp_path: Path, hotspot_cli) -> None:
    flat = np.full((360, 576, 3), 120, np.uint8)
    write_session(tmp_path / "s", '"find"', [photo(flat, Filming())[0]] * 2)
    ended = hotspot_cli("run", tmp_path / "s")
    assert ended.status == 2
    assert "frames.screen" in ended.err
    assert "bar" in ended.err
    assert "screen = [x, y, x, y, x, y, x, y] under [frames]" in ended.err


def test_corners_beside_the_border_are_refused_with_the_ones_to_write() -> None:
    """Fifteen pixels too wide; a careful hand's two are not."""
    data, corners = photo(shown([40.0, 55.0, 70.0, 80.0], "viridis").pixels(), Filming())
    outward = np.sign(corners - corners.mean(axis=0))
    opened(data, [float(value) for value in (corners + 2.0 * outward).ravel()])
    with pytest.raises(InputError, match="the corners lie up to 2[0-3] px beside the border") as refused:
        opened(data, [float(value) for value in (corners + 15.0 * outward).ravel()])
    written = str(refused.value).split("screen = [")[1].split("]")[0]
    assert np.abs(np.array(written.split(","), float).reshape(4, 2) - corners).max() < 2.0
