"""What a region of kind `reference` shows of the camera's own error: shutter steps, and a drift common to the picture.

A reference is something in the picture that the load does not warm: a loose part of the same housing, a taped block.
What it departs from its first value by is taken off every pixel, before anything is made of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.extract.logged import ambient_at
from hotspot.records import Statement
from hotspot.session import Session

if TYPE_CHECKING:
    from hotspot.extract.series import Series

WARMS_SHARE, WARMS_K = 0.25, 2.0
"""A reference that departs by more than this share of what the pins moved, and by this much, may be warmed. Ours."""


@dataclass
class Reference:
    """Follows the reference through the frames, in time order."""

    session: Session
    ambient_log: tuple[np.ndarray, np.ndarray] | None
    first_c: float | None = None
    last_k: float = 0.0

    def departure(self, means_c: np.ndarray, times_s: np.ndarray) -> np.ndarray:
        """K (frames,) by which the picture reads high, from the reference's mean [°C] (frames,).

        0 at the first frame that shows the reference; one that does not show it has the value of the frame before.
        Where a log tells the air's temperature, what the air itself moved by is real and stays in: a reference takes
        the temperature of the air around it.
        """
        found = np.empty(means_c.shape)
        logged = self.session.ambient is None and self.ambient_log is not None
        air = ambient_at(self.session, times_s, self.ambient_log) if logged else np.zeros(times_s.shape)
        level = means_c - np.where(np.isfinite(air), air, 0.0)
        for place, value in enumerate(level):
            if np.isfinite(value):
                self.first_c = value if self.first_c is None else self.first_c
                self.last_k = float(value - self.first_c)
            found[place] = self.last_k
        return found


def reference_k(series: Series, noise_k: float) -> np.ndarray:
    """Standard uncertainty [K] (frames,) of what is taken off: noise of the reference's mean then and in the first
    frame, and what reading the carrier makes of it (JCGM 100:2008, 5.1.2); 0 where there is no reference."""
    if not series.reference_px:
        return np.zeros(series.times_s.shape)
    return np.sqrt(2.0 * (noise_k**2 / series.reference_px + series.drift_carrier_k**2))


def reference_notices(series: Series, noise_k: float) -> Iterable[Statement]:
    """What the reference took off, and whether something warms it."""
    if not series.reference_px or not series.drift_k.size:
        return
    names = [region.name for region in series.pin_map.regions if region.kind == "reference"]
    low, high = float(series.drift_k.min()), float(series.drift_k.max())
    unsure = 2.0 * float(np.median(reference_k(series, noise_k)))
    step = float(np.abs(np.diff(series.drift_k)).max(initial=0.0))
    yield Statement("reference_taken_off", {"regions": names, "low": low, "high": high, "step": step, "unsure": unsure})
    moved = [float(np.ptp(pin[np.isfinite(pin)])) for pin in series.surface_c.T if np.isfinite(pin).any()]
    if high - low > max(WARMS_K, WARMS_SHARE * max(moved, default=0.0)):
        yield Statement("reference_moves_far", {"regions": names, "by": high - low})
