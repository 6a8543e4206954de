"""Size of source: what a pin of few pixels loses to the camera's blur, and what that makes uncertain.

A camera smears every point over its neighbours; the mean over a small hot face then holds some of the cooler surround.
10 x 10 pixels are asked for an accurate reading (Pušnik and Geršak, Sensors 21(2):607, 2021); below that a pin reads
low. The loss is estimated and put into the uncertainty, never added to the reading: the surround's real temperature
close to the pin is not seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.extract.apertures import disc
from hotspot.extract.faces import moved
from hotspot.physics.statistics import rectangular
from hotspot.records import PinMap, Snapshot

ASSUMED_BLUR_PX = 1.0
"""Standard deviation of the blur where no sharp edge shows it. Ours: a well focused camera has 0.5 to 1 px."""

BLUR_MARGIN = 1.1
"""Factor from the blur that is seen to the limit that it is taken for: its real shape has longer tails. Ours."""

LARGEST_SHARE = 0.75
"""The loss is taken for at most this share of a pin's real contrast: beyond, nothing is known of the pin. Ours."""

EDGE_K, EDGE_NOISES, LEAST_EDGES = 3.0, 20.0, 12
"""An edge must be this high [K], this many times the pixels' noise, and there must be so many. Ours."""

_REACH, _FLAT, _SHARPEST, _LOOKED_AT = 4, 0.06, 0.2, 3
_CONTRASTS = 8
_RING_PX = (1.5, 4.0)


@dataclass(frozen=True)
class Blur:
    """Standard deviation of the camera's blur [px], and whether it was `seen` in the frames or `assumed`."""

    sigma_px: float
    origin: str


def blur_of(snapshots: Sequence[Snapshot], pin_map: PinMap, noise_k: float) -> Blur:
    """The blur from the sharpest edges about the pins; assumed where there are not enough of them.

    Real edges are never sharper than a step, so that this is the camera's blur or more.
    """
    by_range = sorted(snapshots, key=lambda shot: -_range(shot.celsius))[:_LOOKED_AT]
    found = [edge_blurs(_about_pins(shot, pin_map), noise_k) for shot in by_range]
    widths = np.concatenate(found) if found else np.zeros(0)
    if widths.size < LEAST_EDGES:
        return Blur(ASSUMED_BLUR_PX, "assumed")
    return Blur(float(np.quantile(widths, _SHARPEST)), "seen")


def edge_blurs(celsius: np.ndarray, noise_k: float) -> np.ndarray:
    """Standard deviation [px] of the blur of each edge along rows and columns of a picture (rows, columns).

    Across a step of height H blurred by a normal distribution, the difference of the two pixels beside the middle is
    H erf(1 / (sqrt(2) sigma)). Only edges that are flat on both sides, within 4 px, count.
    """
    return np.concatenate([_along_rows(celsius, noise_k), _along_rows(celsius.T, noise_k)])


def _along_rows(picture: np.ndarray, noise_k: float) -> np.ndarray:
    from scipy.special import erfinv

    picture = np.asarray(picture, dtype=float)
    n = picture.shape[1] - 2 * _REACH
    if n < 3:
        return np.zeros(0)

    def shifted(by: int) -> np.ndarray:
        return picture[:, _REACH + by : _REACH + by + n]

    height = np.abs(shifted(_REACH) - shifted(-_REACH))
    flat = np.maximum(abs(shifted(_REACH) - shifted(_REACH - 1)), abs(shifted(-_REACH) - shifted(1 - _REACH)))
    steep = np.abs(shifted(1) - shifted(-1))
    beside = np.maximum(np.abs(shifted(2) - shifted(0)), np.abs(shifted(0) - shifted(-2)))
    with np.errstate(invalid="ignore"):
        good = (height >= max(EDGE_K, EDGE_NOISES * noise_k)) & (flat <= _FLAT * height + 2.0 * noise_k)
        good &= (steep >= beside) & (steep > 0) & (steep <= height)
    share = np.minimum(steep[good] / height[good], 1.0 - 1e-6)
    return 1.0 / (np.sqrt(2.0) * erfinv(share))


def lost_share(radius_px: np.ndarray, sigma_px: float) -> np.ndarray:
    """Share 0-1 of its contrast that the mean over a disc of `radius_px` loses to a normal blur of `sigma_px`.

    The share of a disc's heat that the blur carries out of it: exp(-z) (I0(z) + I1(z)), z = (r / sigma)², I0 and I1
    the modified Bessel functions; from the transform of a disc, 2 J1(k r) / (k r), by Weber's second exponential
    integral. For z large 2 / sqrt(2 pi z).
    """
    from scipy.special import ive

    z = (np.asarray(radius_px, dtype=float) / sigma_px) ** 2
    return ive(0, z) + ive(1, z)


