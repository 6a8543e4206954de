"""A photographed or filmed screen: each frame straightened, and read through the bar that it shows itself.

The straightened picture is as wide as the longer of the screen's upper and lower side in the first good frame and as
high as the longer of its left and right side, in whole pixels. Nothing in it is smaller than in the photo, so
that no pixels need to be averaged; between pixels the stored values are interpolated (between neighbours that differ
by a few levels their curve does not matter).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.doubts import BIT
from hotspot.errors import refuse
from hotspot.read.carrier import MOST_PIXELS, CarrierTrouble
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import ColourMap, named_map, repeats
from hotspot.read.fingerprint import sha256_of
from hotspot.read.scale import Scale, read_scale
from hotspot.read.screen_bar import ScreenBar, bar_in, find_screen_bar
from hotspot.read.screen_find import corners_near, find_corners
from hotspot.read.screen_light import brightness, gain_of, glare_in, stripes
from hotspot.read.screen_pixels import ScreenPixels
from hotspot.records import Statement

if TYPE_CHECKING:
    from hotspot.session import Session

MOST_MISFIT = 0.05
"""Of the scale: a frame whose bar misfits by more is set aside."""

LEAST_SIDE = 60
"""Pixels: a smaller screen is not read."""

_OFF_BORDER, _OFF_BORDER_PX = 0.02, 6.0  # of the screen's size, and at least: corners clicked by eye stay within
_STRIPED = 0.01  # share of the level: weaker stripes are not told from noise and warming
_NO_SCREEN = "no screen with four straight, lit sides is found in it"


def straightened(rgb: np.ndarray, corners: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """The screen of a photo (rows, columns, 3) as a picture of `size` (rows, columns), uint8.

    `corners` (4, 2) are x and y in the photo, clockwise from the top left. They are corners of the lit area, so
    half a pixel beyond the centres of its corner pixels.
    """
    import cv2

    way = perspective(corners, size)
    return cv2.warpPerspective(rgb, way, size[::-1], flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def perspective(corners: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """(3, 3) from the photo to the straightened picture of `size` (rows, columns), pixels x, y, 1."""
    import cv2

    rows, columns = size
    own = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - np.float32(0.5)
    return cv2.getPerspectiveTransform(np.asarray(corners, np.float32), own)


def size_of(corners: np.ndarray) -> tuple[int, int]:
    """(rows, columns) of the straightened picture: the longer ones of opposite sides, rounded."""
    top, right, bottom, left = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    return round(max(left, right)), round(max(top, bottom))


def given_corners(stated: Sequence[float], shape: tuple[int, int]) -> np.ndarray:
    """Corners (4, 2) as the session states them. Raises InputError for corners outside the picture of `shape`
    (rows, columns), in another order, or too near to each other.
    """
    corners = np.asarray(stated, float).reshape(4, 2)
    rows, columns = shape
    mend = "Give x, y of the top left, top right, bottom right and bottom left corner of the lit screen, in pixels."
    if (corners < -0.5).any() or (corners > (columns - 0.5, rows - 0.5)).any():
        raise refuse(
            "session.toml", "frames.screen", f"a corner outside the picture of {columns} x {rows} pixels", mend
        )
    along = np.roll(corners, -1, axis=0) - corners
    after = np.roll(along, -1, axis=0)
    if (along[:, 0] * after[:, 1] - along[:, 1] * after[:, 0] <= 0).any() or along[0, 0] <= 0:
        raise refuse("session.toml", "frames.screen", "the corners are not clockwise from the top left", mend)
    if min(size_of(corners)) < LEAST_SIDE:
        raise refuse("session.toml", "frames.screen", f"a screen of under {LEAST_SIDE} pixels", "Film it from nearer.")
    return corners


@dataclass(slots=True)
class ScreenReader:
    """Reads every frame of a filmed screen; stands in for ColourReader. `corners` is None where each frame's own are
    found. `bar` is that of the first good frame, `usual` what stays of the screen's brightness.
    """

    scale: Scale
    size: tuple[int, int]
    corners: np.ndarray | None
    bar: ScreenBar
    high_end: str | None
    only: ColourMap | None
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)
    usual: np.ndarray | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns) of the pictures that are read."""
        return self.size

    def straighten(self, image: ColourImage) -> np.ndarray:
        """One frame's screen. Raises CarrierTrouble where it is not found."""
        rgb = image.as_rgb()
        corners = find_corners(rgb) if self.corners is None else self.corners
        if corners is None:
            raise CarrierTrouble(_NO_SCREEN)
        rows, columns = size_of(corners)
        if self.corners is None and not 0.8 < rows * self.size[1] / (columns * self.size[0]) < 1.25:
            raise CarrierTrouble("what is found in it is not of the screen's shape")
        return straightened(rgb, corners, self.size)

    def pixels(self, image: ColourImage, file: str) -> ScreenPixels:
        """The temperatures of one frame; `file` is its name as the scale table has it.

        Raises CarrierTrouble where the screen or its bar is not found, or the bar misfits by more than
        MOST_MISFIT, or the scale table says that the frame's ends are doubtful.
        """
        if file in self.scale.doubtful:
            raise CarrierTrouble("its row in the scale table is marked doubtful")
        rgb = self.straighten(image)
        bar = bar_in(rgb, self.bar.box, self.high_end, self.only)
        trouble = _unfit(bar)
        if bar is None or trouble:
            raise CarrierTrouble(trouble)
        ends = self.scale.of(file)
        striped = 0.0 if self.usual is None else stripes(brightness(rgb), self.usual)
        if striped < _STRIPED:
            striped = 0.0
        else:
            ends = replace(ends, doubts=ends.doubts | BIT["moving_stripes"])
        return ScreenPixels(rgb, bar, gain_of(rgb, bar), ends, glare_in(rgb, bar), bar.misfit, striped)

    def learn_printed(self, images: Iterable[ColourImage]) -> None:
        """The screen's usual brightness, from frames spread over the test: stripes are what differs from it."""
        seen = []
        for image in images:
            try:
                seen.append(brightness(self.straighten(image)))
            except CarrierTrouble:
                continue
        if len(seen) > 1:
            self.usual = np.median(seen, axis=0)

    def describe(self) -> dict[str, Any]:
        """What was used, for `settings`."""
        return {
            "colour_map": self.bar.known,
            "colour_map_source": "bar",
            "colour_carrier": "filmed screen",
            "screen": "found" if self.corners is None else [float(value) for value in self.corners.ravel()],
            "screen_size": [self.size[1], self.size[0]],
            "bar": list(self.bar.box),
            "bar_high_end": self.bar.high_end,
            "bar_misfit": round(self.bar.misfit, 4),
        } | self.scale.describe()


