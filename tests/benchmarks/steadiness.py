"""How well frames are laid on each other, on made connectors filmed from the hand, and what it costs.

    python tests/benchmarks/steadiness.py [--scenes 12] [--from 100] [--frames 40] [--size 320x240] [--no-cost]

Connectors of `hotspot.synthetic.cases` anywhere in the picture at 15-70 % of its width, camera bias, shutter steps,
NETD 0.1 K, a hand that drifts to +-8 px and +-3 degrees and trembles; contrast grows from nothing. Pins are placed on
the last frame and followed to all others: the error of a frame is the RMS distance of its pins from where they are.
Frames count as cold under a contrast of the housing of 20 x NETD. Same number of a scene, same frames; nothing in
hotspot.locate was set on scenes from 100 on.

The costs are CPU times, as ratios to bare decoding of the same frames by the library alone.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hotspot.locate import steadying
from hotspot.records import Frame
from hotspot.synthetic.camera import CameraSpec
from hotspot.synthetic.cases import random_case
from hotspot.synthetic.connector import simulate
from hotspot.synthetic.handheld import HandFilm, filmed, print_marks, wandering

NETD_K = 0.1
STANDS_OUT_K = 20 * NETD_K
SAMPLE = 12


class Stored:
    """Pixels of a made frame."""

    def __init__(self, celsius: np.ndarray) -> None:
        self.celsius = celsius
        self.shape = celsius.shape

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        return self.celsius[rows, columns].astype(float), np.zeros(len(rows), np.uint32), np.zeros(len(rows))

    def grey(self, rows: np.ndarray | None = None, columns: np.ndarray | None = None) -> np.ndarray:
        return self.celsius if rows is None else self.celsius[rows, columns]

    def picture(self) -> None:
        return None


def frames_of(celsius: np.ndarray, every_s: float = 10.0) -> list[Frame]:
    """Frames of an array (t, rows, columns)."""
    return [Frame(k, f"f{k:04d}", every_s * k, Stored(one)) for k, one in enumerate(celsius)]


def made(number: int, frames: int, size: tuple[int, int]) -> HandFilm:
    """The scene of that number."""
    rng = np.random.default_rng([20260401, number])
    case = random_case(rng)
    solution = simulate(case.spec, case.load, dt=10.0)
    tall, wide = case.spec.shape
    share = rng.uniform(0.15, 0.70)
    px_per_mm = min(share * size[0] / wide, 0.8 * size[1] / (tall + 0.3 * wide))
    half = 0.5 * px_per_mm * np.array([wide + 0.26 * tall, tall + 0.26 * wide]) + 10.0
    centre = [
        float(rng.uniform(h, s - 1 - h)) if 2 * h < s - 1 else (s - 1) / 2 for h, s in zip(half, size, strict=True)
    ]
    camera = CameraSpec(
        *size,
        px_per_mm=px_per_mm,
        rotation_deg=float(rng.uniform(-15.0, 15.0)),
        centre_px=(centre[0], centre[1]),
        noise_k=NETD_K,
        bias_k=float(rng.uniform(-2.0, 2.0)),
        pin_emissivity=tuple(np.clip(rng.normal(0.9, 0.05, case.spec.pins), 0.6, 0.99)),
        wires=bool(rng.random() < 0.5),
    )
    return filmed(solution, camera, wandering(rng, frames), seed=number)


@dataclass(frozen=True)
class Followed:
    """Per frame: error [px] of the pins, state of the pose, contrast [K]; CPU seconds for the sample and per frame."""

    error_px: np.ndarray
    state: np.ndarray
    contrast_k: np.ndarray
    sample_s: float
    frame_s: float


def followed(film: HandFilm) -> Followed:
    """Pins placed on the last frame, followed to all others."""
    frames = frames_of(film.celsius)
    count, size = len(frames), (film.camera.width, film.camera.height)
    began = time.process_time()
    steady = steadying([frames[k] for k in sorted({round(k * (count - 1) / (SAMPLE - 1)) for k in range(SAMPLE)})])
    sampled = time.process_time()
    for _ in steady.over(frames):
        pass
    done = time.process_time()
    poses = steady.motion().poses
    x, y = film.hand.at(count - 1, film.x_px, film.y_px, size)
    error, state = np.full(count, np.nan), np.full(count, "none", dtype=object)
    for k, pose in poses.items():
        rows, columns = pose.after(poses[count - 1].inverse()).at(y, x)
        true_x, true_y = film.hand.at(k, film.x_px, film.y_px, size)
        error[k] = np.sqrt(np.mean((columns - true_x) ** 2 + (rows - true_y) ** 2))
        state[k] = pose.state
    return Followed(error, state, film.contrast_k, sampled - began, (done - sampled) / count)


def line(name: str, found: Sequence[Followed]) -> str:
    """One row of the table."""
    error, state, contrast = (
        np.concatenate([getattr(one, key) for one in found]) for key in ("error_px", "state", "contrast_k")
    )
    warm = np.abs(contrast) >= STANDS_OUT_K
    laid = state == "measured"
    own, cold = error[warm & laid], error[~warm & laid]
    rms = float(np.sqrt(np.mean(own**2))) if own.size else float("nan")
    within = 100.0 * float(np.mean(own <= 0.4)) if own.size else float("nan")
    growth = [np.abs(one.contrast_k).max() / STANDS_OUT_K for one in found]
    return (
        f"{name:10} {len(found):6d} {int(warm.sum()):6d} {int((warm & ~laid).sum()):7d} {rms:7.3f} {within:7.1f} "
        f"{own.max(initial=0.0):7.2f} {int((~warm).sum()):6d} {int((~warm & ~laid).sum()):8d} "
        f"{cold.max(initial=0.0):8.2f} {np.median(growth):7.1f}"
    )


HEAD = (
    f"{'marks':10} {'scenes':>6} {'frames':>6} {'doubted':>7} {'rms px':>7} {'<=0.4 %':>7} {'max px':>7} "
    f"{'cold':>6} {'doubted':>8} {'worst':>8} {'growth':>7}"
)


def accuracy(numbers: Sequence[int], frames: int, size: tuple[int, int]) -> Iterator[str]:
    """The table, and the CPU times of the moving scenes."""
    plain, printed = [], []
    for number in numbers:
        film = made(number, frames, size)
        plain.append(followed(film))
        printed.append(followed(replace(film, celsius=print_marks(film.celsius))))
    yield HEAD
    yield line("none", plain)
    yield line("printed", printed)
    each = [1e3 * np.mean([one.frame_s for one in found]) for found in (plain, printed)]
    sample = [np.mean([one.sample_s for one in found]) for found in (plain, printed)]
    yield f"CPU: {each[0]:.1f} and {each[1]:.1f} ms a frame, {sample[0]:.2f} and {sample[1]:.2f} s for the sample"


def costs(count: int, size: tuple[int, int]) -> Iterator[str]:
    """What steadying adds to reading, over bare decoding, for a camera that stands and one that moves."""
    import scene_folders

    from hotspot.read import open_recording
    from hotspot.session import Session

    standing = scene_folders.frame_of

    def moving(k: int, total: int, size: tuple[int, int]) -> np.ndarray:
        way = np.random.default_rng(k).integers(-5, 6, 2)
        return np.roll(standing(k, total, size), tuple(way), (0, 1))

    yield f"{'carrier':16} {'bare ms':>8} {'stands':>8} {'moves':>8}   (added / bare); sample, s"
    for name in ("npy stack", "16-bit PNG", "PNG map", "JPEG map", "CSV"):
        kind, ratios, samples, bare = scene_folders.KINDS[name], [], [], 1.0
        for scene in (standing, moving):
            with tempfile.TemporaryDirectory() as scratch:
                folder = Path(scratch) / "session"
                scene_folders.frame_of = scene
                scene_folders.make(folder, kind, count, size)
                bare = _cpu(lambda folder=folder, kind=kind: list(kind.decode(folder)))
                recording = open_recording(Session.load(folder))
                sample = list(recording.frames(sorted({round(k * (count - 1) / 11) for k in range(12)})))
                began = time.process_time()
                steady = steadying(sample)
                samples.append(time.process_time() - began)
                read = _cpu(lambda recording=recording: sum(1 for _ in recording.frames()))
                whole = _cpu(lambda steady=steady, recording=recording: sum(1 for _ in steady.over(recording.frames())))
                ratios.append((whole - read) / bare)
        scene_folders.frame_of = standing
        each = f"{samples[0]:.2f}, {samples[1]:.2f}"
        yield f"{name:16} {1e3 * bare / count:8.2f} {ratios[0]:8.2f} {ratios[1]:8.2f}   {each}"


def _cpu(work) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def main(words: Sequence[str] | None = None) -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scenes", type=int, default=12)
    parser.add_argument("--from", type=int, default=100, dest="first")
    parser.add_argument("--frames", type=int, default=40)
    parser.add_argument("--size", default="320x240")
    parser.add_argument("--no-cost", action="store_true")
    asked = parser.parse_args(words)
    size = tuple(map(int, asked.size.split("x")))
    for said in accuracy(range(asked.first, asked.first + asked.scenes), asked.frames, size):
        print(said, flush=True)
    if not asked.no_cost:
        for said in costs(60, size):
            print(said, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
