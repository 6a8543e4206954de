"""How often the grid of pins is found, how well, and whether a wrong one is ever offered: made scenes, known truth.

    python tests/benchmarks/locate_grid.py [--seeds 60] [--first-seed 5000]

For each scene of `hotspot.synthetic.scenes` the stated grid is looked for. `--wrong` asks for a grid that is not the
one in the picture, where every offer is a wrong one. Rates carry 95 % intervals (Wilson, J. Am. Stat. Assoc. 22, 1927;
formula from memory, held against scipy in the tests).
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass

import numpy as np

from hotspot.errors import InputError
from hotspot.locate import place
from hotspot.records import Frame
from hotspot.session import Session
from hotspot.synthetic.scenes import Scene, draw_scene

SAMPLE = 12
BIG_PX = 6.0
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
    error of the last frame's mean over the pins' circles through placing [K rms], seconds."""

    layout: tuple[int, int]
    across_px: float
    offered: bool
    right: bool
    centres_px: float
    placing_k: float
    seconds: float


def sample_of(scene: Scene) -> list[Frame]:
    """Twelve frames spread over the test."""
    footage = scene.footage
    chosen = np.linspace(0, len(footage.time_s) - 1, SAMPLE).round().astype(int)
    return [Frame(int(k), f"f{k}.tif", float(footage.time_s[k]), Held(footage.celsius[k])) for k in chosen]


def outcome(seed: int, wrong: bool = False) -> Outcome:
    """Draw a scene and look for its grid, or for one that is not there."""
    scene = draw_scene(seed)
    footage, spec = scene.footage, scene.case.spec
    layout = spec.rows, spec.columns
    if wrong:
        layout = OTHER_GRIDS[layout][seed % 3]
    sample = sample_of(scene)
    session = Session.model_validate({"connector": {"rows": layout[0], "columns": layout[1]}})
    across = float(2.0 * footage.radius_px[0])
    started = time.perf_counter()
    try:
        found = place(session, sample)
    except InputError:
        return Outcome(layout, across, False, False, np.nan, np.nan, time.perf_counter() - started)
    took = time.perf_counter() - started
    if wrong:
        return Outcome(layout, across, True, False, np.nan, np.nan, took)
    away = np.hypot(found.x_px - footage.x_px, found.y_px - footage.y_px)
    right = bool(away.max() <= 0.3 * spec.pitch_mm * footage.camera.px_per_mm)
    last = footage.celsius[-1]
    true_k = _circle_means(last, footage.x_px, footage.y_px, footage.radius_px)
    error_k = _circle_means(last, found.x_px, found.y_px, found.radius_px) - true_k
    seen = np.setdiff1d(np.arange(spec.pins), scene.hidden)
    return Outcome(
        layout, across, True, right, float(np.sqrt((away**2).mean())), float(np.sqrt((error_k[seen] ** 2).mean())), took
    )


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


HEADING = "layout | sessions | offered and right | offered but wrong | centres px rms | placing K rms, >= 6 px | s"


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
        took = np.median([one.seconds for one in own])
        exact = f"{centres:.2f} | {kelvin:.2f} (n {len(large)}) | {took:.1f}"
        lines.append(f"{name} | {len(own)} | {rate} | {bad} (up to {worst:.1%}) | {exact}")
    return "\n".join(lines)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=5000)
    parser.add_argument("--wrong", action="store_true", help="ask for grids that are not in the picture")
    given = parser.parse_args()
    seeds = range(given.first_seed, given.first_seed + given.seeds)
    outcomes = []
    for seed in seeds:
        outcomes.append(outcome(seed, given.wrong))
        one = outcomes[-1]
        if not one.right:
            print(
                f"seed {seed}: {one.layout[0]}x{one.layout[1]} {one.across_px:.1f} px, offered: {one.offered}",
                flush=True,
            )
    print(table(outcomes))


if __name__ == "__main__":
    main()
