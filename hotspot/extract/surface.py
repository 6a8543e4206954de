"""What the camera shows -> the temperature of the surface.

A camera is told an emissivity and a reflected temperature and turns the radiance that it receives into a
temperature with them. Where the session says what the camera was told (`set_emissivity`), that is undone and
the surface's own emissivity and surroundings are applied instead. Where it does not, nothing can be undone;
applying the surface's emissivity on top would correct twice for whoever had set the camera already, so that
values stay as the camera gives them, a notice says so, and the uncertainty covers a camera set otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.doubts import BIT
from hotspot.handbook.criteria import section
from hotspot.physics.radiation import BandRadiance, band, emitted, received
from hotspot.session import Session

ASSUMED_EMISSIVITY = 0.95
"""Stands in where neither the surface's emissivity nor the camera's setting is known, in sensitivities only."""

ASSUMED_REFLECTED_C, REFLECTED_HALF_WIDTH_K = 23.0, 15.0
"""Stands in where neither the reflected temperature nor the ambient is known, limits included in the budget.
Ours: a workplace between winter and a hot day."""

STATED_HALF_WIDTH, UNKNOWN_HALF_WIDTH, SETTING_HALF_WIDTH = 0.02, 0.10, 0.05
"""Limits (rectangular) of an emissivity that is stated, of one that is not known, and of a camera's setting that is
not known. Common practice, no source."""

REFLECTED_STATED_HALF_WIDTH_K = 3.0
"""Limits (rectangular) of a reflected temperature that is stated or taken from the ambient. Ours."""


@dataclass(frozen=True)
class Optics:
    """What is known of surface and camera. `emissivity` (n,) per pin, NaN where it is not known."""

    emissivity: np.ndarray
    reflected_c: float | None
    set_emissivity: float | None
    set_reflected_c: float | None
    table: BandRadiance

    @property
    def converted(self) -> np.ndarray:
        """Pins (n,) whose values are changed: both settings known, and not the same."""
        known = np.isfinite(self.emissivity)
        if self.set_emissivity is None:
            return np.zeros_like(known)
        surroundings = self.set_reflected_c is None or self.set_reflected_c == self.reflected_c
        same = (self.emissivity == self.set_emissivity) & (surroundings | (self.emissivity == 1.0))
        return known & ~same

    def surroundings(self, ambient_c: np.ndarray) -> np.ndarray:
        """Reflected temperature [°C] per frame: stated, else the ambient (frames,), else assumed."""
        if self.reflected_c is not None:
            return np.full(ambient_c.shape, self.reflected_c)
        return np.where(np.isfinite(ambient_c), ambient_c, ASSUMED_REFLECTED_C)


def optics_of(session: Session, pins: tuple[str, ...]) -> Optics:
    """What the session says of the surface of each of `pins` and of the camera's settings."""
    surface = session.surface
    known = [session.emissivity_of(pin) for pin in pins]
    return Optics(
        np.array([np.nan if value is None else value for value in known], dtype=float),
        surface.reflected,
        surface.set_emissivity,
        surface.set_reflected,
        band(*map(float, surface.band_um)),
    )


def surface_celsius(camera_c: np.ndarray, owner: np.ndarray, optics: Optics, reflected_c: np.ndarray) -> np.ndarray:
    """Surface temperature [°C] of pixels: `camera_c` (frames, k), `owner` (k,) the pin of each pixel,
    `reflected_c` (frames,). Without a conversion the values are handed back unchanged, to the last bit;
    NaN where the reflections alone would be brighter than what was received.
    """
    todo = optics.converted[owner]
    if not todo.any():
        return camera_c
    table = optics.table
    around = table.radiance(reflected_c)[:, None]
    told = around if optics.set_reflected_c is None else table.radiance(optics.set_reflected_c)
    came = received(table.radiance(camera_c[:, todo]), optics.set_emissivity, told)
    result = np.array(camera_c, dtype=float)
    result[:, todo] = table.celsius(emitted(came, optics.emissivity[owner[todo]], around))
    return result


@dataclass(frozen=True)
class Slopes:
    """How the surface temperature answers, (frames, n): per K of the camera's value, per unit of emissivity,
    per K of reflected temperature."""

    camera: np.ndarray
    emissivity: np.ndarray
    reflected: np.ndarray


def slopes(surface_c: np.ndarray, camera_c: np.ndarray, optics: Optics, reflected_c: np.ndarray) -> Slopes:
    """Partial derivatives of L(To) = [W - (1 - e) L(Tr)] / e, all (frames, n)."""
    table = optics.table
    steep = table.slope(surface_c)
    stated = ASSUMED_EMISSIVITY if optics.set_emissivity is None else optics.set_emissivity
    own = np.where(np.isfinite(optics.emissivity), optics.emissivity, stated)
    around = reflected_c[:, None]
    camera = np.where(optics.converted, stated / own * table.slope(camera_c) / steep, 1.0)
    emissivity = -(table.radiance(surface_c) - table.radiance(around)) / (own * steep)
    unsure = -(1.0 - own) / own * table.slope(around) / steep
    return Slopes(camera, emissivity, np.where(optics.converted, unsure, 0.0))


def emissivity_limits(optics: Optics) -> np.ndarray:
    """Half width (n,) of the rectangular distribution that stands for what is not known of the emissivity."""
    known = np.isfinite(optics.emissivity)
    setting = SETTING_HALF_WIDTH if optics.set_emissivity is None else 0.0
    return np.where(known, np.hypot(STATED_HALF_WIDTH, setting), UNKNOWN_HALF_WIDTH)


def reflected_limits(optics: Optics, ambient_c: np.ndarray) -> np.ndarray:
    """Half width [K] (frames,) of the rectangular distribution of the reflected temperature."""
    known = np.isfinite(ambient_c) | (optics.reflected_c is not None)
    return np.where(known, REFLECTED_STATED_HALF_WIDTH_K, REFLECTED_HALF_WIDTH_K)


def hotter_around(
    surface_c: np.ndarray, camera_c: np.ndarray, optics: Optics, reflected_c: np.ndarray, ambient_c: np.ndarray
) -> np.ndarray:
    """Where (frames, n) what is reflected is hotter than the surface: by more than the limits of a stated reflected
    temperature, or so that it alone would be brighter than what was received. Not where it is only assumed."""
    told = np.isfinite(ambient_c) | (optics.reflected_c is not None)
    colder = surface_c < reflected_c[:, None] - REFLECTED_STATED_HALF_WIDTH_K
    drowned = ~np.isfinite(surface_c) & np.isfinite(camera_c) & optics.converted
    mirrors = ~(optics.emissivity >= 1.0)
    return told[:, None] & mirrors & (colder | drowned)


def surface_doubts(optics: Optics) -> np.ndarray:
    """Doubt bits (n,) that hold in every frame: emissivity not known, bare metal."""
    unknown = np.where(np.isnan(optics.emissivity), BIT["emissivity_unknown"], 0)
    bare = np.where(optics.emissivity <= section("emissivity")["least"], BIT["bare_metal"], 0)
    return (unknown | bare).astype(np.uint32)
