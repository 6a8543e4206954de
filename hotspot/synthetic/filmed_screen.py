"""A camera's screen, filmed by a phone: perspective, tone curve, white balance, vignetting, moire, stripes, glare.

What a phone does to colours is unlike from make to make; the ranges here are ours, common sense and no measurement.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hotspot.synthetic.draw import DrawnScale, colour_picture

_BEZEL = 0.06  # of the screen's width
_PANEL = 64  # level of the panel beside the picture: a lit screen
_BLACK = 0.004  # light of the rim
_FINER = 2  # samples across a pixel of the photo


@dataclass(frozen=True)
class Filming:
    """Where the phone is, and what it and the light do to the picture. Strengths of light are linear, 1 is white."""

    width: int = 800
    height: int = 600
    corners: tuple[tuple[float, float], ...] = ((92, 60), (718, 84), (690, 540), (70, 512))
    exposure: float = 0.85
    balance: tuple[float, float, float] = (1.0, 0.93, 1.04)
    tone: float = 1.1  # power over that of the screen's 2.2
    vignette: float = 0.12  # share of light lost in the corners of the photo
    veil: float = 0.004  # stray light over the whole screen
    moire: float = 0.02  # standing pattern, share of the light
    stripes: float = 0.0  # moving bands, share of the light
    glare: float = 0.0  # light of a lamp's reflection in its middle
    glare_at: tuple[float, float] = (0.3, 0.4)  # of the screen's width and height
    glare_px: float = 25.0
    shake_px: float = 0.0  # standard deviation of each corner from frame to frame
    noise: float = 1.2  # levels
    quality: int = 92


@dataclass(frozen=True)
class Shown:
    """A screen: a thermal picture with its bar, drawn `times` larger, and where the picture's pixels lie on it."""

    celsius: np.ndarray = field(repr=False)
    scale: DrawnScale
    times: int = 2

    def pixels(self) -> np.ndarray:
        """uint8 (rows, columns, 3)."""
        drawn = colour_picture(self.celsius, self.scale).copy()
        drawn[(drawn == drawn[0, -1]).all(axis=2)] = _PANEL
        return np.repeat(np.repeat(drawn, self.times, axis=0), self.times, axis=1)

    def bar(self) -> tuple[int, int, int, int]:
        """x, y, width, height of the bar on the screen."""
        rows, columns = self.celsius.shape
        return tuple(self.times * value for value in self.scale.bar(columns, rows))


def random_filming(seed: int, **changes) -> Filming:
    """A phone held by hand: the same seed stands in the same place. `changes` as for Filming."""
    rng = np.random.default_rng([20260311, seed])
    middle = ((92, 60), (718, 84), (690, 540), (70, 512))
    made = {
        "corners": tuple((x + float(rng.uniform(-25, 25)), y + float(rng.uniform(-22, 22))) for x, y in middle),
        "exposure": float(rng.uniform(0.6, 0.95)),
        "balance": tuple(float(value) for value in rng.uniform(0.88, 1.04, 3)),
        "tone": float(rng.uniform(0.85, 1.2)),
        "vignette": float(rng.uniform(0.0, 0.2)),
        "veil": float(rng.uniform(0.0, 0.01)),
        "moire": float(rng.uniform(0.0, 0.03)),
        "noise": float(rng.uniform(0.6, 2.0)),
        "quality": int(rng.integers(85, 97)),
    }
    return Filming(**(made | changes))


