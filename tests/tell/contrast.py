"""Contrast of two colours by the formula of WCAG 2.2, for the tests of charts and pages."""

import numpy as np


def linear_rgb(colour: str) -> np.ndarray:
    """Linear red, green, blue of an sRGB colour (IEC 61966-2-1)."""
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2 (sRGB)."""
    return float(linear_rgb(colour) @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, two: str) -> float:
    a, b = sorted((luminance(one), luminance(two)))
    return (b + 0.05) / (a + 0.05)
