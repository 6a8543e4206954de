"""What several layouts ask of the same views: their clear edges, and the evidence of discs inside each face."""

from __future__ import annotations

import numpy as np

from hotspot.locate.faces import Face, clear_edges
from hotspot.locate.spots import Patch, evidence, inside
from hotspot.locate.views import Views

LEAST_RADIUS_PX, MOST_RADIUS_PX = 1.2, 12.0
RADIUS_STEP = 0.2
"""Between the radii that are tried, as a difference of logs."""


class Sheets:
    """Keeps what was worked out, face by face and radius by radius."""

    def __init__(self, seen: Views) -> None:
        self.seen = seen
        self.right, self.down = clear_edges(seen)
        self._patches: dict[Face, Patch] = {}
        self._spots: dict[tuple[Face, float], np.ndarray] = {}

    def patch(self, face: Face) -> Patch:
        """The inside of a face, upright."""
        if face not in self._patches:
            self._patches[face] = inside(self.seen, face)
        return self._patches[face]

    def spots(self, face: Face, radius_px: float) -> np.ndarray:
        """Root of the evidence of discs of a radius in a face, blurred by what the search steps over, float32."""
        import cv2

        if (face, radius_px) not in self._spots:
            root = np.sqrt(evidence(self.patch(face), radius_px))
            blurred = cv2.GaussianBlur(root, (0, 0), 0.7 * tolerance(radius_px))
            self._spots[face, radius_px] = blurred.astype(np.float32)
        return self._spots[face, radius_px]


def tolerance(radius_px: float) -> float:
    """By how much [px] a place may be off and still show a disc of that radius: the step of the search."""
    return max(0.6, 0.25 * radius_px)


def tried_radii(low: float, high: float) -> list[float]:
    """Radii [px] to try between `low` and `high`: always the same ones, so that their evidence is shared."""
    low, high = max(low, LEAST_RADIUS_PX), min(high, MOST_RADIUS_PX)
    if high < low:
        return []
    first, last = (np.log(end / LEAST_RADIUS_PX) / RADIUS_STEP for end in (low, high))
    steps = range(int(np.floor(first + 0.5)), max(int(np.floor(last + 0.5)), int(np.floor(first + 0.5))) + 1)
    return [float(LEAST_RADIUS_PX * np.exp(RADIUS_STEP * step)) for step in steps]
