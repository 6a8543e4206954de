"""How often the printed ends of a self-ranging scale are read from three typed frames: made series, known truth.

    python tests/benchmarks/scale_reading.py [--series 40] [--first-seed 9000] [--fonts unseen|seen|all]
        [--font-file FILE.ttf ...]

Each series is 80 JPEG frames of one camera: font, size, place, ground, decimals, unit, colour map and quality are drawn
by the seed; what is outlined on the picture is light. The program picks the three frames, their true ends are typed,
all others are read. `unseen` are fonts that nothing was tuned on at first; files named with
`--font-file` take the place of the lists. Rates carry 95 % intervals (Wilson, J. Am. Stat.
Assoc. 22, 1927; formula from memory, held against scipy in the tests).
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from pathlib import Path

import numpy as np

from hotspot.read.bar import find_bar
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map
from hotspot.read.colour_quick import QuickMap
from hotspot.read.scale_reading import Look, Looker, frames_to_type, read_ends
from hotspot.synthetic.self_ranging import HERSHEY, Lettering, ranged_picture, ranged_scene

SEEN = ("DejaVuSans", "DejaVuSans-Bold", "DejaVuSerif", "cmss10", "cmtt10", "STIXGeneralBol", "simplex", "duplex")
UNSEEN = ("pillow", "DejaVuSansMono", "DejaVuSansMono-Bold", "DejaVuSerif-Bold", "cmr10", "STIXGeneral", "complex")
MAPS = ("inferno", "magma", "jet", "gray", "viridis", "hot")
QUALITIES = (75, 85, 92, 95)
FRAMES = 80


def wilson(hits: int, of: int) -> tuple[float, float]:
    """95 % interval of a share."""
    if of == 0:
        return 0.0, 1.0
    z, share = 1.959964, hits / of
    middle = share + z * z / (2 * of)
    half = z * np.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return (middle - half) / (1 + z * z / of), (middle + half) / (1 + z * z / of)


def lettering_of(rng: np.random.Generator, fonts: tuple[str, ...]) -> Lettering:
    """One camera's print."""
    font, unit = str(rng.choice(fonts)), str(rng.choice(("", "°", "°C", "C")))
    if font.startswith("cm") or font in HERSHEY:  # these have no degree sign where it is looked for
        unit = unit.replace("°", "")
    ground = str(rng.choice(("panel", "panel", "outlined")))
    return Lettering(
        font=font,
        size_px=int(rng.integers(11, 21)),
        place=str(rng.choice(("beyond", "left", "right"))),
        ground=ground,
        light=bool(rng.random() < 0.8) or ground == "outlined",
        decimals=int(rng.random() < 0.75),
        unit=unit,
    )


def jpeg(rgb: np.ndarray, quality: int) -> np.ndarray:
    """The picture after a JPEG of that quality."""
    import cv2

    coded = cv2.imencode(".jpg", rgb[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[:, :, ::-1])


def series(seed: int, fonts: tuple[str, ...], frames: int):
    """(what it is, looks, looker, true texts) of one camera; looker None where no bar was found."""
    rng = np.random.default_rng(seed)
    lettering = lettering_of(rng, fonts)
    size = (240, 320) if rng.random() < 0.7 else (360, 480)
    scene = ranged_scene(rng, frames, size, rng.uniform(-15, 25), rng.uniform(50, 140))
    quality, name = int(rng.choice(QUALITIES)), str(rng.choice(MAPS))
    quick = QuickMap(known_map(name), "601")
    looker, looks, truth = None, [], []
    for k, celsius in enumerate(scene.celsius):
        picture, *texts = ranged_picture(celsius, lettering, name)
        picture = jpeg(picture, quality)
        image = ColourImage.from_rgb(picture)
        if looker is None:
            bar = find_bar(image)
            if bar is None:
                return (lettering, size, quality, name), looks, None, truth
            looker = Looker(bar, picture.shape[:2])
        looks.append(looker.look(k, f"{k}.jpg", picture, quick.places(image, None, None)))
        truth.append(tuple(texts))
    return (lettering, size, quality, name), looks, looker, truth


def outcomes(looks: list[Look], looker: Looker, truth: list[tuple[str, str]]) -> Counter:
    """Frames read right, read wrongly without a mark, and doubtful, of those that were not typed."""
    typed = {k: truth[k] for k in frames_to_type(looks, looker.zones)}
    ends, _ = read_ends(looks, looker.zones, typed)
    count: Counter = Counter()
    for k, end in enumerate(ends):
        if k not in typed:
            count["doubtful" if end.why else "right" if (end.low, end.high) == truth[k] else "wrong"] += 1
            count[end.why] += bool(end.why)
    return count


def main(argv: list[str] | None = None) -> int:
    """Prints a line per series and the rates."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=40)
    parser.add_argument("--first-seed", type=int, default=9000)
    parser.add_argument("--fonts", choices=("unseen", "seen", "all"), default="unseen")
    parser.add_argument("--frames", type=int, default=FRAMES)
    parser.add_argument("--font-file", type=Path, nargs="+", default=[], help="TrueType files, in place of --fonts")
    given = parser.parse_args(argv)
    if missing := [str(file) for file in given.font_file if file.suffix != ".ttf" or not file.is_file()]:
        parser.error(f"not a .ttf file that is here: {', '.join(missing)}")
    fonts = (
        tuple(str(file.resolve().with_suffix("")) for file in given.font_file)
        or {"unseen": UNSEEN, "seen": SEEN, "all": SEEN + UNSEEN}[given.fonts]
    )
    total: Counter = Counter()
    for seed in range(given.first_seed, given.first_seed + given.series):
        began = time.perf_counter()
        (lettering, size, quality, name), looks, looker, truth = series(seed, fonts, given.frames)
        count = (
            outcomes(looks, looker, truth) if looker else Counter({"doubtful": given.frames, "no bar": given.frames})
        )
        total += count
        kind = f"{Path(lettering.font).name} {lettering.size_px} {lettering.place} {lettering.ground}"
        kind += f" {'light' if lettering.light else 'dark'} {lettering.decimals} {lettering.unit or '-'}"
        took = time.perf_counter() - began
        print(f"{seed} {kind} {name} q{quality} {size[1]}x{size[0]}: {dict(count)} {took:.1f} s", flush=True)
    of = sum(total[kind] for kind in ("right", "wrong", "doubtful"))
    for kind in ("right", "wrong", "doubtful"):
        low, high = wilson(total[kind], of)
        print(f"{kind:9s} {total[kind]:6d} of {of}: {total[kind] / max(of, 1):.2%} ({low:.2%} to {high:.2%})")
    print({why: count for why, count in total.items() if why not in ("right", "wrong", "doubtful", "")})
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
