"""How much of what is printed on the pictures is found, and whether a pin is ever taken for print. Made pictures.

    python tests/benchmarks/printed_marks.py [--seeds 2] [--first-seed 100] [--maps inferno] [--carriers png,q75]

Eight frames of a made connector that warms up, with a running clock, a value that changes, a cross and a word in one
ink, black or white, of 9-16 px, at places and in a face of letters drawn by the seed; no mark comes within 5 px of a
pin. Found: the share of all pixels that the ink changed, in the mask that the program makes of the eight. Pins: those
with a pixel of their face in it. Beside: the share of the rest of the picture that is masked. And pictures on which
nothing is printed, with what looks like it most: warm blades 2-4 px apart on ground near the bottom of the scale, and
cold round pins of 3-9 px in a warm housing, from a cold start or warm from the first frame.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from colour_accuracy import carried, chosen, drawn, parser_of, scene
from matplotlib import get_data_path
from PIL import Image, ImageDraw, ImageFont
from scale_reading import wilson

from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map, repeats
from hotspot.read.colour_pixels import Reading
from hotspot.read.colours import carrier_of
from hotspot.read.printed import printed_mask

CARRIERS = ("png", "q75")
INKS = ("black", "white")
FRAMES = 8
FACES = ("DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono", "DejaVuSerif")
CLEAR = 5.0  # px between a mark and a pin
WARMS = 0.3  # of the rise is there in the first frame


def frames_of(seed: int) -> tuple[list[np.ndarray], np.ndarray]:
    """Places 0-1 along the scale of the warming connector, frame by frame, and its pins (n, 3)."""
    seen = scene(seed)
    cold = np.minimum(seen.field, 0.2)
    shares = WARMS + (1 - WARMS) * (1 - np.exp(-np.arange(FRAMES) / 3.0))
    noise = (np.random.default_rng([seed, k]).normal(0, 0.0012, cold.shape) for k in range(FRAMES))
    made = [
        np.clip(cold + share * (seen.field - cold) + rough, 0, 1) for share, rough in zip(shares, noise, strict=True)
    ]
    return made, seen.pins


def marks_of(seed: int, pins: np.ndarray, size: tuple[int, int]) -> list[np.ndarray]:
    """What is printed on each frame, 0-1 (rows, columns): how much of each pixel is ink."""
    rng = np.random.default_rng([seed, 5])
    font = Path(get_data_path()) / "fonts" / "ttf" / f"{rng.choice(FACES)}.ttf"
    letters = ImageFont.truetype(str(font), int(rng.integers(9, 17)))
    free = _free(pins, size)
    drawing = [Image.new("L", size[::-1]) for _ in range(FRAMES)]
    for words in (
        [f"10:0{k}:{7 * k + 2:02d}" for k in range(FRAMES)],
        [f"{23.1 + 4.3 * k:.1f}" for k in range(FRAMES)],
        ["FRAME"] * FRAMES,
    ):
        boxes = [letters.getbbox(word) for word in words]
        x, y = _place(free, rng, max(box[2] for box in boxes) + 2, max(box[3] for box in boxes) + 2)
        for picture, word in zip(drawing, words, strict=True):
            ImageDraw.Draw(picture).text((x, y), word, fill=255, font=letters)
    arm = int(rng.integers(5, 12))
    x, y = _place(free, rng, 2 * arm + 1, 2 * arm + 1)
    for picture in drawing:
        ImageDraw.Draw(picture).line((x, y + arm, x + 2 * arm, y + arm), fill=255)
        ImageDraw.Draw(picture).line((x + arm, y, x + arm, y + 2 * arm), fill=255)
    return [np.asarray(picture) / 255.0 for picture in drawing]


def _free(pins: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    rows, columns = np.indices(size)
    away = [np.hypot(columns - x, rows - y) - radius for x, y, radius in pins]
    return np.min(away, axis=0) > CLEAR


def _place(free: np.ndarray, rng: np.random.Generator, wide: int, high: int) -> tuple[int, int]:
    """Where a mark fits; its ground is no longer free."""
    while True:
        x, y = int(rng.integers(2, free.shape[1] - wide - 2)), int(rng.integers(2, free.shape[0] - high - 2))
        if free[y : y + high, x : x + wide].all():
            free[y - 2 : y + high + 2, x - 2 : x + wide + 2] = False
            return x, y


def count(name: str, carrier: str, ink: str, seed: int) -> np.ndarray:
    """Pixels inked and found of these, pins and touched ones, the other pixels and masked ones. `ink` may be none."""
    fields, pins = frames_of(seed) if ink in INKS else unprinted(seed)
    none = [np.zeros(fields[0].shape)] * len(fields)
    marks = marks_of(seed, pins, fields[0].shape) if ink in INKS else none
    images, inked = [], np.zeros(fields[0].shape, dtype=bool)
    for field, mark in zip(fields, marks, strict=True):
        bare = drawn(field, name).astype(float)
        printed = np.rint(bare + mark[..., None] * ((255.0 if ink == "white" else 0.0) - bare)).astype(np.uint8)
        inked |= (printed != bare).any(axis=2)
        images.append(carried(printed, carrier))
    mask = masked(name, carrier, images)
    rows, columns = np.indices(inked.shape)
    faces = [np.hypot(columns - x, rows - y) <= radius for x, y, radius in pins]
    touched = sum(bool(mask[face].any()) for face in faces)
    return np.array([inked.sum(), mask[inked].sum(), len(faces), touched, (~inked).sum(), mask[~inked].sum()])


def masked(name: str, carrier: str, images: Sequence[ColourImage]) -> np.ndarray:
    """The program's mask (rows, columns)."""
    colours = known_map(name)
    reading = Reading(colours, repeats(colours), carrier_of(colours, images[0], carrier != "png"))
    mask = printed_mask(reading, images)
    return np.zeros(images[0].shape, dtype=bool) if mask is None else mask


