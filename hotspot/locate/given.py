"""Pins that the session places itself."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hotspot.errors import refuse
from hotspot.records import PinMap, Statement
from hotspot.session import Session

RADIUS_SHARE = 0.3
"""Radius of a pin without one, as a share of the distance to its nearest neighbour. Ours."""

LONE_RADIUS_PX = 3.0
"""Radius of a single pin without one: no neighbour to measure by. Ours."""

TOUCH_PX = 0.5
"""Circles of pins may touch; that they lie over each other is said from here. Ours."""


def given(session: Session, shape: tuple[int, int]) -> PinMap:
    """The pins of a session of which every one has x and y; `shape` is that of the picture. Raises InputError for a pin
    that is larger than it.
    """
    x = np.array([pin.x for pin in session.pin], dtype=float)
    y = np.array([pin.y for pin in session.pin], dtype=float)
    names = tuple(pin.name for pin in session.pin)
    radius, derived = radii(session, names, (x, y), shape)
    large = [name for name, own in zip(names, radius, strict=True) if 2.0 * own > min(shape)]
    if large:
        file = "pins.toml" if (session.folder / "pins.toml").is_file() else "session.toml"
        found = f"pins larger than the picture of {shape[1]} x {shape[0]} pixels: {', '.join(large)}"
        raise refuse(file, "pin.radius", found, "Give half of the pixels that lie across the pin's face.")
    return PinMap(
        names,
        x,
        y,
        radius,
        ("given",) * len(names),
        tuple(session.region),
        None,
        (*derived, *outside(session, names, (x, y), shape), *odd(session, names, (x, y), radius)),
    )


def odd(
    session: Session, names: tuple[str, ...], at: tuple[np.ndarray, np.ndarray], radius: np.ndarray
) -> Iterator[Statement]:
    """Circles that lie over each other, and a count of pins that rows and columns do not give."""
    x, y = at
    over = np.hypot(x[:, None] - x, y[:, None] - y) < radius[:, None] + radius - TOUCH_PX
    np.fill_diagonal(over, False)
    if over.any():
        yield Statement("pins_overlap", {"pins": [names[k] for k in np.flatnonzero(over.any(axis=1))]})
    connector = session.connector
    if connector.rows and connector.columns:
        places = connector.rows * connector.columns - len(connector.empty)
        if places != len(names):
            said = {"rows": connector.rows, "columns": connector.columns, "places": places, "count": len(names)}
            yield Statement("grid_unlike_pins", said)


def radii(
    session: Session, names: tuple[str, ...], at: tuple[np.ndarray, np.ndarray], shape: tuple[int, int]
) -> tuple[np.ndarray, tuple[Statement, ...]]:
    """Radius [px] of each pin (n,): its own, else a share of the distance to its nearest neighbour, which is said.

    A pin outside the picture (`shape`: rows, columns) is nobody's neighbour: its circle must not grow into the
    picture, nor another's with the distance to it.
    """
    stated = [pin.radius if (pin := session.pin_named(name)) else None for name in names]
    default = np.full(len(names), LONE_RADIUS_PX)
    seen = np.flatnonzero(~_beyond(at, shape))
    if len(seen) > 1:
        x, y = at[0][seen], at[1][seen]
        apart = np.hypot(x[:, None] - x, y[:, None] - y)
        np.fill_diagonal(apart, np.inf)
        nearest = apart.min(axis=1)
        default[seen] = np.where(nearest > 0, RADIUS_SHARE * nearest, LONE_RADIUS_PX)
    radius = np.array([default[k] if own is None else own for k, own in enumerate(stated)], dtype=float)
    without = [name for name, own in zip(names, stated, strict=True) if own is None]
    if not without:
        return radius, ()
    smallest = float(min(radius[names.index(name)] for name in without))
    return radius, (Statement("radius_derived", {"pins": without, "radius": smallest}),)


def _beyond(at: tuple[np.ndarray, np.ndarray], shape: tuple[int, int]) -> np.ndarray:
    """Which centres (n,) lie outside the picture."""
    x, y = at
    return (x < -0.5) | (y < -0.5) | (x > shape[1] - 0.5) | (y > shape[0] - 0.5)


def outside(
    session: Session, names: tuple[str, ...], at: tuple[np.ndarray, np.ndarray], shape: tuple[int, int]
) -> Iterator[Statement]:
    """Pins whose centre, and regions whose box, lie outside the picture."""
    beyond = _beyond(at, shape)
    picture = {"width": shape[1], "height": shape[0]}
    if beyond.any():
        yield Statement("pins_beyond_picture", {"pins": [names[k] for k in np.flatnonzero(beyond)], **picture})
    lost = [
        region.name
        for region in session.region
        if region.box[0] >= shape[1]
        or region.box[1] >= shape[0]
        or region.box[0] + region.box[2] <= 0
        or region.box[1] + region.box[3] <= 0
    ]
    if lost:
        yield Statement("regions_beyond_picture", {"regions": lost, **picture})
