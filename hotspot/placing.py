"""What is handed to the page on which a person places the pins."""

from __future__ import annotations

from dataclasses import dataclass

from hotspot.records import PinMap, Snapshot, Statement
from hotspot.session import Region


@dataclass(frozen=True, slots=True)
class Placing:
    """A frame to place pins on, and what there is to start from, all in pixels of that frame.

    `pins` is None where nothing is placed or found yet; `regions` are those of the session, in its order.
    """

    shown: Snapshot
    pins: PinMap | None
    regions: tuple[Region, ...]
    said: tuple[Statement, ...] = ()
