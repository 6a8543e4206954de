"""Whether a map's colours were cut or rounded to 8 bits when the picture was drawn: programs differ.

Drawing libraries either cut the fraction of 255 times the colour off (matplotlib's own `bytes=True`) or round
it. Half a level of luma is a quarter of a per cent of the scale in the usual maps, and in a grey map whole entries
fall together, so that the picture itself is asked.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import ColourMap, known_map, rounded_map

_MOST_PIXELS = 400_000
_GAPS = 3  # colours that only rounding makes, missing between two that are there: the picture was cut


def as_drawn(name: str, image: ColourImage, exact: bool, off: Callable[[ColourMap, ColourImage], float]) -> ColourMap:
    """The known map `name` with the table that the picture was drawn by.

    `exact`: the picture keeps each colour as it was drawn; its colours are looked up. Else the table that `off`
    finds the picture nearer to, in mean levels.
    """
    cut, rounded = known_map(name), rounded_map(name)
    if not exact:
        return rounded if off(rounded, image) < off(cut, image) else cut
    there, counts = np.unique(_packed(_spread(image)), return_counts=True)
    in_cut, in_rounded = (np.isin(there, _packed(each.rgb)) for each in (cut, rounded))
    votes = int(counts[in_cut].sum()), int(counts[in_rounded].sum())
    if votes[0] != votes[1]:
        return cut if votes[0] > votes[1] else rounded
    return cut if _gaps(there, cut, rounded) >= _GAPS else rounded


def _gaps(there: np.ndarray, cut: ColourMap, rounded: ColourMap) -> int:
    """How many colours that only the rounded table has are missing between neighbours that are there."""
    table = _packed(rounded.rgb)
    seen, own = np.isin(table, there), ~np.isin(table, _packed(cut.rgb))
    return int((own[1:-1] & ~seen[1:-1] & seen[:-2] & seen[2:]).sum())


def _spread(image: ColourImage) -> np.ndarray:
    rgb = image.as_rgb().reshape(-1, 3)
    return rgb[:: max(1, len(rgb) // _MOST_PIXELS)]


def _packed(rgb: np.ndarray) -> np.ndarray:
    return np.asarray(rgb).astype(np.int64) @ np.array([65536, 256, 1])
