"""A line of print as a strip of cells, rough pictures of digits, and how like its characters are at every column."""

from __future__ import annotations

from functools import cache

import numpy as np

from hotspot.read.scale_digits import CELLS, HIGH, WIDE, Line

DIGITS = "0123456789"
PAD = 3 * CELLS  # empty cells at either side of a strip
_FLAT = 0.42  # of the height: light places that are wider in every direction are the scene, no strokes
_UP_DOWN = 1  # cells that a line may lie higher or lower
_FAINT = 0.3  # of the squared ink of a character: fainter things are none
_ROUGH_STEP = 0.95  # of the height: from digit to digit in the drawing library's own print
_NOWHERE = -1e3


def strip_of(zone: np.ndarray, line: Line, slant: float = 0.0) -> np.ndarray:
    """The line of print in a zone (luma), float32 (HIGH, columns) of cells, `CELLS` to its height: 0 ground, 1 ink.

    Light places too wide for strokes are taken off; print that leans by `slant` (across over up) is set upright.
    """
    import cv2

    share = np.clip((zone.astype(np.float32) - line.ground) / (line.ink - line.ground), 0.0, 1.0)
    size = max(round(_FLAT * line.height), 3)
    kernel = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
    share = cv2.morphologyEx(share, cv2.MORPH_TOPHAT, kernel, borderType=cv2.BORDER_REPLICATE)
    cell = line.height / CELLS
    lean = -slant * cell
    left = -cell * (PAD - 0.5) - 0.5 - lean * (HIGH - 1) / 2
    top = (line.top + line.bottom) / 2.0 - 0.5 - cell * (HIGH - 1) / 2
    size = (round(zone.shape[1] / cell) + 2 * PAD, HIGH)
    move = np.array([[cell, lean, left], [0.0, cell, top]])
    return np.clip(cv2.warpAffine(share, move, size, flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP), 0.0, 1.0)


def column_of(cells: float, line: Line) -> float:
    """A column of a strip as x in its zone, px."""
    return (cells - PAD) * line.height / CELLS


@cache
def rough(step: int) -> dict[str, np.ndarray]:
    """Rough pictures (HIGH, WIDE) of digits, point and minus, 0-1: plain strokes, for digits `step` cells apart."""
    import cv2

    scale = 4
    out = {}
    for sign in DIGITS:
        canvas = np.zeros((HIGH * scale, 2 * WIDE * scale), np.uint8)
        (_, high), _ = cv2.getTextSize(sign, cv2.FONT_HERSHEY_SIMPLEX, 1.0, 1)
        size = 0.97 * CELLS * scale / high
        (wide, high), _ = cv2.getTextSize(sign, cv2.FONT_HERSHEY_SIMPLEX, size, 1)
        start = (round(WIDE * scale - wide / 2), round((HIGH * scale + high) / 2))
        cv2.putText(canvas, sign, start, cv2.FONT_HERSHEY_SIMPLEX, size, 255, 8, cv2.LINE_AA)
        narrow = 2 * round(WIDE * min(step / (_ROUGH_STEP * CELLS), 1.1))
        small = cv2.resize(canvas, (narrow, HIGH), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
        padded = np.pad(small, ((0, 0), (WIDE, WIDE)))
        middle = padded.shape[1] // 2
        out[sign] = padded[:, middle - WIDE // 2 : middle + WIDE // 2]
    y, x = np.indices((HIGH, WIDE)) - np.array([(HIGH + CELLS) / 2.0 - 1.5, WIDE / 2 - 0.5])[:, None, None]
    out["."] = np.exp(-((x / 1.8) ** 2) - (y / 1.8) ** 2).astype(np.float32)
    y -= HIGH / 2 + 1.0 - (HIGH + CELLS) / 2.0 + 1.5
    out["-"] = ((np.abs(y) < 1.5) & (np.abs(x) < 4)).astype(np.float32)
    return out


def half_width(sign: str, step: float) -> int:
    """Half the width of a character's window, cells, where digits are `step` apart."""
    return max(round({".": 0.25, "-": 0.36}.get(sign, 0.5) * step), 2)


def window(picture: np.ndarray, half: int) -> np.ndarray:
    """The middle of a picture (HIGH, WIDE), `half` cells to either side."""
    middle = picture.shape[1] // 2
    half = min(half, middle)
    return np.ascontiguousarray(picture[:, middle - half : middle + half])


def cell(strip: np.ndarray, middle: int, half: int) -> np.ndarray:
    """What stands around a column, (HIGH, WIDE), nothing beyond `half` cells from it."""
    half = min(half, WIDE // 2)
    out = np.zeros((HIGH, WIDE), np.float32)
    out[:, WIDE // 2 - half : WIDE // 2 + half] = cut(strip, middle - half, 2 * half)
    return out


def cut(strip: np.ndarray, start: int, width: int) -> np.ndarray:
    """`width` columns from `start` on, empty beyond the strip."""
    out = np.zeros((HIGH, width), np.float32)
    first, last = max(start, 0), min(start + width, strip.shape[1])
    if first < last:
        out[:, first - start : last - start] = strip[:, first:last]
    return out


def likeness(strip: np.ndarray, picture: np.ndarray) -> np.ndarray:
    """Correlation (columns,) of a picture (HIGH, even width) centred on each column; less where there is little ink."""
    import cv2

    high = np.pad(strip, ((_UP_DOWN, _UP_DOWN), (0, 0)))
    found = cv2.matchTemplate(high, picture, cv2.TM_CCOEFF_NORMED)
    ink = cv2.matchTemplate(high**2, np.ones_like(picture), cv2.TM_CCORR)
    faint = np.minimum(ink / (_FAINT * float((picture**2).sum()) + 1e-9), 1.0)
    return _centred((found * faint).max(axis=0), picture.shape[1], strip.shape[1], -1.0)


def gain(strip: np.ndarray, picture: np.ndarray) -> np.ndarray:
    """By how much the squared ink falls where a picture (HIGH, even width) is laid on each column, (columns,)."""
    import cv2

    high = np.pad(strip, ((_UP_DOWN, _UP_DOWN), (0, 0)))
    found = 2.0 * cv2.matchTemplate(high, picture, cv2.TM_CCORR).max(axis=0) - float((picture**2).sum())
    return _centred(found, picture.shape[1], strip.shape[1], _NOWHERE)


def _centred(values: np.ndarray, width: int, columns: int, fill: float) -> np.ndarray:
    out = np.full(columns, fill, np.float32)
    out[width // 2 : width // 2 + len(values)] = values
    return out


def behind(worth: np.ndarray, half: int, width: int, columns: int) -> np.ndarray:
    """The `worth` (by middles) of a tail `width` wide, by the column of the last digit, `half` wide to its right; it
    may stand a cell or two off. (columns,)
    """
    near = np.stack([np.roll(worth, -k) for k in range(-2, 3)]).max(axis=0)
    at = np.arange(columns) + half + width // 2
    return near[np.minimum(at, len(near) - 1)]
