"""How often the colour bar is found and named, and pins past the end of a fixed scale are marked. Made pictures.

    python tests/benchmarks/bars_and_clips.py [--seeds 2] [--first-seed 100] [--what bars,clips] [--carriers q75]

Bars of 8-14 x 120-200 px at the side of a made connector, upright and lying, either hot end, framed or not, asked for
with and without the hot end; and pictures without one. Clips: in every picture three pins go 5 to 30 % past the top of
the scale, three stay 3 % below it and three 1.5 %, three hold a hot strand of some pixels only, which goes 10 to 50 %
past the top, and the rest lie more than 7 % below. A pin is past the top where three of its pixels are, marked where
the program marks it, in doubt where it only says that the pin touches the end. Shares carry 95 % intervals (Wilson
1927).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from dataclasses import field as dataclass_field

import numpy as np
from colour_accuracy import Scene, carried, chosen, drawn, parser_of, pixels_of, scene
from scale_reading import wilson

from hotspot.doubts import BIT
from hotspot.extract.series import CLIPPED_PX, CLIPPED_SHARE, TOUCHED_PX
from hotspot.read.bar import find_bar

CARRIERS = ("png", "q95", "q85", "q75")
KINDS, OF_EACH = ("past", "below", "just below", "strand"), 3
OVER = (1.05, 1.3)
BELOW = {"below": 0.97, "just below": 0.985}
LOWER = 0.93
UNDER_A_STRAND, STRAND, STRAND_PX = (0.6, 0.9), (1.1, 1.5), (0.8, 1.3)  # pin, strand's top, standard deviation


def share(hits: int, of: int) -> str:
    """`hits of of` with its interval."""
    low, high = wilson(hits, of)
    return f"{hits} of {of} ({100 * max(low, 0.0):.1f} to {100 * high:.1f} %)"


def pins_about_the_top(seed: int) -> tuple[Scene, list[str]]:
    """The connector with pins of each of KINDS, and the kind of every pin."""
    seen = scene(seed)
    rng = np.random.default_rng([seed, 7])
    rows, columns = np.indices(seen.field.shape)
    kinds = np.array([kind for kind in KINDS for _ in range(OF_EACH)] + ["lower"] * len(seen.pins))[: len(seen.pins)]
    kinds = rng.permutation(kinds)
    field = seen.field.copy()
    for (x, y, radius), kind in zip(seen.pins, kinds, strict=True):
        away = np.hypot(columns - x, rows - y)
        if kind == "lower":
            field[away <= radius + 2] = np.minimum(field[away <= radius + 2], LOWER)
            continue
        level = {"past": rng.uniform(*OVER), "strand": rng.uniform(*UNDER_A_STRAND)}.get(kind)
        level = BELOW[kind] - 0.004 if level is None else level  # less the noise
        peak = float(np.median(field[away <= max(0.5 * radius, 1.0)]))
        field += (level - peak) / (1 + np.exp((away - radius) / 0.7))
        if kind in BELOW:  # of a small pin the middle may lie above its median
            field[away <= radius + 2] = np.minimum(field[away <= radius + 2], BELOW[kind])
        if kind == "strand":
            turn, out = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.5) * radius
            away = np.hypot(columns - x - out * np.cos(turn), rows - y - out * np.sin(turn))
            field += (rng.uniform(*STRAND) - level) * np.exp(-((away / rng.uniform(*STRAND_PX)) ** 2) / 2)
    return Scene(field, seen.pins), list(kinds)


@dataclass(slots=True)
class Told:
    """Of pins: their kind, whether they are past the top, whether the program marks them, or is in doubt."""

    kind: list[str] = dataclass_field(default_factory=list)
    past: list[bool] = dataclass_field(default_factory=list)
    marked: list[bool] = dataclass_field(default_factory=list)
    doubted: list[bool] = dataclass_field(default_factory=list)

    def add(self, name: str, carrier: str, seed: int) -> None:
        """Read one picture."""
        seen, kinds = pins_about_the_top(seed)
        rows, columns = np.indices(seen.field.shape)
        image = carried(drawn(np.clip(seen.field, 0, 1), name), carrier)
        pixels = pixels_of(image, name, exact=carrier == "png")
        for (x, y, radius), kind in zip(seen.pins, kinds, strict=True):
            face = np.hypot(columns - x, rows - y) <= radius
            doubt = pixels.at(*np.nonzero(face))[1]
            at_end = doubt & BIT["clipped_high"] > 0
            self.kind.append(kind)
            self.past.append(bool((seen.field[face] > 1.0).sum() >= CLIPPED_PX))
            self.marked.append(bool(at_end.sum() >= CLIPPED_PX or at_end.mean() > CLIPPED_SHARE))
            touched = (at_end | (doubt & BIT["end_touched"] > 0)).sum() >= TOUCHED_PX
            self.doubted.append(bool(touched) and not self.marked[-1])

    def row(self) -> str:
        """Pins past the top that are found, others that are marked; strands that have neither mark nor doubt."""
        kind, past, marked, doubted = (np.array(each) for each in (self.kind, self.past, self.marked, self.doubted))
        whole, strand = (kind == "past") & past, (kind == "strand") & past
        said = [f"{share(int(marked[whole].sum()), int(whole.sum()))} found"]
        for name, of in (*((f"{100 - 100 * level:.1f} % below", k) for k, level in BELOW.items()), ("lower", "lower")):
            false = (kind == of) & ~past
            said.append(f"{name} {share(int(marked[false].sum()), int(false.sum()))} false")
        said.append(f"lower in doubt {int(doubted[kind == 'lower'].sum())} of {int((kind == 'lower').sum())}")
        said.append(f"strands {share(int(marked[strand].sum()), int(strand.sum()))} found")
        unsaid = strand & ~marked & ~doubted
        return "; ".join([*said, f"{share(int(unsaid.sum()), int(strand.sum()))} without mark or doubt"])


def clips(names: Sequence[str], carriers: Sequence[str], seeds: Sequence[int]) -> Iterator[str]:
    """A row per carrier, `hot` by itself."""
    for carrier in carriers:
        for title, some in (
            ("maps but hot", [n for n in names if n != "hot"]),
            ("hot", [n for n in names if n == "hot"]),
        ):
            told = Told()
            for name in some:
                for seed in seeds:
                    told.add(name, carrier, seed)
            if some:
                yield f"clipped pins {carrier}, {title}: {told.row()}"


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
    parser = parser_of(__doc__, CARRIERS)
    parser.add_argument("--what", default="bars,clips")
    options = parser.parse_args(arguments)
    names, carriers, seeds = chosen(options)
    for what, rows in (("bars", bars), ("clips", clips)):
        if what in options.what.split(","):
            for row in rows(names, carriers, seeds):
                print(row, flush=True)


if __name__ == "__main__":
    sys.exit(main())
