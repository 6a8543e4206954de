"""From what a stage says of a pin, its ratings and its wire to one verdict with the reasons that made it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from hotspot.handbook.criteria import section
from hotspot.reason.stage_ends import Look
from hotspot.reason.stage_peers import View
from hotspot.records import Statement
from hotspot.session import Session

ORDER = ("hot", "watch", "normal", "unknown")
"""Worst first."""

OVER = frozenset(f"{how}{which}" for which in ("rated", "wire_rated") for how in ("over_", "heads_over_")) | {
    "over_rated_at_least",
    "over_wire_rated_at_least",
}
"""Reasons that say that a rating is passed or will be: they stop the test. Quotations are none of them."""


def worst(verdicts: Iterable[str]) -> str:
    """The worst of some verdicts; `unknown` only if there is nothing else."""
    return min(verdicts, key=ORDER.index, default="unknown")


def bare_metal(session: Session, pin: str) -> bool:
    """Whether the emissivity stated for a pin is too low to read a temperature."""
    emissivity = session.emissivity_of(pin)
    return emissivity is not None and emissivity <= section("emissivity")["least"]


def concluded(
    look: Look, view: View, settling: Any | None, session: Session, wire: tuple[Statement, ...]
) -> tuple[str, tuple[Statement, ...]]:
    """(verdict, reasons) of one pin in one stage. `settling`: see hotspot.reason.settling; None: not worked out."""
    if bare_metal(session, look.pin):
        values = {"pin": look.pin, "emissivity": session.emissivity_of(look.pin)}
        verdict, reasons = "unknown", (Statement("bare_metal", values),)
    elif not math.isfinite(look.last_c):
        verdict, reasons = "unknown", (Statement("hidden", {"pin": look.pin}), *_around(view))
    elif look.shape_only:
        # what is too small reads low: over a rating it is over it
        rating, said = _ratings(look, None, session)
        verdict, reasons = rating, (*said, Statement("shape_only", {"pin": look.pin}))
    else:
        rating, said = _ratings(look, settling, session)
        verdict, reasons = worst([view.verdict, rating]), (*said, *view.reasons)
    if wire:
        verdict, reasons = worst([verdict, "watch"]), (*reasons, *wire)
    if settling is not None and getattr(settling, "reason", None) is not None:
        reasons = (*reasons, settling.reason)
    return verdict, reasons


def _around(view: View) -> tuple[Statement, ...]:
    """What the plastic around a hidden pin tells of the heat made there."""
    if view.heat is None or not all(map(math.isfinite, view.heat)):
        return ()
    ratio, low, high = view.heat
    return (Statement("heat_of_hidden", {"ratio": ratio, "low": low, "high": high}),)


def _ratings(look: Look, settling: Any | None, session: Session) -> tuple[str, tuple[Statement, ...]]:
    verdict, said = "unknown", []
    low, high = getattr(settling, "low_c", None), getattr(settling, "high_c", None)
    for key, rated in (("rated", session.connector.rated), ("wire_rated", session.connector.wire_rated)):
        if rated is None:
            continue
        values = {"pin": look.pin, "last": look.last_c, "rated": rated, "settled_low": low, "settled_high": high}
        if look.last_c > rated and look.bound != "low":
            code = "over_" + key + ("_at_least" if look.bound == "high" else "")
            verdict = "hot"
        elif _above(low, rated):
            code, verdict = "heads_over_" + key, "hot"
        elif _above(high, rated):
            code, verdict = "may_pass_" + key, worst([verdict, "watch"])
        else:
            continue
        said.append(Statement(code, values))
    return verdict, tuple(said)


def _above(value: float | None, limit: float) -> bool:
    return value is not None and math.isfinite(value) and value > limit
