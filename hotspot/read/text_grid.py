"""Numbers as they stand in a text file, and a frame of them that reads only the cells that are asked for.

Of a matrix in text, reading the numbers costs ten times as much as reading the lines; a connector's pins need few.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence

import numpy as np

_NO_VALUE = {"", "nan", "na", "n/a", "-", "--", "---", "inf", "+inf", "-inf", "infinity", "none", "null"}


def cells_of(line: str, separator: str) -> list[str]:
    """Cells of a line; with a separator other than the comma, commas are decimal ones."""
    line = line.rstrip("\r\n")
    if separator == " ":
        return line.split()
    if '"' in line:
        return next(csv.reader([line], delimiter=separator), [])
    return (line if separator == "," else line.replace(",", ".")).split(separator)


def width_of(line: str, separator: str, width: int) -> int:
    """Number of cells of a line; a separator at the end of a line of `width` cells opens no further one."""
    if separator == " " or '"' in line:
        cells = cells_of(line, separator)
        count, last = len(cells), cells[-1] if cells else ""
    else:
        count = line.count(separator) + 1
        last = line.rpartition(separator)[2] if count == width + 1 else ""
    return width if count == width + 1 and not last.strip() else count


def value_of(cell: str) -> float | None:
    """A number with point or decimal comma, NaN for a cell that says it has none, None for a word."""
    cell = cell.strip()
    if cell.lower() in _NO_VALUE:
        return float("nan")
    try:
        value = float(cell.replace(",", "."))
    except ValueError:
        return None
    return value if np.isfinite(value) else float("nan")


def values_of(cells: Sequence[str]) -> np.ndarray:
    """float64 of the cells; words and infinities become NaN."""
    try:
        values = np.fromiter(map(float, cells), float, len(cells))
    except ValueError:
        values = np.array([float("nan") if (v := value_of(cell)) is None else v for cell in cells])
    values[~np.isfinite(values)] = np.nan
    return values


class TextGrid:
    """A frame float64 (rows, columns) whose cells become numbers when they are asked for, NaN where there is none."""

    __slots__ = ("_cells", "shape")
    dtype = np.dtype(float)
    ndim = 2

    def __init__(self, cells: Callable[[int], Sequence[str]], shape: tuple[int, int]) -> None:
        """`cells(row)` gives the cells of a row, as many as the frame has columns."""
        self._cells = cells
        self.shape = shape

    def __getitem__(self, where: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
        """Values at rows and columns, two integer arrays of one shape. Raises IndexError outside the frame."""
        rows, columns = (np.asarray(places) for places in where)
        flat, across = rows.ravel(), columns.ravel()
        order = np.argsort(flat, kind="stable")
        values = np.empty(flat.size)
        for places in np.split(order, np.flatnonzero(np.diff(flat[order])) + 1) if flat.size else ():
            cells = self._cells(int(flat[places[0]]))
            values[places] = values_of([cells[column] for column in across[places].tolist()])
        return values.reshape(rows.shape)

    def __array__(self, dtype: np.dtype | None = None, copy: bool | None = None) -> np.ndarray:
        """The whole frame. Raises ValueError for copy=False: there is no array to share."""
        if copy is False:
            raise ValueError("a frame in text has to be read, which makes a new array")
        whole = np.stack([values_of(self._cells(row)) for row in range(self.shape[0])])
        return whole if dtype is None else whole.astype(dtype)
