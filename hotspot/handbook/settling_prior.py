"""The learned shapes of heating curves: numbers of settling_prior.toml, whose head says how they were made."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np


@dataclass(frozen=True, slots=True)
class ShapePrior:
    """Kinds of rise from 0 to 1 in time over the time to 63.2 %: sum_k w_k (1 - exp(-u / taus_k)).

    `taus` (k,); per kind its `share` (n,), `mean` (n, k) and `covariance` (n, k, k) of the signed weights w;
    no unit.
    """

    taus: np.ndarray
    share: np.ndarray
    mean: np.ndarray
    covariance: np.ndarray


@cache
def shape_prior() -> ShapePrior:
    """The one prior for every connector, pin and camera."""
    with files("hotspot.handbook").joinpath("settling_prior.toml").open("rb") as file:
        numbers = tomllib.load(file)
    kinds = numbers["kind"]
    share, mean, covariance = (np.array([kind[name] for kind in kinds]) for name in ("share", "mean", "covariance"))
    return ShapePrior(np.array(numbers["taus"]), share, mean, covariance)
