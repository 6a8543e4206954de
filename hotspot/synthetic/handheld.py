"""A made connector filmed from the hand: every frame from its own place, with marks printed on the sensor.

The scene is filmed once, twice as fine and larger than the frames, without noise; each frame is cut out of it where
the hand happens to point, averaged over its pixels, and given noise, a shutter's step and printed marks.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from hotspot.synthetic.camera import CameraSpec, film
from hotspot.synthetic.connector import Solution

FINE = 2
MARGIN_PX = 24


@dataclass(frozen=True)
class Hand:
    """Where the hand holds the camera: per frame (t,) shift [px], turn [deg], scale; about the picture's middle.

    A point at p of the unmoved picture is at middle + scale * turn(p - middle) + (right, down).
    """

    right_px: np.ndarray
    down_px: np.ndarray
    turn_deg: np.ndarray
    scale: np.ndarray

    def similarity(self, k: int, size: tuple[int, int]) -> tuple[float, float, float, float]:
        """a, b, right, down of frame k: x' = a x - b y + right, y' = b x + a y + down. `size` is width, height."""
        x, y = (size[0] - 1) / 2, (size[1] - 1) / 2
        a = self.scale[k] * np.cos(np.deg2rad(self.turn_deg[k]))
        b = self.scale[k] * np.sin(np.deg2rad(self.turn_deg[k]))
        return (
            float(a),
            float(b),
            float(x - a * x + b * y + self.right_px[k]),
            float(y - b * x - a * y + self.down_px[k]),
        )

    def at(self, k: int, x: np.ndarray, y: np.ndarray, size: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
        """Where points of the unmoved picture are in frame k."""
        a, b, right, down = self.similarity(k, size)
        return a * x - b * y + right, b * x + a * y + down


@dataclass(frozen=True)
class HandFilm:
    """Frames and their truth. `contrast_k` (t,): how far the housing stands out from the bench, before noise."""

    celsius: np.ndarray  # (t, rows, columns) float32
    time_s: np.ndarray
    hand: Hand
    x_px: np.ndarray  # pins in the unmoved picture
    y_px: np.ndarray
    radius_px: np.ndarray
    contrast_k: np.ndarray
    camera: CameraSpec = field(repr=False)


def wandering(rng: np.random.Generator, frames: int, reach_px: float = 8.0, turn_deg: float = 3.0) -> Hand:
    """A hand that drifts over the whole reach in slow waves and trembles by a tenth of it."""
    ways = []
    for reach in (reach_px, reach_px, turn_deg):
        time = np.linspace(0.0, 1.0, frames)
        wave = np.zeros(frames)
        for order in (1, 2, 3):
            turns = order * time * rng.uniform(0.5, 1.2) + rng.random()
            wave += rng.normal() / order * np.sin(2 * np.pi * turns)
        wave = wave + 0.1 * np.abs(wave).max() * rng.normal(size=frames)
        ways.append(reach * wave / np.abs(wave).max())
    return Hand(ways[0], ways[1], ways[2], 1.0 + 0.01 * np.sin(ways[0] / reach_px))


def filmed(solution: Solution, camera: CameraSpec, hand: Hand, seed: int = 0, printed: bool = False) -> HandFilm:
    """The frames of `hand`, evenly over the solution's time. The same seed gives the same frames."""
    frames = len(hand.right_px)
    size = (camera.width, camera.height)
    fine = _fine(camera)
    footage = film(solution, fine, solution.time_s[-1] / (frames - 1), seed)
    rng = np.random.default_rng([seed, 7])
    shutter = np.cumsum(rng.normal(0.0, 0.15, frames) * (rng.random(frames) < 0.3))
    celsius = np.empty((frames, camera.height, camera.width), np.float32)
    for k in range(frames):
        celsius[k] = _cut(footage.celsius[k], hand.similarity(k, size), size) + shutter[k] + camera.bias_k
        celsius[k] += rng.normal(0.0, camera.noise_k, celsius[k].shape)
    made = HandFilm(
        celsius=celsius,
        time_s=footage.time_s[:frames],
        hand=hand,
        x_px=_unfine(footage.x_px),
        y_px=_unfine(footage.y_px),
        radius_px=footage.radius_px / FINE,
        contrast_k=_contrast(footage.celsius[:frames], fine, solution),
        camera=camera,
    )
    return replace(made, celsius=print_marks(celsius)) if printed else made


