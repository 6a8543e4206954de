"""The temperatures of one colour picture, worked out for the pixels that are asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.doubts import BIT
from hotspot.read.colour_curve import Curve
from hotspot.read.colour_image import ColourImage, rgb_to_ycc
from hotspot.read.colour_maps import ColourMap, Repeats
from hotspot.read.scale import Ends

# Distances to the map, in levels of Y, Cb, Cr, from simulated pictures (12 maps, JPEG 50-95, H.264): clean
# pixels of a lossy picture stay under 10 in 95 of 100, printed marks lie at 26-80.
OFF_EXACT, OFF_LOSSY = 8.0, 40.0
_NEAR_END = 0.02  # of the scale: within this of a fixed end a lossy pixel counts as clipped
_LUMA_NOISE = 1.2


@dataclass(slots=True)
class Reading:
    """How colours are read in one session: the map, its curves per matrix, what is repeated, the carrier."""

    colours: ColourMap
    exact: bool
    repeated: Repeats
    _curves: dict[str, Curve]

    @classmethod
    def through(cls, colours: ColourMap, repeated: Repeats, *, exact: bool) -> Reading:
        """`exact`: the carrier keeps every colour as it was drawn (PNG); else luma leads."""
        return cls(colours, exact, repeated, {})

    def curve(self, matrix: str) -> Curve:
        """The map in the luma and chroma of `matrix`, made once."""
        if matrix not in self._curves:
            points = rgb_to_ycc(self.colours.rgb, matrix)
            how = {"weight": 1.0, "chroma_bits": 8} if self.exact else {}
            self._curves[matrix] = Curve(points, self.colours.places, **how)
        return self._curves[matrix]


@dataclass(slots=True)
class ColourPixels:
    """Pixels of one frame (see hotspot.records.Pixels)."""

    image: ColourImage
    reading: Reading
    ends: Ends

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.image.shape

    def picture(self) -> np.ndarray:
        """The frame as it was seen."""
        return self.image.as_rgb()

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Apparent °C, doubt bits, standard uncertainty K of n pixels. NaN, with its doubt, where the colour
        cannot be drawn from the map (exact carriers), comes twice in it, or the scale is not known.
        """
        rows, columns = np.asarray(rows), np.asarray(columns)
        curve = self.reading.curve(self.image.matrix)
        ycc = self.image.ycc_at(rows, columns)
        place, segment = curve.project(ycc)
        off = np.sqrt(((ycc - curve.colours_at(place)) ** 2).sum(axis=1))
        doubt, usable = self._doubts(place, segment, off)
        share = self._quantised(place)
        if not self.reading.exact:
            luma, chroma = curve.slopes_at(segment)
            share = np.hypot(share, _LUMA_NOISE / np.maximum(np.hypot(luma, curve.weight * chroma), 1.0))
        celsius = np.where(usable, self.ends.low + place * self.ends.span, np.nan)
        return celsius, doubt, np.where(usable, share * self.ends.span, np.nan)

    def _quantised(self, place: np.ndarray) -> np.ndarray:
        """Standard uncertainty, as a share of the scale, of a colour standing for a step of it.

        A rectangle of one step (JCGM 100:2008, 4.3.7); and drawing programs differ in whether the last colour
        is the top value itself or the step below it: up to half a step at the ends, nothing in the middle.
        """
        step = np.interp(place, self.reading.colours.places, self.reading.colours.widths)
        return np.sqrt(step**2 / 12.0 + ((place - 0.5) * step) ** 2 / 3.0)

    def _doubts(self, place: np.ndarray, segment: np.ndarray, off: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        doubt = np.full(len(place), self.ends.doubts, np.uint32)
        reading, ends = self.reading, self.ends
        off_map = off > (OFF_EXACT if reading.exact else OFF_LOSSY)
        doubt[off_map] |= BIT["off_map"]
        twice = _either(reading.repeated.near, segment)
        doubt[twice & ~off_map] |= BIT["ambiguous_colour"]
        near = reading.colours.widths[[0, -1]] / 2.0 if reading.exact else (_NEAR_END, _NEAR_END)
        if ends.low_clips:
            doubt[(place < near[0]) & ~off_map] |= BIT["clipped_low"]
        if ends.high_clips:
            doubt[(place > 1.0 - near[1]) & ~off_map] |= BIT["clipped_high"]
        usable = ~(off_map | _either(reading.repeated.same, segment)) if reading.exact else ~twice
        return doubt, usable & np.isfinite(ends.low)


def _either(entries: np.ndarray, segment: np.ndarray) -> np.ndarray:
    """Whether either end of a segment is marked."""
    return entries[segment] | entries[segment + 1]
