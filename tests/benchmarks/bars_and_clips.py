"""How often the colour bar is found and named, and pins past the end of a fixed scale are marked. Made pictures.

    python tests/benchmarks/bars_and_clips.py [--seeds 2] [--first-seed 100] [--what bars,clips] [--carriers q75]

Bars of 8-14 x 120-200 px at the side of a made connector, upright and lying, either hot end, framed or not, asked for
with and without the hot end; and pictures without one. Clips: in every picture three pins go 5 to 30 % past the top of
the scale, one stays 3 % below it, the rest lower. Shares carry 95 % intervals (Wilson 1927).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence

import numpy as np
from colour_accuracy import MAPS, Scene, carried, drawn, pixels_of, scene
from scale_reading import wilson

from hotspot.doubts import BIT
from hotspot.extract.series import CLIPPED_PX, CLIPPED_SHARE
from hotspot.read.bar import find_bar

CARRIERS = ("png", "q95", "q85", "q75")
OVER, PINS_OVER = (1.05, 1.3), 3
BELOW = 0.97


def share(hits: int, of: int) -> str:
    """`hits of of` with its interval."""
    low, high = wilson(hits, of)
    return f"{hits} of {of} ({100 * low:.1f} to {100 * high:.1f} %)"


def over_the_top(seed: int) -> Scene:
    """The connector with some pins past the top, and the warmest of the others 3 % below it."""
    seen = scene(seed)
    rng = np.random.default_rng([seed, 7])
    rows, columns = np.indices(seen.field.shape)
    order = rng.permutation(len(seen.pins))
    field = seen.field.copy()
    for rank, k in enumerate(order[: PINS_OVER + 1]):
        x, y, radius = seen.pins[k]
        away = np.hypot(columns - x, rows - y)
        peak = float(np.median(field[away <= max(0.5 * radius, 1.0)]))
        wanted = rng.uniform(*OVER) if rank < PINS_OVER else BELOW - 0.004  # less the noise
        field += (wanted - peak) / (1 + np.exp((away - radius) / 0.7))
    for k in order[PINS_OVER + 1 :]:
        x, y, radius = seen.pins[k]
        face = np.hypot(columns - x, rows - y) <= radius + 2
        field[face] = np.minimum(field[face], BELOW)
    return Scene(field, seen.pins)


def marked(name: str, carrier: str, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Which pins the program marks as clipped, and which went past the top by enough pixels to be so."""
    seen = over_the_top(seed)
    rows, columns = np.indices(seen.field.shape)
    faces = [np.hypot(columns - x, rows - y) <= radius for x, y, radius in seen.pins]
    image = carried(drawn(np.clip(seen.field, 0, 1), name), carrier)
    doubt = pixels_of(image, name, exact=carrier == "png").at(rows.ravel(), columns.ravel())[1].reshape(image.shape)
    at_end = doubt & BIT["clipped_high"] > 0
    told = [at_end[face].sum() >= CLIPPED_PX or at_end[face].mean() > CLIPPED_SHARE for face in faces]
    return np.array(told), np.array([(seen.field[face] > 1.0).sum() >= CLIPPED_PX for face in faces])


def clips(names: Sequence[str], carriers: Sequence[str], seeds: Sequence[int]) -> Iterator[str]:
    """A row per carrier, `hot` by itself."""
    for carrier in carriers:
        for title, some in (
            ("maps but hot", [n for n in names if n != "hot"]),
            ("hot", ["hot"] if "hot" in names else []),
        ):
            told, beyond = [], []
            for name in some:
                for seed in seeds:
                    one, other = marked(name, carrier, seed)
                    told.append(one)
                    beyond.append(other)
            if some:
                told_all, beyond_all = np.concatenate(told), np.concatenate(beyond)
                found = share(int((told_all & beyond_all).sum()), int(beyond_all.sum()))
                false = share(int((told_all & ~beyond_all).sum()), int((~beyond_all).sum()))
                yield f"clipped pins {carrier}, {title}: {found} found, {false} false"


def bars(names: Sequence[str], carriers: Sequence[str], seeds: Sequence[int]) -> Iterator[str]:
    """A row per carrier: bars with the hot end given, without it, and pictures that have none."""
    for carrier in carriers:
        given = unaided = tried = quiet = bare = 0
        for name in names:
            for seed in seeds:
                plain = drawn(scene(seed).field, name)
                bare += 1
                quiet += find_bar(carried(plain, carrier)) is None
                for high_end in ("top", "bottom", "left", "right"):
                    picture = carried(with_bar(plain, name, high_end, seed), carrier)
                    tried += 1
                    bar = find_bar(picture, high_end)
                    given += bar is not None and bar.known == name
                    bar = find_bar(picture)
                    backwards = high_end in ("bottom", "left")
                    unaided += bar is not None and bar.known == (f"{name}_r" if backwards else name)
        yield (
            f"bars {carrier}: {share(given, tried)} found and named, unaided {share(unaided, tried)}, "
            f"'no bar' {share(quiet, bare)}"
        )


def with_bar(rgb: np.ndarray, name: str, high_end: str, seed: int) -> np.ndarray:
    """The picture with a bar of 8-14 x 120-200 px somewhere at its side, in a frame one time in two."""
    rng = np.random.default_rng([seed, len(high_end)])
    long, wide = int(rng.integers(120, 200)), int(rng.integers(8, 15))
    along = drawn((np.arange(long) + 0.5) / long, name)
    along = along[::-1] if high_end in ("top", "left") else along
    lying = high_end in ("left", "right")
    bar = np.repeat(along[None], wide, 0) if lying else np.repeat(along[:, None], wide, 1)
    if rng.random() < 0.5:
        bar = np.pad(bar, ((1, 1), (1, 1), (0, 0)), constant_values=int(rng.choice([0, 255])))
    top = int(rng.integers(4, 12)) if lying else int(rng.integers(5, 240 - bar.shape[0] - 4))
    left = int(rng.integers(5, 320 - bar.shape[1] - 4)) if lying else int(rng.integers(285, 300))
    result = rgb.copy()
    result[top : top + bar.shape[0], left : left + bar.shape[1]] = bar
    return result


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the rows."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=100)
    parser.add_argument("--maps", default=",".join(MAPS))
    parser.add_argument("--carriers", default=",".join(CARRIERS))
    parser.add_argument("--what", default="bars,clips")
    options = parser.parse_args(arguments)
    names, seeds = options.maps.split(","), range(options.first_seed, options.first_seed + options.seeds)
    for what, rows in (("bars", bars), ("clips", clips)):
        if what in options.what.split(","):
            for row in rows(names, options.carriers.split(","), seeds):
                print(row, flush=True)


if __name__ == "__main__":
    sys.exit(main())
