"""Better, worse, the same, or not to be told: what an interval of a change allows to say."""

from __future__ import annotations

from hotspot.handbook.criteria import section

COVERAGE = 1.959963984540054
"""Two-sided 95 % of the normal distribution."""


def matters(rise_k: float, stated_k: float | None) -> float:
    """The change of rise [K] that would matter: as stated, else the larger of 3 K and 10 % of `rise_k`."""
    if stated_k is not None:
        return stated_k
    numbers = section("compare")
    return max(numbers["matters_k"], numbers["matters_share"] * abs(rise_k))


def interval(change: float, standard_uncertainty: float) -> tuple[float, float]:
    """The 95 % interval of a change, both in the same unit."""
    half = COVERAGE * standard_uncertainty
    return change - half, change + half


def verdict(low: float, high: float, matters_k: float) -> str:
    """`same`, `better`, `worse` or `not comparable` from the 95 % interval [low, high] of a change of rise [K].

    `same` where the whole interval lies within +-`matters_k`: two one-sided tests (Schuirmann 1987, J.
    Pharmacokinet. Biopharm. 15, 657) at 2.5 % each, stricter than the customary 5 %. `better` or `worse` where
    the interval leaves 0 out and its middle is a change that matters. Anything else tells neither.
    """
    if not (low <= high):  # NaN
        return "not comparable"
    if -matters_k <= low and high <= matters_k:
        return "same"
    middle = (low + high) / 2.0
    if high < 0.0 and middle <= -matters_k:
        return "better"
    if low > 0.0 and middle >= matters_k:
        return "worse"
    return "not comparable"
