"""The resistance at a pin in ohm, where the wires' sections are known: the wires are the yardstick.

The balance gives every resistance against the plastic's conductance, and the wires' draw against it as well. A long
wire draws G = sqrt(k A h p) watts per kelvin (long fin, Incropera and DeWitt, Fundamentals of Heat and Mass Transfer,
table of fins of uniform cross section; from memory), which turns both into ohms. What is found holds the contact and
about one decay length lambda = sqrt(k A / (h p)) of its wire, for the heat made there also comes to the pin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hotspot.physics.wire import COPPER_OHM_MM2_PER_M
from hotspot.reason.heat_balance import Balance
from hotspot.reason.wires import areas_mm2
from hotspot.session import Session

COPPER_W_MK = 390.0
FILM_W_M2K = 10.5
"""Film coefficient of a wire in a loose bundle, W / (m2 K). Ours, about what free convection and radiation make of it
at 25 K; from memory."""

WARM = 1.1  # copper 25 K above 20 degC against 20 degC: 1 + 0.00393 x 25
LN_SD = 0.25
"""Scatter of ln(found / true): 0.21 on 112 simulated connectors, and a little for what they leave out."""

MOST_WIRE = 0.5
"""At most this share of what is found is taken for the wire's own; beyond, the two cannot be told apart."""


@dataclass(frozen=True)
class Yardstick:
    """`ohm` (n,) resistance of each pin and its decay length of wire; `wire_ohm` (n,) the wire's part of it."""

    ohm: np.ndarray
    wire_ohm: np.ndarray

    def interval(self, pin: int) -> tuple[float, float, float]:
        """(ohm, low, high) of one pin, 95 %."""
        spread = math.exp(1.96 * LN_SD)
        return float(self.ohm[pin]), float(self.ohm[pin] / spread), float(self.ohm[pin] * spread)


def areas_of(session: Session, names: tuple[str, ...]) -> np.ndarray:
    """Section [mm2] of each pin's wire (n,): the stated lead's where there is one; NaN where it is not known.

    Strands that were cut are cut at the terminal: the wire behind it draws heat as it did.
    """
    found = []
    for name in names:
        pin = session.pin_named(name)
        text = None if pin is None else pin.lead or pin.wire
        ends = areas_mm2(text) if text else None
        found.append(np.nan if ends is None else 0.5 * (ends[0] + ends[1]))
    return np.array(found)


def yardstick(balance: Balance, areas: np.ndarray) -> Yardstick | None:
    """Ohms from the balance; None where a section is not known."""
    if not np.isfinite(areas).all():
        return None
    middle = float(np.median(areas))
    conductance = math.sqrt(COPPER_W_MK * middle * 1e-6 * FILM_W_M2K * _girth_m(middle)) / balance.gamma
    square_m = areas * 1e-6
    girth = np.array([_girth_m(area) for area in areas])
    decay = np.sqrt(COPPER_W_MK * square_m / (FILM_W_M2K * girth))
    return Yardstick(np.exp(balance.ln_r) * conductance, WARM * COPPER_OHM_MM2_PER_M * 1e-6 * decay / square_m)


def without_wire(balance: Balance, seen: Yardstick, judged: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(ratio, low, high), each (n,), of the contacts alone against the median of the other judged ones."""
    n = len(judged)
    ratio, low, high = (np.full(n, np.nan) for _ in range(3))
    scales = [math.exp(step * LN_SD) for step in (-1.0, 0.0, 1.0)]
    contacts = [_contact(seen.ohm * scale, seen.wire_ohm) for scale in scales]
    for pin in np.flatnonzero(judged):
        others = balance.others(pin, judged)
        if not others.any():
            continue
        away = [float(np.log(each[pin] / np.median(each[others]))) for each in contacts]
        steep = float(seen.ohm[pin] / contacts[1][pin])
        sd = math.hypot(steep * balance.sd[pin], balance.open_sd(pin, others, away[1]), 0.5 * (away[2] - away[0]))
        ratio[pin], low[pin], high[pin] = np.exp([away[1], away[1] - 1.96 * sd, away[1] + 1.96 * sd])
    return ratio, low, high


def _contact(ohm: np.ndarray, wire_ohm: np.ndarray) -> np.ndarray:
    return np.maximum(ohm - wire_ohm, (1.0 - MOST_WIRE) * ohm)


def _girth_m(area_mm2: float) -> float:
    """Girth [m] of an insulated wire: strands fill 4/5 of their circle, insulation 0.6 mm thick. Ours."""
    return math.pi * (1.13 * math.sqrt(4.0 * area_mm2 / math.pi) + 1.2) * 1e-3
