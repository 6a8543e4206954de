"""How true are temperatures read off colours? Made fields, drawn through known maps, encoded, read back.

    python tests/benchmarks/colour_accuracy.py [--seeds 2] [--first-seed 100] [--maps inferno,jet] [--carriers q95,q75]

Prints a line per map and carrier, then the rows of the figures to reach, with how many maps, pictures, pixels or pins
stand behind each. All in per cent of the scale: error of single pixels (RMS) and of pin means (RMS, and bias), beside
the same by nearest colour; how many errors the stated 95 % intervals hold, and how wide these are against what the
errors need. The fields are made here: they say nothing of a real camera's own sharpening.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from hotspot.physics.uncertainty import mean_of_parts
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map, repeats
from hotspot.read.colour_pixels import ColourPixels, Reading
from hotspot.read.colours import carrier_of
from hotspot.read.picture import decoded
from hotspot.read.scale import Ends

RISING = ("inferno", "magma", "plasma", "gray", "bone", "CMRmap", "gnuplot2")
FOLDED = ("hot", "turbo", "jet", "rainbow", "nipy_spectral")
FIGURED = ("hot", "turbo", "jet", "nipy_spectral")
MAPS = RISING + FOLDED
CARRIERS = ("png", "q95", "q85", "q75", "q50", "crf18", "crf23")
LOSSY = CARRIERS[1:]
HEAD = "map            carrier     px   bias    pin   bias  cover:  px   pin   wide:  px   pin  nearest:   px    pin"


@dataclass(frozen=True, slots=True)
class Scene:
    """A field of places 0-1 along the scale (rows, columns), and its pins: x, y, radius in pixels (n, 3)."""

    field: np.ndarray
    pins: np.ndarray


@dataclass(slots=True)
class Score:
    """Errors of one map and carrier over some pictures, in per cent of the scale, with the half-widths of their 95 %
    intervals (none for nearest colour): pixels, and pin means. `.._other` are the errors of the same pictures if they
    were drawn the other way: colour k of 256 for temperatures from k / 256 on, not for those nearest to k / 255.
    Programs do either, no picture tells which, and the intervals are to hold for both."""

    name: str
    carrier: str
    pixel: list[np.ndarray] = field(default_factory=list)
    pixel_half: list[np.ndarray] = field(default_factory=list)
    pin: list[np.ndarray] = field(default_factory=list)
    pin_half: list[np.ndarray] = field(default_factory=list)
    pixel_other: list[np.ndarray] = field(default_factory=list)
    pin_other: list[np.ndarray] = field(default_factory=list)

    def rms(self, what: str) -> float:
        """RMS error of `pixel` or `pin`, mean over pictures."""
        return float(np.mean([np.sqrt(np.mean(each**2)) for each in getattr(self, what)]))

    def bias(self, what: str) -> float:
        return float(np.concatenate(getattr(self, what)).mean())

    def held(self, what: str, ways: Sequence[str] = ("",)) -> np.ndarray:
        """Whether each error lies in its interval; `ways` of drawing: as it was, or `_other`."""
        half = np.concatenate(getattr(self, f"{what}_half"))
        return np.concatenate([np.abs(np.concatenate(getattr(self, what + way))) <= half for way in ways])

    def wide(self, what: str, ways: Sequence[str] = ("",)) -> float:
        """Median half-width over the half-width that would hold 95 % of the errors."""
        errors = np.concatenate([each for way in ways for each in getattr(self, what + way)])
        return float(np.median(np.concatenate(getattr(self, f"{what}_half"))) / np.percentile(np.abs(errors), 95))


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

    return colormaps[name](np.rint(field * 255) / 255, bytes=True)[..., :3]


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


def pixels_of(image: ColourImage, name: str, *, exact: bool) -> ColourPixels:
    """The program's own reader, scale 0-1."""
    colours = known_map(name)
    reading = Reading(colours, repeats(colours), carrier_of(colours, image, compressed=not exact))
    return ColourPixels(image, reading, Ends(0.0, 1.0))


