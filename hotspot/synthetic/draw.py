"""Colour pictures of made frames: a colour map, a bar and the two ends of the scale in figures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class DrawnScale:
    """How temperatures become colours. The bar stands in a panel right of the picture, hot end up."""

    low_c: float
    high_c: float
    map: str = "inferno"
    panel_px: int = 48
    bar_px: int = 12

    def bar(self, picture_width: int, height: int) -> tuple[int, int, int, int]:
        """x, y, width, height of the bar in the drawn picture."""
        return picture_width + (self.panel_px - self.bar_px) // 2, 24, self.bar_px, height - 48


def colours(name: str) -> np.ndarray:
    """(256, 3) uint8 RGB of a colour map of matplotlib, cold to hot."""
    from matplotlib import colormaps

    return np.rint(colormaps[name](np.linspace(0.0, 1.0, 256))[:, :3] * 255).astype(np.uint8)


def colour_picture(celsius: np.ndarray, scale: DrawnScale) -> np.ndarray:
    """uint8 (height, width + panel, 3) RGB of a frame (height, width); outside the scale its end colours."""
    from PIL import Image, ImageDraw, ImageFont

    height, width = celsius.shape
    table = colours(scale.map)
    share = np.clip((celsius - scale.low_c) / (scale.high_c - scale.low_c), 0.0, 1.0)
    canvas = np.full((height, width + scale.panel_px, 3), 24, np.uint8)
    canvas[:, :width] = table[np.rint(share * 255).astype(int)]
    x, y, wide, high = scale.bar(width, height)
    canvas[y : y + high, x : x + wide] = table[np.rint(np.linspace(255, 0, high)).astype(int)][:, None]
    image = Image.fromarray(canvas)
    draw = ImageDraw.Draw(image)
    font = ImageFont.load_default(size=13)
    middle = width + scale.panel_px / 2
    for top, value in ((5, scale.high_c), (height - 20, scale.low_c)):
        text = f"{value:.1f}"
        draw.text((middle - draw.textlength(text, font=font) / 2, top), text, fill=(235, 235, 235), font=font)
    return np.asarray(image)
