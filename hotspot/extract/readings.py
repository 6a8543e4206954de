"""Frames + PinMap -> the readings table, with what has to be said about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from hotspot.columns import READINGS, column_names
from hotspot.doubts import BIT, joined
from hotspot.extract.air import Air, Told, air_of
from hotspot.extract.budget import COMMON, blur_seen, losses, pixel_noise_of, standard_uncertainty
from hotspot.extract.cold import start_frames
from hotspot.extract.faces import READS_LOW_PX, placing_doubts
from hotspot.extract.reading_budget import Budget
from hotspot.extract.reference import reference_notices
from hotspot.extract.series import Series, collect
from hotspot.extract.surface import ASSUMED_REFLECTED_C, REFLECTED_HALF_WIDTH_K, hotter_around, surface_doubts
from hotspot.extract.surroundings import surroundings_of
from hotspot.records import Extracted, Frame, PinMap, StageSpan, Statement
from hotspot.session import Session

if TYPE_CHECKING:
    import pandas as pd

TOLD_LOSS_K = 1.0
"""A pin of 10 pixels and more is told to read low where it may lose as much. Ours."""


def measure(
    session: Session,
    frames: Iterable[Frame],
    pin_map: PinMap,
    stages: tuple[StageSpan, ...],
    ambient_log: tuple[np.ndarray, np.ndarray] | None,
    keep: Mapping[int, str],
) -> Extracted:
    """A row per frame and pin, in one pass over `frames`.

    `ambient_log`: (times [s], ambient [°C]) or None. Ambient is the session's number, else the log's, else the
    mean over the regions of that kind in each frame, else estimated from a cold start (`hotspot.extract.air`), else not
    known (no rise). `keep`: number -> stage name of
    the frames to keep whole for showing. Temperatures are those of the surface (`hotspot.extract.surface`);
    a mean over a clipped face is a bound.
    """
    series = _without_covered(collect(session, frames, pin_map, ambient_log, keep))
    standing = np.where(_covered(pin_map), BIT["covered"], 0).astype(np.uint32)
    if series.faces is not None:
        standing |= placing_doubts(pin_map, series.faces) | surface_doubts(series.optics)
        standing |= _blur_doubts(session, series)
    air = _air(session, series, stages, ambient_log is not None and len(ambient_log[0]) > 0)
    if air.estimated:
        standing |= BIT["ambient_estimated"]
    return Extracted(
        _table(session, series, stages, (standing, air)),
        _ambient_table(series.times_s, air),
        series.snapshots,
        (*_notices(session, series, standing), *air.notices),
        budget=Budget(session, series),
        settings={"ambient": dict(air.settings)},
    )


def _covered(pin_map: PinMap) -> np.ndarray:
    """Whether (n,) something lies over a pin."""
    return np.isin(np.array(pin_map.names, dtype=object), np.array(pin_map.covered, dtype=object))


def _without_covered(series: Series) -> Series:
    """The series without a reading of pins that something lies over: it would be that thing's, not the pin's."""
    under = _covered(series.pin_map)
    if not under.any() or not len(series.times_s):
        return series
    camera, surface = (np.where(under, np.nan, each) for each in (series.camera_c, series.surface_c))
    return replace(series, camera_c=camera, surface_c=surface, clipped=np.where(under, 0, series.clipped))


def _air(session: Session, series: Series, stages: tuple[StageSpan, ...], logged: bool) -> Air:
    """The ambient beside the pins, told or estimated."""
    origin = "number" if session.ambient is not None else "log" if logged else "region"
    origin = origin if np.isfinite(series.ambient_c).any() else "not known"
    bounded = np.where(series.clipped != 0, np.nan, series.surface_c)
    around = surroundings_of(series.times_s, series.tiles_c, start_frames(series.times_s, stages))
    return air_of(series.times_s, bounded, Told(series.ambient_c, origin, series.reference_px > 0), stages, around)


def _table(
    session: Session, series: Series, stages: tuple[StageSpan, ...], beside: tuple[np.ndarray, Air]
) -> pd.DataFrame:
    """The columns of readings.csv. `beside`: doubts (n,) that hold in every frame, and the ambient."""
    import pandas as pd

    frames, pins = series.surface_c.shape
    standing, air = beside
    stage_of = {index: span.name for span in stages for index in span.frames}
    bits = (series.doubts | standing | np.where(_mirrored(series), BIT["reflected_hotter"], 0)).ravel()
    words = {int(bit): joined(int(bit)) for bit in np.unique(bits)}
    ends = {0: "", BIT["clipped_low"]: "low", BIT["clipped_high"]: "high"}
    columns = {
        "frame": np.repeat(series.indices, pins),
        "file": np.repeat(np.array(series.files, dtype=object), pins),
        "time_s": np.repeat(series.times_s, pins),
        "stage": np.repeat(np.array([stage_of.get(int(i), "") for i in series.indices], dtype=object), pins),
        "pin": np.tile(np.array(series.pin_map.names, dtype=object), frames),
        "temperature_c": series.surface_c.ravel(),
        "uncertainty_c": standard_uncertainty(session, series).ravel(),
        "rise_c": (series.surface_c - air.celsius[:, None]).ravel(),
        "pixels": series.pixels.ravel(),
        "clipped": np.array([ends[int(bit)] for bit in series.clipped.ravel()], dtype=object),
        "shift_px": np.repeat(series.shift_px, pins),
        "quality": np.array([words[int(bit)] for bit in bits], dtype=object),
        "common_c": standard_uncertainty(session, series, COMMON).ravel(),
        "drift_c": np.repeat(air.drift_k, pins),
    }
    return pd.DataFrame(columns, columns=column_names(READINGS))


def _ambient_table(times_s: np.ndarray, air: Air) -> pd.DataFrame:
    """Ambient over time; no rows where it is not known."""
    import pandas as pd

    table = pd.DataFrame({"time_s": times_s, "ambient_c": air.celsius})
    return table.dropna().drop_duplicates().reset_index(drop=True)


def _notices(session: Session, series: Series, standing: np.ndarray) -> Iterable[Statement]:
    """What a person must know about these readings, most telling first."""
    names = np.array(series.pin_map.names, dtype=object)
    across = 2.0 * np.asarray(series.pin_map.radius_px, dtype=float)

    def pins(bit: str) -> list[str]:
        return list(names[(standing & BIT[bit]) != 0])

    for bit, code in (("few_pixels", "pins_shape_only"), ("reads_low", "pins_small")):
        if pins(bit):
            least = float(across[(standing & BIT[bit]) != 0].min())
            yield Statement(code, {"pins": pins(bit), "across": least})
    for bit, code in (("bare_metal", "pins_bare_metal"), ("outside_picture", "pins_outside")):
        if pins(bit):
            yield Statement(code, {"pins": pins(bit)})
    for bit, code in (("clipped_high", "pins_clipped_high"), ("clipped_low", "pins_clipped_low")):
        hit = series.clipped == BIT[bit]
        if hit.any():
            at = tuple(int(i) for i in series.indices[hit.any(axis=1)])
            values = {"pins": list(names[hit.any(axis=0)]), "frames": len(at)}
            yield Statement(code, values, at)
    touched = ((series.doubts & BIT["end_touched"]) != 0) & ~(series.clipped != 0).any(axis=0)
    if touched.any():
        at = tuple(int(i) for i in series.indices[touched.any(axis=1)])
        yield Statement("pins_end_touched", {"pins": list(names[touched.any(axis=0)]), "frames": len(at)}, at)
    yield from _under_print(series, names)
    yield from _small(session, series)
    yield from _beyond(series)
    yield from reference_notices(series, pixel_noise_of(session, series)[0])
    yield from _hotter_around(series)
    yield from _unknowns(session, series, pins("emissivity_unknown"))
    if series.odd_frames:
        yield Statement("frame_size_changed", {"count": len(series.odd_frames)}, series.odd_frames)


def _under_print(series: Series, names: np.ndarray) -> Iterable[Statement]:
    """Pins under something printed on the picture: without a reading, or with one over the rest of their face."""
    printed = (series.doubts & BIT["printed_over"]) != 0
    none = printed & ~np.isfinite(series.camera_c)
    for code, hit in (("pins_printed_over", none), ("pins_partly_printed", printed & ~none)):
        pins = hit.any(axis=0) & ~(none.any(axis=0) & (hit is not none))
        if pins.any():
            at = tuple(int(i) for i in series.indices[hit.any(axis=1)])
            yield Statement(code, {"pins": list(names[pins]), "frames": len(at)}, at)


def _blur_doubts(session: Session, series: Series) -> np.ndarray:
    """Doubt bits (n,) of pins whose loss to the blur rests on an assumption."""
    lost = _loses(session, series)
    if not lost.any() or blur_seen(session, series).origin == "seen":
        return np.zeros(lost.shape, dtype=np.uint32)
    return np.where(lost, BIT["blur_assumed"], 0).astype(np.uint32)


def _loses(session: Session, series: Series) -> np.ndarray:
    """Whether a pin (n,) loses enough to its surround to be told of: small ones always, larger ones by 1 K or more."""
    most = np.nanmax(losses(session, series), axis=0, initial=0.0)
    small = 2.0 * np.asarray(series.pin_map.radius_px, dtype=float) < READS_LOW_PX
    return most > np.where(small, 0.0, TOLD_LOSS_K)


def _small(session: Session, series: Series) -> Iterable[Statement]:
    """How low small pins may read."""
    lost, told = losses(session, series), _loses(session, series)
    if not told.any():
        return
    names = [name for name, own in zip(series.pin_map.names, told, strict=True) if own]
    blur = blur_seen(session, series)
    most = float(np.nanmax(lost[:, told]))
    values = {"pins": names, "sigma": round(blur.sigma_px, 2), "origin": blur.origin, "most": most}
    yield Statement("pins_may_read_low", values)


def _beyond(series: Series) -> Iterable[Statement]:
    """Counts outside the range of their calibration."""
    hit = (series.doubts & BIT["beyond_calibration"]) != 0
    if series.calibration is None or not hit.any():
        return
    low, high = series.calibration.span_c
    at = tuple(int(i) for i in series.indices[hit.any(axis=1)])
    pins = list(np.array(series.pin_map.names, dtype=object)[hit.any(axis=0)])
    yield Statement("pins_beyond_calibration", {"pins": pins, "low": low, "high": high, "frames": len(at)}, at)


def _mirrored(series: Series) -> np.ndarray:
    """Where (frames, n) the surroundings are hotter than the pin."""
    if series.faces is None:
        return np.zeros(series.surface_c.shape, dtype=bool)
    return hotter_around(series.surface_c, series.camera_c, series.optics, series.reflected_c, series.ambient_c)


def _hotter_around(series: Series) -> Iterable[Statement]:
    """Surroundings hotter than the pins."""
    hit = _mirrored(series)
    if not hit.any():
        return
    at = tuple(int(i) for i in series.indices[hit.any(axis=1)])
    pins = list(np.array(series.pin_map.names, dtype=object)[hit.any(axis=0)])
    hottest = float(np.max(series.reflected_c[hit.any(axis=1)]))
    yield Statement("pins_reflected_hotter", {"pins": pins, "reflected": hottest, "frames": len(at)}, at)


def _unknowns(session: Session, series: Series, no_emissivity: list[str]) -> Iterable[Statement]:
    """What was not told: emissivity, the camera's setting, reflections, accuracy, noise."""
    optics = series.optics
    if no_emissivity:
        yield Statement("emissivity_unknown", {"pins": no_emissivity})
    applied = np.isfinite(optics.emissivity)
    if applied.any() and optics.set_emissivity is None:
        yield Statement("emissivity_not_applied", {"emissivity": float(optics.emissivity[applied][0])})
    known_ambient = np.isfinite(series.ambient_c)
    if optics.converted.any() and optics.reflected_c is None and not known_ambient.all():
        values = {"reflected": ASSUMED_REFLECTED_C, "half_width": REFLECTED_HALF_WIDTH_K}
        yield Statement("reflected_assumed", values)
    if session.camera.accuracy_k is None and series.calibration is not None and series.calibration.level_k:
        yield Statement("accuracy_by_calibration", {"level": series.calibration.level_k})
    elif session.camera.accuracy_k is None:
        yield Statement("accuracy_not_stated")
    noise, origin = pixel_noise_of(session, series)
    if origin == "assumed":
        yield Statement("noise_assumed", {"noise": noise})
