"""The pins as a network of nearest neighbours: what stands in for the picture where only the pins are read."""

from __future__ import annotations

import numpy as np

from hotspot.reason.heat_balance import Trust
from hotspot.records import PinMap
from hotspot.session import Session

LINK = 1.0
"""Conductance between neighbours against the plate's k t: what the pictures of made connectors give on average."""

NEAR = 1.25
"""Neighbours are pins closer than this many pitches: those in the same row and column, not across."""

HIDDEN_DEPTH = 0.07
"""What lies between a contact and its pin's spot on the face, against the plate's spreading. Ours."""

SPOT_SHARE = 0.06
"""Relative error of a pin's own reading against the others': emissivity from pin to pin. Ours."""

BY_PINS = Trust(0.3, 0.04, 0.04, 0.3, 0.1)
"""What the pins' own spots are trusted to; the spot of a bad one hides much of it. Ours, from simulated connectors."""


def neighbours_of(session: Session, names: tuple[str, ...], pin_map: PinMap | None) -> np.ndarray | None:
    """Conductances (n, n) between neighbours; None where it is not known which pins are neighbours."""
    at = _places(session, names, pin_map)
    if at is None or len(at) < 2:
        return None
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    near = apart < NEAR * float(np.median(apart.min(axis=1)))
    links = LINK * (near & near.T)
    return np.diag(links.sum(axis=1)) - links


def _places(session: Session, names: tuple[str, ...], pin_map: PinMap | None) -> np.ndarray | None:
    """(n, 2) places in any unit: on the picture, else by the rows and columns that the session states."""
    if pin_map is not None:
        return np.stack([pin_map.x_px, pin_map.y_px], axis=1).astype(float)
    rows, columns = session.connector.rows, session.connector.columns
    if rows is None or columns is None or session.connector.empty or rows * columns != len(names):
        return None
    if session.connector.numbering != "row":
        return None
    return np.array([divmod(k, columns)[::-1] for k in range(len(names))], dtype=float)
