"""The frame kept of each stage for later comparing: cut to the pins, small, the same bytes for the same analysis."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

import numpy as np

from hotspot.records import Analysis, PinFinding, Snapshot
from hotspot.tell.marked import placed, seen_in, view
from hotspot.views import View

MOST_PX = 200
"""Width and height that a picture is brought under, by means over squares of pixels."""
_DAY = (1980, 1, 1, 0, 0, 0)


def views_of(analysis: Analysis) -> tuple[View, ...]:
    """The last frame shown of each stage that is not lost; empty for a logger's table or without placed pins."""
    pins = placed(analysis.findings.pins)
    last = {shot.stage: shot for shot in analysis.snapshots if shot.pose is None or shot.pose.state != "lost"}
    order = [stage.name for stage in analysis.stages]
    return tuple(_view(analysis, last[stage], pins) for stage in dict.fromkeys(order) if pins and stage in last)


def views_bytes(views: Sequence[View]) -> bytes:
    """views.npz, its keys those of `hotspot.views.VIEWS`; no date inside."""
    arrays: dict[str, np.ndarray] = {
        "stages": np.array([one.stage for one in views], dtype=np.str_),
        "files": np.array([one.file for one in views], dtype=np.str_),
        "time_s": np.array([one.time_s for one in views], dtype=float),
        "ambient_c": np.array([np.nan if one.ambient_c is None else one.ambient_c for one in views], dtype=float),
        "pins": np.array(views[0].pins, dtype=np.str_),
        "places": np.array([one.places for one in views], dtype=float),
    }
    arrays |= {f"celsius_{number}": one.celsius for number, one in enumerate(views)}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as held:
        for key, array in arrays.items():
            entry = zipfile.ZipInfo(f"{key}.npy", _DAY)
            entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, 3
            raw = io.BytesIO()
            np.lib.format.write_array(raw, np.ascontiguousarray(array), allow_pickle=False)
            held.writestr(entry, raw.getvalue())
    return out.getvalue()


def _view(analysis: Analysis, shot: Snapshot, pins: Sequence[PinFinding]) -> View:
    pins = seen_in(shot, pins)
    left, right, bottom, top = view(shot.celsius.shape, pins)
    x, y = max(0, int(np.floor(left + 0.5))), max(0, int(np.floor(top + 0.5)))
    patch = shot.celsius[y : int(np.ceil(bottom + 0.5)), x : int(np.ceil(right + 0.5))]
    every = max(1, -(-max(patch.shape) // MOST_PX))
    places = np.array([(pin.x_px - x, pin.y_px - y, pin.radius_px or 1.0) for pin in pins], float)
    places[:, :2] = (places[:, :2] + 0.5) / every - 0.5
    places[:, 2] /= every
    celsius = np.round(_means(patch, every), 2).astype(np.float32)  # hundredths: the camera resolves no more
    names = tuple(pin.name for pin in pins)
    return View(shot.stage, shot.file, float(shot.time_s), celsius, names, places, _ambient(analysis, shot.time_s))


def _means(patch: np.ndarray, every: int) -> np.ndarray:
    """Means over squares of `every` pixels; NaN where one of them has no value. Rests at the rims are cut."""
    rows, columns = (max(1, length // every) for length in patch.shape)
    whole = patch[: rows * every, : columns * every].astype(float)
    return whole if every == 1 else whole.reshape(rows, every, columns, every).mean(axis=(1, 3))


def _ambient(analysis: Analysis, time_s: float) -> float | None:
    """°C at that time, between the rows of the ambient table; None where it is not known."""
    table = analysis.ambient.dropna(subset=["ambient_c"]) if len(analysis.ambient) else analysis.ambient
    if not len(table):
        return None
    return float(np.interp(time_s, table["time_s"].to_numpy(float), table["ambient_c"].to_numpy(float)))
