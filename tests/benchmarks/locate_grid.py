"""How often the grid of pins is found, how well, and whether a wrong one is ever offered: made scenes, known truth.

    python tests/benchmarks/locate_grid.py [--seeds 60] [--first-seed 20000] [--kinds stated other] [--save FILE]

What is asked for, a seed at a time: `stated`, the grid that is in the scene of `hotspot.synthetic.scenes`; `leaning`,
the same seen in perspective, the face leaning by 15 to 30 degrees; `beside`, the same with a connector of another
layout in view; and where every offer is a wrong one: `other`, a grid that is not the one in the picture; `wall`, a
grid where no connector is; `twin`, a second connector of the same layout in view. Rates carry 95 % intervals (Wilson,
J. Am. Stat. Assoc. 22, 1927; formula from memory, held against scipy in the tests).
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from hotspot.errors import InputError
from hotspot.locate import place
from hotspot.records import Frame
from hotspot.session import Session
from hotspot.synthetic.scenes import FOUND_UNAIDED, Scene, draw_scene
from hotspot.synthetic.walls import beside_another, draw_wall

SAMPLE = 12
BIG_PX = 6.0
MOST_LEAN_DEG = 30.0
WRONG = ("other", "wall", "twin")
OTHER_GRIDS = {(1, 6): ((1, 4), (1, 5), (1, 7)), (2, 4): ((2, 3), (2, 5), (1, 4)), (3, 4): ((3, 3), (2, 4), (3, 5))}


class Held:
    """The pixels of one made frame."""

    def __init__(self, celsius: np.ndarray) -> None:
        self.celsius = celsius.astype(float)
        self.shape = celsius.shape

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Values, no doubts, no uncertainty of reading."""
        return self.celsius[rows, columns], np.zeros(len(rows), np.uint32), np.zeros(len(rows))

    def picture(self) -> None:
        """No colours."""
        return


@dataclass(frozen=True)
class Outcome:
    """One session: what was offered, whether right (every pin within 0.3 of the pitch), centres' error [px rms],
    error of the last frame's mean over the pins' circles through placing [K rms], seconds of the clock and of the
    processor that finding took, the confidence of what was offered."""

    kind: str
    seed: int
    layout: tuple[int, int]
    across_px: float
    offered: bool
    right: bool
    centres_px: float
    placing_k: float
    seconds: float
    cpu_s: float
    confidence: float


def sample_of(celsius: np.ndarray, time_s: np.ndarray) -> list[Frame]:
    """Twelve frames spread over the test."""
    chosen = np.linspace(0, len(celsius) - 1, SAMPLE).round().astype(int)
    return [Frame(int(k), f"f{k}.tif", float(time_s[k]), Held(celsius[k])) for k in chosen]


def outcomes(seed: int, kinds: list[str]) -> list[Outcome]:
    """Draw the scenes of a seed and look for what each kind asks for. `twin` and `beside` are not always to be had."""
    found = []
    if {"stated", "other"} & set(kinds):
        scene = draw_scene(seed)
        own = scene.case.spec.rows, scene.case.spec.columns
        found += [outcome(kind, seed, scene, own) for kind in kinds if kind == "stated"]
        found += [outcome(kind, seed, scene, OTHER_GRIDS[own][seed % 3]) for kind in kinds if kind == "other"]
    if "leaning" in kinds:
        scene = draw_scene(seed, most_lean_deg=MOST_LEAN_DEG)
        found.append(outcome("leaning", seed, scene, (scene.case.spec.rows, scene.case.spec.columns)))
    for kind in ("beside", "twin"):
        if kind in kinds and (both := beside_another(seed, alike=kind == "twin")) is not None:
            found.append(outcome(kind, seed, both, (both.case.spec.rows, both.case.spec.columns)))
    if "wall" in kinds:
        found.append(outcome("wall", seed, draw_wall(seed), FOUND_UNAIDED[seed % 3]))
    return found


