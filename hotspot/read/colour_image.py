"""A picture as its carrier gave it: RGB, or the luma and chroma planes of a video decoder.

Colours are compared as full-range Y, Cb, Cr (0-255, grey at 128). JPEG's own numbers are those of ITU-T
T.871 (05/2011), clause 7, which are BT.601's; video may state BT.709. The planes are never turned into RGB on the way
to a temperature: rounding and clipping there add a bias over the whole frame.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

Matrix = Literal["jpeg", "601", "709", "2020"]

# Weights of red and blue in luma: ITU-R BT.601-7 clause 2.5.1 (and T.871), ITU-R BT.709-6 item 3.2, BT.2020-2 table 4.
_RED_BLUE: dict[str, tuple[float, float]] = {
    "jpeg": (0.299, 0.114),
    "601": (0.299, 0.114),
    "709": (0.2126, 0.0722),
    "2020": (0.2627, 0.0593),
}
# Limited range, 8 bit: luma 16-235, chroma 16-240 (BT.601-7 clause 2.5.3).
LIMITED_LUMA, LIMITED_CHROMA = 255.0 / 219.0, 255.0 / 224.0


@dataclass(frozen=True, slots=True)
class JpegSteps:
    """How a JPEG holds its planes: pixels of a chroma sample down and across (1 or 2), and the steps of the
    coefficients of Cb and Cr, and of Y, (8, 8) with rows from slow to fast downwards."""

    halving: tuple[int, int]
    chroma: tuple[np.ndarray, np.ndarray]
    luma: np.ndarray


@dataclass(frozen=True, slots=True)
class ColourImage:
    """One picture. Either `rgb`, uint8 (rows, columns, 3); or `ycc`, a JPEG's own Y, Cb, Cr as decoded to all
    pixels, uint8 (rows, columns, 3), with `jpeg`; or `planes`: Y, Cb, Cr, uint8, each of its own
    size (chroma may be halved in either direction). `limited_range` and `matrix` describe the planes; `assumed`
    names those of the two (`range`, `matrix`) that the carrier does not state.
    """

    rgb: np.ndarray | None
    planes: tuple[np.ndarray, np.ndarray, np.ndarray] | None = None
    limited_range: bool = False
    matrix: Matrix = "jpeg"
    assumed: tuple[str, ...] = ()
    ycc: np.ndarray | None = None
    jpeg: JpegSteps | None = None

    @classmethod
    def from_rgb(cls, array: np.ndarray) -> ColourImage:
        """(rows, columns) grey, or (rows, columns, 1 to 4): grey, grey and alpha, RGB, RGBA; 8 or 16 bit.

        Alpha is laid on white, as a window's drop shadow is. Raises ValueError for another shape or type.
        """
        return cls(_rgb_of(np.asarray(array)))

    @classmethod
    def from_planes(
        cls,
        y: np.ndarray,
        cb: np.ndarray,
        cr: np.ndarray,
        limited_range: bool,
        matrix: Matrix,
        assumed: tuple[str, ...] = (),
    ) -> ColourImage:
        """Planes of a decoder, uint8. Raises ValueError for planes that are not 2-D or chroma of two sizes."""
        if y.ndim != 2 or cb.ndim != 2 or cb.shape != cr.shape:
            raise ValueError(f"planes of shapes {y.shape}, {cb.shape}, {cr.shape} do not make a picture")
        return cls(None, (y, cb, cr), limited_range, matrix, assumed)

    @classmethod
    def from_jpeg(cls, ycc: np.ndarray, jpeg: JpegSteps) -> ColourImage:
        """Y, Cb, Cr of a JPEG, uint8 (rows, columns, 3), before they are turned into RGB."""
        return cls(None, ycc=ycc, jpeg=jpeg)

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns) of the picture."""
        if self.planes is not None:
            return self.planes[0].shape
        return (self.rgb if self.ycc is None else self.ycc).shape[:2]

    def as_rgb(self) -> np.ndarray:
        """uint8 (rows, columns, 3), for showing only."""
        if self.rgb is not None:
            return self.rgb
        if self.ycc is not None:
            return np.clip(np.rint(ycc_to_rgb(self.ycc)), 0, 255).astype(np.uint8)
        rows, columns = np.indices(self.shape)
        ycc = self.ycc_at(rows.ravel(), columns.ravel())
        return np.clip(np.rint(ycc_to_rgb(ycc, self.matrix)), 0, 255).astype(np.uint8).reshape(*self.shape, 3)

    def luma(self) -> np.ndarray:
        """The plane of luma (rows, columns), full range."""
        if self.ycc is not None:
            return self.ycc[..., 0]
        if self.planes is None:
            return self.rgb @ _forward(self.matrix)[0].astype(np.float32)
        plane = self.planes[0].astype(np.float32)
        return (plane - 16.0) * np.float32(LIMITED_LUMA) if self.limited_range else plane

    def ycc_at(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Full-range Y, Cb, Cr of n pixels in the picture's own matrix, float64 (n, 3).

        Halved chroma is interpolated linearly between sample centres.
        """
        if self.ycc is not None:
            return self.ycc[rows, columns].astype(np.float64)
        if self.planes is None:
            return rgb_to_ycc(self.rgb[rows, columns], self.matrix)
        luma, cb, cr = self.planes
        where = Between.of(rows, columns, luma.shape, cb.shape)
        ycc = np.empty((len(rows), 3))
        ycc[:, 0] = luma[rows, columns]
        ycc[:, 1] = where.taken(cb)
        ycc[:, 2] = where.taken(cr)
        return self.full_range(ycc)

    def full_range(self, ycc: np.ndarray) -> np.ndarray:
        """Codes of the planes (n, 3) -> full range, in place."""
        if self.limited_range:
            ycc[:, 0] = (ycc[:, 0] - 16.0) * LIMITED_LUMA
            ycc[:, 1:] = (ycc[:, 1:] - 128.0) * LIMITED_CHROMA + 128.0
        return ycc


@dataclass(frozen=True, slots=True)
class Between:
    """Four neighbours of each asked pixel in a smaller plane, and the shares of the nearer ones."""

    top: np.ndarray
    left: np.ndarray
    down: np.ndarray
    across: np.ndarray
    share_down: np.ndarray
    share_across: np.ndarray

    @classmethod
    def of(cls, rows, columns, whole: tuple[int, int], small: tuple[int, int]) -> Between:
        """Pixels (n,) of a picture of `whole` (rows, columns) among the samples of a plane of `small`."""
        sides = []
        for places, size, count in ((rows, whole[0], small[0]), (columns, whole[1], small[1])):
            # A 4:2:0 plane of an odd size has a last sample of its own, hence ceil(size / count).
            step = -(-size // count)
            at = np.clip((np.asarray(places) + 0.5) / step - 0.5, 0, count - 1)
            first = at.astype(np.intp)
            sides.append((first, np.minimum(first + 1, count - 1), at - first))
        (top, down, share_down), (left, across, share_across) = sides
        return cls(top, left, down, across, share_down, share_across)

    def corners(self, plane: np.ndarray) -> np.ndarray:
        """Values (4, n, ...) of the four neighbours: upper left, upper right, lower left, lower right."""
        width = plane.shape[1]
        flat = plane.reshape(plane.shape[0] * width, *plane.shape[2:])
        upper, lower = self.top * width, self.down * width
        return flat[np.stack([upper + self.left, upper + self.across, lower + self.left, lower + self.across])]

    def mixed(self, corners: np.ndarray) -> np.ndarray:
        """Values (n, ...) between four neighbours (4, n, ...)."""
        down, across = self.share_down, self.share_across
        weights = ((1 - down) * (1 - across), (1 - down) * across, down * (1 - across), down * across)
        if corners.ndim == 3:
            weights = tuple(weight[:, None] for weight in weights)
        return sum(weight * corner for weight, corner in zip(weights, corners, strict=True))

    def taken(self, plane: np.ndarray) -> np.ndarray:
        """Values (n, ...) between the four neighbours."""
        return self.mixed(self.corners(plane))


def with_coding(image: ColourImage, limited_range: bool, matrix: Matrix) -> ColourImage:
    """The same planes, taken for another range and matrix."""
    return replace(image, limited_range=limited_range, matrix=matrix)


def rgb_to_ycc(rgb: np.ndarray, matrix: Matrix = "jpeg") -> np.ndarray:
    """RGB 0-255 (..., 3) -> full-range Y, Cb, Cr as float64, unrounded and unclipped (T.871 clause 7)."""
    return np.asarray(rgb) @ _forward(matrix).T + (0.0, 128.0, 128.0)


def ycc_to_rgb(ycc: np.ndarray, matrix: Matrix = "jpeg") -> np.ndarray:
    """Full-range Y, Cb, Cr (..., 3) -> RGB 0-255 as float64, unrounded and unclipped (T.871 clause 7)."""
    return (np.asarray(ycc) - (0.0, 128.0, 128.0)) @ np.linalg.inv(_forward(matrix)).T


def _forward(matrix: Matrix) -> np.ndarray:
    red, blue = _RED_BLUE[matrix]
    luma = np.array([red, 1.0 - red - blue, blue])
    cb = (np.array([0.0, 0.0, 1.0]) - luma) / (2.0 * (1.0 - blue))
    cr = (np.array([1.0, 0.0, 0.0]) - luma) / (2.0 * (1.0 - red))
    return np.stack([luma, cb, cr])


def _rgb_of(array: np.ndarray) -> np.ndarray:
    if array.dtype == np.uint16:
        array = (array.astype(np.uint32) * 255 + 32767) // 65535
    elif array.dtype == bool:
        array = array * np.uint8(255)
    elif array.dtype != np.uint8:
        raise ValueError(f"a picture holds whole numbers of 8 or 16 bits, found {array.dtype}")
    if array.ndim == 2:
        array = array[:, :, None]
    if array.ndim != 3 or not 1 <= array.shape[2] <= 4 or 0 in array.shape:
        raise ValueError(f"an array of shape {array.shape} is no picture")
    colours = array if array.shape[2] in (1, 3) else array[:, :, :-1]
    if array.shape[2] in (2, 4):
        alpha = array[:, :, -1:].astype(np.uint32)
        colours = (colours * alpha + 255 * (255 - alpha) + 127) // 255
    if colours.shape[2] == 1:
        colours = np.repeat(colours, 3, axis=2)
    return np.ascontiguousarray(colours, dtype=np.uint8)
