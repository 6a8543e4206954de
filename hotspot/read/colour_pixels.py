"""The temperatures of one colour picture, worked out for the pixels that are asked for."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hotspot.doubts import BIT
from hotspot.read.colour_blocks import chroma_step_around, sharpened
from hotspot.read.colour_carrier import Carrier, Spread, compression, joined, rounding, slipping
from hotspot.read.colour_curve import Curve
from hotspot.read.colour_ends import AT_END, NEAR_TOP, deciding, held_up
from hotspot.read.colour_image import LIMITED_LUMA, ColourImage, rgb_to_ycc
from hotspot.read.colour_jpeg import consistent
from hotspot.read.colour_maps import ColourMap, Repeats, folds
from hotspot.read.colour_quick import QuickMap
from hotspot.read.scale import Ends

# Distances to the map, in levels, from simulated pictures (12 maps, JPEG 50-95, H.264): clean pixels of a lossy
# picture stay under 10 in 95 of 100, printed marks lie at 26-80.
OFF_EXACT, OFF_LOSSY = 8.0, 40.0
_CHROMA_STEP = 0.5  # of a step in chroma counts as one in luma, where lightness turns and luma hardly changes
_NOISE = 0.5  # of the luma noise: that which is left when the nearest place is looked for
_FINER = 2.0  # steps of luma to a level, where a JPEG's was smoothed
_CLIPPED = np.uint32(BIT["clipped_low"] | BIT["clipped_high"])
_ENDS = _CLIPPED | np.uint32(BIT["end_touched"])


@dataclass(slots=True)
class Reading:
    """How colours are read in one session: the map, its curves, what is repeated, the carrier."""

    colours: ColourMap
    repeated: Repeats
    carrier: Carrier
    folded: np.ndarray = field(init=False)  # (n,) entries of the map, see colour_maps.folds
    steps: np.ndarray = field(init=False)  # (n,) stretch of the scale that an entry may stand for
    _curves: dict[tuple[str, float], Curve] = field(default_factory=dict)
    _quick: dict[str, QuickMap] = field(default_factory=dict)

    def quick(self, image: ColourImage) -> QuickMap:
        """The map for rough temperatures, made once for each matrix."""
        if image.matrix not in self._quick:
            self._quick[image.matrix] = QuickMap(self.colours, image.matrix)
        return self._quick[image.matrix]

    def __post_init__(self) -> None:
        widths = self.colours.widths
        self.folded = np.zeros(len(widths), dtype=bool)
        if not self.carrier.exact:
            folded = folds(self.colours)
            self.folded = folded | np.r_[folded[1:], False] | np.r_[False, folded[:-1]]
        # Compressed, a colour beside a stretch of one colour may belong to it.
        self.steps = (
            widths if self.carrier.exact else np.maximum.reduce([np.roll(widths, k) for k in (-2, -1, 0, 1, 2)])
        )

    def curve(self, image: ColourImage) -> Curve:
        """The map in the numbers that this picture is read by, made once for each kind."""
        kind = ("rgb", 0.0) if self.carrier.exact else (image.matrix, _luma_steps(image))
        if kind not in self._curves:
            colours = self.colours
            if self.carrier.exact:
                self._curves[kind] = Curve(colours.rgb, colours.places)
            else:
                rgb, places = colours.corners()
                noise = _NOISE * self.carrier.luma_noise
                self._curves[kind] = Curve(
                    rgb_to_ycc(rgb, image.matrix), places, self.carrier.weight, 7, kind[1], noise
                )
        return self._curves[kind]


@dataclass(slots=True)
class ColourPixels:
    """Pixels of one frame (see hotspot.records.Pixels). `printed` (rows, columns) is what is printed on it."""

    image: ColourImage
    reading: Reading
    ends: Ends
    printed: np.ndarray | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.image.shape

    def picture(self) -> np.ndarray:
        """The frame as it was seen."""
        return self.image.as_rgb()

    def grey(self, rows: np.ndarray | None = None, columns: np.ndarray | None = None) -> np.ndarray:
        """See hotspot.records.Pixels; NaN where something is printed."""
        place = self.reading.quick(self.image).places(self.image, rows, columns)
        celsius = (self.ends.low + place * self.ends.span).astype(np.float32)
        if self.printed is not None:
            where = (slice(None), slice(None)) if rows is None else (rows, columns)
            celsius = np.where(self.printed[where], np.float32(np.nan), celsius)
        return celsius

    def at(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Apparent °C, doubt bits, standard uncertainty K of n pixels. NaN, with its doubt, where the colour
        cannot be drawn from the map (exact carriers) or comes twice in it, something is printed on the picture,
        or the scale is not known.
        """
        celsius, doubt, spread = self._read(rows, columns)
        return celsius, doubt, spread.together

    def in_parts(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """As `at`, but two standard uncertainties: what averages out over the pixels of a pin, and what does not."""
        celsius, doubt, spread = self._read(rows, columns)
        return celsius, doubt, spread.own, spread.common

    def _read(self, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, Spread]:
        rows, columns = np.asarray(rows, dtype=np.intp), np.asarray(columns, dtype=np.intp)
        curve, carrier = self.reading.curve(self.image), self.reading.carrier
        places = self.reading.colours.places
        if carrier.exact:
            colours = self.image.as_rgb()[rows, columns].astype(float)
            place, activity = curve.place_of(colours), None
        else:
            place, colours, activity = read_lossy(self.image, self.reading, rows, columns)
        off = np.sqrt(((colours - curve.colours_at(place)) ** 2).sum(axis=1))
        terms = [rounding(carrier, place, np.interp(place, places, self.reading.steps))]
        if activity is not None:
            terms.append(compression(carrier, curve.slopes_at(place), curve.weight, activity))
        if self.reading.folded.any():
            folded = np.interp(place, places, self.reading.folded)
            activity = np.maximum(activity, _CHROMA_STEP * chroma_step_around(self.image, rows, columns))
            terms.append(slipping(carrier, folded, activity, off))
        doubt, usable = self._doubts(place, off)
        if self.printed is not None:
            hidden = self.printed[rows, columns]
            doubt[hidden] = (doubt[hidden] & ~_ENDS) | BIT["printed_over"]
            usable &= ~hidden
        if not carrier.exact and (doubt & _CLIPPED).any():
            self._weigh_ends(rows, columns, doubt)
        celsius = np.where(usable, self.ends.low + place * self.ends.span, np.nan)
        kelvin = np.where(usable, self.ends.span, np.nan)
        spread = joined(*terms)
        return celsius, doubt, Spread(*(kelvin * part for part in (spread.together, spread.own, spread.common)))

    def _weigh_ends(self, rows: np.ndarray, columns: np.ndarray, doubt: np.ndarray) -> None:
        """Take back, in `doubt`, the end of the scale where too few of the pixels around are at it."""
        curve = self.reading.curve(self.image)
        for bit, end, beside in ((BIT["clipped_low"], 0.0, AT_END), (BIT["clipped_high"], 1.0, 1.0 - AT_END)):
            hit = np.flatnonzero(doubt & np.uint32(bit))
            if hit.size:
                (top, left), near = deciding(rows[hit], columns[hit], self.shape)
                down, across = np.nonzero(near)
                from_end = np.full(near.shape, np.nan)
                from_end[near] = np.abs(self._surely_at(down + top, across + left) - end)
                levels = float(np.abs(np.diff(curve.colours_at(np.array([end, beside]))[:, 0]))[0])
                loose = hit[~held_up(from_end, levels)[rows[hit] - top, columns[hit] - left]]
                doubt[loose] = (doubt[loose] & ~np.uint32(bit)) | np.uint32(BIT["end_touched"])

    def _surely_at(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Places (n,) in a lossy picture; NaN where the colour is off the map or something is printed."""
        place, colours, _ = read_lossy(self.image, self.reading, rows, columns)
        off = np.sqrt(((colours - self.reading.curve(self.image).colours_at(place)) ** 2).sum(axis=1))
        hidden = off > OFF_LOSSY if self.printed is None else (off > OFF_LOSSY) | self.printed[rows, columns]
        return np.where(hidden, np.nan, place)

    def _doubts(self, place: np.ndarray, off: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        doubt = np.full(len(place), self.ends.doubts, np.uint32)
        reading, ends = self.reading, self.ends
        exact = reading.carrier.exact
        off_map = off > (OFF_EXACT if exact else OFF_LOSSY)
        doubt[off_map] |= BIT["off_map"]
        segment = np.clip(np.searchsorted(reading.colours.places, place) - 1, 0, len(reading.colours.places) - 2)
        twice = _either(reading.repeated.near, segment)
        doubt[twice & ~off_map] |= BIT["ambiguous_colour"]
        near = reading.colours.widths[[0, -1]] / 2.0 if exact else (AT_END, AT_END)
        if ends.low_clips:
            doubt[(place < near[0]) & ~off_map] |= BIT["clipped_low"]
        if ends.high_clips:
            past = place > 1.0 - near[1]
            doubt[past & ~off_map] |= BIT["clipped_high"]
            if not exact:  # at the low end it would hide nothing hot, and cold pins are often near it
                doubt[(place > 1.0 - NEAR_TOP) & ~past & ~off_map] |= BIT["end_touched"]
        usable = ~(off_map | _either(reading.repeated.same, segment)) if exact else ~twice
        return doubt, usable & np.isfinite(ends.low)


def read_lossy(
    image: ColourImage, reading: Reading, rows: np.ndarray, columns: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For n pixels: place (n,), colour with its chroma set right (n, 3), luma step around it in levels (n,)."""
    curve = reading.curve(image)
    if image.jpeg is not None:
        return consistent(image, curve, rows, columns)
    return sharpened(image, curve, reading.carrier.halving, rows, columns)


def _luma_steps(image: ColourImage) -> float:
    """Steps of luma to a level."""
    if image.jpeg is not None:
        return _FINER
    return 1.0 / LIMITED_LUMA if image.limited_range else 1.0


def _either(entries: np.ndarray, segment: np.ndarray) -> np.ndarray:
    """Whether either end of a segment is marked."""
    return entries[segment] | entries[segment + 1]