def _fine(camera: CameraSpec) -> CameraSpec:
    """The same view, FINE times as fine, with a margin all round, and nothing that is the sensor's own."""
    middle = [FINE * (at + MARGIN_PX + 0.5) - 0.5 for at in camera.middle]
    return replace(
        camera,
        width=FINE * (camera.width + 2 * MARGIN_PX),
        height=FINE * (camera.height + 2 * MARGIN_PX),
        px_per_mm=FINE * camera.px_per_mm,
        centre_px=(middle[0], middle[1]),
        blur_px=FINE * camera.blur_px,
        noise_k=0.0,
        bias_k=0.0,
        wander_k=0.0,
    )


def _unfine(at: np.ndarray) -> np.ndarray:
    return (at + 0.5) / FINE - 0.5 - MARGIN_PX


def _cut(fine: np.ndarray, similarity: tuple[float, float, float, float], size: tuple[int, int]) -> np.ndarray:
    """A frame in its pose out of the fine picture, averaged over its pixels."""
    import cv2

    a, b, right, down = similarity
    square = a * a + b * b
    ia, ib = a / square, -b / square  # frame -> unmoved
    i_right, i_down = -(ia * right - ib * down), -(ib * right + ia * down)
    total = np.zeros((size[1], size[0]), np.float64)
    offsets = (np.arange(FINE) + 0.5) / FINE - 0.5
    for dy in offsets:
        for dx in offsets:
            # unmoved = I (frame + d) + i ; fine = FINE (unmoved + margin + 0.5) - 0.5
            shift_x = ia * dx - ib * dy + i_right
            shift_y = ib * dx + ia * dy + i_down
            matrix = FINE * np.array([[ia, -ib, shift_x + MARGIN_PX + 0.5], [ib, ia, shift_y + MARGIN_PX + 0.5]])
            matrix[:, 2] -= 0.5
            flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
            total += cv2.warpAffine(fine, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return (total / FINE**2).astype(np.float32)


def _contrast(fine: np.ndarray, camera: CameraSpec, solution: Solution) -> np.ndarray:
    """Mean over the housing's face less the median of the bench, (t,) K."""
    height, width = solution.spec.shape
    rows, columns = np.indices(fine.shape[1:], dtype=np.float32)
    angle = np.deg2rad(camera.rotation_deg)
    x, y = columns - camera.middle[0], rows - camera.middle[1]
    right = np.abs(x * np.cos(angle) + y * np.sin(angle)) / camera.px_per_mm
    down = np.abs(-x * np.sin(angle) + y * np.cos(angle)) / camera.px_per_mm
    face = (right < width / 2) & (down < height / 2)
    bench = (right > width / 2 + 2) | (y < -camera.px_per_mm * (height / 2 + 2))
    return np.array([frame[face].mean() - np.median(frame[bench][::17]) for frame in fine])


def print_marks(frames: np.ndarray) -> np.ndarray:
    """Frames with digits, a cross, a clock and a colour bar printed at fixed places, as if they were temperatures."""
    from PIL import Image, ImageDraw, ImageFont

    low, high = float(np.percentile(frames, 1)), float(frames.max())
    white = high + 0.2 * (high - low)
    out = frames.copy()
    tall, wide = frames.shape[1:]
    font = ImageFont.load_default(size=max(9, tall // 16))
    bar = np.linspace(white, low, tall // 2, dtype=np.float32)[:, None]
    for k, frame in enumerate(out):
        image = Image.new("L", (wide, tall), 0)
        draw = ImageDraw.Draw(image)
        draw.text((4, 3), f"{frames[k].max():.1f} C", fill=255, font=font)
        draw.text((wide - wide // 4, tall - tall // 12 - 2), f"14:{k // 60:02d}:{k % 60:02d}", fill=255, font=font)
        draw.line((wide // 2 - 7, tall // 2, wide // 2 + 7, tall // 2), fill=255)
        draw.line((wide // 2, tall // 2 - 7, wide // 2, tall // 2 + 7), fill=255)
        frame[np.asarray(image) > 127] = white
        frame[tall // 4 : tall // 4 + len(bar), wide - 14 : wide - 6] = bar
    return out