def open_screen(session: Session, first: ColourImage, names: Sequence[str], scale: Scale | None = None) -> ScreenReader:
    """Settle corners, size and bar on a first frame. Raises InputError for corners, a map or a scale that cannot be
    used, CarrierTrouble where this frame shows no screen or no bar that fits.
    """
    stated = session.scale
    corners = None if session.frames.screen == "find" else given_corners(session.frames.screen, first.shape)
    scale = read_scale(session, names) if scale is None else scale
    inputs, only = dict(scale.inputs), None
    if stated.map not in (None, "bar"):
        only, path = named_map(session.folder, stated.map, stated.high_end)
        repeats(only)  # a striped map is refused
        if path is not None:
            inputs[stated.map] = sha256_of(path)
    rgb = first.as_rgb()
    seen = find_corners(rgb) if corners is None else corners
    if seen is None:
        raise CarrierTrouble(_NO_SCREEN)
    if corners is not None:
        _on_border(rgb, corners)
    size = size_of(seen)
    if min(size) < LEAST_SIDE or size[0] * size[1] > MOST_PIXELS:
        raise CarrierTrouble(f"the screen found in it has {size[1]} x {size[0]} pixels")
    flat = straightened(rgb, seen, size)
    high_end = stated.high_end if stated.map in (None, "bar") else None
    if stated.bar is None:
        bar = find_screen_bar(flat, high_end, only)
    else:
        bar = bar_in(flat, tuple(round(value) for value in stated.bar), high_end, only)
    trouble = _unfit(bar)
    if bar is None or trouble:
        raise CarrierTrouble(trouble)
    return ScreenReader(
        scale, size, corners, bar, high_end, only, [*scale.notices, *_said(bar, size, corners, stated)], inputs
    )


def _on_border(rgb: np.ndarray, corners: np.ndarray) -> None:
    """Raises InputError for stated corners that do not lie on the screen's border, where that is seen near them: with
    what is no screen in the picture, or some of it missing, the intervals do not hold.
    """
    near = corners_near(rgb, corners)
    if near is None:
        return
    off = float(np.hypot(*(near - corners).T).max())
    if off > max(_OFF_BORDER_PX, _OFF_BORDER * float(np.sqrt(np.prod(size_of(corners))))):
        written = ", ".join(f"{value:.0f}" for value in near.ravel())
        found = f"the corners lie up to {off:.0f} px beside the border of the lit screen"
        mend = f'Write screen = [{written}] or screen = "find", and measure x and y of pins and boxes anew.'
        raise refuse("session.toml", "frames.screen", found, mend)


def _unfit(bar: ScreenBar | None) -> str:
    """Why a frame with this bar cannot be used; empty where it can."""
    if bar is None:
        return "no colour bar is seen on the screen that any map could be laid on"
    if bar.misfit > MOST_MISFIT:
        return f"its colour bar misfits by {100 * bar.misfit:.1f} % of the scale, more than {100 * MOST_MISFIT:.0f} %"
    return ""


def _said(bar: ScreenBar, size: tuple[int, int], corners: np.ndarray | None, stated) -> list[Statement]:
    values = {"columns": size[1], "rows": size[0], "map": bar.known, "misfit": bar.misfit}
    said = [Statement("screen_found" if corners is None else "screen_given", values)]
    turned = bar.known.endswith("_r") and stated.high_end is None and stated.map != bar.known
    if turned:
        said.append(Statement("bar_reversed", {"map": bar.known.removesuffix("_r"), "high_end": bar.high_end}))
    return said
