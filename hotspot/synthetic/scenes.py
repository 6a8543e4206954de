"""Connectors as people film them: anywhere in the picture, turned, small or large, among other warm things.

A scene is a case of `hotspot.synthetic.cases` seen by a camera that stands where it happens to, with what makes
pins hard to find: pins darker or brighter than the plastic or hardly told from it, wires beside and across the
face, warm objects on the bench, figures and a cross printed into every frame.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.synthetic.camera import CameraSpec, Footage, film
from hotspot.synthetic.cases import Case, random_case
from hotspot.synthetic.connector import ConnectorSpec, simulate

FOUND_UNAIDED = ((1, 6), (2, 4), (3, 4))
PIN_PX = (4.0, 12.0)  # across
TURN_DEG = 15.0
WIDTH_SHARE = (0.15, 0.70)  # of the picture's width, that the face takes
FRAMES = 24


@dataclass(frozen=True)
class Scene:
    """A filmed case. `footage.celsius` holds what the camera stored, with all that lies about and is printed in."""

    case: Case
    footage: Footage
    hidden: tuple[int, ...]  # pins, from 0, under a wire that crosses the face

    @property
    def width_share(self) -> float:
        """Width of the face over the width of the picture."""
        camera = self.footage.camera
        return self.case.spec.shape[1] * camera.px_per_mm / camera.width


def draw_scene(
    seed: int,
    layout: tuple[int, int] | None = None,
    size: tuple[int, int] = (320, 240),
    most_lean_deg: float = 0.0,
) -> Scene:
    """The scene of that number: same seed, same frames. `layout` is rows and columns, `size` width and height.

    `most_lean_deg`: the face leans out of the picture's plane by between half of it and all of it, any way, seen from
    2 to 5 of its widths away.
    """
    rng = np.random.default_rng([20260301, seed])
    layout = layout or FOUND_UNAIDED[int(rng.integers(len(FOUND_UNAIDED)))]
    case = random_case(rng, layout=layout)
    camera = _camera(rng, case, size)
    if most_lean_deg:
        camera = _leaning(np.random.default_rng([20260302, seed]), camera, most_lean_deg, case.spec.shape[1])
    solution = simulate(case.spec, case.load, dt=5.0)
    footage = film(solution, camera, solution.time_s[-1] / (FRAMES - 1), seed)
    frames = footage.celsius
    share = np.linspace(0.0, 1.0, len(frames)) ** 0.5
    free = np.clip(on_face(camera, case.spec) * camera.px_per_mm - 2.0, 0.0, 1.0)
    frames = among_things(rng, frames, free, (share, camera.blur_px))
    hidden: tuple[int, ...] = ()
    if rng.random() < 0.25:
        frames, hidden = _crossed(rng, frames, footage, share)
    if rng.random() < 0.6:
        frames = printed(rng, frames)
    return Scene(case, replace(footage, celsius=frames), hidden)


def _camera(rng: np.random.Generator, case: Case, size: tuple[int, int]) -> CameraSpec:
    """Where the camera stands: the pins' size first, then a turn and a place at which the whole face is seen."""
    spec = case.spec
    tall, wide = spec.shape
    low, high = (share * size[0] / wide for share in WIDTH_SHARE)
    across = np.exp(rng.uniform(*np.log(PIN_PX)))
    px_per_mm = float(np.clip(across / spec.pin_mm, low, min(high, 0.85 * size[1] / (tall + 0.3 * wide))))
    turn = float(rng.uniform(-TURN_DEG, TURN_DEG))
    cos, sin = np.cos(np.deg2rad(turn)), abs(np.sin(np.deg2rad(turn)))
    half = 0.5 * px_per_mm * np.array([wide * cos + tall * sin, tall * cos + wide * sin]) + 2.0
    centre = [float(rng.uniform(edge, side - 1 - edge)) for edge, side in zip(half, size, strict=True)]
    common = rng.uniform(0.80, 0.99)
    own = np.clip(rng.normal(common, 0.03, spec.pins), 0.5, 0.995)
    return CameraSpec(
        *size,
        px_per_mm=px_per_mm,
        rotation_deg=turn,
        centre_px=(centre[0], centre[1]),
        blur_px=float(rng.uniform(0.5, 1.0)),
        noise_k=float(rng.uniform(0.05, 0.10)),
        bias_k=float(rng.uniform(-2.0, 2.0)),
        wander_k=0.3,
        pin_emissivity=tuple(float(value) for value in own),
        reflected_rise_k=float(rng.uniform(0.0, 3.0)),
        wires=bool(rng.random() < 0.5),
    )


def _leaning(rng: np.random.Generator, camera: CameraSpec, most_deg: float, wide_mm: float) -> CameraSpec:
    """The same camera before a face that leans; a little smaller, so that the nearer side stays in the picture."""
    return replace(
        camera,
        px_per_mm=0.93 * camera.px_per_mm,
        lean_deg=float(rng.uniform(0.5, 1.0) * most_deg),
        lean_way_deg=float(rng.uniform(0.0, 360.0)),
        away_mm=float(rng.uniform(2.0, 5.0) * wide_mm),
    )


