"""From a rise picture to the pins: their temperatures as the plastic shows them, and how they conduct to each other.

Between the pins the face is a plate that conducts, stores and loses heat, so every picture of it is a sum of one field
per pin (1 on that pin, 0 on the others) and one for what is still being stored. The two numbers of the plate, loss
and edge loss, are those with which that sum fits best; the pins' temperatures and the matrix of conductances
between them follow. Nothing is read off the pins, whose emissivity differs from pin to pin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.physics.plate import plate_entries
from hotspot.reason.heat_outline import outline_of
from hotspot.records import RisePictures

LEAST_PLASTIC_PX, LEAST_PLASTIC_CELLS = 3.0, 2.0
"""Plastic between the edges of neighbouring pins below which the picture cannot carry the fit."""

DIFFUSIVITY_MM2_S = 0.15
"""Of filled plastic; from memory."""

ASSUMED_PITCH_MM, PITCH_LN_SD = 5.5, 0.25
PRIOR_M2, PRIOR_M2_SD = 0.006, 0.6  # of 1 mm cells
PRIOR_BETA, PRIOR_BETA_SD = 0.06, 0.8
NOISE_K, NOISE_SHARE, CORRELATED = 0.05, 0.02, 0.2
"""Misfit that is to be expected: 0.05 K and 2 % of the largest rise, its neighbours alike (weight 0.2). Ours, from
simulated connectors, like the priors."""

OFFSET_K = 0.3  # standard uncertainty of the air's change, one number per stage


@dataclass(frozen=True)
class PlateFit:
    """s stages, n pins. `conductance` (n, n) between the pins and to the air through the plate, in units of its
    k t; `stored` (s, n) what the plate still takes from each pin; `misfit` rms over the plastic as a share of the
    largest rise; `edges` how many of the four edges of the housing were seen."""

    rise_k: np.ndarray
    conductance: np.ndarray
    stored: np.ndarray
    misfit: float
    edges: int
    m2: float
    beta: float


class Plate:
    """The cells of one connector's face: those of each pin, of the plastic, and of the plastic that is looked at."""

    def __init__(self, pictures: RisePictures) -> None:
        self.pictures = pictures
        self.inside, self.found = outline_of(pictures)
        rows, columns = np.indices(self.inside.shape)
        apart = np.hypot(rows[..., None] - pictures.pin_row, columns[..., None] - pictures.pin_column) - np.asarray(
            pictures.pin_radius
        )
        self.owner = np.where(apart.min(axis=2) <= 0.0, apart.argmin(axis=2), -1)
        for pin, (row, column) in enumerate(zip(pictures.pin_row, pictures.pin_column, strict=True)):
            self.owner[int(round(row)), int(round(column))] = pin
        self.inside |= self.owner >= 0
        core = self.inside.copy()
        core[1:-1, 1:-1] &= self.inside[:-2, 1:-1] & self.inside[2:, 1:-1]
        core[1:-1, 1:-1] &= self.inside[1:-1, :-2] & self.inside[1:-1, 2:]
        core[[0, -1]] = core[:, [0, -1]] = False
        usable = np.isfinite(pictures.rise_k).all(axis=0) & ~pictures.clipped.any(axis=0)
        looked = core & (apart.min(axis=2) > 1.0) & usable
        self.pins = len(pictures.pin_row)
        self.free = np.flatnonzero((self.inside & (self.owner < 0)).ravel())
        self.held = np.flatnonzero((self.owner >= 0).ravel())
        self.looked = np.flatnonzero(looked.ravel()[self.free])
        self.belongs = np.eye(self.pins)[self.owner.ravel()[self.held]]

    def fields(self, m2: float, beta: float, storing: np.ndarray) -> tuple[np.ndarray, ...]:
        """For one plate: fields of the pins (free, n), of what is stored (free, s), conductance (n, n), stored (s, n).

        `storing` (s, rows, columns): c dT/dt of every cell.
        """
        from scipy.sparse import coo_array
        from scipy.sparse.linalg import splu

        size = self.inside.size
        rows, columns, values = plate_entries(self.inside, m2, beta)
        system = coo_array((values, (rows, columns)), shape=(size, size)).tocsr()
        across = system[self.free][:, self.held] @ self.belongs
        solve = splu(
            system[self.free][:, self.free].tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}
        ).solve
        flat = storing.reshape(len(storing), -1)
        found = solve(np.hstack([-across, -flat[:, self.free].T]))
        pins, stored = found[:, : self.pins], found[:, self.pins :]
        conductance = self.belongs.T @ (system[self.held][:, self.held] @ self.belongs) + across.T @ pins
        taken = (across.T @ stored).T + flat[:, self.held] @ self.belongs
        return pins, stored, conductance, taken


