"""The table that `hotspot budget` prints."""

from __future__ import annotations

import math
from typing import Any

from hotspot.records import Bound, Statement, bounded
from hotspot.tell.calibration_text import columns, fine
from hotspot.tell.words import clock, per_cent, say, temperature


def budget_lines(found: Any, units: str, asked_s: float | None = None) -> list[str]:
    """Lines for a `ReadingBudget`: the reading, its terms, what is left of them in differences, and what that means.
    Where the person asked for another time (`asked_s`), that is said.
    """
    value = temperature(bounded(found.celsius, found.clipped), units)
    head = f"Pin {found.pin} at {clock(found.time_s)} ({found.file}): {value}"
    beside = "-" if found.neighbour is None else f"against pin {found.neighbour}"
    rows = [("term", "standard (k = 1)", "share", "in its rise", beside, "before/after")]
    for row in found.rows:
        cells = [fine(row.standard_k, units), per_cent(row.share), fine(row.rise_k, units)]
        cells += ["-" if row.neighbour_k is None else fine(row.neighbour_k, units), fine(row.again_k, units)]
        rows.append((say(Statement(f"budget_term_{row.name}"), units), *cells))
    sums = [fine(found.together_k, units), "", fine(found.rise_uncertainty_k, units)]
    sums += ["-" if found.neighbour is None else fine(found.neighbour_uncertainty_k, units)]
    rows.append(("together", *sums, fine(found.again_uncertainty_k, units)))
    nearest = []
    if asked_s is not None and abs(asked_s - found.time_s) >= 1.0:
        nearest = [say(Statement("budget_nearest", {"asked": asked_s}), units)]
    return [head, *nearest, "", *columns(rows), "", *_said(found, units)]


def _said(found: Any, units: str) -> list[str]:
    values = {"value": bounded(found.celsius, found.clipped), "half": 1.96 * found.together_k}
    said = [Statement("budget_interval_open" if found.clipped else "budget_interval", values)]
    if found.outside_c is not None:
        said.append(Statement("budget_beyond_calibration", dict(zip(("low", "high"), found.outside_c, strict=True))))
    if found.since_s < found.time_s:
        sides = found.clipped, found.since_clipped
        values = {"rise": found.rise_k, "half": 1.96 * found.rise_uncertainty_k, "since": found.since_s}
        said += _difference(values, "rise", sides, ("budget_rise", "budget_rise_open"))
    if found.neighbour is not None:
        sides = found.clipped, found.neighbour_clipped
        values = {"over": found.over_neighbour_k, "half": 1.96 * found.neighbour_uncertainty_k}
        values |= {"pin": found.neighbour}
        said += _difference(values, "over", sides, ("budget_neighbour", "budget_neighbour_open"))
    if not found.clipped:
        said.append(Statement("budget_again", {"half": 1.96 * found.again_uncertainty_k}))
    if math.isfinite(found.loss_k) and found.loss_k >= 0.05:
        values = {"across": found.across_px, "sigma": round(found.blur.sigma_px, 2), "origin": found.blur.origin}
        code = "budget_loss_small" if found.across_px < 10.0 else "budget_loss_large"
        said.append(Statement(code, values | {"loss": found.loss_k}))
    return [say(one, units) for one in said]


def _difference(values: dict[str, Any], key: str, sides: tuple[str, str], codes: tuple[str, str]) -> list[Statement]:
    """A difference of two readings with its interval, or as a bound where the scale ends at one of them (`sides`);
    nothing where it ends at both so that the difference may be either way."""
    other = {"high": "low", "low": "high", "": ""}[sides[1]]
    ends = {side for side in (sides[0], other) if side}
    if len(ends) == 2:
        return []
    if not ends:
        return [Statement(codes[0], values)]
    return [Statement(codes[1], values | {key: Bound(values[key], ends.pop())})]
