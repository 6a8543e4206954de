"""A photographed screen: corners, the bar in the same photo, intervals that hold, glare, stripes, a spoilt bar.

The photos are made (hotspot/synthetic/filmed_screen.py); seeds are not those that anything was fitted on.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read.carrier import CarrierTrouble
from hotspot.read.colour_image import ColourImage
from hotspot.read.picture import decoded
from hotspot.read.screen import ScreenReader, given_corners, open_screen
from hotspot.read.screen_find import find_corners
from hotspot.session import Frames, Scale, Session
from hotspot.synthetic.draw import DrawnScale
from hotspot.synthetic.filmed_screen import Filming, Shown, filmed, perspective, random_filming

LOW, HIGH = 20.0, 90.0
PINS = [(55.0 + 43.0 * k, 95.0, 9.0) for k in range(4)]  # x, y, radius in the thermal picture


def field(celsius: list[float]) -> np.ndarray:
    """A warm case on a bench with four round pins of these temperatures."""
    y, x = np.indices((180, 240), float)
    made = 24.0 + 3.0 * np.exp(-((x - 120) ** 2 + (y - 90) ** 2) / 6000.0)
    made[60:130, 30:210] += 8.0
    for (at_x, at_y, radius), value in zip(PINS, celsius, strict=True):
        made += (value - made) * np.clip(radius + 1.5 - np.hypot(x - at_x, y - at_y), 0.0, 1.0)
    return made


def shown(celsius: list[float], name: str = "inferno") -> Shown:
    return Shown(field(celsius), DrawnScale(LOW, HIGH, name))


def photo(screen: np.ndarray, filming: Filming, frame: int = 0, seed: int = 0) -> tuple[bytes, np.ndarray]:
    picture, corners = filmed(screen, filming, frame, seed)
    kept = io.BytesIO()
    Image.fromarray(picture).save(kept, "JPEG", quality=filming.quality)
    return kept.getvalue(), corners


def session(screen, **scale) -> Session:
    kept = {"low": LOW, "high": HIGH} | scale
    return Session(folder=Path("."), frames=Frames(files="*", screen=screen), scale=Scale(**kept))


def opened(data: bytes, screen="find", **scale) -> tuple[ScreenReader, ColourImage]:
    image = decoded(io.BytesIO(data))
    return open_screen(session(screen, **scale), image, ["a.jpg"]), image


def pin_pixels(reader: ScreenReader, screen: np.ndarray, corners: np.ndarray, pin) -> tuple[np.ndarray, np.ndarray]:
    """Pixels of the straightened picture whose middle the pin's inner face covers, by the true corners."""
    rows, columns = (each.ravel() for each in np.indices(reader.shape))
    to_screen = np.linalg.inv(perspective(screen.shape[:2], corners)) @ perspective(reader.shape, corners)
    x, y, one = to_screen @ np.stack([columns, rows, np.ones(rows.size)])
    inside = np.hypot((x / one - 0.5) / 2 - pin[0], (y / one - 0.5) / 2 - pin[1]) < pin[2] - 3.0
    return rows[inside], columns[inside]


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
            celsius, doubts, reading_k = pixels.at(*pin_pixels(reader, screen, corners, pin))
            assert not doubts.any()
            own = np.sqrt(pixels.alike * reading_k.mean() ** 2)  # the share that averaging leaves
            errors.append(celsius.mean() - value)
            inside += abs(errors[-1]) < 1.96 * own
    assert inside >= 27
    assert np.sqrt(np.mean(np.square(errors))) < 0.01 * (HIGH - LOW)


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
    at = pin_pixels(grey, screen, corners, PINS[2])  # bright: the same share of light is more levels there
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
    celsius, doubts, _ = pixels.at(*pin_pixels(reader, screen, corners, PINS[1]))
    assert (doubts & BIT["glare"]).all()
    assert np.isnan(celsius).mean() > 0.5
    assert not pixels.at(*pin_pixels(reader, screen, corners, PINS[3]))[1].any()


def test_a_bar_under_glare_sets_the_frame_aside(inferno) -> None:
    reader, _ = inferno
    screen = shown([40.0, 55.0, 70.0, 80.0]).pixels()
    spoilt, _ = photo(screen, Filming(glare=0.8, glare_at=(0.92, 0.6), glare_px=15.0))
    with pytest.raises(CarrierTrouble, match="bar"):
        reader.pixels(decoded(io.BytesIO(spoilt)), "b.jpg")


def test_a_bar_of_another_order_is_over_five_per_cent(inferno) -> None:
    reader, _ = inferno
    made = shown([40.0, 55.0, 70.0, 80.0])
    screen = made.pixels()
    x, y, width, height = made.bar()
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
    frames = [photo(shown(warming(k)).pixels(), shaken, k)[0] for k in range(6)]
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
        assert len(rows) == 5
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
