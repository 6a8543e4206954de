"""The standard uncertainty of a reading, term by term (JCGM 100:2008). Everything in K, k = 1."""

from __future__ import annotations

import numpy as np

from hotspot.extract.series import Series
from hotspot.extract.surface import emissivity_limits, reflected_limits, slopes
from hotspot.physics.statistics import MAD_TO_SIGMA, rectangular
from hotspot.physics.uncertainty import combined
from hotspot.session import Session

ASSUMED_NOISE_K = 0.2
"""Noise of a pixel where it is neither stated nor can be seen (one frame). Ours: a poor camera's."""

TERMS: tuple[str, ...] = ("noise", "carrier", "placing", "accuracy", "emissivity", "reflected")
"""The terms of the budget: noise of the pixels; steps and colours of the carrier; where the pin lies; the
camera's stated limits of error (0 where none are stated); emissivity; reflected temperature. What a small pin
loses to the camera's blur is a doubt (`reads_low`), not a term."""


def terms(session: Session, series: Series) -> dict[str, np.ndarray]:
    """Each term's standard uncertainty [K] in `surface_c`, (frames, n), by the names of TERMS."""
    optics = series.optics
    slope = slopes(series.surface_c, series.camera_c, optics, series.reflected_c)
    noise, _ = pixel_noise_of(session, series)
    count = series.faces.independent if series.faces is not None else np.ones(len(series.pin_map.names))
    of_mean = np.maximum(noise / np.sqrt(count), scatter(series.camera_c))
    accuracy = rectangular(session.camera.accuracy_k or 0.0)
    around = rectangular(1.0) * reflected_limits(optics, series.ambient_c)[:, None]
    found = {
        "noise": np.abs(slope.camera) * of_mean,
        "carrier": np.abs(slope.camera) * series.carrier_k,
        "placing": series.placing_k,
        "accuracy": np.abs(slope.camera) * accuracy,
        "emissivity": np.abs(slope.emissivity) * rectangular(1.0) * emissivity_limits(optics),
        "reflected": np.abs(slope.reflected) * around,
    }
    return {name: np.broadcast_to(found[name], series.surface_c.shape) for name in TERMS}


def standard_uncertainty(session: Session, series: Series) -> np.ndarray:
    """All terms together, (frames, n); NaN where there is no reading."""
    together = terms(session, series)
    total = combined(1.0, np.stack([together[name] for name in TERMS]))
    return np.where(np.isfinite(series.surface_c), total, np.nan)


def pixel_noise_of(session: Session, series: Series) -> tuple[float, str]:
    """Noise of a pixel [K] and where it is from: `stated`, `seen` in the frames or `assumed`."""
    if session.camera.noise_k is not None:
        return session.camera.noise_k, "stated"
    seen = series.noise_k[np.isfinite(series.noise_k)]
    return (float(np.median(seen)), "seen") if seen.size else (ASSUMED_NOISE_K, "assumed")


def scatter(camera_c: np.ndarray) -> np.ndarray:
    """Scatter [K] of each pin's mean from frame to frame (n,), 0 from fewer than five frames.

    MAD of the second differences over sqrt(6). Larger than the pixels' noise allows where that noise is alike
    in neighbouring pixels (compression, blur) or the picture shakes.
    """
    steps = np.abs(np.diff(camera_c, n=2, axis=0)) if camera_c.shape[0] >= 5 else np.zeros((0, 1))
    known = np.isfinite(steps).any(axis=0) if steps.size else np.zeros(camera_c.shape[1], dtype=bool)
    result = np.zeros(camera_c.shape[1])
    if known.any():
        result[known] = MAD_TO_SIGMA / np.sqrt(6.0) * np.nanmedian(steps[:, known], axis=0)
    return result


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
