"""Chroma of a JPEG as its file really bounds it, and colours that agree with both luma and those bounds.

A JPEG keeps one chroma sample for 2x2 pixels and of each 8x8 of them only coefficients rounded to steps of its
quantisation table (ITU-T T.81, A.3.3 and A.3.4). What was lost is mostly the fine detail that a small hot pin
consists of. The file tells, for every coefficient, the step that the true one lies in. So a first reading, led by
luma, says what chroma should be; its coefficients are moved into their steps and no farther; and the colours are
read again from that. It is a projection onto the set of pictures that this file could stand for, and needs no
guess about the scene.

Decoders spread the halved chroma by a triangle of 3/4 and 1/4 (libjpeg and its kin); that is undone first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.read.colour_curve import Curve
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_luma import DCT, SIDE, settled, step_around

# Pass by pass, the share of a coefficient's step that the reading is let in. At first none, which keeps a pin whose
# luma could mean two temperatures from settling on the wrong one; then the middle half, where the true one lies more
# often than at its ends. Settled on simulated pictures (five maps, JPEG 75 and 95).
_LET_IN = (0.0, 0.5, 0.5, 0.5)
_FARTHER = 1.5  # of the way back into the step: the reading gives in by less than it is moved
_MARGIN = 4  # chroma samples around a block, so that the triangle can be undone at its sides
_UNDOING = 6  # steps of undoing it: what is left is under a hundredth


def consistent(
    image: ColourImage, curve: Curve, rows: np.ndarray, columns: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For n pixels: place along the scale (n,), colour with its chroma set right (n, 3), and the luma step
    around the pixel in levels (n,). `image.jpeg` must be there. Reads the blocks of these pixels and no others.
    """
    if not len(rows):
        return np.zeros(0), np.zeros((0, 3)), np.zeros(0)
    units = _Units.of(image, rows, columns)
    luma = units.luma(settled(image.ycc[..., 0], image.jpeg.luma, rows, columns))
    chroma, held = units.held(image)
    ycc = np.stack([luma, *(units.spread(plane) for plane in chroma)], axis=-1)
    flat = ycc.reshape(-1, 3)
    place = curve.place_of(flat)
    for let_in in _LET_IN:
        wanted = curve.colours_at(place).reshape(ycc.shape)
        for k in (0, 1):
            mean = units.halved(wanted[..., k + 1])
            within = let_in * image.jpeg.chroma[k] / 2.0
            bounded = np.clip(DCT @ (mean - 128.0) @ DCT.T, held[k] - within, held[k] + within)
            change = DCT.T @ bounded @ DCT + 128.0 - mean
            ycc[..., k + 1] = wanted[..., k + 1] + units.repeated(_FARTHER * change)
        place = curve.place_of(flat)
    at = units.position(rows, columns)
    return place[at], flat[at].astype(np.float64), step_around(image.luma(), rows, columns)


