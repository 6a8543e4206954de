"""A thermal camera that looks at a made connector: apparent temperatures, with everything that blurs them.

The face lies on a bench at ambient, scaled, turned and set off; its wires may run down the picture. Radiance in
the camera's band is mixed with what the surface reflects, blurred, turned back into a temperature with the
emissivity that the camera is set to, and given noise, a common error and a slow wander.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from hotspot.synthetic.connector import CELL_M, PLASTIC_EMISSIVITY, WIRE_NODES, Solution, insulated_diameter_m

BENCH_EMISSIVITY = 0.94
BENCH_UNEVEN_K = 0.25
WANDER_TIME_S = 400.0
_SUB = 3  # samples across a pixel
_BAND_M = (8e-6, 14e-6)


@dataclass(frozen=True)
class CameraSpec:
    """Where the camera stands and how well it sees. Pixels: x to the right, y down, (0, 0) the top left centre."""

    width: int = 160
    height: int = 120
    px_per_mm: float = 3.5
    rotation_deg: float = 0.0  # of the connector in the picture, clockwise
    centre_px: tuple[float, float] | None = None  # of the connector's face; default the middle of the picture
    blur_px: float = 0.7  # sd of the point spread
    noise_k: float = 0.07
    bias_k: float = 0.0
    wander_k: float = 0.1  # sd of the slow common error
    pin_emissivity: tuple[float, ...] = ()  # default 0.92 each
    set_emissivity: float = 0.95
    reflected_rise_k: float = 0.0  # of the surroundings over the air; the camera is set to the air
    wires: bool = False  # wires drawn from the face's lower edge downwards
    lean_deg: float = 0.0  # of the face's plane out of the picture's: perspective
    lean_way_deg: float = 0.0  # where the side lies that is farther away, clockwise from x
    away_mm: float = 200.0  # from the lens to the middle of the face; matters where it leans

    @property
    def middle(self) -> tuple[float, float]:
        """x and y in pixels of the middle of the connector's face."""
        return self.centre_px or ((self.width - 1) / 2, (self.height - 1) / 2)

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """Pixels (n, 2) of points (n, 2) of the face's plane, in mm from its middle."""
        lean, way = self._lean()
        flat = (mm @ _turn(self.rotation_deg).T * self.px_per_mm) @ way
        nearer = 1.0 + flat[:, :1] * np.sin(lean) / (self.away_mm * self.px_per_mm)
        return (flat * [np.cos(lean), 1.0] / nearer) @ way.T + np.array(self.middle)

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """The inverse of `to_px`; what lies at or beyond the horizon is put far away."""
        lean, way = self._lean()
        seen, away = (px - np.array(self.middle)) @ way, self.away_mm * self.px_per_mm
        left = np.maximum(np.cos(lean) * away - np.sin(lean) * seen[:, :1], 0.05 * away)
        down = seen[:, :1] * away / left
        flat = np.concatenate([down, seen[:, 1:] * (1.0 + down * np.sin(lean) / away)], axis=1)
        return (flat @ way.T) @ _turn(self.rotation_deg) / self.px_per_mm

    def scale_at(self, mm: np.ndarray) -> np.ndarray:
        """Pixels per mm (n,) at points (n, 2) of the face's plane: the root of what an area there is multiplied by."""
        lean, way = self._lean()
        flat = (mm @ _turn(self.rotation_deg).T * self.px_per_mm) @ way
        nearer = 1.0 + flat[:, 0] * np.sin(lean) / (self.away_mm * self.px_per_mm)
        return self.px_per_mm * np.sqrt(np.cos(lean)) / nearer**1.5

    def _lean(self) -> tuple[float, np.ndarray]:
        """The lean [rad]; (2, 2) with the unit vectors towards the farther side and square to it as columns."""
        return float(np.deg2rad(self.lean_deg)), _turn(self.lean_way_deg)


def _turn(degrees: float) -> np.ndarray:
    angle = np.deg2rad(degrees)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


@dataclass(frozen=True)
class Footage:
    """What the camera made, and the truth behind it."""

    time_s: np.ndarray  # (t,)
    celsius: np.ndarray  # (t, height, width) float32, apparent degC
    x_px: np.ndarray  # (pins,)
    y_px: np.ndarray
    radius_px: np.ndarray
    truth_c: np.ndarray  # (t, pins) true mean surface temperature over each pin's circle
    ambient_c: np.ndarray  # (t,)
    camera: CameraSpec
    solution: Solution = field(repr=False)


