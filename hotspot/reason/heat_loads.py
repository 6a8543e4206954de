"""The currents of a session as the balance of heat needs them: which stages, which pins, what contradicts."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.records import StageSpan, Statement
from hotspot.session import Session

SUM_TOLERANCE = 0.10
"""A return may differ by this share from the sum of what it returns: two clamp readings of 3 to 5 % each. Ours."""


@dataclass(frozen=True)
class Loads:
    """`stages` (s,) numbers of the stages with known load; `amps` (s, n) currents [A], 1 everywhere where they are
    only known to be alike; `judged` (s, n): at least a tenth of the stage's largest I^2 flows; `relative`: amperes
    are not known."""

    stages: tuple[int, ...]
    amps: np.ndarray
    judged: np.ndarray
    relative: bool

    @property
    def pins(self) -> np.ndarray:
        """Pins (n,) that some stage can judge."""
        return self.judged.any(axis=0)


def loads_of(spans: tuple[StageSpan, ...], pins: tuple[str, ...]) -> Loads | None:
    """The loads; None where no stage has a known one that is above 0.

    Where currents are only called equal in all stages, the last of these is used: how one stage's current
    compares with another's is then not known. Stages called equal are left out where others have numbers.
    """
    numbers, alike = [], []
    for number, span in enumerate(spans):
        if span.stage is None or span.stage.amps is None or not span.frames:
            continue
        if span.stage.amps == "equal":
            alike.append(number)
        elif any(span.stage.amps_of(pin) for pin in pins):
            numbers.append(number)
    if numbers:
        amps = np.array([[span_amps(spans[number], pin) for pin in pins] for number in numbers])
    elif alike:
        numbers = alike[-1:]
        amps = np.ones((1, len(pins)))
    else:
        return None
    share = section("peers")["least_i2_share"]
    judged = amps**2 >= share * (amps**2).max(axis=1, keepdims=True)
    return Loads(tuple(numbers), amps, judged & (amps > 0), numbers[-1:] == alike[-1:])


def span_amps(span: StageSpan, pin: str) -> float:
    """Current [A] through a pin in a stage of known load."""
    return float((span.stage.amps_of(pin) if span.stage else None) or 0.0)


def contradictions(session: Session, spans: tuple[StageSpan, ...]) -> tuple[Statement, ...]:
    """What is odd about the stated currents: returns that do not sum, shares of parallel pins taken for granted."""
    said = []
    for pin in session.pin:
        for span in spans:
            if not pin.return_of or span.stage is None or not isinstance(span.stage.amps, dict | float | int):
                continue
            back = span_amps(span, pin.name)
            partners = [other.name for other in session.pin if set(other.return_of) == set(pin.return_of)]
            together = sum(span_amps(span, name) for name in partners)
            out = sum(span_amps(span, name) for name in pin.return_of)
            if abs(together - out) > SUM_TOLERANCE * max(together, out) and pin.name == partners[0]:
                values = {"pin": pin.name, "amps": together, "pins": pin.return_of, "sum": out, "stage": span.name}
                said.append(Statement("return_does_not_sum", values))
            elif len(partners) > 1 and pin.name == partners[0] and back > 0:
                shares = [span_amps(span, name) for name in partners]
                if math.isclose(min(shares), max(shares), rel_tol=0.01):
                    said.append(Statement("parallel_share_assumed", {"pins": partners, "stage": span.name}))
    return tuple({(each.code, *map(str, each.values.values())): each for each in said}.values())


def doubted(contradicting: tuple[Statement, ...]) -> frozenset[str]:
    """Pins whose stated current is in doubt by what `contradictions` says."""
    found: set[str] = set()
    for said in contradicting:
        found |= {*said.values["pins"], *([said.values["pin"]] if "pin" in said.values else [])}
    return frozenset(found)
