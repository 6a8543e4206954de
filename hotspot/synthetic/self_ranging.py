"""Pictures of a camera that fits its colour scale to every frame and prints the two ends beside the bar.

The digits come in the fonts that the drawing libraries bring, light or dark, on a panel or outlined on the picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from hotspot.synthetic.draw import colours

HERSHEY = ("simplex", "duplex", "complex")
_DARK = (24, 24, 24)


@dataclass(frozen=True)
class Lettering:
    """How a camera prints. `font` is a file of matplotlib's fonts or a path, without `.ttf`, or `pillow`, or one of
    HERSHEY.

    `place`: beyond (past the bar's ends), left or right of them. `ground`: panel (a plain strip beside the picture)
    or outlined (on the picture itself). `unit` is printed behind the number.
    """

    font: str = "DejaVuSans"
    size_px: int = 13
    place: str = "beyond"
    ground: str = "panel"
    light: bool = True
    decimals: int = 1
    unit: str = ""


@dataclass(frozen=True)
class RangedScene:
    """Temperatures of a made test: `celsius` (t, rows, columns), pins that warm over a ground that stays."""

    celsius: np.ndarray
    low_c: np.ndarray
    high_c: np.ndarray


def ranged_scene(
    rng: np.random.Generator, frames: int, size: tuple[int, int], low_c: float, top_c: float, warm_k: float = 0.6
) -> RangedScene:
    """A bench near `low_c` with six pins that warm to about `top_c`; every frame is fitted to its own
    extremes. `warm_k` is by how much the pins are warm in the first frame.
    """
    from scipy.ndimage import gaussian_filter

    rows, columns = size
    ground = gaussian_filter(rng.normal(0.0, 1.0, size), rows / 10, mode="reflect")
    ground = low_c + 1.5 + 1.2 * ground / np.abs(ground).max()
    y, x = np.indices(size)
    spots = np.zeros((6, rows, columns))
    for pin in range(6):
        across = (x - columns * (0.2 + 0.12 * pin)) ** 2 + (y - rows / 2) ** 2
        spots[pin] = np.exp(-((across / (0.045 * columns) ** 2) ** 1.5)) + 0.25 * np.exp(
            -across / (0.15 * columns) ** 2
        )
    reach = (top_c - low_c) * rng.uniform(0.5, 1.0, 6) / 1.3
    time = np.linspace(0.0, 4.0, frames)
    drift = 1.5 * np.sin(time * rng.uniform(0.5, 1.5)) + 0.8 * time / 4.0
    pictures = np.empty((frames, rows, columns), np.float32)
    for k in range(frames):
        rise = reach * (1.0 - np.exp(-time[k])) + warm_k
        noise = rng.normal(0.0, 0.08, size)
        pictures[k] = ground + drift[k] + np.tensordot(rise, spots, 1) + noise
    return RangedScene(pictures, pictures.min(axis=(1, 2)), pictures.max(axis=(1, 2)))


def printed(value: float, decimals: int) -> str:
    """A temperature as such a camera prints it; never -0."""
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def ranged_picture(celsius: np.ndarray, lettering: Lettering, map: str = "inferno") -> tuple[np.ndarray, str, str]:
    """uint8 RGB of one frame, and the two printed numbers (without the unit): low, high."""
    low, high = float(celsius.min()), float(celsius.max())
    table = colours(map)
    picture = table[np.rint((celsius - low) / (high - low) * 255).astype(int)]
    rows, width = celsius.shape
    canvas, bar = _canvas(picture, lettering)
    x, y, wide, long = bar
    canvas[y : y + long, x : x + wide] = table[np.rint(np.linspace(255, 0, long)).astype(int)][:, None]
    texts = printed(high, lettering.decimals), printed(low, lettering.decimals)
    for text, top in zip(texts, (True, False), strict=True):
        canvas = _lettered(canvas, text + lettering.unit, (bar, top), lettering)
    return canvas, texts[1], texts[0]


def _canvas(picture: np.ndarray, lettering: Lettering) -> tuple[np.ndarray, tuple[int, int, int, int]]:
    rows, width = picture.shape[:2]
    size = lettering.size_px
    beside = lettering.place != "beyond"
    margin = 8 if beside else size + 10
    room = round(4.8 * size) + 6
    if lettering.ground == "outlined":
        x = width - 20 if lettering.place != "right" else width - 20 - room
        if not beside:
            x = width - room // 2 - 8
        return picture.copy(), (x, margin, 12, rows - 2 * margin)
    panel = room + (26 if beside else 8)
    shade = _DARK if lettering.light else (225, 225, 225)
    canvas = np.empty((rows, width + panel, 3), np.uint8)
    canvas[:] = shade
    canvas[:, :width] = picture
    x = {"beyond": width + panel // 2 - 6, "left": width + panel - 18, "right": width + 6}[lettering.place]
    return canvas, (x, margin, 12, rows - 2 * margin)


def _lettered(canvas: np.ndarray, text: str, where, lettering: Lettering) -> np.ndarray:
    (x, y, wide, long), top = where
    width, height = _extent(text, lettering)
    left = {"beyond": x + wide / 2 - width / 2, "left": x - 5 - width, "right": x + wide + 5}[lettering.place]
    if lettering.place == "beyond":
        upper = y - 5 - height if top else y + long + 4
    else:
        upper = y - 1 if top else y + long - height + 1
    return _drawn(canvas, text, (round(left), round(upper)), lettering)


def _extent(text: str, lettering: Lettering) -> tuple[float, float]:
    """Width of a text and height of a digit, px."""
    if lettering.font in HERSHEY:
        import cv2

        (width, height), _ = cv2.getTextSize(text, _hershey(lettering.font), lettering.size_px / 30, 1)
        return width, height
    font = _font(lettering.font, lettering.size_px)
    box = font.getbbox("0")
    return font.getlength(text), box[3] - box[1]


def _drawn(canvas: np.ndarray, text: str, at: tuple[int, int], lettering: Lettering) -> np.ndarray:
    """The text with the upper left corner of its digits at `at`."""
    ink, edge = ((245, 245, 245), (0, 0, 0)) if lettering.light else ((12, 12, 12), (250, 250, 250))
    outlined = lettering.ground == "outlined"
    if lettering.font in HERSHEY:
        import cv2

        out = canvas.copy()
        start = (at[0], at[1] + round(_extent(text, lettering)[1]))
        style = (_hershey(lettering.font), lettering.size_px / 30)
        if outlined:
            cv2.putText(out, text, start, *style, edge, 3, cv2.LINE_AA)
        cv2.putText(out, text, start, *style, ink, 1, cv2.LINE_AA)
        return out
    from PIL import Image, ImageDraw

    image = Image.fromarray(canvas)
    font = _font(lettering.font, lettering.size_px)
    shifted = (at[0], at[1] - font.getbbox("0")[1])
    ImageDraw.Draw(image).text(
        shifted, text, fill=ink, font=font, stroke_width=1 if outlined else 0, stroke_fill=edge if outlined else None
    )
    return np.asarray(image)


def _hershey(name: str) -> int:
    import cv2

    return {
        "simplex": cv2.FONT_HERSHEY_SIMPLEX,
        "duplex": cv2.FONT_HERSHEY_DUPLEX,
        "complex": cv2.FONT_HERSHEY_COMPLEX,
    }[name]


@cache
def _font(name: str, size: int):
    from PIL import ImageFont

    if name == "pillow":
        return ImageFont.load_default(size=size)
    import matplotlib

    return ImageFont.truetype(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / f"{name}.ttf", size)