def film(solution: Solution, camera: CameraSpec, every_s: float, seed: int = 0) -> Footage:
    """Frames of `solution` every `every_s` seconds from 0 to its end. The same seed gives the same frames.

    Raises ValueError where the camera has not one emissivity per pin, or a pin lies outside the picture.
    """
    pins = solution.spec.pins
    pin_emissivity = np.array(camera.pin_emissivity or (0.92,) * pins)
    if len(pin_emissivity) != pins:
        raise ValueError(f"pin_emissivity: {len(pin_emissivity)} values for {pins} pins")
    view = _View(solution, camera)
    time_s = np.arange(0.0, solution.time_s[-1] + 1e-6, every_s)
    ambient_c = solution.load.ambient_at(time_s)
    sources = _sources(solution, time_s)
    rng = np.random.default_rng(seed)
    emissivity = view.emissivity(pin_emissivity)
    wander = _wander(rng, time_s, camera.wander_k)
    uneven = _uneven(rng, camera) * view.bench
    frames = np.empty((len(time_s), camera.height, camera.width), np.float32)
    for k, now in enumerate(sources):
        seen = _apparent(view.weights @ now, emissivity, ambient_c[k], camera) + uneven
        frames[k] = seen + camera.bias_k + wander[k] + rng.normal(0.0, camera.noise_k, seen.shape)
    discs = view.discs / view.discs.sum(axis=1, keepdims=True)
    return Footage(
        time_s=time_s,
        celsius=frames,
        x_px=view.pins_px[:, 0],
        y_px=view.pins_px[:, 1],
        radius_px=solution.spec.pin_mm / 2 * camera.scale_at(solution.spec.pin_centres_mm - view.size_mm / 2),
        truth_c=sources @ (view.weights.T @ discs.T),
        ambient_c=ambient_c,
        camera=camera,
        solution=solution,
    )


