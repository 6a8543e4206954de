"""Luma of a JPEG, smoothed as far as its file leaves it open.

Each 8x8 block of luma is kept as coefficients rounded to steps of the file's table (ITU-T T.81, A.3.3 and A.3.4). On
even ground that makes steps from block to block and takes gentle slopes away, which no averaging over a block mends.
So luma is smoothed where it hardly varies (a guided filter, its own guide: K. He, J. Sun, X. Tang, "Guided Image
Filtering", IEEE TPAMI 35, 2013, equations 5, 6 and 8), and every coefficient is put back into the step that the file
says it lies in. What comes out is a picture that the same file could stand for, with no more detail than it tells.
The flank of a pin varies by tens of levels and is left as it was.
"""

from __future__ import annotations

import numpy as np

SIDE = 8  # of a block of coefficients (T.81, A.3.3)

_FREQUENCY, _SAMPLE = np.indices((SIDE, SIDE))
DCT = np.cos((2 * _SAMPLE + 1) * _FREQUENCY * np.pi / 16) * np.where(_FREQUENCY == 0, np.sqrt(1 / 8), 0.5)
DCT = DCT.astype(np.float32)
"""The 8-point cosine transform of T.81, A.3.3, orthonormal: rows are frequencies."""

# Settled on simulated pictures, JPEG 50-95: the same numbers serve all qualities, because the steps bound the change.
_PASSES = 2
_RADIUS = 3  # px of the window
_GENTLE = 1.0  # levels: standard deviation in a window at which half of it is smoothed away
_REACH = SIDE * -(-_PASSES * (2 * _RADIUS + SIDE) // SIDE)  # px, whole blocks: no pixel farther off counts


def settled(luma: np.ndarray, table: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """The luma plane, float32 (rows, columns), smoothed wherever `rows` and `columns` (n,) may ask for it; elsewhere as
    it was. `table` (8, 8) are the steps of its coefficients. Blocks cut off by the picture's edge are left alone.
    """
    result = luma.astype(np.float32)
    down, across = (_range(asked, size) for asked, size in zip((rows, columns), luma.shape, strict=True))
    part = np.ascontiguousarray(result[down, across])
    whole = tuple(slice(0, size // SIDE * SIDE) for size in part.shape)
    if not part[whole].size:
        return result
    table = np.tile(table.astype(np.float32), [size.stop // SIDE for size in whole])
    held = np.rint(_coefficients(part[whole]) / table) * table
    lowest, highest = held - table / 2.0, held + table / 2.0
    for _ in range(_PASSES):
        smooth = _guided(part)
        part[whole] = _plane(np.clip(_coefficients(smooth[whole]), lowest, highest))
    result[down, across] = part
    return result


def step_around(plane: np.ndarray, rows: np.ndarray, columns: np.ndarray, reach: int = 2) -> np.ndarray:
    """Difference of the highest and the lowest value within `reach` pixels of each of n (n,)."""
    down = [np.clip(rows + k, 0, plane.shape[0] - 1) for k in (-reach, 0, reach)]
    across = [np.clip(columns + k, 0, plane.shape[1] - 1) for k in (-reach, 0, reach)]
    around = np.stack([plane[r, c] for r in down for c in across])
    return around.max(axis=0).astype(float) - around.min(axis=0)


def _range(asked: np.ndarray, size: int) -> slice:
    """Whole blocks around what is asked, and as far as smoothing reaches."""
    first, last = int(asked.min()) // SIDE * SIDE, -(-(int(asked.max()) + 1) // SIDE) * SIDE
    return slice(max(first - _REACH, 0), min(last + _REACH, size))


def _guided(plane: np.ndarray) -> np.ndarray:
    """Smoothed where a window's variance is under _GENTLE squared. The share kept is var^2 / (var^2 + e^2), which tells
    the two kinds of ground apart more sharply than the source's var / (var + e)."""
    import cv2

    def mean(values: np.ndarray) -> np.ndarray:
        return cv2.boxFilter(values, -1, (2 * _RADIUS + 1,) * 2, borderType=cv2.BORDER_REFLECT_101)

    around = plane - np.float32(128.0)
    middle = mean(around)
    square = np.square(np.maximum(mean(around * around) - middle * middle, 0.0))
    kept = square / (square + np.float32(_GENTLE**4))
    return mean(kept) * around + mean(middle - kept * middle) + np.float32(128.0)


def _coefficients(plane: np.ndarray) -> np.ndarray:
    """Cosine coefficients of every 8x8 block, each in its block's place; sides of `plane` in whole blocks."""
    return _along_both(plane - np.float32(128.0), DCT.T)


def _plane(coefficients: np.ndarray) -> np.ndarray:
    return _along_both(coefficients, DCT) + np.float32(128.0)


def _along_both(plane: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """`matrix` (8, 8) from the right on every run of eight, along columns and then along rows."""
    rows, columns = plane.shape
    across = (plane.reshape(-1, SIDE) @ matrix).reshape(rows, columns)
    return np.ascontiguousarray((np.ascontiguousarray(across.T).reshape(-1, SIDE) @ matrix).reshape(columns, rows).T)
