"""One pass over the frames: the mean of every pin in every frame, and what its uncertainty is made of.

Each frame is asked once, for the union of the pixels that matter; the arithmetic is done for a batch of
frames at a time. Memory holds one batch of pixels and a few numbers per frame and pin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from hotspot.doubts import BIT
from hotspot.extract.faces import PLACING_PX, Faces, moved, of_pins, of_regions
from hotspot.extract.logged import ambient_at
from hotspot.extract.noise import pixel_noise
from hotspot.extract.reference import Reference
from hotspot.extract.surface import Optics, optics_of, surface_celsius
from hotspot.extract.surroundings import PIXELS, Tiles, tiles_of
from hotspot.physics.statistics import MAD_TO_SIGMA
from hotspot.physics.uncertainty import mean_of_parts
from hotspot.poses import Pose
from hotspot.records import Frame, PinMap, Snapshot, Stamp
from hotspot.session import Session

if TYPE_CHECKING:
    from hotspot.calibration import Calibration

CARRIER_CORRELATION = 0.5
"""Correlation of the errors of reading the carrier (steps of counts, colours) between the pixels of a pin: the
ends of a scale are wrong for all of them at once, rounding is each pixel's own. Ours, in the middle of 0-1; pixels
that know better tell both `in_parts`."""

CLIPPED_SHARE, CLIPPED_PX = 0.20, 3.0
"""A pin is clipped where more than this share of its weight, or this many pixels of it, are at the scale's end."""

TOUCHED_PX = 0.5
"""A pin that is not clipped touches the end where so many pixels of it are there, or seem to be: a doubt."""

PRINTED_SHARE = 0.20
"""A pin has no reading where more than this share of its weight lies under something printed on the picture."""

DOUBT_SHARE = 0.05
"""Any other doubt of pixels is the pin's where at least this share of its weight carries it."""

_BATCH_VALUES = 400_000
_BATCH_FRAMES = 64
_NOISE_SIDE = 48
_ENDS = (BIT["clipped_low"], BIT["clipped_high"])
_TOUCHED = np.uint32(BIT["end_touched"])


@dataclass(frozen=True)
class Series:
    """f frames and n pins. Temperatures °C, uncertainties K; `camera_c` is what the camera shows, `surface_c`
    the surface temperature that it means; `clipped` holds 0 or the bit of an end of the scale; `noise_k` the
    estimates of the pixels' noise, one per batch; `shift_px` (f,) how far a frame moved, NaN where not known. `drift_k`
    (f,) is what the region of reference took off, `drift_carrier_k` its carrier's part, over `reference_px` pixels;
    `tiles_c` (f, k) are k spots of the surroundings as the camera shows them, none where nothing asks for them."""

    pin_map: PinMap
    optics: Optics
    faces: Faces | None
    indices: np.ndarray
    files: tuple[str, ...]
    times_s: np.ndarray
    ambient_c: np.ndarray
    reflected_c: np.ndarray
    camera_c: np.ndarray
    surface_c: np.ndarray
    pixels: np.ndarray
    doubts: np.ndarray
    clipped: np.ndarray
    carrier_k: np.ndarray
    placing_k: np.ndarray
    noise_k: np.ndarray
    shift_px: np.ndarray
    drift_k: np.ndarray
    drift_carrier_k: np.ndarray
    tiles_c: np.ndarray
    reference_px: float
    odd_frames: tuple[int, ...]  # of another size than the first
    snapshots: tuple[Snapshot, ...]
    calibration: Calibration | None = None  # the file that counts were read through


