"""What a balance of heat was made from, as findings.json keeps it, so that two tests can be balanced together later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from hotspot.reason.heat_balance import Observed
from hotspot.reason.heat_loads import Loads


@dataclass(frozen=True)
class Kept:
    """`seen` with the names of its pins (n) and the numbers of its stages (s); `relative`: amperes are not known."""

    seen: Observed
    pins: tuple[str, ...]
    stages: tuple[int, ...]
    relative: bool


def kept(seen: Observed, names: tuple[str, ...], loads: Loads) -> dict[str, Any]:
    """Plain content for findings.json."""
    return {
        "pins": list(names),
        "stages": list(loads.stages),
        "amps_known": not loads.relative,
        "rise_k": seen.rise_k,
        "amps": seen.amps,
        "stored": seen.stored,
        "conductance": seen.conductance,
        "wire": seen.wire,
        "judged": [bool(judged) for judged in seen.judged],
        "share": seen.share,
        "depth": seen.depth,
        "plate_held": seen.plate_held,
    }


def taken_up(heat: Any) -> Kept | None:
    """The same again from `settings.heat` of findings.json; None where there is none or it is not whole."""
    told = heat.get("balance") if isinstance(heat, Mapping) else None
    if not isinstance(told, Mapping):
        return None
    try:
        pins, stages = tuple(map(str, told["pins"])), tuple(map(int, told["stages"]))
        arrays = [np.array(told[key], float) for key in ("rise_k", "amps", "stored", "conductance", "wire")]
        judged = np.array(told["judged"], bool)
        held = bool(told.get("plate_held", False))  # not held in what was kept by early versions
        seen = Observed(*arrays, judged, float(told["share"]), float(told["depth"]), held)
        relative = not told["amps_known"]
    except (KeyError, TypeError, ValueError):
        return None
    n, s = len(pins), len(stages)
    shapes = [(s, n), (s, n), (s, n), (n, n), (n,)]
    whole = [array.shape for array in arrays] == shapes and judged.shape == (n,)
    return Kept(seen, pins, stages, relative) if whole and all(np.isfinite(a).all() for a in arrays) else None
