"""Temperatures between Celsius, Fahrenheit and kelvin; an absolute value and a difference are two things.

Inside the program every temperature is in °C and every difference in K; these functions are for the rim.
Fixed points that the tests hold them to: 0 °C = 32 °F = 273.15 K, 100 °C = 212 °F (ITS-90 definitions).
"""

from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

Unit = Literal["C", "F", "K"]
Values = TypeVar("Values", float, "np.ndarray", "pd.Series")

SYMBOL: dict[str, str] = {"C": "°C", "F": "°F", "K": "K"}
DIFFERENCE_SYMBOL: dict[str, str] = {"C": "K", "F": "°F", "K": "K"}


def to_celsius(value: Values, unit: str) -> Values:
    """An absolute temperature (scalar or array) in `unit` -> °C. Raises ValueError for another unit."""
    if unit == "C":
        return value
    if unit == "F":
        return (value - 32.0) / 1.8
    if unit == "K":
        return value - 273.15
    raise ValueError(f"unit {unit!r}: found neither C, F nor K")


def from_celsius(celsius: Values, unit: str) -> Values:
    """An absolute temperature (scalar or array) in °C -> `unit`. Raises ValueError for another unit."""
    if unit == "C":
        return celsius
    if unit == "F":
        return celsius * 1.8 + 32.0
    if unit == "K":
        return celsius + 273.15
    raise ValueError(f"unit {unit!r}: found neither C, F nor K")


def difference_to_kelvin(value: Values, unit: str) -> Values:
    """A temperature difference (scalar or array) in `unit` -> K."""
    return value / 1.8 if unit == "F" else value


def difference_from_kelvin(kelvin: Values, unit: str) -> Values:
    """A temperature difference (scalar or array) in K -> `unit`."""
    return kelvin * 1.8 if unit == "F" else kelvin