@dataclass(frozen=True, slots=True)
class _Units:
    """The n units of a picture that are read: each holds one block of 8x8 chroma samples, `down` x `across`
    pixels a sample. `top`, `left` (n,) are their first pixels; `number` (units down, units across) counts them.
    """

    down: int
    across: int
    top: np.ndarray
    left: np.ndarray
    number: np.ndarray

    @classmethod
    def of(cls, image: ColourImage, rows: np.ndarray, columns: np.ndarray) -> _Units:
        down, across = image.jpeg.halving
        high, wide = SIDE * down, SIDE * across
        there = np.zeros((-(-image.shape[0] // high), -(-image.shape[1] // wide)), dtype=bool)
        there[rows // high, columns // wide] = True
        number = np.cumsum(there.ravel()).reshape(there.shape) - 1
        top, left = np.nonzero(there)
        return cls(down, across, top * high, left * wide, number)

    def position(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Where pixels are in the arrays of units, flattened."""
        high, wide = SIDE * self.down, SIDE * self.across
        return (self.number[rows // high, columns // wide] * high + rows % high) * wide + columns % wide

    def luma(self, plane: np.ndarray) -> np.ndarray:
        """Luma (n, rows, columns) of the units; the picture's last row and column stand for what is beyond."""
        return self._taken(plane, (0, 0))

    def held(self, image: ColourImage) -> tuple[list[np.ndarray], list[np.ndarray]]:
        """For both chromas: the samples and the coefficients (n, 8, 8) that the file holds."""
        samples, coefficients = [], []
        margin = tuple(_MARGIN if factor == 2 else 0 for factor in (self.down, self.across))
        for k in (0, 1):
            seen = self._taken(image.ycc[..., k + 1], margin).astype(np.float32)
            inner = _undone(self.halved(seen), (self.down, self.across))
            inner = inner[:, margin[0] : margin[0] + SIDE, margin[1] : margin[1] + SIDE]
            table = image.jpeg.chroma[k]
            held = np.rint((DCT @ (inner - 128.0) @ DCT.T) / table) * table
            samples.append(DCT.T @ held @ DCT + 128.0)
            coefficients.append(held)
        return samples, coefficients

    def repeated(self, samples: np.ndarray) -> np.ndarray:
        """Samples (n, 8, 8), each on all of its pixels."""
        return np.repeat(np.repeat(samples, self.down, axis=1), self.across, axis=2)

    def halved(self, full: np.ndarray) -> np.ndarray:
        """Means over each sample's pixels."""
        if self.down == 2:
            full = (full[:, ::2] + full[:, 1::2]) / 2.0
        if self.across == 2:
            full = (full[:, :, ::2] + full[:, :, 1::2]) / 2.0
        return full

    def spread(self, samples: np.ndarray) -> np.ndarray:
        """Samples (n, 8, 8) over their pixels, by the decoder's triangle within each block."""
        for axis, factor in ((1, self.down), (2, self.across)):
            if factor == 2:
                before, after = _neighbours(samples, axis)
                pair = np.stack([0.75 * samples + 0.25 * before, 0.75 * samples + 0.25 * after], axis=axis + 1)
                shape = list(samples.shape)
                shape[axis] *= 2
                samples = pair.reshape(shape)
        return samples

    def _taken(self, plane: np.ndarray, margin: tuple[int, int]) -> np.ndarray:
        """The units of one plane of the decoder's picture, `margin` samples wider on each side."""
        ranges = []
        for first, factor, wider, size in (
            (self.top, self.down, margin[0], plane.shape[0]),
            (self.left, self.across, margin[1], plane.shape[1]),
        ):
            along = np.arange(-wider * factor, (SIDE + wider) * factor)
            ranges.append(np.clip(first[:, None] + along, 0, size - 1))
        return plane[ranges[0][:, :, None], ranges[1][:, None, :]]


def _undone(means: np.ndarray, halving: tuple[int, int]) -> np.ndarray:
    """Samples whose spreading by the triangle and averaging again gives `means`.

    Spread to two pixels and averaged, a sample keeps 3/4 of itself and takes 1/8 from either neighbour.
    """
    samples = means.copy()
    for _ in range(_UNDOING):
        again = samples
        for axis, factor in ((1, halving[0]), (2, halving[1])):
            if factor == 2:
                before, after = _neighbours(again, axis)
                again = 0.75 * again + 0.125 * (before + after)
        samples += means - again
    return samples


def _neighbours(samples: np.ndarray, axis: int) -> tuple[np.ndarray, np.ndarray]:
    """The samples before and after each along an axis; at the ends the sample itself."""
    if axis == 1:
        return (
            np.concatenate([samples[:, :1], samples[:, :-1]], axis=1),
            np.concatenate([samples[:, 1:], samples[:, -1:]], axis=1),
        )
    return (
        np.concatenate([samples[:, :, :1], samples[:, :, :-1]], axis=2),
        np.concatenate([samples[:, :, 1:], samples[:, :, -1:]], axis=2),
    )