def read(image: ColourImage, name: str, *, exact: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Places and standard uncertainties (rows, columns) by it: of each pixel, what of it is its own in the mean of a
    pin, and what is common."""
    rows, columns = (each.ravel() for each in np.indices(image.shape))
    pixels = pixels_of(image, name, exact=exact)
    values, _, uncertainty = pixels.at(rows, columns)
    parts = pixels.in_parts(rows, columns)[2:]
    return tuple(each.reshape(image.shape) for each in (values, uncertainty, *parts))


def score_of(name: str, carrier: str, seeds: Sequence[int]) -> tuple[Score, Score]:
    """The program's reader and the nearest colour, over pictures of some seeds."""
    ours, theirs = Score(name, carrier), Score(name, carrier)
    for seed in seeds:
        seen = scene(seed)
        image = carried(drawn(seen.field, name), carrier)
        values, *stated = read(image, name, exact=carrier == "png")
        _add(ours, values - seen.field, seen, stated)
        _add(theirs, nearest(image, name) - seen.field, seen, None)
    return ours, theirs


def _add(score: Score, error: np.ndarray, seen: Scene, stated: Sequence[np.ndarray] | None) -> None:
    """One picture. The uncertainty of a pin's mean is put together as the program does it."""
    rows, columns = np.indices(error.shape)
    faces = [np.hypot(columns - x, rows - y) <= max(0.7 * radius, 1.0) for x, y, radius in seen.pins]
    known = np.isfinite(error)
    score.pixel.append(100 * error[known].astype(np.float32))
    score.pin.append(100 * np.array([np.nanmean(error[face]) for face in faces]))
    if stated is not None:
        uncertainty, own, common = stated
        other = 100 * (error + (seen.field - 0.5) / 256.0)  # k / 256 to (k + 1) / 256, read as k / 255
        score.pixel_other.append(other[known].astype(np.float32))
        score.pin_other.append(np.array([np.nanmean(other[face]) for face in faces]))
        score.pixel_half.append(196 * uncertainty[known].astype(np.float32))
        parts = [((own[face] ** 2).sum() / face.sum() ** 2, common[face].mean()) for face in faces]
        score.pin_half.append(196 * mean_of_parts(*np.transpose(parts)))


def line(ours: Score, theirs: Score) -> str:
    """One row of the table of maps."""
    errors = "".join(f"{v:7.2f}" for w in ("pixel", "pin") for v in (ours.rms(w), ours.bias(w)))
    held = "".join(f"{100 * ours.held(w).mean():6.1f}" for w in ("pixel", "pin"))
    wide = "".join(f"{ours.wide(w):6.2f}" for w in ("pixel", "pin"))
    common = f"{theirs.rms('pixel'):9.2f}{theirs.rms('pin'):7.2f}"
    return f"{ours.name:14s}{ours.carrier:>8s}{errors}       {held}      {wide}      {common}"


def figures(pairs: Sequence[tuple[Score, Score]]) -> list[str]:
    """The rows of the figures to reach."""
    said = []
    ours = [pair[0] for pair in pairs]
    for carrier in CARRIERS:
        these = [pair for pair in pairs if pair[0].carrier == carrier]
        if these:
            middle = [float(np.median([s.rms("pixel") for s in each])) for each in zip(*these, strict=True)]
            bias = max((s.bias("pixel") for s, _ in these), key=abs)
            count = f"{len(these)} maps, {sum(len(s.pixel) for s, _ in these)} pictures"
            said.append(
                f"pixel RMS {carrier}: {middle[0]:.2f} (median map; nearest colour {middle[1]:.2f}), "
                f"worst bias {bias:+.2f}; {count}"
            )
    for title, names in (("rising maps", RISING), ("hot, turbo, jet, nipy_spectral", FIGURED)):
        for carrier in LOSSY:
            these = [s for s in ours if s.carrier == carrier and s.name in names]
            if these:
                said.append(_pins(title, carrier, these))
    for title, carriers in (
        ("JPEG", [c for c in LOSSY if c[0] == "q"]),
        ("video", ["crf18", "crf23"]),
        ("PNG", ["png"]),
    ):
        these = [s for s in ours if s.carrier in carriers]
        for way, ways in (("", ("",)), (", drawn either way", ("", "_other"))):
            said += [_coverage(title + way, what, these, ways) for what in ("pixel", "pin") if these]
    return said


def _pins(title: str, carrier: str, scores: Sequence[Score]) -> str:
    worst = max(scores, key=lambda s: s.rms("pin"))
    most = max(scores, key=lambda s: abs(s.bias("pin")))
    count = sum(len(p) for s in scores for p in s.pin)
    return (
        f"pin mean RMS {carrier}, {title}: worst map {worst.rms('pin'):.2f} ({worst.name}), median "
        f"{np.median([s.rms('pin') for s in scores]):.2f}; largest bias {most.bias('pin'):+.2f} ({most.name}); "
        f"{len(scores)} maps, {count} pins"
    )


def _coverage(title: str, what: str, scores: Sequence[Score], ways: Sequence[str]) -> str:
    """Coverage pooled over maps and carriers, least and most of a map, and the widths against the need."""
    held = np.concatenate([s.held(what, ways) for s in scores])
    by_map = {}
    for name in dict.fromkeys(s.name for s in scores):
        by_map[name] = 100 * float(np.concatenate([s.held(what, ways) for s in scores if s.name == name]).mean())
    low, high = min(by_map, key=by_map.get), max(by_map, key=by_map.get)
    wide = np.median([s.wide(what, ways) for s in scores])
    return (
        f"coverage {title}, {what}s: {100 * held.mean():.1f} % pooled, {by_map[low]:.1f} ({low}) to {by_map[high]:.1f} "
        f"({high}); median half-width {wide:.2f} of the need; {held.size} {what}s"
    )


def parser_of(told: str | None, carriers: Sequence[str] = CARRIERS) -> argparse.ArgumentParser:
    """The options of scripts that go through maps, carriers and seeds; `told` is what the script says of itself."""
    parser = argparse.ArgumentParser(description=told, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=100)
    parser.add_argument("--maps", default=",".join(MAPS))
    parser.add_argument("--carriers", default=",".join(carriers))
    return parser


def chosen(options: argparse.Namespace) -> tuple[list[str], list[str], range]:
    """Maps, carriers and seeds by the options of `parser_of`."""
    seeds = range(options.first_seed, options.first_seed + options.seeds)
    return options.maps.split(","), options.carriers.split(","), seeds


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables."""
    names, carriers, seeds = chosen(parser_of(__doc__).parse_args(arguments))
    pairs = []
    print(HEAD)
    for carrier in carriers:
        for name in names:
            pairs.append(score_of(name, carrier, seeds))
            print(line(*pairs[-1]), flush=True)
    for row in figures(pairs):
        print(row, flush=True)


if __name__ == "__main__":
    sys.exit(main())
