"""Regenerates the repository's `sample_images` folder: a few frames of the demo's two sessions, and its README.

Run `python -m hotspot.synthetic.samples sample_images` from the top of the repository.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from hotspot.synthetic.demo import EVERY_S, LOOSE_FACTOR, LOOSE_PIN, SCALE, Scene, run, scenes, write_scene

KEEP = (0, 2, 8, 14, 20, 26, 28, 34, 42, 50, 58, 66, 72, 75)  # of the demo's frames: cold, half load, full load


def write_samples(folder: Path) -> list[Path]:
    """Write both sessions and README.md into `folder`; returns the two session folders."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    sessions = [write_scene(scene, folder, list(KEEP)) for scene in scenes()]
    (folder / "README.md").write_text(readme_text(), encoding="utf-8", newline="\n")
    return sessions


def readme_text() -> str:
    """What the samples are and what is true of them."""
    tables = "\n".join(_truth_table(scene) for scene in scenes())
    step = (SCALE.high_c - SCALE.low_c) / 255
    return _README.format(
        count=len(KEEP), every=EVERY_S, pin=LOOSE_PIN + 1, factor=LOOSE_FACTOR, tables=tables, step=step
    )


def _truth_table(scene: Scene) -> str:
    solution, footage = run(scene)
    rows = [
        f"## `{scene.folder}/`",
        "",
        f"{scene.amps:g} A through every pin at full load, air at {scene.ambient_c:g} °C at the start and "
        f"{footage.ambient_c[-1]:.1f} °C at the end.",
        "",
        "| pin | contact, mΩ cold | surface at the end, °C | inside at the end, °C | heat made in the contact, W |",
        "|---|---|---|---|---|",
    ]
    for pin in range(solution.spec.pins):
        rows.append(
            f"| {pin + 1} | {solution.spec.contact_ohm[pin] * 1e3:.2f} | {footage.truth_c[-1, pin]:.1f} "
            f"| {solution.pin_c[-1, pin]:.1f} | {solution.contact_w[-1, pin]:.2f} |"
        )
    hottest = int(np.argmax(footage.truth_c[-1])) + 1
    return "\n".join([*rows, "", f"Hottest pin: {hottest}.", ""])


_README = """\
# Sample sessions

Made by the simulator in `hotspot/synthetic`, not by a camera: no such machine exists. They are {count} frames each
of the two sessions that `hotspot demo` writes whole (a frame every {every:g} s). To make them again, from the top of
the repository:

    python -m hotspot.synthetic.samples sample_images

To look at them: `hotspot run sample_images/before --out somewhere`, then the same with `after`, then
`hotspot compare sample_images/before sample_images/after --out elsewhere`.

A bale elevator's three equal drive motors hang on one six-way plug. Before, the contact of pin {pin} has {factor:g}
times the resistance of a healthy one; after, it has new terminals. What is true of each:

{tables}
The figures are the simulator's own. "Surface" is the mean over a pin's circle on the housing; the plastic hides part
of the rise inside, as it does in life. The camera adds its errors: noise of 0.07 K, a common error of about half a
kelvin, a slow wander, a blur, pins whose emissivity is not quite that of the session file, and colours in steps of
{step:.2f} K.
"""


if __name__ == "__main__":
    write_samples(Path(sys.argv[1] if len(sys.argv) > 1 else "sample_images"))
