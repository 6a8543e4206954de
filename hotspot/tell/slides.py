"""The frames of a test to look through: small pictures cut to the pins, with the pins' circles laid over them.

The circles are drawn once and moved with each frame, so that sixty frames stay small and the lines stay sharp.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hotspot.records import Analysis, PinFinding, Snapshot
from hotspot.tell import look
from hotspot.tell.marked import MAP, common_scale, placed, seen_in, view
from hotspot.tell.neighbours import spacing
from hotspot.tell.words import clock

MOST_BYTES = 600_000
"""Of all pictures together, as they stand on the page: the rest of a report of 1.5 MB holds its charts."""
_FORMS = ((480, 82), (480, 70), (480, 55), (480, 40), (320, 40), (240, 30), (160, 25))
"""Longest side [px] and JPEG quality, tried in turn."""


@dataclass(frozen=True, slots=True)
class Slide:
    """One frame: its picture as a data URI, words, how the circles move [SVG matrix], and whether a stage ends here."""

    uri: str
    caption: str
    matrix: str
    end: bool


@dataclass(frozen=True, slots=True)
class Ring:
    """A pin's circle on the first good frame [px], its name, and whether it is drawn heavy."""

    name: str
    x: float
    y: float
    radius: float
    hot: bool


@dataclass(frozen=True, slots=True)
class Slides:
    """All frames to look through, `width` x `height` pixels of the camera each, and the circles; `size` of names."""

    width: int
    height: int
    slides: tuple[Slide, ...]
    rings: tuple[Ring, ...]
    size: float


def slides(analysis: Analysis, most_bytes: int = MOST_BYTES) -> Slides | None:
    """At most sixty frames in time order, evenly chosen, stage ends among them; None where none was kept.

    They are made smaller, and then fewer, until all pictures together take at most `most_bytes` on the page.
    """
    shots = list(analysis.slides or analysis.snapshots)
    if not shots:
        return None
    left, top, right, bottom = _cut(shots, analysis.findings.pins)
    cuts = [shot.celsius[top:bottom, left:right] for shot in shots]
    limits = common_scale([_only(shot, cut) for shot, cut in zip(shots, cuts, strict=True) if shot.picture is None])
    drawn = [
        _coloured(cut, limits) if shot.picture is None else shot.picture[top:bottom, left:right]
        for shot, cut in zip(shots, cuts, strict=True)
    ]
    ends, uris = _ends(shots), _uris(drawn, most_bytes)
    told = tuple(
        Slide(uris[k], _caption(shots[k]), _matrix(shots[k], left, top), shots[k].index in ends)
        for k in _that_fit(shots, uris, most_bytes)
    )
    return Slides(right - left, bottom - top, told, *_rings(placed(analysis.findings.pins)))


def _only(shot: Snapshot, cut: np.ndarray) -> Snapshot:
    return Snapshot(shot.index, shot.file, shot.time_s, shot.stage, cut)


def _caption(shot: Snapshot) -> str:
    return " · ".join(word for word in (shot.stage, clock(shot.time_s), look.shortened(shot.file, 40)) if word)


def _ends(shots: Sequence[Snapshot]) -> set[int]:
    """Numbers of the last frame of each stage: what is printed."""
    return {shot.index for shot in {shot.stage: shot for shot in shots}.values()}


def _cut(shots: Sequence[Snapshot], pins: Sequence[PinFinding]) -> tuple[int, int, int, int]:
    """Left, top, right, bottom [px] that holds the pins of every frame with their surroundings."""
    rows, columns = shots[0].celsius.shape
    views = np.array([view(shot.celsius.shape, seen_in(shot, pins)) for shot in shots])
    left, right = np.floor(views[:, 0].min() + 0.5), np.ceil(views[:, 1].max() + 0.5)
    top, bottom = np.floor(views[:, 3].min() + 0.5), np.ceil(views[:, 2].max() + 0.5)
    return max(0, int(left)), max(0, int(top)), min(columns, int(right)), min(rows, int(bottom))


def _coloured(celsius: np.ndarray, limits: tuple[float, float]) -> np.ndarray:
    """RGB uint8 on one scale for all frames; what has no value is grey."""
    import matplotlib

    share = (celsius.astype(float) - limits[0]) / (limits[1] - limits[0])
    shown = (matplotlib.colormaps[MAP](np.nan_to_num(share.clip(0, 1)))[..., :3] * 255).round().astype(np.uint8)
    shown[~np.isfinite(celsius)] = 128
    return shown


def _that_fit(shots: Sequence[Snapshot], uris: Sequence[str], most_bytes: int) -> list[int]:
    """All of them, or every second until they fit; the first and last of each stage stay."""
    keep = list(range(len(shots)))
    stages = [shot.stage for shot in shots]
    fixed = {k for k in keep if k in (0, len(shots) - 1) or stages[k] != stages[k - 1] or stages[k] != stages[k + 1]}
    while sum(len(uris[k]) for k in keep) > most_bytes and len(keep) > max(2, len(fixed)):
        free = [k for k in keep if k not in fixed]
        keep = sorted([*fixed, *free[1::2]])
    return keep


def _uris(pictures: Sequence[np.ndarray], most_bytes: int) -> list[str]:
    """JPEG data URIs, in the best form in which all together stay within `most_bytes`."""
    for side, quality in _FORMS:
        found = [_uri(picture, side, quality) for picture in pictures]
        if sum(map(len, found)) <= most_bytes:
            break
    return found


def _uri(picture: np.ndarray, side: int, quality: int) -> str:
    from PIL import Image

    image, out = Image.fromarray(np.ascontiguousarray(picture)), io.BytesIO()
    image.thumbnail((side, side))
    image.save(out, "JPEG", quality=quality, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def _matrix(shot: Snapshot, left: int, top: int) -> str:
    """From a place on the first good frame to the cut-out of this one; the centre of pixel 0 lies at 0.5."""
    if shot.pose is None:
        return f"1 0 0 1 {0.5 - left:g} {0.5 - top:g}"
    a, b = shot.pose.a, shot.pose.b
    return f"{a:.5f} {b:.5f} {-b:.5f} {a:.5f} {shot.pose.right_px + 0.5 - left:.2f} {shot.pose.down_px + 0.5 - top:.2f}"


def _rings(pins: Sequence[PinFinding]) -> tuple[tuple[Ring, ...], float]:
    """The circles, and a size of names [px] at which they keep clear of each other; 0 where none does."""
    rings = tuple(Ring(pin.name, pin.x_px, pin.y_px, pin.radius_px or 1.0, pin.verdict == "hot") for pin in pins)
    if not rings:
        return rings, 0.0
    apart = spacing(np.array([ring.x for ring in rings]), np.array([ring.y for ring in rings]))
    radius = max(ring.radius for ring in rings)
    longest = max(len(ring.name) for ring in rings)
    return rings, max(0.0, min(1.1 * radius, 0.8 * (apart - 2 * radius), 1.5 * apart / max(longest, 1), 60.0))