@dataclass
class _Gather:
    """What is asked of a frame: the union of pixels, and where each area finds its own in it."""

    pins: Faces
    ambient: Faces | None
    reference: Faces | None
    rows: np.ndarray
    columns: np.ndarray
    of_pins: np.ndarray
    of_ambient: np.ndarray | None
    of_reference: np.ndarray | None
    of_tiles: np.ndarray
    tiles: Tiles
    tiles_inside: np.ndarray
    pose: Pose
    middle: tuple[float, float]
    step_px: np.ndarray

    @classmethod
    def over(cls, pin_map: PinMap, pose: Pose, shape: tuple[int, int], wanted: tuple[bool, Tiles]) -> _Gather:
        """`pose`: where the frames lie of which this is asked; `wanted`: whether regions of the ambient are, and tiles
        of the surroundings on the first good frame."""
        middle = float(np.mean(pin_map.y_px)), float(np.mean(pin_map.x_px))
        pin_map = pin_map if pose.still else moved(pin_map, pose)
        pins = of_pins(pin_map, shape)
        ambient = of_regions(pin_map.regions, "ambient", shape) if wanted[0] else None
        reference = of_regions(pin_map.regions, "reference", shape)
        rows, columns, inside = wanted[1].seen(pose, shape)
        areas = (pins, ambient, reference)
        flat = [np.zeros(0, int) if each is None else each.rows * shape[1] + each.columns for each in areas]
        flat.append(rows * shape[1] + columns)
        union, places = np.unique(np.concatenate(flat), return_inverse=True)
        own = np.split(places, np.cumsum([each.size for each in flat])[:-1])
        step = np.array([PLACING_PX[placed] for placed in pin_map.placed])
        laid = (union // shape[1], union % shape[1], *own, wanted[1], inside)
        return cls(*areas, *laid, pose, middle, step)


@dataclass
class _Batch:
    """Frames of which the pixels are at hand, not yet worked; the frames themselves are let go."""

    frames: list[Stamp] = field(default_factory=list)
    pixels: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = field(default_factory=list)
    shift_px: list[float] = field(default_factory=list)
    sigma_px: list[float] = field(default_factory=list)
    noise_k: list[float] = field(default_factory=list)

    def add(self, frame: Frame, gather: _Gather, lost: bool) -> None:
        """Ask the frame for what is gathered; one that is lost, or of another size, gives nothing."""
        pose = frame.pose
        self.frames.append(Stamp(frame.index, frame.file, frame.time_s, doubts=frame.doubts))
        self.shift_px.append(np.nan if pose is None or lost else pose.shift_px(*gather.middle))
        self.sigma_px.append(0.0 if pose is None or lost else pose.sigma_px)
        if lost or frame.shape != gather.pins.shape:
            self.pixels.append(_nothing(gather.rows.size))
            return
        self.pixels.append(_asked(frame.pixels, gather.rows, gather.columns))
        if not gather.pose.still:
            self.noise_k.append(spatial_noise(frame, gather.rows, gather.columns))


def collect(
    session: Session,
    frames: Iterable[Frame],
    pin_map: PinMap,
    ambient_log: tuple[np.ndarray, np.ndarray] | None,
    keep: Mapping[int, str],
) -> Series:
    """Read every frame once. `keep`: frame number -> stage name of the frames to keep for showing."""
    optics, reference = optics_of(session, pin_map.names), Reference(session, ambient_log)
    by_log = ambient_log is not None and len(ambient_log[0]) > 0
    logged = session.ambient is not None or by_log
    gather, first, calibration, tiles = None, None, None, Tiles(np.zeros(0, int), np.zeros(0, int))
    batch, parts, odd, snapshots = _Batch(), [], [], []
    for frame in frames:
        if frame.index in keep:
            snapshots.append(_snapshot(frame, keep[frame.index]))
        lost = frame.pose is not None and frame.pose.state == "lost"
        place = Pose() if frame.pose is None or lost else frame.pose
        if gather is None or not (place.as_seen(gather.pose) or lost):
            if gather is not None:
                parts.append(_worked(batch, gather, optics, reference))
                batch = _Batch()
            if first is None and (session.ambient is not None or not by_log):
                tiles = tiles_of(pin_map, frame.shape) or tiles
            gather = _Gather.over(pin_map, place, first.pins.shape if first else frame.shape, (not logged, tiles))
            first = first or gather
        calibration = calibration or getattr(frame.pixels, "calibration", None)
        batch.add(frame, gather, lost)
        if frame.shape != gather.pins.shape:
            odd.append(frame.index)
        if len(batch.frames) >= _BATCH_FRAMES or len(batch.frames) * gather.rows.size >= _BATCH_VALUES:
            parts.append(_worked(batch, gather, optics, reference))
            batch = _Batch()
    if gather is not None and batch.frames:
        parts.append(_worked(batch, gather, optics, reference))
    series = _together(parts, pin_map, optics, first, (tuple(odd), tuple(snapshots)))
    return replace(series, calibration=calibration)


def _worked(
    batch: _Batch,
    gather: _Gather,
    optics: Optics,
    reference: Reference,
) -> dict[str, np.ndarray]:
    """One batch -> arrays (frames, ...) by the names of `Series`."""
    values, bits, own, common = (np.stack(list(column)) for column in zip(*batch.pixels, strict=True))
    times = np.array([frame.time_s for frame in batch.frames])
    drift, of_drift = np.zeros(times.shape), np.zeros(times.shape)
    if gather.reference is not None:
        drift = reference.departure(_region_mean(values[:, gather.of_reference], gather.reference), times)
        of_drift = _carrier(own[:, gather.of_reference], common[:, gather.of_reference], gather.reference).mean(axis=1)
        values = values - drift[:, None]
    ambient = ambient_at(reference.session, times, reference.ambient_log)
    if gather.ambient is not None:
        ambient = _region_mean(values[:, gather.of_ambient], gather.ambient)
    reflected = optics.surroundings(ambient)
    result = _means(values, gather, optics, reflected)
    result |= _doubts(bits, gather)
    for name in ("camera_c", "surface_c"):
        result[name] = np.where(result["printed"], np.nan, result[name])
    result["doubts"] |= np.where(result["missing"] >= DOUBT_SHARE, BIT["no_value"], 0).astype(np.uint32)
    result["doubts"] |= np.array([frame.doubts for frame in batch.frames], dtype=np.uint32)[:, None]
    result["carrier_k"] = _carrier(own[:, gather.of_pins], common[:, gather.of_pins], gather.pins)
    result["placing_k"] = result["placing_k"] * np.hypot(1.0, np.array(batch.sigma_px)[:, None] / gather.step_px)
    clean = np.where(bits & np.uint32(_ENDS[0] | _ENDS[1]), np.nan, values)
    return result | {
        "indices": np.array([frame.index for frame in batch.frames], dtype=int),
        "files": np.array([frame.file for frame in batch.frames], dtype=object),
        "times_s": times,
        "ambient_c": ambient,
        "reflected_c": reflected,
        "shift_px": np.array(batch.shift_px),
        "drift_k": drift,
        "drift_carrier_k": of_drift,
        "tiles_c": gather.tiles.means(values[:, gather.of_tiles], bits[:, gather.of_tiles], gather.tiles_inside),
        "noise_k": np.array(batch.noise_k or [pixel_noise(clean)]),
    }


def _means(values: np.ndarray, gather: _Gather, optics: Optics, reflected: np.ndarray) -> dict[str, np.ndarray]:
    """Means over the faces, where they lie and where they might lie. What has no value is left out."""
    faces = gather.pins
    shown = values[:, gather.of_pins]
    surface = surface_celsius(shown, faces.owner, optics, reflected)
    there = np.isfinite(surface)
    filled = np.where(there, surface, 0.0)
    moved = []
    for weights in faces.weights:
        with np.errstate(invalid="ignore", divide="ignore"):
            moved.append(faces.sums(filled * weights) / faces.sums(there * weights))
    full = faces.sums(there * faces.weights[0])
    away = np.stack(moved[1:]) - moved[0]
    with np.errstate(invalid="ignore", divide="ignore"):
        seen = np.isfinite(shown)  # also where reflections alone would outshine it and nothing is left of the surface
        camera = faces.sums(np.where(seen, shown, 0.0) * faces.weights[0]) / faces.sums(seen * faces.weights[0])
        missing = 1.0 - full / faces.inside
    return {
        "surface_c": moved[0],
        "camera_c": camera,
        "pixels": np.broadcast_to(faces.inside, full.shape),
        "missing": np.where(np.isfinite(missing), missing, 1.0),
        # right and left, down and up at one standard uncertainty each: catches slopes and crests alike
        "placing_k": np.sqrt(0.5 * np.sum(np.where(np.isfinite(away), away, 0.0) ** 2, axis=0)),
    }


def _doubts(bits: np.ndarray, gather: _Gather) -> dict[str, np.ndarray]:
    """Doubt bits of the pixels -> those of the pins, and on which end the scale clips them."""
    faces = gather.pins
    doubts = np.zeros((bits.shape[0], faces.starts.size), dtype=np.uint32)
    clipped = np.zeros_like(doubts)
    present = int(np.bitwise_or.reduce(bits, axis=None)) if bits.size else 0
    own = bits[:, gather.of_pins] if present else bits
    heaviest = np.zeros(doubts.shape)
    printed = np.zeros(doubts.shape, dtype=bool)
    touched = np.zeros(doubts.shape)
    for bit in BIT.values():
        if not present & bit:
            continue
        weight = faces.sums(((own & np.uint32(bit)) != 0) * faces.weights[0])
        share = np.divide(weight, faces.inside, out=np.zeros_like(weight), where=faces.inside > 0)
        if bit in _ENDS:
            hit = ((share > CLIPPED_SHARE) | (weight > CLIPPED_PX - 1e-6)) & (weight > heaviest)
            clipped[hit] = bit
            heaviest[hit] = weight[hit]
            touched += weight
        elif bit == _TOUCHED:
            touched += weight
        else:
            doubts[share >= DOUBT_SHARE] |= np.uint32(bit)
        if bit == BIT["printed_over"]:
            printed = share > PRINTED_SHARE
    doubts[(touched > TOUCHED_PX - 1e-6) & (clipped == 0)] |= _TOUCHED
    return {"doubts": doubts | clipped, "clipped": np.where(printed, 0, clipped), "printed": printed}


def _carrier(own: np.ndarray, common: np.ndarray, faces: Faces) -> np.ndarray:
    """Standard uncertainty [K] of the means (frames, n) from reading the carrier, in the camera's values."""
    own, common = (np.where(np.isfinite(each), each, 0.0) * faces.weights[0] for each in (own, common))
    with np.errstate(invalid="ignore", divide="ignore"):
        whole = mean_of_parts(faces.sums(own**2) / faces.inside**2, faces.sums(common) / faces.inside)
    return np.nan_to_num(whole, nan=0.0)


def _asked(pixels, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """°C, doubts, and the uncertainty of reading the carrier: what is each pixel's own, what is common to a pin."""
    if hasattr(pixels, "in_parts"):
        return pixels.in_parts(rows, columns)
    values, bits, reading = pixels.at(rows, columns)
    return values, bits, np.sqrt(1.0 - CARRIER_CORRELATION) * reading, np.sqrt(CARRIER_CORRELATION) * reading


def _region_mean(values: np.ndarray, faces: Faces) -> np.ndarray:
    """Mean (frames,) over all boxes of one kind together; NaN where no pixel has a value."""
    there = np.isfinite(values)
    weight = (there * faces.weights[0]).sum(axis=1)
    total = (np.where(there, values, 0.0) * faces.weights[0]).sum(axis=1)
    return np.divide(total, weight, out=np.full(weight.shape, np.nan), where=weight > 0)


def spatial_noise(frame: Frame, rows: np.ndarray, columns: np.ndarray) -> float:
    """Noise of a pixel [K] of one frame from the block about some pixels: MAD of second differences down and across,
    over 6 (Immerkær, Computer Vision and Image Understanding 64(2):300, 1996; cited from memory; MAD in place of the
    mean). For frames whose pins lie elsewhere in each.
    """
    top, left = (int(max(0, each.mean() - _NOISE_SIDE / 2)) for each in (rows, columns))
    grid = np.mgrid[top : min(top + _NOISE_SIDE, frame.shape[0]), left : min(left + _NOISE_SIDE, frame.shape[1])]
    if min(grid.shape[1:]) < 3:
        return float("nan")
    block = frame.pixels.grey(grid[0].ravel(), grid[1].ravel()).reshape(grid.shape[1:])
    twice = np.diff(np.diff(block, n=2, axis=0), n=2, axis=1)
    twice = twice[np.isfinite(twice)]
    return MAD_TO_SIGMA * float(np.median(np.abs(twice))) / 6.0 if twice.size else float("nan")


def _snapshot(frame: Frame, stage: str) -> Snapshot:
    """A frame kept for showing."""
    celsius = frame.celsius().astype(np.float32)
    return Snapshot(frame.index, frame.file, frame.time_s, stage, celsius, frame.pixels.picture(), frame.pose)


def _nothing(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """What a frame of another size gives: no values."""
    return np.full(count, np.nan), np.zeros(count, dtype=np.uint32), np.zeros(count), np.zeros(count)


def _together(
    parts: list[dict[str, np.ndarray]],
    pin_map: PinMap,
    optics: Optics,
    gather: _Gather | None,
    seen: tuple[tuple[int, ...], tuple[Snapshot, ...]],
) -> Series:
    """Batches end to end; empty arrays where there was no frame."""
    n = len(pin_map.names)

    def joined(name: str, *shape: int) -> np.ndarray:
        return np.concatenate([part[name] for part in parts]) if parts else np.zeros((0, *shape))

    wide = ("camera_c", "surface_c", "pixels", "carrier_k", "placing_k")
    long = ("times_s", "ambient_c", "reflected_c", "noise_k", "shift_px", "drift_k", "drift_carrier_k")
    return Series(
        pin_map,
        optics,
        gather.pins if gather else None,
        indices=joined("indices").astype(int),
        files=tuple(joined("files")),
        doubts=joined("doubts", n).astype(np.uint32),
        clipped=joined("clipped", n).astype(np.uint32),
        **{name: joined(name, n) for name in wide},
        **{name: joined(name) for name in long},
        tiles_c=joined("tiles_c", len(gather.tiles.rows) // PIXELS if gather else 0),
        reference_px=float(gather.reference.inside.sum()) if gather and gather.reference else 0.0,
        odd_frames=seen[0],
        snapshots=seen[1],
    )
