"""Laying the pictures of two tests over each other by the pins that are in both."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from hotspot.reason.pairing import Pairing, session_of
from hotspot.records import Results, Statement
from hotspot.views import Overlay, View

_MOST_OFF = 0.5
"""Largest RMS of what is left at the pins, in radii: beyond it a pin would lie beside itself. No source."""


def similarity(source: np.ndarray, target: np.ndarray) -> tuple[np.ndarray, float]:
    """The shift, turn and scale (no mirror) that takes `source` (n, 2) x, y nearest to `target` (n, 2).

    Least squares; gives the matrix (2, 3) for x, y, 1, and the RMS distance that is left. One point gives a shift.
    Source: S. Umeyama, Least-squares estimation of transformation parameters between two point patterns, 1991, whose
    answer in the plane is one complex quotient. Raises ValueError for no point, or points that are all one.
    """
    source, target = np.asarray(source, float), np.asarray(target, float)
    if not len(source) or source.shape != target.shape:
        raise ValueError("as many points in both, and at least one, are needed")
    middle = source.mean(axis=0), target.mean(axis=0)
    one, two = ((points - at) @ np.array([1.0, 1.0j]) for points, at in zip((source, target), middle, strict=True))
    spread = float(np.sum(np.abs(one) ** 2))
    if len(source) > 1 and spread < 1e-12:
        raise ValueError("the points lie all at one place")
    turn = complex(np.sum(np.conj(one) * two) / spread) if spread else 1.0 + 0.0j
    linear = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    matrix = np.column_stack([linear, middle[1] - linear @ middle[0]])
    left = source @ linear.T + matrix[:, 2] - target
    return matrix, math.sqrt(float(np.mean(np.sum(left**2, axis=1))))


def overlays(before: Results, after: Results, pairing: Pairing) -> tuple[Overlay, ...]:
    """Each stage that both tests have, with its views laid over each other, or why they cannot be."""
    faces = [session_of(results).connector.face for results in (before, after)]
    pins = [(old, new) for old, new in pairing.pins if old is not None and new is not None]
    found = []
    for numbers in pairing.stages:
        if None in numbers:
            continue
        names = [str(r.findings["stages"][n]["name"]) for r, n in zip((before, after), numbers, strict=True)]
        views = [_view(results.views, name) for results, name in zip((before, after), names, strict=True)]
        found.append(_overlay(names[1], (views[0], views[1]), pins, faces))
    return tuple(found)


def _view(views: Sequence[View], stage: str) -> View | None:
    return next((view for view in views if view.stage == stage), None)


def _overlay(
    stage: str,
    views: tuple[View | None, View | None],
    pins: Sequence[tuple[str, str]],
    faces: Sequence[str | None],
) -> Overlay:
    before, after = views
    if before is None or after is None:
        tests = [word for word, view in (("before", before), ("after", after)) if view is None]
        return Overlay(stage, before, after, why=Statement("overlay_no_frame", {"tests": tests}))
    if None not in faces and faces[0] != faces[1]:
        return Overlay(stage, before, after, why=Statement("overlay_face", {"before": faces[0], "after": faces[1]}))
    old, new = _places(before), _places(after)
    both = [(old[one], new[two]) for one, two in pins if one in old and two in new]
    if len(both) < 2:
        return Overlay(stage, before, after, why=Statement("overlay_few_pins", {"count": len(both)}))
    there, here = np.array([pair[0] for pair in both]), np.array([pair[1] for pair in both])
    try:
        matrix, off = similarity(here[:, :2], there[:, :2])
    except ValueError:
        return Overlay(stage, before, after, why=Statement("overlay_few_pins", {"count": 1}))
    radius = float(np.median(there[:, 2]))
    if off > _MOST_OFF * radius:
        return Overlay(stage, before, after, None, off, Statement("overlay_off", {"radii": off / radius}))
    if before.ambient_c is None or after.ambient_c is None:
        tests = [word for word, view in (("before", before), ("after", after)) if view.ambient_c is None]
        return Overlay(stage, before, after, matrix, off, Statement("overlay_no_ambient", {"tests": tests}))
    return Overlay(stage, before, after, matrix, off)


def _places(view: View) -> Mapping[str, np.ndarray]:
    return dict(zip(view.pins, view.places, strict=True))