def outcome(kind: str, seed: int, scene: Scene | np.ndarray, layout: tuple[int, int]) -> Outcome:
    """Look for a grid in a scene, or in frames without a connector."""
    footage = scene.footage if isinstance(scene, Scene) else None
    celsius = scene if footage is None else footage.celsius
    sample = sample_of(celsius, np.arange(len(celsius)) if footage is None else footage.time_s)
    session = Session.model_validate({"connector": {"rows": layout[0], "columns": layout[1]}})
    across = np.nan if footage is None else float(2.0 * np.mean(footage.radius_px))
    clock, worked = time.perf_counter(), time.process_time()
    try:
        found = place(session, sample)
    except InputError:
        found = None
    took = time.perf_counter() - clock, time.process_time() - worked
    sure = np.nan if found is None else float(found.confidence)
    if found is None or kind in WRONG:
        return Outcome(kind, seed, layout, across, found is not None, False, np.nan, np.nan, *took, sure)
    spec = scene.case.spec
    away = np.hypot(found.x_px - footage.x_px, found.y_px - footage.y_px)
    right = bool(away.max() <= 0.3 * spec.pitch_mm * footage.camera.px_per_mm)
    last = footage.celsius[-1]
    true_k = _circle_means(last, footage.x_px, footage.y_px, footage.radius_px)
    error_k = _circle_means(last, found.x_px, found.y_px, found.radius_px) - true_k
    seen = np.setdiff1d(np.arange(spec.pins), scene.hidden)
    centres, kelvin = (float(np.sqrt((error**2).mean())) for error in (away, error_k[seen]))
    return Outcome(kind, seed, layout, across, True, right, centres, kelvin, *took, sure)


def _circle_means(celsius: np.ndarray, x: np.ndarray, y: np.ndarray, radius: np.ndarray) -> np.ndarray:
    """Mean over each circle, pixels weighted by the share of 25 points in them that lie inside."""
    rows, columns = np.indices(celsius.shape)
    part = (np.arange(5) - 2) / 5
    means = []
    for cx, cy, r in zip(x, y, radius, strict=True):
        near = (np.abs(columns - cx) <= r + 1) & (np.abs(rows - cy) <= r + 1)
        dx, dy = columns[near][:, None, None] + part - cx, rows[near][:, None, None] + part[:, None] - cy
        weight = (np.hypot(dx, dy) <= r).mean(axis=(1, 2))
        means.append((weight * celsius[near]).sum() / max(weight.sum(), 1e-9))
    return np.array(means)


def wilson(hits: int, of: int) -> tuple[float, float]:
    """95 % interval of a rate."""
    z, share = 1.959964, hits / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z * np.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, float(middle - half)), min(1.0, float(middle + half))


HEADING = (
    "layout | sessions | offered and right | offered but wrong | centres px rms | placing K rms, >= 6 px | "
    "s of the clock | of the processor"
)


def table(outcomes: list[Outcome]) -> str:
    """The outcomes as lines to print, by layout and together."""
    lines = [HEADING]
    groups = {f"{rows}x{columns}": (rows, columns) for rows, columns in sorted({one.layout for one in outcomes})}
    for name, layout in [*groups.items(), ("all", None)]:
        own = [one for one in outcomes if layout in (None, one.layout)]
        right, bad = sum(one.right for one in own), sum(one.offered and not one.right for one in own)
        low, high = wilson(right, len(own))
        worst = wilson(bad, len(own))[1]
        good = [one for one in own if one.right]
        centres = np.sqrt(np.mean([one.centres_px**2 for one in good])) if good else np.nan
        large = [one.placing_k**2 for one in good if one.across_px >= BIG_PX]
        kelvin = np.sqrt(np.mean(large)) if large else np.nan
        rate = f"{right} = {right / len(own):.0%} ({low:.0%}-{high:.0%})"
        took = [np.median([getattr(one, which) for one in own]) for which in ("seconds", "cpu_s")]
        exact = f"{centres:.2f} | {kelvin:.2f} (n {len(large)}) | {took[0]:.1f} | {took[1]:.1f}"
        lines.append(f"{name} | {len(own)} | {rate} | {bad} (up to {worst:.1%}) | {exact}")
    return "\n".join(lines)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=20000)
    parser.add_argument("--kinds", nargs="+", default=["stated"], choices=["stated", "leaning", "beside", *WRONG])
    parser.add_argument("--save", type=Path, help="where each outcome is added, as a line of JSON")
    given = parser.parse_args()
    done: list[Outcome] = []
    for seed in range(given.first_seed, given.first_seed + given.seeds):
        for one in outcomes(seed, given.kinds):
            done.append(one)
            if one.offered if one.kind in WRONG else not one.right:
                size = f"{one.layout[0]}x{one.layout[1]} {one.across_px:.1f} px"
                print(f"{one.kind} seed {seed}: {size}, offered: {one.offered}", flush=True)
            if given.save:
                with given.save.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(asdict(one)) + "\n")
    for kind in given.kinds:
        if own := [one for one in done if one.kind == kind]:
            print(f"\n{kind}\n{table(own)}")


if __name__ == "__main__":
    main()