@dataclass(frozen=True)
class Contrast:
    """How far the faces of n pins stand above their near surround: `contrast_k` (s, n) at face temperatures `face_c`
    (s, n) of s snapshots."""

    face_c: np.ndarray
    contrast_k: np.ndarray

    def at(self, celsius: np.ndarray) -> np.ndarray:
        """Contrast [K] (frames, n) at face temperatures (frames, n): between the coldest and the hottest snapshot of
        each pin as a straight line, carried on beyond them."""
        result = np.zeros(celsius.shape)
        for pin in range(celsius.shape[1]):
            good = np.isfinite(self.face_c[:, pin]) & np.isfinite(self.contrast_k[:, pin])
            if not good.any():
                result[:, pin] = np.nan
                continue
            face, contrast = self.face_c[good, pin], self.contrast_k[good, pin]
            low, high = int(np.argmin(face)), int(np.argmax(face))
            apart = face[high] - face[low]
            slope = (contrast[high] - contrast[low]) / apart if apart > 1.0 else 0.0
            result[:, pin] = contrast[high] + slope * (celsius[:, pin] - face[high])
        return result


def contrast_of(snapshots: Sequence[Snapshot], pin_map: PinMap) -> Contrast:
    """Faces against rings of 1.5 to 4 px about them, less what is another face; in 8 snapshots, spread."""
    shown = np.unique(np.linspace(0, len(snapshots) - 1, _CONTRASTS).round().astype(int)) if snapshots else ()
    pairs = [_contrast(snapshots[place], pin_map) for place in shown]
    empty = np.zeros((0, len(pin_map.names)))
    if not pairs:
        return Contrast(empty, empty)
    return Contrast(np.stack([face for face, _ in pairs]), np.stack([contrast for _, contrast in pairs]))


def _contrast(shot: Snapshot, pin_map: PinMap) -> tuple[np.ndarray, np.ndarray]:
    places = moved(pin_map, shot.pose) if shot.pose is not None and not shot.pose.still else pin_map
    shape = shot.celsius.shape
    covered = np.zeros(shape)
    spots = [(x, y, float(r)) for x, y, r in zip(places.x_px, places.y_px, places.radius_px, strict=True)]
    for x, y, radius in spots:
        area = disc(x, y, radius + _RING_PX[0], shape)
        covered[area.rows, area.columns] = np.maximum(covered[area.rows, area.columns], area.weights)
    faces, rings = [], []
    for x, y, radius in spots:
        faces.append(_mean(shot.celsius, disc(x, y, radius, shape)))
        wide = disc(x, y, radius + _RING_PX[1], shape)
        free = wide.weights * (1.0 - covered[wide.rows, wide.columns])
        rings.append(_mean(shot.celsius, wide, free))
    return np.array(faces), np.array(faces) - np.array(rings)


def _mean(celsius: np.ndarray, area, weights: np.ndarray | None = None) -> float:
    weights = area.weights if weights is None else weights
    values = celsius[area.rows, area.columns]
    there = np.isfinite(values) & (weights > 0)
    total = float(weights[there].sum())
    return float(np.sum(values[there] * weights[there]) / total) if total > 0.5 else float("nan")


def size_limits_k(celsius: np.ndarray, pin_map: PinMap, blur: Blur, contrast: Contrast) -> np.ndarray:
    """What the readings (frames, n) may be low by at most [K], 0 where a pin is no hotter than its surround.

    The seen contrast D is what the loss f left of the real one, so that the loss is D f / (1 - f).
    """
    share = lost_share(np.asarray(pin_map.radius_px, dtype=float), BLUR_MARGIN * blur.sigma_px)
    share = np.minimum(share, LARGEST_SHARE)
    away = contrast.at(celsius)
    return np.where(np.isfinite(away), np.abs(away), 0.0) * share / (1.0 - share)


def size_uncertainty_k(limits_k: np.ndarray) -> np.ndarray:
    """Standard uncertainty [K] of a reading that may be low by anything from 0 to `limits_k`: the limits as those of a
    rectangular distribution, which also covers the middle of what is lost (JCGM 100:2008, 4.3.7 and F.2.4.5)."""
    return rectangular(1.0) * limits_k


def _range(celsius: np.ndarray) -> float:
    finite = celsius[np.isfinite(celsius)]
    return float(np.ptp(finite)) if finite.size else 0.0


def _about_pins(shot: Snapshot, pin_map: PinMap) -> np.ndarray:
    """The part of a snapshot that holds the pins and a little more."""
    places = moved(pin_map, shot.pose) if shot.pose is not None and not shot.pose.still else pin_map
    reach = 2.0 * float(np.max(places.radius_px)) + 2.0 * _REACH
    rows = slice(max(0, int(np.min(places.y_px) - reach)), max(0, int(np.max(places.y_px) + reach) + 1))
    columns = slice(max(0, int(np.min(places.x_px) - reach)), max(0, int(np.max(places.x_px) + reach) + 1))
    return shot.celsius[rows, columns]
