"""How true are temperatures read off colours? Made fields, drawn through known maps, encoded, read back.

    python tests/benchmarks/colour_accuracy.py [--seeds 2] [--maps inferno,jet] [--carriers q95,q75]

Prints, in per cent of the scale: error of single pixels (RMS), of pin means (RMS, and bias), beside the same by nearest
colour; coverage of the stated 95 % intervals of pixels. The fields are made here: they say nothing of a real camera's
own sharpening.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map, repeats
from hotspot.read.colour_pixels import ColourPixels, Reading
from hotspot.read.colours import carrier_of
from hotspot.read.picture import decoded
from hotspot.read.scale import Ends

RISING = ("inferno", "magma", "plasma", "gray", "bone", "CMRmap", "gnuplot2")
FOLDED = ("hot", "turbo", "jet", "rainbow", "nipy_spectral")
MAPS = RISING + FOLDED
CARRIERS = ("png", "q95", "q85", "q75", "q50", "crf18", "crf23")
HEAD = "map            carrier     px    pin   bias  cover   half  nearest:     px    pin"


@dataclass(frozen=True, slots=True)
class Scene:
    """A field of places 0-1 along the scale (rows, columns), and its pins: x, y, radius in pixels (n, 3)."""

    field: np.ndarray
    pins: np.ndarray


@dataclass(frozen=True, slots=True)
class Score:
    """Errors in per cent of the scale; coverage and half-width of 95 % intervals of pixels."""

    pixel: float
    pin: float
    bias: float
    cover: float = np.nan
    half: float = np.nan


def scene(seed: int, size: tuple[int, int] = (240, 320)) -> Scene:
    """A connector of sixteen pins of 4-12 px on a warm tilted housing, with its cable, one pin hot."""
    rng = np.random.default_rng(seed)
    rows, columns = np.indices(size).astype(float)
    field = 0.12 + 0.05 * columns / size[1] + 0.04 * np.sin(rows / 60 + rng.uniform(0, 6))
    angle = rng.uniform(-0.15, 0.15)
    x = (columns - size[1] / 2) * np.cos(angle) + (rows - size[0] / 2) * np.sin(angle)
    y = -(columns - size[1] / 2) * np.sin(angle) + (rows - size[0] / 2) * np.cos(angle)
    inside = 1 / (1 + np.exp((np.maximum(abs(x) - 110, abs(y) - 62)) / 1.2))
    field += inside * (0.18 + 0.06 * x / 110)
    cable = 1 / (1 + np.exp((abs(y - 10) - 14) / 1.2)) * (x > 90)
    field = np.maximum(field, cable * 0.4)
    pins = []
    hot = rng.integers(16)
    for k in range(16):
        radius = rng.uniform(2.0, 6.0)
        px, py = (k % 8 - 3.5) * 26 + rng.uniform(-2, 2), (k // 8 - 0.5) * 50 + rng.uniform(-3, 3)
        rise = rng.uniform(0.45, 0.55) if k == hot else rng.uniform(0.06, 0.3)
        field += rise / (1 + np.exp((np.hypot(x - px, y - py) - radius) / 0.7))
        cx = size[1] / 2 + px * np.cos(angle) - py * np.sin(angle)
        cy = size[0] / 2 + px * np.sin(angle) + py * np.cos(angle)
        pins.append((cx, cy, radius))
    field += rng.normal(0, 0.0012, size)
    return Scene(np.clip(field, 0.02, 0.98), np.array(pins))


def drawn(field: np.ndarray, name: str) -> np.ndarray:
    """The field through a map of 256 colours, uint8 RGB."""
    from matplotlib import colormaps

    return colormaps[name](np.rint(field * 255) / 255, bytes=True)[:, :, :3]


def carried(rgb: np.ndarray, carrier: str) -> ColourImage:
    """The picture after `png`, `q..` (JPEG, 4:2:0), or `crf..` (H.264, the middle of five frames, as planes)."""
    from PIL import Image

    if carrier == "png":
        return ColourImage.from_rgb(rgb)
    if carrier.startswith("q"):
        buffer = io.BytesIO()
        Image.fromarray(rgb).save(buffer, "JPEG", quality=int(carrier[1:]))
        buffer.seek(0)
        return decoded(buffer)
    return _filmed(rgb, carrier[3:])


def _filmed(rgb: np.ndarray, crf: str) -> ColourImage:
    import av

    buffer = io.BytesIO()
    with av.open(buffer, "w", format="mp4") as film:
        stream = film.add_stream("libx264", rate=5, options={"crf": crf})
        stream.height, stream.width, stream.pix_fmt = *rgb.shape[:2], "yuv420p"
        for _ in range(5):
            film.mux(stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24")))
        film.mux(stream.encode())
    buffer.seek(0)
    with av.open(buffer) as film:
        frame = list(film.decode(video=0))[2]
        planes = [np.frombuffer(p, np.uint8).reshape(p.height, p.line_size)[:, : p.width].copy() for p in frame.planes]
    return ColourImage.from_planes(*planes, True, "601")


def nearest(image: ColourImage, name: str) -> np.ndarray:
    """What is common: for each pixel the entry whose RGB is nearest."""
    table = known_map(name).rgb
    rgb = image.as_rgb().reshape(-1, 3).astype(float)
    colours, back = np.unique(rgb, axis=0, return_inverse=True)
    best = np.empty(len(colours), int)
    for first in range(0, len(colours), 4096):
        part = colours[first : first + 4096]
        best[first : first + 4096] = ((part[:, None] - table[None]) ** 2).sum(axis=2).argmin(axis=1)
    return known_map(name).places[best][back.ravel()].reshape(image.shape)


def read(image: ColourImage, name: str, *, exact: bool) -> tuple[np.ndarray, np.ndarray]:
    """Places and standard uncertainties (rows, columns) by the program's own reader, scale 0-1."""
    colours = known_map(name)
    reading = Reading(colours, repeats(colours), carrier_of(colours, image, compressed=not exact))
    rows, columns = np.indices(image.shape)
    values, _, uncertainty = ColourPixels(image, reading, Ends(0.0, 1.0)).at(rows.ravel(), columns.ravel())
    return values.reshape(image.shape), uncertainty.reshape(image.shape)