class _View:
    """Which source (cell of the face, node of a wire, bench) each pixel sees, and how much of it."""

    def __init__(self, solution: Solution, camera: CameraSpec) -> None:
        self.spec, self.camera = solution.spec, camera
        height, width = self.spec.shape
        self.size_mm = np.array([width, height], float)
        self.pins_px = camera.to_px(self.spec.pin_centres_mm - self.size_mm / 2)
        limit = np.array([camera.width, camera.height]) - 0.5
        if (self.pins_px < -0.5).any() or (self.pins_px > limit).any():
            raise ValueError("a pin lies outside the picture: smaller px_per_mm, or another centre_px")
        self._sample()

    def _sample(self) -> None:
        from scipy.sparse import coo_array

        camera, spec = self.camera, self.spec
        pixels = camera.width * camera.height
        offsets = (np.arange(_SUB) + 0.5) / _SUB - 0.5
        y, x, dy, dx = np.meshgrid(np.arange(camera.height), np.arange(camera.width), offsets, offsets, indexing="ij")
        pixel = (y * camera.width + x).ravel()
        mm = camera.to_mm(np.stack([(x + dx).ravel(), (y + dy).ravel()], axis=1)) + self.size_mm / 2
        on_face = ((mm >= 0) & (mm < self.size_mm)).all(axis=1)
        parts = [self._face_part(pixel[on_face], mm[on_face])]
        covered = on_face
        if camera.wires:
            for pin in range(spec.pins):
                on_wire = self._on_wire(mm, pin) & ~covered
                parts.append(self._wire_part(pixel[on_wire], mm[on_wire, 1] - self.size_mm[1], pin))
                covered = covered | on_wire
        rest = pixel[~covered]
        bench = spec.shape[0] * spec.shape[1] + spec.pins * WIRE_NODES
        parts.append((rest, np.full(len(rest), bench), np.ones(len(rest))))
        rows, columns, values = (np.concatenate(list(each)) for each in zip(*parts, strict=True))
        share = 1.0 / _SUB**2
        self.weights = coo_array((values * share, (rows, columns)), shape=(pixels, bench + 1)).tocsr()
        shape = (camera.height, camera.width)
        self.bench = np.bincount(rest, minlength=pixels).reshape(shape) * share
        self.discs = np.array(
            [
                np.bincount(pixel[((mm - centre) ** 2).sum(axis=1) <= (spec.pin_mm / 2) ** 2], minlength=pixels) * share
                for centre in spec.pin_centres_mm
            ]
        )

    def _face_part(self, pixel: np.ndarray, mm: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Bilinear between the centres of the cells, held at the rim."""
        width = int(self.size_mm[0])
        at = np.clip(mm - 0.5, 0.0, self.size_mm - 1)
        low = np.minimum(at.astype(int), self.size_mm.astype(int) - 2)
        part = at - low
        rows, columns, values = [], [], []
        for right in (0, 1):
            for down in (0, 1):
                rows.append(pixel)
                columns.append((low[:, 1] + down) * width + low[:, 0] + right)
                across = part[:, 0] if right else 1 - part[:, 0]
                values.append(across * (part[:, 1] if down else 1 - part[:, 1]))
        return np.concatenate(rows), np.concatenate(columns), np.concatenate(values)

    def _on_wire(self, mm: np.ndarray, pin: int) -> np.ndarray:
        spec = self.spec
        middle = spec.pin_centres_mm[pin, 0]
        if spec.rows > 1:  # wires of all rows side by side
            order = (pin % spec.columns) * spec.rows + pin // spec.columns
            middle = (order + 0.5) / spec.pins * self.size_mm[0]
        wide = min(insulated_diameter_m(spec.wire_mm2[pin]) * 1e3, self.size_mm[0] / spec.pins)
        return (np.abs(mm[:, 0] - middle) < wide / 2) & (mm[:, 1] >= self.size_mm[1])

    def _wire_part(self, pixel: np.ndarray, out_mm: np.ndarray, pin: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Linear between the nodes of the wire, at `out_mm` from its entry into the connector."""
        first = self.spec.shape[0] * self.spec.shape[1] + pin * WIRE_NODES
        at = np.clip(out_mm / (self.spec.wire_m / CELL_M / WIRE_NODES) - 0.5, 0.0, WIRE_NODES - 1.0)
        low = np.minimum(at.astype(int), WIRE_NODES - 2)
        return (
            np.concatenate([pixel, pixel]),
            np.concatenate([first + low, first + low + 1]),
            np.concatenate([1 - (at - low), at - low]),
        )

    def emissivity(self, pin_emissivity: np.ndarray) -> np.ndarray:
        """(height, width) true emissivity."""
        pins = self.discs.sum(axis=0).reshape(self.bench.shape)
        own = (pin_emissivity @ self.discs).reshape(self.bench.shape)
        return own + self.bench * BENCH_EMISSIVITY + (1 - pins - self.bench) * PLASTIC_EMISSIVITY


def _sources(solution: Solution, time_s: np.ndarray) -> np.ndarray:
    """(t, cells + wire nodes + 1) temperatures at `time_s`, linear between the solution's steps."""
    count = len(solution.time_s)
    cells = solution.face_c.reshape(count, -1)
    every = np.concatenate([cells, solution.wire_c.reshape(count, -1), solution.ambient_c[:, None]], axis=1)
    at = np.clip(np.searchsorted(solution.time_s, time_s, side="right") - 1, 0, count - 2)
    part = (time_s - solution.time_s[at]) / (solution.time_s[at + 1] - solution.time_s[at])
    return every[at] * (1 - part[:, None]) + every[at + 1] * part[:, None]


def _apparent(celsius: np.ndarray, emissivity: np.ndarray, ambient_c: float, camera: CameraSpec) -> np.ndarray:
    """What the camera shows, degC (height, width), for true temperatures (pixels,) before noise."""
    from scipy.ndimage import gaussian_filter

    table_c, table = band_radiance()
    true = np.interp(celsius, table_c, table).reshape(emissivity.shape)
    around, set_around = np.interp([ambient_c + camera.reflected_rise_k, ambient_c], table_c, table)
    radiance = gaussian_filter(emissivity * true + (1 - emissivity) * around, camera.blur_px, mode="nearest")
    undone = (radiance - (1 - camera.set_emissivity) * set_around) / camera.set_emissivity
    return np.interp(undone, table, table_c)


@lru_cache(maxsize=1)
def band_radiance() -> tuple[np.ndarray, np.ndarray]:
    """(degC, W/(m2 sr)) pairs of a black body between 8 and 14 micrometres, -60 to 420 degC (Planck's law)."""
    celsius = np.arange(-60.0, 420.25, 0.25)
    wave = np.linspace(*_BAND_M, 481)[:, None]
    h, c, k = 6.62607015e-34, 299792458.0, 1.380649e-23  # SI, exact
    spectral = 2 * h * c**2 / wave**5 / np.expm1(h * c / (wave * k * (celsius + 273.15)))
    return celsius, np.trapezoid(spectral, wave[:, 0], axis=0)


def _wander(rng: np.random.Generator, time_s: np.ndarray, sd_k: float) -> np.ndarray:
    """A slow common error: first-order, stationary, memory WANDER_TIME_S."""
    out = np.empty(len(time_s))
    out[0] = rng.normal(0.0, 1.0)
    for k in range(1, len(time_s)):
        keep = np.exp(-(time_s[k] - time_s[k - 1]) / WANDER_TIME_S)
        out[k] = keep * out[k - 1] + np.sqrt(1 - keep**2) * rng.normal(0.0, 1.0)
    return sd_k * out


def _uneven(rng: np.random.Generator, camera: CameraSpec) -> np.ndarray:
    """A bench that is nowhere quite at ambient: smooth, about BENCH_UNEVEN_K, mean 0."""
    from scipy.ndimage import gaussian_filter

    rough = gaussian_filter(rng.normal(0.0, 1.0, (camera.height, camera.width)), camera.height / 8, mode="reflect")
    return BENCH_UNEVEN_K * (rough - rough.mean()) / rough.std()