def unprinted(seed: int) -> tuple[list[np.ndarray], np.ndarray]:
    """Frames of blades and of cold pins without a mark, and what to leave alone: x, y, radius (n, 3)."""
    rng = np.random.default_rng([seed, 3])
    rows, columns = np.indices((240, 160)).astype(float)
    ground = rng.uniform(0.01, 0.05)
    warm = np.full(rows.shape, ground)
    pins, x = [], 20.0
    while x < 135:
        wide, level = int(rng.integers(6, 11)), rng.uniform(0.3, 0.9)
        for y in (39, 79):
            out = np.maximum(abs(columns - x - wide / 2 + 0.5) - wide / 2, abs(rows - y) - 14)
            warm = np.maximum(warm, ground + (level - ground) / (1 + np.exp(out / 0.4)))
            pins.append((x + wide / 2 - 0.5, y, wide / 2 - 0.5))
        x += wide + int(rng.integers(2, 5))
    warm[140:220, 15:145] = rng.uniform(0.15, 0.4)
    for k in range(12):
        x, y, radius = 25.0 + 20 * (k % 6), 165.0 + 30 * (k // 6), rng.uniform(1.5, 4.5)
        warm += (ground - warm) / (1 + np.exp((np.hypot(columns - x, rows - y) - radius) / 0.6))
        pins.append((x, y, radius))
    shares = np.ones(FRAMES) if rng.random() < 0.5 else 1 - np.exp(-np.arange(FRAMES) / 2.5)
    made = [ground + share * (warm - ground) + rng.normal(0, 0.0012, warm.shape) for share in shares]
    return [np.clip(field, 0, 1) for field in made], np.array(pins)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a row per carrier, ink and map, and one for all maps together."""
    names, carriers, seeds = chosen(parser_of(__doc__, CARRIERS).parse_args(arguments))
    for carrier in carriers:
        for ink in (*INKS, "none"):
            counts = {name: sum(count(name, carrier, ink, seed) for seed in seeds) for name in names}
            for name, each in counts.items():
                print(f"{name:14s}{row(carrier, ink, each)}", flush=True)
            print(f"all maps      {row(carrier, ink, sum(counts.values()))}", flush=True)


def row(carrier: str, ink: str, counts: np.ndarray) -> str:
    """Shares of one kind."""
    inked, found, pins, touched, others, masked_too = counts
    low, high = wilson(int(touched), int(pins))
    told = f"{100 * found / inked:.1f} % of {inked} inked pixels found; " if inked else ""
    of_pins = f"{touched} of {pins} pins ({100 * max(low, 0.0):.1f} to {100 * high:.1f} %) touched"
    return f"{carrier}, {ink}: {told}{of_pins}; {100 * masked_too / others:.1f} % of the rest masked"


if __name__ == "__main__":
    sys.exit(main())
