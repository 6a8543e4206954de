"""The picture to place pins on: the frame with most contrast, enlarged, with its pixels counted at two edges."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hotspot.records import Snapshot
from hotspot.tell import look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAME = "place.png"
_INCHES = 12.0
_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500)


def place_picture(shown: Snapshot) -> Figure:
    """The frame with x along the top and y down the left, in pixels, (0, 0) the centre of the top left one.

    Colours where the frame has its own, else grey, the hottest and coldest hundredth of the pixels at the ends.
    """
    from matplotlib.figure import Figure
    from matplotlib.ticker import MultipleLocator

    rows, columns = shown.celsius.shape
    tall = _INCHES * rows / columns
    with look.drawing():
        figure = Figure(figsize=(_INCHES, float(np.clip(tall, 3.0, 16.0)) + 1.0), facecolor=look.PAPER)
        axes = figure.add_axes((0.06, 0.02, 0.92, 0.88))
        if shown.picture is not None:
            axes.imshow(shown.picture, interpolation="nearest")
        else:
            there = shown.celsius[np.isfinite(shown.celsius)]
            low, high = np.percentile(there, (1.0, 99.0)) if there.size else (0.0, 1.0)
            axes.imshow(shown.celsius, cmap="gray", vmin=low, vmax=max(high, low + 0.1), interpolation="nearest")
        step = next((one for one in _STEPS if max(rows, columns) / one <= 24), _STEPS[-1])
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_locator(MultipleLocator(step))
            axis.set_minor_locator(MultipleLocator(max(step / 5, 1)))
        axes.xaxis.tick_top()
        axes.grid(color="#ffffff", linewidth=0.5, alpha=0.45)
        axes.set_xlabel("x, pixels")
        axes.xaxis.set_label_position("top")
        axes.set_ylabel("y, pixels")
        figure.text(0.06, 0.975, f"Place the pins on {look.shortened(shown.file, 60)}", fontsize=11, va="top")
    return figure


def write_place_picture(shown: Snapshot, out: Path) -> Path:
    """Write `NAME` into the folder `out`; what else lies there stays. Raises InputError where it cannot be written."""
    from hotspot.tell.write import put

    return put(out, {NAME: look.png_bytes(place_picture(shown))}, (NAME,))[0]
