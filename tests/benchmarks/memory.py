"""Does the memory of `hotspot run` grow with the number of frames?

    python tests/benchmarks/memory.py [--frames 500,5000] [--size 160x120] [--carriers "float TIFF,CSV"]

Each run is a child process of its own; what is printed is its peak resident memory: VmHWM of /proc where there is one,
else getrusage's ru_maxrss. (On Linux ru_maxrss begins with what the parent held when it made the child.) Files beyond
the first twenty are hard links to those; stacks and videos are written whole. `of a run` is the peak of a run over two
frames: the libraries, the charts. `held` is what all frames would take as float64.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from scene_folders import KINDS, link_more, make

APART = 20  # files that are written before links begin
SUFFIXES = {"float TIFF": ".tif", "16-bit PNG": ".png", "CSV": ".csv", "JPEG map": ".jpg", "PNG map": ".png"}

CHILD = """
import json, resource, sys
from pathlib import Path
from hotspot.cli import main
sys.argv = ["hotspot", "run", sys.argv[1], "-q"]
status = 0
try:
    main()
except SystemExit as ended:
    status = int(ended.code or 0)
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
own = Path("/proc/self/status")
if own.is_file():
    line = next(line for line in own.read_text().splitlines() if line.startswith("VmHWM"))
    peak = int(line.split()[1]) * 1024
print(json.dumps({"status": status, "peak": peak}))
"""


def build(folder: Path, kind: str, count: int, size: tuple[int, int]) -> None:
    """A session of `count` frames, cheap to make where a frame is a file."""
    if kind not in SUFFIXES:
        make(folder, KINDS[kind], count, size)
        return
    own = min(count, APART)
    make(folder, KINDS[kind], own, size)
    link_more(folder, own, count, SUFFIXES[kind])


def peak_of(folder: Path) -> float:
    """Peak resident memory in MB of `hotspot run` on `folder`, in a process of its own."""
    done = subprocess.run([sys.executable, "-c", CHILD, str(folder)], capture_output=True, text=True, check=True)
    said = json.loads(done.stdout.splitlines()[-1])
    if said["status"]:
        raise RuntimeError(f"hotspot run ended with {said['status']}: {done.stderr}")
    return said["peak"] / 1e6


def main(words: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--frames", default="500,5000")
    parser.add_argument("--size", default="160x120")
    parser.add_argument("--carriers", default=",".join(KINDS))
    asked = parser.parse_args(words)
    width, height = map(int, asked.size.split("x"))
    counts = [int(count) for count in asked.frames.split(",")]
    held = [8 * width * height * count / 1e6 for count in counts]
    print(f"Peak resident memory of `hotspot run`, MB; frames of {width} x {height}")
    print(f"{'carrier':16} {'of a run':>9}", *(f"{count:>7} frames" for count in counts), "   growth    kB/frame")
    with tempfile.TemporaryDirectory() as scratch:
        for kind in asked.carriers.split(","):
            peaks = []
            for count in (2, *counts):
                folder = Path(scratch) / f"{kind} {count}"
                build(folder, kind, count, (width, height))
                peaks.append(peak_of(folder))
            growth = peaks[-1] - peaks[1]
            more = max(1, counts[-1] - counts[0])
            print(
                f"{kind:16} {peaks[0]:9.0f}",
                *(f"{peak:14.0f}" for peak in peaks[1:]),
                f"{growth:8.0f} {1000.0 * growth / more:11.2f}",
                flush=True,
            )
    print(f"{'held':16} {'':9}", *(f"{size:14.0f}" for size in held))
    return 0


if __name__ == "__main__":
    sys.exit(main())
