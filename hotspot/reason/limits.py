"""How near the connector came to the limits that are known, each by its name; the nearest of the ratings first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.records import Bound, Statement, bounded
from hotspot.session import Session

if TYPE_CHECKING:
    from hotspot.reason.findings import Row
    from hotspot.reason.stage_ends import Look

NONE_STATED = Statement("limit_none_stated")


def limits(session: Session, rows: Sequence[Row]) -> tuple[Statement, ...]:
    """For each limit the pin and stage that came nearest to it, or passed it furthest, at the end of a stage.

    Ratings are temperatures that the session states; last comes the rise limit of the handbook's `rise_limit`, quoted
    for comparison. The margin [K] has an interval of two standard uncertainties to each side. Nothing where nothing was
    read; NONE_STATED where no rating is known.
    """
    looks = [row.look for row in rows if math.isfinite(row.look.last_c) and not row.look.shape_only]
    looks = [look for look in looks if look.amps is None or look.amps > 0] or looks
    if not looks:
        return ()
    hottest = max(looks, key=lambda look: look.last_c)
    stated = (("rated", session.connector.rated), ("wire_rated", session.connector.wire_rated))
    ratings = sorted((limit, key) for key, limit in stated if limit is not None)
    told = [_said(f"limit_{key}", limit, limit - hottest.last_c, hottest) for limit, key in ratings] or [NONE_STATED]
    risen = [look for look in looks if math.isfinite(look.rise_k)]
    if risen:
        most, limit = max(risen, key=lambda look: look.rise_k), float(section("rise_limit")["connector_k"])
        told.append(_said("limit_rise", limit, limit - most.rise_k, most))
    return tuple(told)


def _said(code: str, limit: float, margin: float, look: Look) -> Statement:
    """`limit_..._left`, or `limit_..._passed` with how far; `_bound` where the scale ended at the pin."""
    half = 2.0 * _uncertainty(look)
    away = abs(margin)
    values: dict[str, object] = {"pin": look.pin, "limit": limit, "away": away, "low": away - half, "high": away + half}
    values["where"] = _where(look)
    passed = margin < 0
    code += "_passed" if passed else "_left"
    if not look.bound:
        return Statement(code, values)
    values["away"] = Bound(away, "high" if passed == (look.bound == "high") else "low")
    values["beyond"] = Statement("limit_may_be_hotter" if look.bound == "high" else "limit_may_be_cooler")
    return Statement(code + "_bound", values)


def _where(look: Look) -> Statement:
    """The temperature with its moment, and rise, ambient and load beside it where they are known."""
    last, rise = bounded(look.last_c, look.bound), bounded(look.rise_k, look.bound)
    values = {"last": last, "at": look.last_s, "rise": rise, "ambient": look.ambient_c, "amps": look.amps}
    if look.ambient_c is None:
        return Statement("limit_where_neither" if look.amps is None else "limit_where_no_air", values)
    return Statement("limit_where_no_load" if look.amps is None else "limit_where", values)


def _uncertainty(look: Look) -> float:
    """Standard uncertainty [K] of the last reading; 0 where the readings carry none."""
    there = look.uncertainty_k[np.isfinite(look.uncertainty_k) & np.isfinite(look.celsius)]
    return float(there[-1]) if there.size else 0.0
