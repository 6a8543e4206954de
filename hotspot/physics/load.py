"""How the rise of a connector follows its current. numpy only."""

from __future__ import annotations


def rise_at(rise_k: float, amps: float, other_amps: float, exponent: float = 2.0) -> float:
    """Rise over ambient [K] at `other_amps` from the rise at `amps` [A]: rise (I2 / I1)^n.

    n, `exponent`, is 2 for a fixed resistance and a fixed conductance to the air; rules of the trade use 1.6 to 2.0.
    Raises ValueError where `amps` is not above 0.
    Source: [load_rule].
    """
    if not amps > 0.0:
        raise ValueError(f"current {amps!r} A is not above 0")
    return rise_k * (other_amps / amps) ** exponent
