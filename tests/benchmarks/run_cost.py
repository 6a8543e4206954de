"""What `hotspot run` costs, as a ratio to bare decoding of the same frames, in every carrier.

    python tests/benchmarks/run_cost.py [--frames 300] [--size 320x240] [--repeats 3] [--carriers "CSV,JPEG map"]

In one run, turn by turn, the best of the repeats (libraries are loaded before the clock starts):

bare    every frame decoded by the library alone, nothing done with it, ms per frame
frames  all of `hotspot run` that touches frames: listing, hashing, clock, decoding, placing, pin means
rest    judging, charts and report: does not depend on the carrier
ratio   (frames + rest) / bare, and frames / bare
"""

from __future__ import annotations

import argparse
import contextlib
import io
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from unittest import mock

from scene_folders import KINDS, PINS, make

HEAD = f"{'carrier':16} {'bare':>8} {'frames':>8} {'rest':>8} {'run':>8}   run/bare  frames/bare"
UNIT = f"{'':16} {'ms/frame':>8} {'ms/frame':>8} {'s':>8} {'s':>8}"


def bare_s(kind: str, folder: Path) -> float:
    """Seconds of decoding every frame."""
    began = time.perf_counter()
    for _ in KINDS[kind].decode(folder):
        pass
    return time.perf_counter() - began


def run_s(folder: Path) -> tuple[float, float]:
    """Seconds of `hotspot run`: until the last frame is done with, and in all."""
    from hotspot import reason
    from hotspot.cli import main

    judge, reached = reason.judge, []

    def judge_noted(*given, **more):
        reached.append(time.perf_counter())
        return judge(*given, **more)

    words = ["hotspot", "run", str(folder), "--out", str(folder / "results"), "-q"]
    with mock.patch.object(reason, "judge", judge_noted), mock.patch.object(sys, "argv", words):
        began = time.perf_counter()
        try:
            with contextlib.redirect_stderr(io.StringIO()) as said:
                main()
        except SystemExit as ended:
            if ended.code:
                raise RuntimeError(f"hotspot run ended with {ended.code}: {said.getvalue()}") from ended
    return reached[0] - began, time.perf_counter() - began


def measured(kind: str, folder: Path, repeats: int) -> tuple[float, float, float]:
    """Best seconds of `bare_s`, and of both of `run_s`, taken in turns."""
    turns = [(bare_s(kind, folder), *run_s(folder)) for _ in range(repeats)]
    bare, frames, whole = (min(column) for column in zip(*turns, strict=True))
    return bare, frames, whole


def main(words: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--frames", type=int, default=300)
    parser.add_argument("--size", default="320x240")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--carriers", default=",".join(KINDS))
    asked = parser.parse_args(words)
    width, height = map(int, asked.size.split("x"))
    print(f"{asked.frames} frames of {width} x {height}, {PINS} pins, best of {asked.repeats}")
    print(HEAD, UNIT, sep="\n")
    with tempfile.TemporaryDirectory() as scratch:
        warm = Path(scratch) / "warm"
        make(warm, KINDS["npy stack"], 4, (width, height))
        run_s(warm)
        for kind in asked.carriers.split(","):
            folder = Path(scratch) / kind
            make(folder, KINDS[kind], asked.frames, (width, height))
            bare, frames, whole = measured(kind, folder, asked.repeats)
            each = [1000.0 * seconds / asked.frames for seconds in (bare, frames)]
            print(
                f"{kind:16} {each[0]:8.3f} {each[1]:8.3f} {whole - frames:8.2f} {whole:8.2f} "
                f"{whole / bare:10.1f} {frames / bare:12.2f}",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