def scored(values: np.ndarray, uncertainty: np.ndarray | None, seen: Scene) -> Score:
    """Errors against the field that was drawn."""
    error = 100 * (values - seen.field)
    rows, columns = np.indices(error.shape)
    pins = [np.nanmean(error[np.hypot(columns - x, rows - y) <= max(0.7 * radius, 1.0)]) for x, y, radius in seen.pins]
    known = np.isfinite(error)
    score = [float(np.sqrt(np.mean(error[known] ** 2))), float(np.sqrt(np.mean(np.square(pins)))), float(np.mean(pins))]
    if uncertainty is None:
        return Score(*score)
    half = 196 * uncertainty[known]
    return Score(*score, float(np.mean(abs(error[known]) <= half)), float(np.median(half)))


def measure(name: str, carrier: str, seeds: Sequence[int]) -> tuple[Score, Score]:
    """The program's reader and the nearest colour, means over seeds."""
    ours, theirs = [], []
    for seed in seeds:
        seen = scene(seed)
        image = carried(drawn(seen.field, name), carrier)
        ours.append(scored(*read(image, name, exact=carrier == "png"), seen))
        theirs.append(scored(nearest(image, name), None, seen))
    return _mean(ours), _mean(theirs)


def _mean(scores: Sequence[Score]) -> Score:
    return Score(*np.mean([[s.pixel, s.pin, s.bias, s.cover, s.half] for s in scores], axis=0))


def line(name: str, carrier: str, ours: Score, theirs: Score) -> str:
    """One row of the table."""
    numbers = f"{ours.pixel:7.2f}{ours.pin:7.2f}{ours.bias:7.2f}{ours.cover:7.3f}{ours.half:7.2f}"
    return f"{name:14s}{carrier:>8s}{numbers}          {theirs.pixel:7.2f}{theirs.pin:7.2f}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=100)
    parser.add_argument("--maps", default=",".join(MAPS))
    parser.add_argument("--carriers", default=",".join(CARRIERS))
    options = parser.parse_args(arguments)
    print(HEAD)
    for carrier in options.carriers.split(","):
        rows = []
        for name in options.maps.split(","):
            seeds = range(options.first_seed, options.first_seed + options.seeds)
            rows.append(measure(name, carrier, seeds))
            print(line(name, carrier, *rows[-1]), flush=True)
        ours, theirs = ([row[k] for row in rows] for k in (0, 1))
        median = [
            Score(*np.median([[s.pixel, s.pin, s.bias, s.cover, s.half] for s in each], axis=0))
            for each in (ours, theirs)
        ]
        print(line("median", carrier, *median), flush=True)


if __name__ == "__main__":
    sys.exit(main())
