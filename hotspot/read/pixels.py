"""The pixels of a frame whose numbers are temperatures or counts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hotspot.doubts import BIT

if TYPE_CHECKING:
    from hotspot.calibration import Calibration
    from hotspot.read.text_grid import TextGrid


@dataclass(frozen=True, slots=True)
class Law:
    """How a stored number becomes apparent °C, and what is lost in storing it.

    `to_celsius` takes and gives float64 (n,); `step_k` [K] is the temperature between two neighbouring whole
    numbers, 0 for floats; numbers at or beyond `lowest`, `highest` only bound the temperature. `calibration`: the
    file that the law is from, if there is one; numbers outside its range are in doubt.
    """

    to_celsius: Callable[[np.ndarray], np.ndarray]
    step_k: float = 0.0
    lowest: float = -np.inf
    highest: float = np.inf
    falling: bool = False
    calibration: Calibration | None = None

    def uncertainty_k(self, numbers: np.ndarray) -> np.ndarray:
        """Standard uncertainty (n,) of rounding to a whole step: step / sqrt(12) (JCGM 100:2008, F.2.2.1)."""
        if self.calibration is None or not self.step_k:
            return np.full(numbers.shape, self.step_k / np.sqrt(12.0))
        steps = np.abs(self.to_celsius(numbers + 0.5) - self.to_celsius(numbers - 0.5))
        return np.where(np.isfinite(steps), steps, self.step_k) / np.sqrt(12.0)


class ArrayPixels:
    """A frame kept as it was stored (an array, or a TextGrid); only the pixels asked for become temperatures."""

    __slots__ = ("_law", "_raw")

    def __init__(self, raw: np.ndarray | TextGrid, law: Law) -> None:
        self._raw = raw
        self._law = law

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self._raw.shape

    @property
    def calibration(self) -> Calibration | None:
        """The calibration file that the temperatures come from; None without one."""
        return self._law.calibration

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """See hotspot.records.Pixels. Raises IndexError for pixels outside the frame."""
        rows, columns = np.asarray(rows), np.asarray(columns)
        if rows.size and min(rows.min(), columns.min()) < 0:
            raise IndexError("a row or column below 0")
        stored = self._raw[rows, columns]
        numbers = stored.astype(np.float64)
        numbers[~np.isfinite(numbers)] = np.nan
        celsius = np.asarray(self._law.to_celsius(numbers), dtype=np.float64)
        doubts = np.where(np.isnan(celsius), BIT["no_value"], 0).astype(np.uint32)
        low, high = ("clipped_high", "clipped_low") if self._law.falling else ("clipped_low", "clipped_high")
        doubts[numbers <= self._law.lowest] |= np.uint32(BIT[low])
        doubts[numbers >= self._law.highest] |= np.uint32(BIT[high])
        if self.calibration is not None:
            outside = (numbers < self.calibration.low) | (numbers > self.calibration.high)
            doubts[outside] |= np.uint32(BIT["beyond_calibration"])
        return celsius, doubts, self._law.uncertainty_k(numbers)

    def grey(self, rows: np.ndarray | None = None, columns: np.ndarray | None = None) -> np.ndarray:
        """See hotspot.records.Pixels."""
        stored = np.asarray(self._raw) if rows is None or columns is None else self._raw[rows, columns]
        numbers = stored.astype(np.float64)
        return np.asarray(self._law.to_celsius(numbers.ravel()), dtype=np.float32).reshape(numbers.shape)

    def picture(self) -> None:
        """None: there are no colours."""
        return
