"""Per stage of known length: how far the connector's patch rose, and how fast it still rises, as small pictures.

Frames stream through; only those in the windows are asked, and only for the patch. A rise is the mean over the
last minute of what was recorded of a stage less the mean of the cold frames, both less the air beside it where
that is seen or logged, so that the camera's own error drops out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from hotspot.doubts import BIT
from hotspot.extract.apertures import Aperture, box
from hotspot.extract.cold import COLD_WINDOW_S, cold_frames
from hotspot.extract.faces import not_ignored
from hotspot.extract.logged import ambient_at
from hotspot.extract.raster import Raster, laid_over
from hotspot.poses import Pose
from hotspot.records import Frame, PinMap, RisePictures, StageSpan, Stamp
from hotspot.session import Session

END_WINDOW_S, SLOPE_WINDOW_S = 60.0, 180.0

MOST_FRAMES = 12
"""Frames looked at in a window, spread over it: more would hardly lower the noise of cells, and cost whole patches."""

CLIPPED_SHARE = 0.2
LEAST_LEFT = 0.99
"""A pixel that a region of kind `ignore` covers by more than the rest of this is not looked at."""
_CLIPPED = np.uint32(BIT["clipped_low"] | BIT["clipped_high"])


@dataclass
class _Sums:
    """Running sums over the frames of one window, for each cell and each region."""

    count: np.ndarray
    y: np.ndarray
    t: np.ndarray
    tt: np.ndarray
    ty: np.ndarray
    clipped: np.ndarray
    frames: int = 0

    @classmethod
    def of(cls, size: int) -> _Sums:
        return cls(*(np.zeros(size) for _ in range(6)))

    def add(self, values: np.ndarray, clipped: np.ndarray, time_s: float) -> None:
        there = np.isfinite(values)
        y = np.where(there, values, 0.0)
        self.frames += 1
        self.count += there
        self.y += y
        self.t += there * time_s
        self.tt += there * time_s**2
        self.ty += y * time_s
        self.clipped += clipped

    def mean(self) -> np.ndarray:
        return np.divide(self.y, self.count, out=np.full(self.y.shape, np.nan), where=self.count > 0)

    def slope(self) -> np.ndarray:
        """K/s by least squares; 0 from fewer than two frames."""
        with np.errstate(invalid="ignore", divide="ignore"):
            spread = self.tt - self.t**2 / self.count
            found = (self.ty - self.t * self.y / self.count) / spread
        return np.where((self.count > 1) & (spread > 1.0), found, 0.0)


@dataclass
class RiseWatch:
    """Watches frames go by. Give `over(frames)` to whoever reads them, then ask for `pictures()`."""

    session: Session
    pin_map: PinMap
    stages: Sequence[StageSpan]
    stamps: Sequence[Stamp]
    ambient_log: tuple[np.ndarray, np.ndarray] | None = None
    poses: Mapping[int, Pose] = field(default_factory=dict)  # where frames lie against the first good one
    _raster: Raster | None = None
    _shape: tuple[int, int] | None = None
    _hidden: np.ndarray | None = None  # of the raster's pixels, those under regions of kind `ignore`, or a wire
    _boxes: list[tuple[str, str, Aperture]] = field(default_factory=list)
    _windows: dict[int, list[_Sums]] = field(default_factory=dict)
    _sums: dict[str, list[_Sums]] = field(default_factory=dict)

    def over(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """The same frames, those in a window having been looked at."""
        wanted = _windows(self.stages, self.stamps)
        for frame in frames:
            if frame.index in wanted:
                self._look(frame, wanted[frame.index])
            yield frame

    def pictures(self) -> RisePictures | None:
        """What was seen; None without a stage, a cold frame or a raster."""
        if self._raster is None or "cold" not in self._sums:
            return None
        cold = self._sums["cold"]
        empty = _Sums.of(cold.y.size)
        ends = [self._sums.get(f"end {n}", empty) for n in range(len(self.stages))]
        slopes = [self._sums.get(f"slope {n}", empty) for n in range(len(self.stages))]
        size = self._raster.shape[0] * self._raster.shape[1]
        rise = np.stack([end.mean() for end in ends]) - cold.mean()
        shape = (len(ends), *self._raster.shape)
        return RisePictures(
            rise_k=rise[:, :size].reshape(shape),
            slope_k_s=np.stack([each.slope() for each in slopes])[:, :size].reshape(shape),
            clipped=np.stack([(end.clipped + cold.clipped > 0)[:size] for end in ends]).reshape(shape),
            cold_k=cold.mean()[:size].reshape(self._raster.shape) if self._air_known else None,
            frames=tuple(end.frames for end in ends),
            pin_row=self._raster.pin_row,
            pin_column=self._raster.pin_column,
            pin_radius=self._raster.pin_radius,
            cell_px=self._raster.cell_px,
            regions={name: rise[:, size + k] for k, (name, _, _) in enumerate(self._boxes)},
            air="seen" if self._air_seen else "told" if self._air_known else "not known",
        )

    @property
    def _air_seen(self) -> bool:
        return any(kind in ("ambient", "reference") for _, kind, _ in self._boxes)

    @property
    def _air_known(self) -> bool:
        return self._air_seen or self.session.ambient is not None or self.ambient_log is not None

    def _look(self, frame: Frame, windows: list[str]) -> None:
        if self._shape is None:
            self._shape = frame.shape
            self._raster = laid_over(self.pin_map, frame.shape)
            regions = self.pin_map.regions or tuple(self.session.region)
            boxes = [(region.name, region.kind, box(region.box, frame.shape)) for region in regions]
            self._boxes = [each for each in boxes if each[2].rows.size and each[1] != "ignore"]
            if self._raster is not None:
                left = not_ignored(tuple(regions), frame.shape)
                if self.pin_map.hidden_px is not None and self.pin_map.hidden_px.shape == frame.shape:
                    left = np.where(self.pin_map.hidden_px, 0.0, left)
                self._hidden = left[self._raster.rows, self._raster.columns] < LEAST_LEFT
        if self._raster is None or frame.shape != self._shape:
            return
        pose = self.poses.get(frame.index, Pose())
        if pose.state == "lost":
            return
        values, bits = _asked(frame, pose, self._raster.rows, self._raster.columns)
        values = np.where(self._hidden, np.nan, values)
        spots = np.array([_box_mean(frame, pose, each) for _, _, each in self._boxes])
        air = self._air_of(frame, spots)
        cells = np.concatenate([self._raster.means(values).ravel(), spots]) - air
        ends = ((bits & _CLIPPED) != 0).astype(float)
        hit = np.nan_to_num(self._raster.means(ends).ravel()) > CLIPPED_SHARE
        clipped = np.concatenate([hit, np.zeros(spots.size, bool)])
        for name in windows:
            self._sums.setdefault(name, _Sums.of(cells.size)).add(cells, clipped, frame.time_s)

    def _air_of(self, frame: Frame, spots: np.ndarray) -> float:
        """Temperature beside the connector [°C]: seen, else logged, else 0 (not known)."""
        seen = [spot for spot, each in zip(spots, self._boxes, strict=True) if each[1] in ("ambient", "reference")]
        if seen and np.isfinite(seen).any():
            return float(np.nanmean(seen))
        told = ambient_at(self.session, np.array([frame.time_s]), self.ambient_log)[0]
        return float(told) if np.isfinite(told) else 0.0


def _asked(frame: Frame, pose: Pose, rows: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Values [°C] and doubt bits of pixels of the first good frame, looked up where this frame shows them."""
    if pose.still:
        return frame.pixels.at(rows, columns)[:2]
    there = [np.rint(each).astype(int) for each in pose.at(rows, columns)]
    seen = (there[0] >= 0) & (there[0] < frame.shape[0]) & (there[1] >= 0) & (there[1] < frame.shape[1])
    values, bits = np.full(rows.size, np.nan), np.zeros(rows.size, dtype=np.uint32)
    values[seen], bits[seen], _ = frame.pixels.at(there[0][seen], there[1][seen])
    return values, bits


