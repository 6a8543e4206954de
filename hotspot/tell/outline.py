"""The outline about the pins: the edges of the face where they were seen, else half a pitch beyond the outer pins.

An outline that does not lie on the edges of the connector shows at a glance that its pins are misplaced.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.records import Analysis, PinFinding, Snapshot
from hotspot.tell.neighbours import spacing

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Patch

_LEAST_ROOM = 1.5
"""Where pins touch, or stand alone, the outline is this many radii from their middles."""
_ROUND = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed line (n, 2) x, y in pixels of one frame; `seen`: edges of the face that were found in the pictures."""

    corners: np.ndarray
    seen: bool


def outline_in(analysis: Analysis, shot: Snapshot, pins: Sequence[PinFinding]) -> Outline | None:
    """The outline where it lies in `shot`; `pins`: the placed pins in that frame. None without pins."""
    edges = None if analysis.pin_map is None else analysis.pin_map.outline_px
    if edges is not None:
        y, x = (edges[:, 1], edges[:, 0]) if shot.pose is None else shot.pose.at(edges[:, 1], edges[:, 0])
        return Outline(np.column_stack([x, y]), True)
    return Outline(beyond([(pin.x_px, pin.y_px, pin.radius_px or 1.0) for pin in pins]), False) if pins else None


def beyond(circles: Sequence[tuple[float, float, float]]) -> np.ndarray:
    """The hull (n, 2) x, y half the smallest pitch from the middles of circles (x, y, radius), at least one."""
    import cv2

    x, y, radius = np.array(circles, float).T
    pitch = spacing(x, y)
    reach = np.maximum(pitch / 2 if np.isfinite(pitch) else 0.0, _LEAST_ROOM * radius)
    around = np.stack([x[:, None] + reach[:, None] * np.cos(_ROUND), y[:, None] + reach[:, None] * np.sin(_ROUND)], -1)
    return cv2.convexHull(around.reshape(-1, 2).astype(np.float32))[:, 0].astype(float)


def draw_outline(axes: Axes, outline: Outline, wide: float, within: Patch | None = None) -> None:
    """Light on dark, `within` a frame: a full line for edges that were seen, a broken one else."""
    closed = np.vstack([outline.corners, outline.corners[:1]])
    style = "-" if outline.seen else (0, (5, 3))
    for colour, line, dashes in (("#000000", wide + 1.4, "-"), ("#fefefe", wide, style)):
        look = {"color": colour, "linewidth": line, "linestyle": dashes, "alpha": 0.75, "zorder": 3}
        drawn = axes.plot(closed[:, 0], closed[:, 1], **look)[0]
        if within is not None:
            drawn.set_clip_path(within)
