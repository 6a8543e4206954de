"""How true pins are that are read off photos of a screen, corners and bar found unaided. Made photos, known truth.

    python tests/benchmarks/screens.py [--seeds 12] [--first-seed 500] [--maps inferno,jet]

Each seed is one hand-held photo (tilt, exposure, white balance, tone, vignetting, moire, JPEG drawn by the seed) of a
thermal picture on a scale of 20-90 degC with four pins of 36-85 degC. Errors of the pins of one photo go together, so
the interval of the share (Wilson 1927), which takes them for independent, is too narrow.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image
from scale_reading import wilson

from hotspot.errors import InputError
from hotspot.physics.uncertainty import mean_of_parts
from hotspot.read.carrier import CarrierTrouble
from hotspot.read.picture import decoded
from hotspot.read.screen import open_screen
from hotspot.read.screen_pixels import ScreenPixels
from hotspot.session import Frames, Scale, Session
from hotspot.synthetic.draw import DrawnScale
from hotspot.synthetic.filmed_screen import Filming, Shown, filmed, perspective, random_filming

MAPS = ("inferno", "magma", "viridis", "turbo", "jet", "gray")
LOW_C, HIGH_C = 20.0, 90.0
PINS = [(55.0 + 43.0 * k, 95.0, 9.0) for k in range(4)]  # x, y, radius in the thermal picture
INNER = 3.0  # px of a pin's rim that are left out


def thermal(celsius: Sequence[float]) -> np.ndarray:
    """A warm case on a bench with four round pins of these temperatures."""
    y, x = np.indices((180, 240), float)
    made = 24.0 + 3.0 * np.exp(-((x - 120) ** 2 + (y - 90) ** 2) / 6000.0)
    made[60:130, 30:210] += 8.0
    for (at_x, at_y, radius), value in zip(PINS, celsius, strict=True):
        made += (value - made) * np.clip(radius + 1.5 - np.hypot(x - at_x, y - at_y), 0.0, 1.0)
    return made


def photo(screen: np.ndarray, filming: Filming, frame: int = 0, seed: int = 0) -> tuple[bytes, np.ndarray]:
    """A JPEG of the screen (rows, columns, 3), and the screen's true corners in it."""
    picture, corners = filmed(screen, filming, frame, seed)
    kept = io.BytesIO()
    Image.fromarray(picture).save(kept, "JPEG", quality=filming.quality)
    return kept.getvalue(), corners


def face_in(
    shape: tuple[int, int], screen: np.ndarray, corners: np.ndarray, pin: tuple[float, float, float]
) -> tuple[np.ndarray, np.ndarray]:
    """Pixels of a straightened picture of `shape` whose middle the pin's inner face covers, by the true corners."""
    rows, columns = (each.ravel() for each in np.indices(shape))
    to_screen = np.linalg.inv(perspective(screen.shape[:2], corners)) @ perspective(shape, corners)
    x, y, one = to_screen @ np.stack([columns, rows, np.ones(rows.size)])
    inside = np.hypot((x / one - 0.5) / 2 - pin[0], (y / one - 0.5) / 2 - pin[1]) < pin[2] - INNER
    return rows[inside], columns[inside]


def pins_of(name: str, seed: int) -> tuple[np.ndarray, np.ndarray] | None:
    """Errors and half-widths of the 95 % intervals of one photo's pins, K; None where the photo is refused."""
    true = np.random.default_rng(seed).uniform(36.0, 85.0, len(PINS))
    screen = Shown(thermal(true), DrawnScale(LOW_C, HIGH_C, name)).pixels()
    data, corners = photo(screen, random_filming(seed), seed=seed)
    image = decoded(io.BytesIO(data))
    session = Session(folder=Path("."), frames=Frames(files="*", screen="find"), scale=Scale(low=LOW_C, high=HIGH_C))
    try:
        reader = open_screen(session, image, ["a.jpg"])
        pixels = reader.pixels(image, "a.jpg")
    except (CarrierTrouble, InputError):
        return None
    read = [pin_of(pixels, face_in(reader.shape, screen, corners, pin)) for pin in PINS]
    celsius, halves = np.transpose(read)
    return celsius - true, halves


def pin_of(pixels: ScreenPixels, face: tuple[np.ndarray, np.ndarray]) -> tuple[float, float]:
    """Mean °C of a face and half its 95 % interval, put together as the program does it."""
    celsius, _, own, common = pixels.in_parts(*face)
    parts = np.nansum(own**2) / len(own) ** 2, np.nanmean(common)
    return float(np.nanmean(celsius)), 1.96 * float(mean_of_parts(*parts))


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints a row per map, and one for all coloured maps."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--first-seed", type=int, default=500)
    parser.add_argument("--maps", default=",".join(MAPS))
    given = parser.parse_args(arguments)
    seeds = range(given.first_seed, given.first_seed + given.seeds)
    together: list[tuple[np.ndarray, np.ndarray]] = []
    for name in given.maps.split(","):
        read = [pins_of(name, seed) for seed in seeds]
        good = [one for one in read if one is not None]
        if name != "gray":
            together += good
        print(f"{name}: {row(good)}; {len(read) - len(good)} of {len(read)} photos refused", flush=True)
    print(f"all but gray: {row(together)}")
    return 0


def row(read: Sequence[tuple[np.ndarray, np.ndarray]]) -> str:
    """RMS, coverage, and width against need of some photos' pins."""
    if not read:
        return "nothing read"
    errors, halves = (np.concatenate(each) for each in zip(*read, strict=True))
    held = int((np.abs(errors) <= halves).sum())
    low, high = wilson(held, len(errors))
    rms = np.sqrt(np.mean(errors**2))
    held_of = f"{held} inside ({100 * low:.1f} to {100 * high:.1f} %)"
    return (
        f"{len(errors)} pins of {len(read)} photos, RMS {rms:.2f} K, {held_of}, "
        f"half-width {np.median(halves):.2f} K, need {np.percentile(np.abs(errors), 95):.2f} K"
    )


if __name__ == "__main__":
    raise SystemExit(main())