def _box_mean(frame: Frame, pose: Pose, where: Aperture) -> float:
    values = _asked(frame, pose, where.rows, where.columns)[0]
    there = np.isfinite(values)
    weight = (where.weights * there).sum()
    return float((np.where(there, values, 0.0) * where.weights).sum() / weight) if weight > 0 else float("nan")


def _windows(stages: Sequence[StageSpan], stamps: Sequence[Stamp]) -> dict[int, list[str]]:
    """Number of a frame -> the windows that it lies in: `cold`, `end n`, `slope n` of stage n."""
    times = {stamp.index: stamp.time_s for stamp in stamps}
    wanted: dict[int, list[str]] = {}
    for number, span in enumerate(stages):
        inside = sorted((times[index], index) for index in span.frames if index in times)
        for name, length in (("end", END_WINDOW_S), ("slope", SLOPE_WINDOW_S)):
            for index in _spread([index for time_s, index in inside if time_s > inside[-1][0] - length]):
                wanted.setdefault(index, []).append(f"{name} {number}")
    for index in _spread(cold_frames(stages, times, COLD_WINDOW_S)):
        wanted.setdefault(index, []).append("cold")
    return wanted


def _spread(indices: Sequence[int]) -> list[int]:
    """At most MOST_FRAMES of them, the first and the last among them."""
    if len(indices) <= MOST_FRAMES:
        return list(indices)
    return [indices[round(k * (len(indices) - 1) / (MOST_FRAMES - 1))] for k in range(MOST_FRAMES)]