def on_face(camera: CameraSpec, spec: ConnectorSpec) -> np.ndarray:
    """Distance [mm] of each pixel (rows, columns) beyond the face's edge, and beyond its wires if there are any."""
    rows, columns = np.indices((camera.height, camera.width), dtype=float)
    mm = camera.to_mm(np.stack([columns.ravel(), rows.ravel()], axis=1)).T.reshape(2, *rows.shape)
    right, down = np.abs(mm[0]) - spec.shape[1] / 2, mm[1]
    below = -np.inf if camera.wires else down - spec.shape[0] / 2
    return np.maximum(right, np.maximum(below, -down - spec.shape[0] / 2))


def among_things(
    rng: np.random.Generator, frames: np.ndarray, free: np.ndarray, how: tuple[np.ndarray, float]
) -> np.ndarray:
    """Round and long things on the bench, warm from the start or warming, none where `free` (rows, columns) is 0.

    `how`: what share (t,) of its warming each has done in each frame, and the camera's blur [px].
    """
    from scipy.ndimage import gaussian_filter

    share, blur_px = how
    rows, columns = np.indices(frames.shape[1:], dtype=float)
    out = frames.astype(np.float64)
    for _ in range(int(rng.integers(2, 7))):
        x, y = rng.uniform(0, frames.shape[2]), rng.uniform(0, frames.shape[1])
        angle, size = rng.uniform(0, np.pi), np.exp(rng.uniform(np.log(2.0), np.log(14.0)))
        along = (columns - x) * np.cos(angle) + (rows - y) * np.sin(angle)
        across = -(columns - x) * np.sin(angle) + (rows - y) * np.cos(angle)
        long = size * (1.0 if rng.random() < 0.6 else rng.uniform(3.0, 12.0))
        shape = (along / long) ** 2 + (across / size) ** 2 < 1.0
        seen = gaussian_filter(shape.astype(float), blur_px) * free
        warmth = rng.normal(0.0, 4.0) + rng.uniform(0.0, 15.0) * (rng.random() < 0.5) * share
        out += warmth[:, None, None] * seen
    return out.astype(np.float32)


def _crossed(
    rng: np.random.Generator, frames: np.ndarray, footage: Footage, share: np.ndarray
) -> tuple[np.ndarray, tuple[int, ...]]:
    """A loose wire across the face, over one or two pins."""
    from scipy.ndimage import gaussian_filter

    spec, camera = footage.solution.spec, footage.camera
    pin = int(rng.integers(spec.pins))
    angle = np.deg2rad(camera.rotation_deg + 90.0 + rng.uniform(-25.0, 25.0))
    rows, columns = np.indices(frames.shape[1:], dtype=float)
    wide = max(1.3, 0.6 * spec.pin_mm * camera.px_per_mm)

    def aside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.abs(-(x - footage.x_px[pin]) * np.sin(angle) + (y - footage.y_px[pin]) * np.cos(angle))

    seen = gaussian_filter((aside(columns, rows) < wide).astype(float), camera.blur_px)
    level = footage.ambient_c + camera.bias_k + rng.uniform(0.0, 10.0) * share
    noise = rng.normal(0.0, camera.noise_k, frames.shape)
    out = frames * (1.0 - seen) + (level[:, None, None] + noise) * seen
    covered = np.flatnonzero(aside(footage.x_px, footage.y_px) < wide)
    return out.astype(np.float32), tuple(int(one) for one in covered)


def printed(rng: np.random.Generator, frames: np.ndarray) -> np.ndarray:
    """A cross in the middle, figures in two corners that change from frame to frame, a bar at the right edge."""
    from PIL import Image, ImageDraw, ImageFont

    out = frames.copy()
    font = ImageFont.load_default(size=11)
    height, width = frames.shape[1:]
    level = float(np.percentile(frames[-1], 99.5))
    for k, frame in enumerate(out):
        sheet = Image.new("L", (width, height), 0)
        draw = ImageDraw.Draw(sheet)
        draw.text((3, 2), f"{frames[k, height // 2, width // 2]:.1f}", fill=255, font=font)
        draw.text((3, height - 15), f"12:{10 + k // 2:02d}:{rng.integers(60):02d}", fill=255, font=font)
        draw.line((width / 2 - 6, height / 2, width / 2 + 6, height / 2), fill=255)
        draw.line((width / 2, height / 2 - 6, width / 2, height / 2 + 6), fill=255)
        ink = np.asarray(sheet) > 96
        frame[ink] = level
        frame[20 : height - 20, width - 10 : width - 4] = np.linspace(level, frames[0].min(), height - 40)[:, None]
    return out
