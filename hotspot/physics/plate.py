"""Steady heat in a thin plate that loses heat from its faces, cell by cell. numpy only.

k t (d2T/dx2 + d2T/dy2) = h T - q for the rise T over the air of a plate of conductivity k and thickness t that loses
h per area and is given q per area: the fin equation in two dimensions (screened Poisson; Carslaw and Jaeger,
Conduction of Heat in Solids, 2nd ed., 1959, ch. 4; from memory). On square cells of side d, divided by k t:

    sum over neighbours p ~ p' of (T_p - T_p') + m2 T_p + beta e_p T_p = Q_p / (k t),

m2 = h d^2 / (k t); e_p the number of free edges of cell p, each of which loses beta = h_edge d / k. Far from a
source Q at the origin of an endless plate T = Q / (2 pi k t) K0(r sqrt(h / k t)), K0 the modified Bessel function.
"""

from __future__ import annotations

import numpy as np


def neighbours(inside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of flat numbers of cells that touch, both of `inside` (rows, columns) bool: two arrays (k,).

    Source: [definition].
    """
    flat = np.arange(inside.size).reshape(inside.shape)
    pairs = []
    for a, b in ((np.s_[:-1, :], np.s_[1:, :]), (np.s_[:, :-1], np.s_[:, 1:])):
        both = inside[a] & inside[b]
        pairs.append((flat[a][both], flat[b][both]))
    return np.concatenate([pair[0] for pair in pairs]), np.concatenate([pair[1] for pair in pairs])


def free_edges(inside: np.ndarray) -> np.ndarray:
    """How many of the four edges of each cell face a cell that is not `inside`, int (rows, columns); 0 outside.

    Source: [definition].
    """
    padded = np.pad(inside, 1)
    around = padded[:-2, 1:-1].astype(int) + padded[2:, 1:-1] + padded[1:-1, :-2] + padded[1:-1, 2:]
    return np.where(inside, 4 - around, 0)


def plate_entries(inside: np.ndarray, m2: float, beta: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The equations above as (row, column, value) of a sparse symmetric matrix over all cells, flat numbers.

    `m2` and `beta` (no unit) as above. Rows of cells that are not `inside` stay empty. Values are in units of k t.
    Source: [carslaw_jaeger].
    """
    first, second = neighbours(inside)
    cells = np.flatnonzero(inside)
    own = (m2 + beta * free_edges(inside)).ravel()[cells]
    one = np.ones(first.size)
    rows = np.concatenate([first, second, first, second, cells])
    columns = np.concatenate([second, first, first, second, cells])
    return rows, columns, np.concatenate([-one, -one, one, one, own])
