"""What to mind before and during a load test: said by the commands that begin one and by every report."""

from __future__ import annotations

from hotspot.handbook.criteria import section
from hotspot.records import Statement
from hotspot.tell.words import say

TOUCH = {key: value for key, value in section("touch").items() if key != "source"}
"""Highest temperatures [°C] of parts that are touched: held on; up to 10 s; up to 1 s."""

CAUTIONS: tuple[Statement, ...] = (
    Statement("caution_hot_parts", TOUCH),
    Statement("caution_stop", {"margin": 10.0, "unknown_class": 85.0}),
    Statement("caution_attended", {}),
    Statement("caution_fused_leads", {}),
    Statement("caution_battery", {}),
    Statement("caution_moving", {}),
    Statement("caution_air", {}),
    Statement("caution_bare_metal", {}),
    Statement("caution_documents", {}),
)

VITAL: tuple[Statement, ...] = (
    Statement("caution_short_stop", {"margin": 10.0}),
    Statement("caution_short_hot", TOUCH),
    Statement("caution_short_watch", {}),
    Statement("caution_short_documents", {}),
)
"""The four that matter most, in few words: what stands where a person acts."""


def vital(units: str = "C") -> list[str]:
    """The four short cautions, temperatures in `units`."""
    return [say(caution, units) for caution in VITAL]


def cautions(units: str = "C") -> list[str]:
    """The cautions in the order in which they matter, temperatures in `units`."""
    return [say(caution, units) for caution in CAUTIONS]
