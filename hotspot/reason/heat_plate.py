"""From a rise picture to the pins: their temperatures behind the face, and how they conduct to each other.

Two plates of the same plastic lie on each other: the one that holds the pins, and the face before them, which the
camera sees. Both conduct sideways and lose heat; heat crosses between them through the plastic, from the pins through
what little lies before their ends. So every picture is a sum of one field per pin (what the face shows where that pin
is at 1 K and the others at 0) and one for what is still being stored. The four lengths of the plates are those with
which that sum fits best; how rounded the picture is over a pin tells how deep it sits. The pins' temperatures and
the matrix of conductances between them follow. Nothing is read off the pins' ends, whose emissivities differ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.physics.plate import free_edges, plate_entries
from hotspot.reason.heat_outline import outline_of
from hotspot.records import RisePictures

LEAST_PLASTIC_PX, LEAST_PLASTIC_CELLS = 3.0, 2.0
"""Plastic between the edges of neighbouring pins below which the picture cannot carry the fit."""

DIFFUSIVITY_MM2_S = 0.15
"""Of filled plastic; from memory."""

ASSUMED_PITCH_MM, PITCH_LN_SD = 5.5, 0.25
PRIOR = {"inside_mm": (12.0, 0.4), "face_mm": (2.6, 0.5), "gap_mm": (1.3, 0.5), "loss_per_mm": (0.04, 0.5)}
"""Middle and sd of ln: thickness around the pins, of the face, of what lies before the pins' ends, and film
coefficient over conductivity. Ours: housings of small multi-pin connectors, from memory."""

NOISE_K, NOISE_SHARE, CORRELATED = 0.05, 0.01, 0.3
"""Misfit that is to be expected: 0.05 K and 1 % of the largest rise, neighbours alike (weight 0.3). Ours, from
simulated connectors."""

LOSS_GROWS, LEAST_REFERENCE_K = 0.2, 8.0
"""The film coefficient goes with this power of the rise: 0.25 for free convection in air (McAdams, Heat Transmission,
1954), a little less with radiation; 1 at half the largest rise that is seen, or at 8 K."""

OFFSET_K = 0.3  # standard uncertainty of the air's change, one number per stage


@dataclass(frozen=True)
class PlateFit:
    """s stages, n pins. `rise_k` (s, n) of the pins behind the face; `conductance` (n, n) between the pins and to the
    air through the plastic, in units of its k times the plates' thickness; `stored` (s, n) what the plastic still
    takes from each pin, with what it loses beyond its share of the rise; `misfit` rms over the plastic as a share of
    the largest rise; `edges` how many of the four edges of the housing were seen; `lengths` as in
    PRIOR, in cells."""

    rise_k: np.ndarray
    conductance: np.ndarray
    stored: np.ndarray
    misfit: float
    edges: int
    lengths: tuple[float, ...]


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
        self.front = np.flatnonzero(self.inside.ravel())
        self.looked = np.flatnonzero((looked & self.inside).ravel())
        self.belongs = np.eye(self.pins)[self.owner.ravel()[self.held]]

    def fields(self, lengths: np.ndarray, warming: np.ndarray, beyond: np.ndarray) -> tuple[np.ndarray, ...]:
        """For plates of four `lengths` (cells): what the face shows of each pin (free, n) and of what is stored
        (free, s), conductance (n, n), stored (s, n), all over k.

        `warming` (s, rows, columns): dT/dt over the diffusivity, K per square cell. `beyond` (s, rows, columns): what
        the loss grows by beyond its share of the rise, K.
        """
        from scipy.sparse.linalg import splu

        inside, face, _, loss = lengths
        system = self._system(lengths)
        free = np.concatenate([self.free, self.inside.size + self.front])
        across = system[free][:, self.held] @ self.belongs
        solve = splu(system[free][:, free].tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve
        warming, beyond = (each.reshape(len(each), -1) for each in (warming, beyond))
        around, before = (
            thick * warming + loss * (1.0 + thick * free_edges(self.inside).ravel()) * beyond
            for thick in (inside, face)
        )
        taken = np.concatenate([around[:, self.free], before[:, self.front]], axis=1)
        found = solve(np.hstack([-across, -taken.T]))
        pins, stored = found[:, : self.pins], found[:, self.pins :]
        conductance = self.belongs.T @ (system[self.held][:, self.held] @ self.belongs) + across.T @ pins
        held = (across.T @ stored).T + around[:, self.held] @ self.belongs
        seen = self.free.size + np.searchsorted(self.front, self.looked)
        return pins[seen], stored[seen], conductance, held

    def _system(self, lengths: np.ndarray):
        """Sparse matrix of both plates, over k: first the cells around the pins, then those of the face."""
        from scipy.sparse import coo_array

        inside, face, gap, loss = lengths
        parts = []
        for layer, thick in enumerate((inside, face)):
            rows, columns, values = plate_entries(self.inside, loss / thick, loss)
            parts.append((rows + layer * self.inside.size, columns + layer * self.inside.size, thick * values))
        depth = np.where(self.owner.ravel()[self.front] >= 0, 0.0, inside / 2.0) + gap + face / 2.0
        link, behind = 1.0 / depth, self.front + self.inside.size
        parts.append((self.front, behind, -link))
        parts.append((behind, self.front, -link))
        parts.append((self.front, self.front, link))
        parts.append((behind, behind, link))
        rows, columns, values = (np.concatenate(each) for each in zip(*parts, strict=True))
        size = 2 * self.inside.size
        return coo_array((values, (rows, columns)), shape=(size, size)).tocsr()


def plate_fit(pictures: RisePictures, stages: list[int], pitch_mm: float | None) -> PlateFit | None:
    """The plates and their pins from the rise pictures of `stages`; None where the pictures cannot carry it."""
    plate = Plate(pictures)
    cell_mm = _cell_mm(pictures, pitch_mm)
    if cell_mm is None or plate.looked.size < 4 * plate.pins:
        return None
    rise = pictures.rise_k[stages].reshape(len(stages), -1)[:, plate.looked]
    top = np.abs(rise).max(axis=1)
    if not top.max() > 0.0:
        return None
    warming = np.nan_to_num(pictures.slope_k_s[stages]) * cell_mm**2 / DIFFUSIVITY_MM2_S
    beyond = _beyond(np.nan_to_num(pictures.rise_k[stages]), float(top.max()))
    weight = CORRELATED / (NOISE_K + NOISE_SHARE * top)
    middle = np.log([value for value, _ in PRIOR.values()]) + np.log(cell_mm) * np.array([-1, -1, -1, 1])
    width = np.hypot([sd for _, sd in PRIOR.values()], PITCH_LN_SD if pitch_mm is None else 0.0)

    def fitted(x: np.ndarray) -> tuple[np.ndarray, ...]:
        pins, stored, conductance, taken = plate.fields(np.exp(x), warming, beyond)
        basis = np.hstack([pins, np.ones((plate.looked.size, 1))])
        found, left = _levels(basis, rise - stored.T, weight)
        return found, left, conductance, taken

    def misfit(x: np.ndarray) -> np.ndarray:
        return np.concatenate([(weight[:, None] * fitted(x)[1]).ravel(), (x - middle) / width])

    from scipy.optimize import least_squares

    best = least_squares(misfit, middle, diff_step=0.02, xtol=1e-3, ftol=1e-4, max_nfev=10).x
    found, left, conductance, taken = fitted(best)
    rms = float(np.sqrt(np.mean((left / top.max()) ** 2)))
    lengths = np.exp(best)
    thick = lengths[0] + lengths[1]
    return PlateFit(found, conductance / thick, taken / thick, rms, sum(plate.found), tuple(map(float, lengths)))


def _beyond(rise: np.ndarray, top_k: float) -> np.ndarray:
    """What the loss is beyond its share of the rise [K], as the picture itself shows where it is warm."""
    warm = np.maximum(rise, 0.0)
    reference = max(LEAST_REFERENCE_K, 0.5 * top_k)
    return warm * ((np.maximum(warm, 1e-3) / reference) ** LOSS_GROWS - 1.0)


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
