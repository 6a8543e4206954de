"""The standard uncertainty of a reading, term by term (JCGM 100:2008). Everything in K, k = 1."""

from __future__ import annotations

import numpy as np

from hotspot.extract.noise import scatter
from hotspot.extract.reference import reference_k
from hotspot.extract.series import Series
from hotspot.extract.source_size import Blur, blur_of, contrast_of, size_limits_k, size_uncertainty_k
from hotspot.extract.surface import emissivity_limits, reflected_limits, slopes
from hotspot.physics.statistics import rectangular
from hotspot.physics.uncertainty import combined
from hotspot.session import Session

ASSUMED_NOISE_K = 0.2
"""Noise of a pixel where it is neither stated nor can be seen (one frame). Ours: a poor camera's."""

TERMS: tuple[str, ...] = (
    "noise",
    "carrier",
    "placing",
    "accuracy",
    "calibration",
    "calibration_shape",
    "emissivity",
    "reflected",
    "source_size",
    "reference",
)
"""The terms of the budget: noise of the pixels; steps and colours of the carrier; where the pin lies; the camera's
stated limits of error (0 where none are stated); the level of a calibration file, and its slope and shape; emissivity;
reflected temperature; what a pin loses to the camera's blur; what the reference region
took off."""

COMMON: tuple[str, ...] = ("accuracy", "calibration", "source_size", "reference")
"""Terms that move all like pins of one picture alike, and so drop out between them."""


def terms(session: Session, series: Series) -> dict[str, np.ndarray]:
    """Each term's standard uncertainty [K] in `surface_c`, (frames, n), by the names of TERMS."""
    optics = series.optics
    slope = slopes(series.surface_c, series.camera_c, optics, series.reflected_c)
    camera = np.abs(slope.camera)
    noise, _ = pixel_noise_of(session, series)
    count = series.faces.independent if series.faces is not None else np.ones(len(series.pin_map.names))
    of_mean = np.maximum(noise / np.sqrt(count), scatter(series.camera_c))
    around = rectangular(1.0) * reflected_limits(optics, series.ambient_c)[:, None]
    made = series.calibration
    found = {
        "noise": camera * of_mean,
        "carrier": camera * series.carrier_k,
        "placing": series.placing_k,
        "accuracy": camera * rectangular(session.camera.accuracy_k or 0.0),
        "calibration": camera * (made.level_k if made else 0.0),
        "calibration_shape": camera * (made.steep_k(series.camera_c) if made else 0.0),
        "emissivity": np.abs(slope.emissivity) * rectangular(1.0) * emissivity_limits(optics),
        "reflected": np.abs(slope.reflected) * around,
        "source_size": size_uncertainty_k(camera * losses(session, series)),
        "reference": camera * reference_k(series, noise)[:, None],
    }
    return {name: np.broadcast_to(found[name], series.surface_c.shape) for name in TERMS}


def losses(session: Session, series: Series) -> np.ndarray:
    """What the readings (frames, n) may be low by at most [K] of the camera's values, because the camera blurs the
    pins into their surround. Pins of 10 pixels and more across lose at their rim only, but with a sharp edge not
    nothing."""
    if not series.snapshots:
        return np.zeros(series.camera_c.shape)
    contrast = contrast_of(series.snapshots, series.pin_map)
    return size_limits_k(series.camera_c, series.pin_map, blur_seen(session, series), contrast)


def blur_seen(session: Session, series: Series) -> Blur:
    """The camera's blur, from the snapshots where they show it."""
    return blur_of(series.snapshots, series.pin_map, pixel_noise_of(session, series)[0])


def standard_uncertainty(session: Session, series: Series, names: tuple[str, ...] = TERMS) -> np.ndarray:
    """All terms together, or those of `names`, (frames, n); NaN where there is no reading."""
    together = terms(session, series)
    total = combined(1.0, np.stack([together[name] for name in names]))
    return np.where(np.isfinite(series.surface_c), total, np.nan)


def pixel_noise_of(session: Session, series: Series) -> tuple[float, str]:
    """Noise of a pixel [K] and where it is from: `stated`, `seen` in the frames or `assumed`."""
    if session.camera.noise_k is not None:
        return session.camera.noise_k, "stated"
    seen = series.noise_k[np.isfinite(series.noise_k)]
    return (float(np.median(seen)), "seen") if seen.size else (ASSUMED_NOISE_K, "assumed")


def budget_table(session: Session, series: Series, pin: str, frame: int) -> dict[str, float]:
    """One reading's terms and their sum [K], for printing: name -> standard uncertainty, `together` last.

    Raises KeyError for a pin or a frame number that is not there.
    """
    at = np.flatnonzero(series.indices == frame)
    if pin not in series.pin_map.names or not at.size:
        raise KeyError(f"pin {pin!r}, frame {frame}: no such reading")
    place = (int(at[0]), series.pin_map.names.index(pin))
    table = {name: float(values[place]) for name, values in terms(session, series).items()}
    return table | {"together": float(standard_uncertainty(session, series)[place])}