def plate_fit(pictures: RisePictures, stages: list[int], pitch_mm: float | None) -> PlateFit | None:
    """The plate and its pins from the rise pictures of `stages`; None where the pictures cannot carry it."""
    plate = Plate(pictures)
    cell_mm = _cell_mm(pictures, pitch_mm)
    if cell_mm is None or plate.looked.size < 4 * plate.pins:
        return None
    rise = pictures.rise_k[stages].reshape(len(stages), -1)[:, plate.free[plate.looked]]
    top = np.abs(rise).max(axis=1)
    if not top.max() > 0.0:
        return None
    storing = np.nan_to_num(pictures.slope_k_s[stages]) * cell_mm**2 / DIFFUSIVITY_MM2_S
    weight = 1.0 / (NOISE_K + NOISE_SHARE * top)
    spread = PITCH_LN_SD if pitch_mm is None else 0.0
    middle = np.log([PRIOR_M2 * cell_mm**2, PRIOR_BETA * cell_mm])
    width = np.hypot([PRIOR_M2_SD, PRIOR_BETA_SD], [2.0 * spread, spread])

    def fitted(x: np.ndarray) -> tuple[np.ndarray, ...]:
        pins, stored, conductance, taken = plate.fields(*np.exp(x), storing)
        basis = np.hstack([pins[plate.looked], np.ones((plate.looked.size, 1))])
        found, left = _levels(basis, rise - stored[plate.looked].T, CORRELATED * weight)
        return found, left, conductance, taken

    def misfit(x: np.ndarray) -> np.ndarray:
        left = fitted(x)[1]
        return np.concatenate([(CORRELATED * weight[:, None] * left).ravel(), (x - middle) / width])

    from scipy.optimize import least_squares

    best = least_squares(misfit, middle, diff_step=0.02, xtol=1e-3, ftol=1e-4, max_nfev=12).x
    found, left, conductance, taken = fitted(best)
    rms = float(np.sqrt(np.mean((left / top.max()) ** 2)))
    return PlateFit(found, conductance, taken, rms, sum(plate.found), *map(float, np.exp(best)))


def _levels(basis: np.ndarray, rise: np.ndarray, weight: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures of the pins (s, n) and what is left (s, k), by least squares with an offset held near 0."""
    square = basis.T @ basis
    found = np.empty((len(rise), basis.shape[1]))
    for stage, own in enumerate(weight):
        held = square * own**2
        held[-1, -1] += 1.0 / OFFSET_K**2
        held[np.arange(len(held) - 1), np.arange(len(held) - 1)] += 1e-6
        found[stage] = np.linalg.solve(held, basis.T @ rise[stage] * own**2)
    return found[:, :-1], rise - found @ basis.T


def _cell_mm(pictures: RisePictures, pitch_mm: float | None) -> float | None:
    """Side of a cell in mm; None where too little plastic lies between the pins."""
    row, column = pictures.pin_row, pictures.pin_column
    if len(row) < 2:
        return None
    apart = np.hypot(row[:, None] - row, column[:, None] - column)
    np.fill_diagonal(apart, np.inf)
    between = apart.min(axis=1) - pictures.pin_radius - pictures.pin_radius[apart.argmin(axis=1)]
    if np.median(between) < max(LEAST_PLASTIC_CELLS, LEAST_PLASTIC_PX / pictures.cell_px):
        return None
    return (ASSUMED_PITCH_MM if pitch_mm is None else pitch_mm) / float(np.median(apart.min(axis=1)))
