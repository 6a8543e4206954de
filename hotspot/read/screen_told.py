"""Whether a picture is plainly a photo of a screen though nobody said so: read as it stands, every number is wrong.

Four things must come together: a border whose sides are not the picture's own (a hand never holds a phone square to
the pixel, and a border that a program draws is), a colour bar inside of it that a map fits once tone and white balance
are free, colours around it that do not lie on that map (all that a camera itself draws does), and no bar in the
picture as it stands whose colours are a map's own. A grey bench lies on a grey map: there the last one decides alone.
"""

from __future__ import annotations

import numpy as np

from hotspot.errors import InputError, refuse
from hotspot.read.bar import Bar, known_tables
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import ColourMap
from hotspot.read.screen import LEAST_SIDE, MOST_MISFIT, size_of, straightened
from hotspot.read.screen_bar import ScreenBar, find_screen_bar
from hotspot.read.screen_find import find_corners

_SQUARE = 2.0  # px: sides that stray less from rows and columns were drawn, not seen
_ASIDE = 15.0  # degrees between opposite sides, at most: a screen seen from farther aside is not read anyway
_LONG = 0.35  # of the screen's side: the shortest bar
_OWN, _OFF = 10.0, 16.0  # levels of RGB: a bar in its map's own colours; a colour that is not the map's
_MOST_OFF = 0.3  # of the colours around
_BESIDE, _APART = 3, 10.0  # px beside a bar's blurred sides; mean levels by which it differs from them
_COLOURED = 20.0  # levels between channels, somewhere along the map
_AROUND = 4_000  # pixels looked at


def refuse_untold(image: ColourImage, bar: Bar | None, named: ColourMap | None) -> None:
    """Raises InputError where the picture is plainly a photo of a screen. `bar` is what was found in the picture as it
    stands, `named` the map that the session states.
    """
    if is_photo_of_screen(image, bar, named):
        raise _untold()


def is_photo_of_screen(image: ColourImage, bar: Bar | None, named: ColourMap | None = None) -> bool:
    """See above; `bar` and `named` as for `refuse_untold`."""
    if min(image.shape) < LEAST_SIDE:
        return False
    rgb = image.as_rgb()
    corners = find_corners(rgb)
    if corners is None or not _seen_aside(corners) or min(size_of(corners)) < LEAST_SIDE:
        return False
    inner = _bar_inside(rgb, corners)
    if inner is None:
        return False
    names = {one.removesuffix("_r") for one in (inner.known, None if bar is None else bar.known) if one is not None}
    tables = [*(known_tables()[name] for name in sorted(names)), *([] if named is None else [named.rgb])]
    if any(_is_grey(table) for table in tables):
        return bar is None or bar.misfit > _OWN
    around = _around(rgb, corners)
    return all(_share_off(around, table) > _MOST_OFF for table in tables)


def _seen_aside(corners: np.ndarray) -> bool:
    """Whether the sides stray from the picture's rows and columns, opposite ones by nearly as much."""
    sides = np.roll(corners, -1, axis=0) - corners
    if np.abs(sides).min(axis=1).max() < _SQUARE:
        return False
    angles = np.degrees(np.arctan2(sides[:, 1], sides[:, 0]))
    apart = np.abs((angles[:2] - angles[2:]) % 360.0 - 180.0)
    return bool(apart.max() <= _ASIDE)


def _bar_inside(rgb: np.ndarray, corners: np.ndarray) -> ScreenBar | None:
    """The bar that a map fits well on the straightened screen, if it is long enough to be one."""
    size = size_of(corners)
    flat = straightened(rgb, corners, size)
    bar = find_screen_bar(flat, None)
    if bar is None or bar.misfit > MOST_MISFIT:
        return None
    _, _, width, height = bar.box
    return bar if max(width / size[1], height / size[0]) >= _LONG and _stands_out(flat, bar.box) else None


def _stands_out(flat: np.ndarray, box: tuple[int, int, int, int]) -> bool:
    """Whether a bar differs from what lies along both its sides: a case that shades off, in grey, does not."""
    x, y, width, height = box
    upright, left, wide = (flat, x, width) if height > width else (flat.transpose(1, 0, 2), y, height)
    along = slice(y, y + height) if height > width else slice(x, x + width)
    own = upright[along, left + wide // 4 : left + wide - wide // 4].astype(float).mean(axis=1)
    beside = [
        upright[along, max(at, 0) : max(at + _BESIDE, 0)].astype(float)
        for at in (left - 2 * _BESIDE, left + wide + _BESIDE)
    ]
    return all(not each.size or np.abs(each.mean(axis=1) - own).mean() > _APART for each in beside)


def _around(rgb: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Colours (n, 3) of pixels spread evenly outside the border; of the whole picture where nothing is outside."""
    import cv2

    inside = cv2.fillConvexPoly(np.zeros(rgb.shape[:2], np.uint8), np.rint(corners).astype(np.int32), 1)
    colours = rgb[inside == 0] if (inside == 0).any() else rgb.reshape(-1, 3)
    return colours[:: max(len(colours) // _AROUND, 1)].astype(float)


def _share_off(colours: np.ndarray, table: np.ndarray) -> float:
    squared = (colours**2).sum(axis=1)[:, None] - 2.0 * colours @ table.T + (table**2).sum(axis=1)
    return float((squared.min(axis=1) > _OFF**2).mean())


def _is_grey(table: np.ndarray) -> bool:
    return bool(np.ptp(table, axis=1).max() < _COLOURED)


def _untold() -> InputError:
    return refuse(
        "session.toml",
        "frames.screen",
        "the pictures look like photos of a screen: a border seen at an angle, with a colour bar inside of it whose "
        "colours are changed. Read as they stand, all temperatures would be wrong",
        'State screen = "find" under [frames] (x and y of pins are then pixels of the straightened screen), or '
        'screen = "none" if the camera did store the pictures like this.',
    )
