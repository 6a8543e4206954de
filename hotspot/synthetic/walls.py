"""Pictures in which the connector that is stated is not, or is not alone: walls, boxes, and a second connector.

A finder of pins must refuse the first and must not take the second for the first.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hotspot.synthetic.camera import BENCH_UNEVEN_K, CameraSpec, film
from hotspot.synthetic.cases import random_case
from hotspot.synthetic.connector import simulate
from hotspot.synthetic.scenes import FOUND_UNAIDED, FRAMES, Scene, among_things, draw_scene, on_face, printed

MOST_BOXES = 3


def draw_wall(seed: int, size: tuple[int, int] = (320, 240)) -> np.ndarray:
    """Frames (t, rows, columns) degC of a bench with warm things and, in two of three, plain warm boxes on it.

    No connector is there. The same seed gives the same frames. A box has straight edges, an even or a sloping
    warmth, and in half of them a seam or a row of unlike marks on it.
    """
    rng = np.random.default_rng([20260303, seed])
    blur, noise = float(rng.uniform(0.5, 1.0)), float(rng.uniform(0.05, 0.10))
    share = np.linspace(0.0, 1.0, FRAMES) ** 0.5
    rough = _smooth(rng, size)
    level = 20.0 + rng.uniform(-2.0, 2.0) + np.cumsum(rng.normal(0.0, 0.06, FRAMES))
    frames = level[:, None, None] + BENCH_UNEVEN_K * rough[None] + np.zeros((FRAMES, 1, 1))
    for _ in range(int(rng.integers(0, MOST_BOXES))):
        frames = frames + _box(rng, size, share, blur)
    frames = frames + rng.normal(0.0, noise, frames.shape)
    frames = among_things(rng, frames.astype(np.float32), np.ones((size[1], size[0])), (share, blur))
    return printed(rng, frames) if rng.random() < 0.6 else frames


def _smooth(rng: np.random.Generator, size: tuple[int, int]) -> np.ndarray:
    """A picture of slow ups and downs, mean 0, standard deviation 1."""
    from scipy.ndimage import gaussian_filter

    rough = gaussian_filter(rng.normal(0.0, 1.0, (size[1], size[0])), size[1] / 8, mode="reflect")
    return (rough - rough.mean()) / rough.std()


def _box(rng: np.random.Generator, size: tuple[int, int], share: np.ndarray, blur: float) -> np.ndarray:
    """What a plain box adds to each frame [K]."""
    from scipy.ndimage import gaussian_filter

    rows, columns = np.indices((size[1], size[0]), dtype=float)
    x, y, angle = rng.uniform(0.2, 0.8) * size[0], rng.uniform(0.2, 0.8) * size[1], np.deg2rad(rng.uniform(-20, 20))
    right = (columns - x) * np.cos(angle) + (rows - y) * np.sin(angle)
    down = -(columns - x) * np.sin(angle) + (rows - y) * np.cos(angle)
    wide = rng.uniform(0.15, 0.6) * size[0]
    tall = wide * rng.uniform(0.25, 0.9)
    on = (np.abs(right) < wide / 2) & (np.abs(down) < tall / 2)
    look = 1.0 + rng.uniform(-0.5, 0.5) * right / wide + rng.uniform(-0.5, 0.5) * down / tall
    if rng.random() < 0.5:
        for _ in range(int(rng.integers(1, 6))):
            at, radius = rng.uniform(-0.4, 0.4, 2) * [wide, tall], rng.uniform(1.5, 6.0)
            look += rng.normal(0.0, 0.3) * (np.hypot(right - at[0], down - at[1]) < radius)
    picture = gaussian_filter(on * look, blur)
    warmth = rng.uniform(0.0, 4.0) + rng.uniform(3.0, 25.0) * share
    return warmth[:, None, None] * picture


def beside_another(seed: int, alike: bool) -> Scene | None:
    """The scene of that number with a second connector in view, of the same layout or of another.

    In half of them the second one moves by up to 20 px while the frames are taken. None where no place for it is
    left beside the first: about one scene in three.
    """
    rng = np.random.default_rng([20260304, seed])
    scene = draw_scene(seed)
    footage, own = scene.footage, scene.case.spec
    camera = footage.camera
    layouts = [one for one in FOUND_UNAIDED if (one == (own.rows, own.columns)) == alike]
    case = random_case(rng, layout=layouts[int(rng.integers(len(layouts)))])
    way = rng.uniform(-20.0, 20.0, 2) * (rng.random() < 0.5)
    shifts = np.rint(np.linspace(0.0, 1.0, len(footage.time_s))[:, None] * way).astype(int)
    free = on_face(camera, own) * camera.px_per_mm
    for _ in range(40):
        second = _camera(rng, camera, case.spec.shape, case.spec.pins)
        if second is None:
            continue
        seen = np.clip(1.0 - on_face(second, case.spec) * second.px_per_mm, 0.0, 1.0)
        if min(float(free[_moved(seen, shift) > 0].min()) for shift in shifts[[0, -1]]) < 4.0:
            continue
        solution = simulate(case.spec, case.load, dt=5.0)
        other = film(solution, second, solution.time_s[-1] / (FRAMES - 1), seed).celsius
        frames = footage.celsius.copy()
        for k, shift in enumerate(shifts[: len(other)]):
            mask = _moved(seen, shift)
            frames[k] = frames[k] * (1.0 - mask) + _moved(other[k], shift) * mask
        return replace(scene, footage=replace(footage, celsius=frames.astype(np.float32)))
    return None


def _moved(picture: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """The picture moved by whole pixels (right, down); nothing near its rim matters here."""
    return np.roll(picture, (int(shift[1]), int(shift[0])), (0, 1))


def _camera(rng: np.random.Generator, first: CameraSpec, shape_mm: tuple[int, int], pins: int) -> CameraSpec | None:
    """The same camera with the second connector in view, at the first one's scale give or take; None if it sticks
    out of the picture."""
    tall, wide = shape_mm
    scale = first.px_per_mm * float(rng.uniform(0.7, 1.2))
    half = 0.5 * scale * np.hypot(tall, wide) + 22.0
    room = np.array([first.width, first.height]) - 2 * half
    if (room <= 0).any():
        return None
    x, y = half + rng.random(2) * room
    return replace(
        first,
        px_per_mm=scale,
        rotation_deg=float(rng.uniform(-15.0, 15.0)),
        centre_px=(float(x), float(y)),
        pin_emissivity=tuple(float(one) for one in np.clip(rng.normal(0.9, 0.03, pins), 0.5, 0.99)),
        wires=False,
    )
