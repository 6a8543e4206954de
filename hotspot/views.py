"""A frame of each stage kept with the results, and two of them laid over each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.columns import Column
from hotspot.records import Statement


@dataclass(frozen=True, slots=True)
class View:
    """The last frame shown of a stage, cut to the pins: `celsius` float32 (rows, columns) as the camera read it.

    `places` (n, 3) are x, y and radius of `pins` on it, in its own pixels. `ambient_c` is None where not known.
    """

    stage: str
    file: str
    time_s: float
    celsius: np.ndarray
    pins: tuple[str, ...]
    places: np.ndarray
    ambient_c: float | None = None


@dataclass(frozen=True, slots=True)
class Overlay:
    """A stage's views of two tests and what lays them over each other: `to_before` (2, 3) takes x, y, 1 of `after`
    to x, y of `before`. None, with `why`, where they cannot be. `off_px` is the RMS of what is left at the pins, in
    pixels of `before`.
    """

    stage: str
    before: View | None
    after: View | None
    to_before: np.ndarray | None = None
    off_px: float | None = None
    why: Statement | None = None


VIEWS: tuple[Column, ...] = (
    Column("stages", "", "text", "(s) names of the stages that have a frame"),
    Column("files", "", "text", "(s) the frame's file, the last one shown of the stage"),
    Column("time_s", "s", "float", "(s) session time of the frame"),
    Column("ambient_c", "°C", "float", "(s) ambient at that time; NaN where it is not known"),
    Column("pins", "", "text", "(n) names of the pins that have a place"),
    Column("places", "px", "float", "(s, n, 3) x, y, radius of each pin, in pixels of that stage's picture"),
    Column("celsius_0", "°C", "float", "(rows, columns) float32, picture of the first stage; then celsius_1, ..."),
)