def filmed(screen: np.ndarray, filming: Filming, frame: int = 0, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Photo uint8 (height, width, 3) before JPEG, and the screen's true corners (4, 2) in it, x and y."""
    import cv2

    rng = np.random.default_rng([20260312, seed, frame])
    corners = np.array(filming.corners, float) + rng.normal(0.0, 1.0, (4, 2)) * filming.shake_px
    light, lit = _seen(screen, corners, filming)
    desk = _desk(filming, seed)
    bezel = _bezel(corners, filming)
    light = lit * light + (1.0 - lit) * (bezel * _BLACK + (1.0 - bezel) * desk)
    light = cv2.GaussianBlur(light, (0, 0), 0.7)
    light *= _uneven(filming, frame)[..., None] * np.array(filming.balance) * filming.exposure
    light += _glare(corners, filming)[..., None]
    levels = 255.0 * np.clip(light, 0.0, 1.0) ** (filming.tone / 2.2)
    levels += rng.normal(0.0, filming.noise, levels.shape)
    return np.clip(np.rint(levels), 0, 255).astype(np.uint8), corners


def perspective(screen: tuple[int, int], corners: np.ndarray) -> np.ndarray:
    """(3, 3) from pixels of a screen of (rows, columns) to the photo; a pixel reaches half a pixel past its centre."""
    import cv2

    rows, columns = screen
    own = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
    return cv2.getPerspectiveTransform(own, np.asarray(corners, np.float32))


def _seen(screen: np.ndarray, corners: np.ndarray, filming: Filming) -> tuple[np.ndarray, np.ndarray]:
    """Light of the screen (rows, columns, 3) in the photo and the share of each pixel that it covers, (..., 1)."""
    import cv2

    finer = np.array([[_FINER, 0, (_FINER - 1) / 2], [0, _FINER, (_FINER - 1) / 2], [0, 0, 1]])
    way = finer @ perspective(screen.shape[:2], corners)
    size = (_FINER * filming.width, _FINER * filming.height)
    light = (screen / 255.0) ** 2.2 + filming.veil
    warped = cv2.warpPerspective(light, way, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    cover = np.zeros(size[::-1], np.uint8)
    outline = (corners + 0.5) * _FINER - 0.5
    cv2.fillConvexPoly(cover, np.rint(outline * 16).astype(np.int32), 255, cv2.LINE_8, 4)
    small = (filming.width, filming.height)
    lit = cv2.resize(cover / 255.0, small, interpolation=cv2.INTER_AREA)[..., None]
    return cv2.resize(warped, small, interpolation=cv2.INTER_AREA), lit


def _bezel(corners: np.ndarray, filming: Filming) -> np.ndarray:
    """1 on the rim around the screen, (rows, columns, 1)."""
    import cv2

    middle = corners.mean(axis=0)
    outer = middle + (corners - middle) * (1.0 + 2.0 * _BEZEL)
    drawn = np.zeros((filming.height, filming.width), np.uint8)
    cv2.fillConvexPoly(drawn, np.rint(outer * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
    return (drawn / 255.0)[..., None]


def _desk(filming: Filming, seed: int) -> np.ndarray:
    import cv2

    rough = np.random.default_rng([20260313, seed]).normal(0.0, 1.0, (filming.height, filming.width))
    rough = cv2.GaussianBlur(rough, (0, 0), 4.0)
    grain = np.clip(0.11 + 0.03 * rough / rough.std(), 0.01, 1.0)
    return grain[..., None] * np.array([1.0, 0.9, 0.75])


def _uneven(filming: Filming, frame: int) -> np.ndarray:
    """Share of the light that arrives, (rows, columns): vignetting, the standing and the moving pattern."""
    y, x = np.indices((filming.height, filming.width), float)
    across, down = (x - filming.width / 2) / filming.width, (y - filming.height / 2) / filming.height
    light = 1.0 - filming.vignette * 2.0 * (across**2 + down**2)
    light *= 1.0 + filming.moire * np.sin(2 * np.pi * (x / 11.3 + y / 17.9))
    return light * (1.0 + filming.stripes * np.sin(2 * np.pi * (3.0 * y / filming.height + 0.37 * frame)))


def _glare(corners: np.ndarray, filming: Filming) -> np.ndarray:
    right, down = corners[1] - corners[0], corners[3] - corners[0]
    at = corners[0] + filming.glare_at[0] * right + filming.glare_at[1] * down
    y, x = np.indices((filming.height, filming.width), float)
    return filming.glare * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2.0 * filming.glare_px**2))
