"""Round copper wire: its size. numpy only (here not even that)."""

from __future__ import annotations

import math

SQUARE_MM_PER_CIRCULAR_MIL = math.pi / 4.0 * 0.0254**2
COPPER_OHM_MM2_PER_M = 1.0 / 58.0
"""Resistivity of annealed copper at 20 °C, ohm mm2 / m (IEC 60028:1925)."""


def awg_diameter_mm(gauge: float) -> float:
    """Diameter [mm] of a solid wire of AWG `gauge` (1/0 is 0, 2/0 is -1): 0.127 * 92^((36 - n) / 39), ASTM B258.

    Source: [astm_b258].
    """
    return 0.127 * 92.0 ** ((36.0 - gauge) / 39.0)


def awg_area_mm2(gauge: float) -> float:
    """Cross section [mm2] of a solid wire of AWG `gauge` (ASTM B258). Source: [astm_b258]."""
    return math.pi / 4.0 * awg_diameter_mm(gauge) ** 2


def copper_ohm_per_m(area_mm2: float) -> float:
    """Resistance [ohm / m] at 20 °C of a copper conductor of `area_mm2` (IEC 60028:1925). Source: [iec_60028]."""
    return COPPER_OHM_MM2_PER_M / area_mm2
