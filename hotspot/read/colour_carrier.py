"""What the way from the camera's screen to the file did to colours, and how far readings off them may be for it.

The numbers were fitted on simulated pictures (twelve maps, JPEG 50-95, H.264 crf 18 and 23), so that 95 in 100 errors
of single pixels and of pin means lie within 1.96 standard uncertainties, neighbours of a step and even ground each for
themselves. No real camera's pictures stand behind them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from hotspot.read.colour_blocks import DECODED, Halving

_CHROMA_NOISE = 2.5  # of the luma noise, per level
_MIDDLING = 0.9  # levels: how far a film's chroma is missed where the map has too little chroma to tell
_TOGETHER = 0.42  # of the noise beside a step of 24 levels: what all pixels of a pin share of it
_BESIDE = 1.8  # the rest of the noise goes together in neighbours: so many pixels count as one
_LEAST_CHANGE = 100.0  # squared, levels per scale: flatter stretches are a matter of the map's own steps
_SLIP_CARRIER, _SLIP_OWN = 0.002, 0.004  # of the scale, per level off the map, squared for the carrier's
_SLIP_ACTIVITY = 8.0  # levels around a pixel
MOST_OFF = 40.0  # levels

# How noise grows with the luma step around a pixel (levels): 1 at 24.
_STEPS = np.array([0.0, 2.0, 4.0, 6.0, 12.0, 24.0, 48.0, 96.0])
_GROWS_JPEG = np.array([0.0, 0.0, 0.1, 0.45, 0.77, 1.0, 1.5, 3.0])
_GROWS_FILM = np.array([0.0, 0.0, 0.1, 0.37, 0.6, 1.0, 2.0, 3.5])


@dataclass(frozen=True, slots=True)
class Carrier:
    """What the way to here did to the colours. `exact`: nothing (PNG). Else `off` is how far the chroma of one clean
    pixel in ten lies from the map at least, in levels: a measure of how hard the picture was compressed.

    `film`: planes of a video's decoder, whose chroma was made by `halving` and is missed by `missed` levels on average.
    `stepped`: a JPEG whose luma is smoothed within its steps. `dither`: standard deviation of the picture's own noise,
    a share of the scale.
    """

    exact: bool
    off: float = 2.0
    film: bool = False
    halving: Halving = DECODED
    missed: float = _MIDDLING
    stepped: bool = False
    dither: float = 0.0012

    @property
    def weight(self) -> float:
        """Weight of chroma against luma."""
        if self.exact:
            return 1.0
        return float(np.clip(0.55 / max(self.off, 0.1), 0.2, 0.35 if self.film else 0.45))

    @property
    def luma_noise(self) -> float:
        """Standard deviation of luma in flat parts before any smoothing, in levels."""
        if self.film:
            return max(0.27 + 0.21 * self.off, 0.55)
        return max(0.22 + 0.17 * self.off, 0.36)

    @property
    def beside_step(self) -> float:
        """What compression adds to luma's noise beside a step of 24 levels, in levels."""
        return 0.65 * (self.missed / 0.92) ** 2 if self.film else 0.34 * self.off**1.4

    def noise(self, activity: np.ndarray) -> np.ndarray:
        """Standard deviation of luma (n,) in levels, by the luma step around each pixel (n,): the block transform
        leaves more behind beside a step.
        """
        if self.film:
            even = np.interp(activity, (0.0, 1.0, 2.0), (0.35, 0.48, 0.6))
            return even + self.beside_step * np.interp(activity, _STEPS, _GROWS_FILM)
        if self.stepped:
            even = 0.29 + 0.25 * max(self.off - 2.2, 0.0)
            return even + self.beside_step * np.interp(activity, _STEPS, _GROWS_JPEG)
        return self.luma_noise * (1.0 + 0.8 * np.minimum(activity / 4.0, 1.0) + activity / 25.0)


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard uncertainties of n pixels, shares of the scale: `together` of each by itself; of their mean, `own`
    averages out and `common` does not."""

    together: np.ndarray
    own: np.ndarray
    common: np.ndarray


def rounding(carrier: Carrier, place: np.ndarray, step: np.ndarray) -> Spread:
    """From a colour standing for a step (n,) of the scale at its place (n,).

    A rectangle of one step (JCGM 100:2008, 4.3.7), of which `dithered` is common; and drawing programs differ in
    whether the last colour is the top value itself or the step below it: up to half a step at the ends, nothing in the
    middle, the same for the whole picture.
    """
    width = np.maximum(step, 1e-12)
    round_off, ends = step / np.sqrt(12.0), step * np.abs(place - 0.5) / np.sqrt(3.0)
    alike = np.interp(carrier.dither / width, *_dithered_table())
    own, common = round_off * np.sqrt(1.0 - alike), round_off * np.sqrt(alike)
    return Spread(np.hypot(round_off, ends), own, np.hypot(common, ends))


def dithered(noise: np.ndarray) -> np.ndarray:
    """Correlation of the rounding errors of pixels of one temperature with normal noise of `noise` steps between them.

    1 without noise: the surface's temperature is rounded once for all of it. From the mean error of a rounder with
    added noise, a sine series in the true value whose k-th term has the amplitude exp(-2 (pi k s)^2) / (pi k) (B.
    Widrow, I. Kollar, Quantization Noise, Cambridge 2008: the characteristic function of a quantised normal variable);
    its mean square over one step is compared with 1/12.
    """
    harmonics = np.arange(1, 200)
    damped = np.exp(-((2.0 * np.pi * np.multiply.outer(np.asarray(noise, float), harmonics)) ** 2))
    return np.minimum(6.0 / np.pi**2 * (damped / harmonics**2).sum(axis=-1), 1.0)


@cache
def _dithered_table() -> tuple[np.ndarray, np.ndarray]:
    noise = np.linspace(0.0, 1.0, 201)
    return noise, dithered(noise)


def compression(carrier: Carrier, slopes: tuple[np.ndarray, np.ndarray], weight: float, activity: np.ndarray) -> Spread:
    """From the compression of luma and chroma; `slopes` (n,), (n,) of the map in levels per scale.

    The least-squares place along a curve of slopes sY, sC with chroma at weight w has the variance
    (sY^2 uY^2 + w^4 sC^2 uC^2) / (sY^2 + w^2 sC^2)^2.
    """
    luma, chroma = slopes
    squared = weight**2
    of_a_level = np.hypot(luma, squared * chroma * _CHROMA_NOISE)
    of_a_level /= np.maximum(luma**2 + squared * chroma**2, _LEAST_CHANGE)
    noise = carrier.noise(activity)
    common = np.minimum(_TOGETHER * carrier.beside_step, 0.8 * noise)
    own = np.sqrt(_BESIDE * (noise**2 - common**2))
    return Spread(of_a_level * noise, of_a_level * own, of_a_level * common)


def slipping(carrier: Carrier, folded: np.ndarray, activity: np.ndarray, off: np.ndarray) -> Spread:
    """From the wrong branch where lightness turns, `folded` (n,) 0-1: more in a harder compressed picture and where the
    colour itself lies `off` the map (n,) in levels, less in flat ground, whose chroma is known. A pin slips as a whole.
    """
    share = folded * np.clip(activity / _SLIP_ACTIVITY, 0.25, 1.0)
    share = share * (_SLIP_CARRIER * carrier.off**2 + _SLIP_OWN * np.minimum(off, MOST_OFF))
    return Spread(share, np.zeros_like(share), share)


def joined(*spreads: Spread) -> Spread:
    """Of terms that do not depend on each other (JCGM 100:2008, equation 10)."""
    return Spread(
        *(np.sqrt(sum(getattr(each, part) ** 2 for each in spreads)) for part in ("together", "own", "common"))
    )
