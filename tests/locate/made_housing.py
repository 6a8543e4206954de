"""Frames of a housing with pins, drawn four times as fine and averaged: what the tests of finding look at."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "extract"))
from made_frames import frames_of

SHAPE = (120, 160)
CELLS = np.array([(row, column) for row in range(2) for column in range(4)])


def housing(turn_deg=7.0, radius=3.0, pitch=11.0, seed=0, pin_k=2.0, hidden=(), noise_k=0.05):
    """Frames of a warming housing with 2 x 4 darker pins, supersampled four times; and the true places (8, 2)."""
    import cv2

    rng = np.random.default_rng(seed)
    fine = 4
    rows, columns = (np.indices((SHAPE[0] * fine, SHAPE[1] * fine)) + 0.5) / fine - 0.5
    angle = np.deg2rad(turn_deg)
    x, y = columns - 71.3, rows - 62.8
    right, down = x * np.cos(angle) + y * np.sin(angle), -x * np.sin(angle) + y * np.cos(angle)
    middles = np.array([((c - 1.5) * pitch, (r - 0.5) * pitch) for r, c in CELLS])
    on = ((np.abs(right) < 1.5 * pitch + 9) & (np.abs(down) < 0.5 * pitch + 9)).astype(float)
    pins = np.zeros_like(on)
    for k, (px, py) in enumerate(middles):
        if k not in hidden:
            pins += np.hypot(right - px, down - py) < radius
    pictures = []
    for share in np.linspace(0.0, 1.0, 6):
        clean = 20.0 + share * (on * (15.0 + 0.1 * right) - pin_k * pins)
        clean = clean.reshape(SHAPE[0], fine, SHAPE[1], fine).mean(axis=(1, 3))
        pictures.append(cv2.GaussianBlur(clean, (0, 0), 0.7) + rng.normal(0, noise_k, SHAPE))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return frames_of(pictures), middles @ turn.T + [71.3, 62.8]


def crossed(frames, through, angle_deg, wide=6.0, level=24.0, until=None):
    """Frames with a wire of `wide` px through a point, at `level` degC; the normal at `angle_deg` from right to down.

    `until`: it ends there, so many px below that point along its way.
    """
    import cv2

    rows, columns = np.indices(SHAPE, dtype=float)
    cos, sin = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    x, y = columns - through[0], rows - through[1]
    on = np.abs(x * cos + y * sin) < wide / 2
    if until is not None:
        on &= y * cos - x * sin > until
    seen = cv2.GaussianBlur(on.astype(float), (0, 0), 0.7)
    noise = np.random.default_rng(3).normal(0.0, 0.05, (len(frames), *SHAPE))
    return frames_of([f.celsius() * (1 - seen) + (level + n) * seen for f, n in zip(frames, noise, strict=True)])
