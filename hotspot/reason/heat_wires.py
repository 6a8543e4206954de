"""Does a pin's heat come along its wire? The flow in the wire, from two spots on it, against the other pins' wires.

Between two spots of a wire of section A at a distance d flow k A (T_far - T_near) / d watts towards the connector
(Fourier). A bad contact drives heat out into its wire; a thin wire or a warm part up the line drives it in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.reason.heat_loads import Loads
from hotspot.reason.wires import areas_mm2
from hotspot.records import RisePictures
from hotspot.session import Session

COPPER_W_MK = 390.0  # Kutz (ed.), Mechanical Engineers' Handbook: copper about 390 to 400 at room temperature; memory
SPOT_SHARE, SPOT_K = 0.01, 0.1
"""Error of one spot on a wire against another on it: share of the rise, and K. Ours."""


@dataclass(frozen=True)
class WireFlow:
    """Of one pin: heat towards the connector beyond the judged pins' middle, each at the strongest load that it has,
    scaled to its own I^2; and its standard deviation. W where the section is known (`watts`), else in K/mm."""

    excess: float
    sd: float
    watts: bool


def wire_flows(
    session: Session, pictures: RisePictures | None, names: tuple[str, ...], loads: Loads
) -> dict[str, WireFlow]:
    """The flows of those pins whose wire has two spots (regions of kind `wire` with `pin` and `at_mm`) in view."""
    if pictures is None:
        return {}
    areas = [_area(session, name) for name in names]
    watts = all(area is not None for area in areas)
    found: dict[str, tuple[float, float, float]] = {}
    for place, name in enumerate(names):
        if not loads.pins[place]:
            continue
        stage = int(np.where(loads.judged[:, place], loads.amps[:, place], -1.0).argmax())
        spots = _spots(session, pictures, name, loads.stages[stage])
        if spots is None:
            continue
        per = COPPER_W_MK * areas[place] * 1e-3 if watts and areas[place] else 1.0
        square = loads.amps[stage, place] ** 2
        found[name] = (per * spots[0], per * spots[1], square)
    return {name: _against(found, name, watts) for name in found if len(found) > 2}


def part_rise(session: Session, pictures: RisePictures | None, name: str, stage: int) -> float | None:
    """Rise [K] of the warmest part or splice that belongs to a pin, in a stage; None where none is in view."""
    if pictures is None:
        return None
    rises = [
        float(pictures.regions[region.name][stage])
        for region in session.region
        if region.kind in ("part", "splice") and region.pin == name and region.name in pictures.regions
    ]
    rises = [rise for rise in rises if np.isfinite(rise)]
    return max(rises) if rises else None


def _area(session: Session, name: str) -> float | None:
    pin = session.pin_named(name)
    ends = areas_mm2(pin.wire) if pin is not None and pin.wire else None
    return None if ends is None else 0.5 * (ends[0] + ends[1])


def _spots(session: Session, pictures: RisePictures, name: str, stage: int) -> tuple[float, float] | None:
    """(slope of the rise along the wire, outwards, K/mm; its standard deviation) from two spots or more."""
    spots = [
        (region.at_mm, float(pictures.regions[region.name][stage]))
        for region in session.region
        if region.kind == "wire" and region.pin == name and region.at_mm is not None and region.name in pictures.regions
    ]
    spots = [spot for spot in spots if np.isfinite(spot[1])]
    at = np.array([spot[0] for spot in spots])
    if len(spots) < 2 or not np.ptp(at) > 0:
        return None
    rise = np.array([spot[1] for spot in spots])
    away = at - at.mean()
    spread = float((away**2).sum())
    one = np.hypot(SPOT_K, SPOT_SHARE * float(np.abs(rise).max()))
    return float((away * rise).sum() / spread), float(one / np.sqrt(spread))


def _against(found: dict[str, tuple[float, float, float]], name: str, watts: bool) -> WireFlow:
    flow, sd, square = found[name]
    others = [each[0] / each[2] for other, each in found.items() if other != name]
    return WireFlow(flow - float(np.median(others)) * square, sd, watts)
