"""Views -> the rectangles in the picture that could be the face of the connector.

Small pins drown beside the edges of their housing; inside a rectangle that stops short of them they do not. The
angles at which most clear edges lie are taken in turn, and for each the rectangles with a clear edge on all four
sides. Many are kept: which of them holds the grid is told by what is inside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hotspot.locate.views import Views

MOST_TURNS = 3
MOST_TURN_DEG = 25.0
PER_TURN = 8
LESS_CLEAR = 2.0
"""A face may be so much less clear than the clearest rectangle, which may be any other thing."""

ONE_THING, PART_LESS_CLEAR = 0.5, 0.8
"""Rectangles that share this much of what they cover together show one thing; of those, one that is by so much less
clear than another is left out: it is a part of it."""

STEP_PX = 4  # of the coarse search
WIDEST = 0.85  # of the picture's width
PITCHES, MARGINS, STRETCHES = (1.5, 4.0), (0.5, 2.5), (0.8, 1.25)
"""Distance of neighbours and width of the rim beyond the outer pins, in widths of a pin; distance of rows over that
of columns. What is built; ours."""


@dataclass(frozen=True, slots=True)
class Face:
    """A rectangle: its centre x, y [px], width, height [px], its turn [rad] clockwise; `clear` 0 to 5: its edges."""

    x: float
    y: float
    width: float
    height: float
    turn: float
    clear: float

    @property
    def axes(self) -> np.ndarray:
        """(2, 2): columns are the unit vectors along the width and along the height, as (x, y)."""
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        return np.array([[cos, -sin], [sin, cos]])

    @property
    def corners(self) -> np.ndarray:
        """(4, 2): x, y of the corners in px, round the face."""
        signs = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
        return np.array([self.x, self.y]) + (signs * [self.width / 2, self.height / 2]) @ self.axes.T


def faces(edges: tuple[np.ndarray, np.ndarray], rows: int, columns: int) -> list[Face]:
    """Rectangles that could hold `rows` x `columns` pins, those with the clearest edges first.

    `edges` are those of `clear_edges`.
    """
    right, down = edges
    found: list[tuple[Face, int]] = []
    for number, turn in enumerate(_turns(right, down)):
        for box in _boxes(right, down, turn, _ratios(rows, columns)):
            found.append((_settled(box, right, down), number))
    found.sort(key=lambda one: one[0].clear, reverse=True)
    kept: list[Face] = []
    taken = dict.fromkeys(range(MOST_TURNS), 0)
    for face, number in found:
        unclear = face.clear < found[0][0].clear - LESS_CLEAR
        if unclear or face.width < 12.0 or face.height < 5.0 or taken[number] >= PER_TURN:
            continue
        if all(_apart(face, one) > 2.5 and not _part_of(face, one) for one in kept):
            kept.append(face)
            taken[number] += 1
    return kept


def _apart(one: Face, other: Face) -> float:
    return max(abs(getattr(one, name) - getattr(other, name)) for name in ("x", "y", "width", "height"))


def _part_of(face: Face, clearer: Face) -> bool:
    """Whether both show one thing, and the clearer one by far: turns are taken as alike."""
    over, under = np.abs(clearer.axes.T @ np.array([face.x - clearer.x, face.y - clearer.y]))
    wide = np.clip((face.width + clearer.width) / 2 - over, 0.0, min(face.width, clearer.width))
    tall = np.clip((face.height + clearer.height) / 2 - under, 0.0, min(face.height, clearer.height))
    union = face.width * face.height + clearer.width * clearer.height - wide * tall
    return bool(wide * tall > ONE_THING * union and face.clear < clearer.clear - PART_LESS_CLEAR)


def clear_edges(seen: Views) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals of the views' edges times how clear they are, 0 to 1: to the right and down, (rows, columns).

    An edge is clear once it is well above the noise and above a fiftieth of the picture's steepest ones. The median
    over 5 x 5 pixels takes out what is printed in thin strokes.
    """
    import cv2

    right = down = np.zeros(seen.mean.shape)
    strength = np.zeros(seen.mean.shape)
    for picture in (seen.mean, *seen.changes[:1]):
        flat = cv2.medianBlur((picture - np.median(picture)).astype(np.float32), 5)
        smooth = cv2.GaussianBlur(flat, (0, 0), 0.7)
        gx, gy = (cv2.Sobel(smooth, cv2.CV_64F, *order, ksize=3) / 8.0 for order in ((1, 0), (0, 1)))
        steep = np.hypot(gx, gy)
        clear = np.clip(steep / (1.5 * seen.noise_k + 0.02 * np.percentile(steep, 99)), 0.0, 3.0) / 3.0
        better = clear > strength
        right = np.where(better, gx / (steep + 1e-12) * clear, right)
        down = np.where(better, gy / (steep + 1e-12) * clear, down)
        strength = np.maximum(strength, clear)
    right, down = np.where(seen.blank, 0.0, right), np.where(seen.blank, 0.0, down)
    return right.astype(np.float32), down.astype(np.float32)


def _turns(right: np.ndarray, down: np.ndarray) -> list[float]:
    """Angles [rad] at which most clear edges lie, all four sides of a rectangle counting as one, most first."""
    angle = (np.degrees(np.arctan2(down, right)) + 45.0) % 90.0 - 45.0
    strength = np.hypot(right, down)
    counts, _ = np.histogram(angle, bins=90, range=(-45, 45), weights=np.where(strength > 0.5, strength, 0.0))
    kernel = np.exp(-0.5 * (np.arange(-4, 5) / 1.3) ** 2)
    smooth = np.convolve(np.r_[counts[-4:], counts, counts[:4]], kernel / kernel.sum(), "valid")
    if smooth.max() <= 0:
        return []
    middles = np.arange(-44.5, 45.0)
    chosen: list[float] = []
    for place in np.argsort(smooth, kind="stable")[::-1]:
        degrees = float(middles[place])
        if abs(degrees) <= MOST_TURN_DEG and all(abs(degrees - one) > 3.0 for one in chosen):
            chosen.append(degrees)
            if len(chosen) == MOST_TURNS:
                break
    return [float(np.radians(degrees)) for degrees in chosen]


def _ratios(rows: int, columns: int) -> tuple[float, float]:
    """Least and greatest height over width of a face with so many pins."""
    ratios = [
        ((rows - 1) * pitch * stretch + 1 + 2 * margin) / ((columns - 1) * pitch + 1 + 2 * margin)
        for pitch in PITCHES
        for margin in MARGINS
        for stretch in STRETCHES
    ]
    return min(ratios), max(ratios)


def turned(picture: np.ndarray, turn: float) -> tuple[np.ndarray, np.ndarray]:
    """The picture turned back by `turn` on a sheet that holds it all, and the matrix (2, 3) from there to the
    picture."""
    import cv2

    height, width = picture.shape
    side = int(np.ceil(np.hypot(height, width))) + 2
    cos, sin = np.cos(turn), np.sin(turn)
    back = np.array([[cos, -sin, 0.0], [sin, cos, 0.0]])
    back[:, 2] = np.array([(width - 1) / 2, (height - 1) / 2]) - back[:, :2] @ np.full(2, (side - 1) / 2)
    return cv2.warpAffine(picture, back, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP), back


def _boxes(right: np.ndarray, down: np.ndarray, turn: float, ratios: tuple[float, float]) -> list[Face]:
    """Rectangles at one turn, to a step of the coarse search, those with the clearest sides first."""
    across, back = turned(right, turn)
    along, _ = turned(down, turn)
    cos, sin = np.cos(turn), np.sin(turn)
    upright, level = np.abs(cos * across + sin * along), np.abs(-sin * across + cos * along)
    upright, level = np.where(upright > 1.5 * level, upright, 0.0), np.where(level > 1.5 * upright, level, 0.0)
    boxes = _best_boxes(upright, level, ratios, int(WIDEST * right.shape[1] / STEP_PX))
    faces = []
    for left, first, width, height, clear in boxes:
        middle = (np.array([left + width / 2, first + height / 2]) + 0.5) * STEP_PX
        x, y = back[:, :2] @ middle + back[:, 2]
        faces.append(Face(float(x), float(y), width * STEP_PX, height * STEP_PX, turn, clear))
    return faces


def _best_boxes(
    upright: np.ndarray, level: np.ndarray, ratios: tuple[float, float], widest: int
) -> list[tuple[int, int, int, int, float]]:
    """(left, top, width, height, clearness) in coarse steps of the best boxes over every size, by running sums."""
    size = upright.shape[0] // STEP_PX
    blocks = (size, STEP_PX, size, STEP_PX)
    sides = upright[: size * STEP_PX, : size * STEP_PX].reshape(blocks).max(axis=3).mean(axis=1)
    ends = level[: size * STEP_PX, : size * STEP_PX].reshape(blocks).max(axis=1).mean(axis=2)
    down_sums = np.vstack([np.zeros(size), np.cumsum(sides, axis=0)])
    right_sums = np.column_stack([np.zeros(size), np.cumsum(ends, axis=1)])
    found = []
    for width in range(4, min(size - 1, widest) + 1):
        level_mean = (right_sums[:, width + 1 :] - right_sums[:, : size - width]) / (width + 1)
        lowest, highest = max(1, int(np.floor(ratios[0] * width))), min(size - 1, int(np.ceil(ratios[1] * width)) + 1)
        for height in range(lowest, highest):
            side_mean = (down_sums[height + 1 :] - down_sums[: size - height]) / (height + 1)
            top, bottom = level_mean[: size - height], level_mean[height:]
            left, right = side_mean[:, : size - width], side_mean[:, width:]
            worst = np.minimum(np.minimum(top, bottom), np.minimum(left, right))
            clear = np.minimum(top + bottom, left + right) + 0.5 * worst
            for _ in range(2):
                row, column = np.unravel_index(int(np.argmax(clear)), clear.shape)
                found.append((int(column), int(row), width, height, float(clear[row, column])))
                clear[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2] = -1.0
    found.sort(key=lambda one: one[4], reverse=True)
    kept: list[tuple[int, int, int, int, float]] = []
    for one in found:
        corners = np.array([one[0], one[1], one[0] + one[2], one[1] + one[3]])
        if all(np.abs(corners - [k[0], k[1], k[0] + k[2], k[1] + k[3]]).max() > 1 for k in kept):
            kept.append(one)
            if len(kept) == PER_TURN + 4:
                break
    return kept


def _settled(face: Face, right: np.ndarray, down: np.ndarray) -> Face:
    """The rectangle moved, sized and turned until the edges under its sides are clearest; steps halve six times."""
    place = np.array([face.x, face.y, face.width, face.height, face.turn])
    steps = np.array([2.0, 2.0, 3.0, 3.0, np.radians(2.0)])
    best = clearness(place, right, down)
    for _ in range(6):
        for which in range(5):
            for way in (1.0, -1.0):
                while True:
                    moved = place.copy()
                    moved[which] += way * steps[which]
                    clear = clearness(moved, right, down)
                    if clear <= best + 1e-6:
                        break
                    place, best = moved, clear
        steps = steps / 2.0
    return Face(*(float(value) for value in place), best)


_ALONG = (np.arange(24) + 0.5) / 24 - 0.5


def clearness(place: np.ndarray, right: np.ndarray, down: np.ndarray) -> float:
    """Sum over the four sides of the mean clear edge across them, and once more the worst side's: 0 to 5."""
    import cv2

    x, y, width, height, turn = place
    cos, sin = np.cos(turn), np.sin(turn)
    count = len(_ALONG)
    over = np.concatenate([_ALONG * width, _ALONG * width, np.full(count, -width / 2), np.full(count, width / 2)])
    under = np.concatenate([np.full(count, -height / 2), np.full(count, height / 2), _ALONG * height, _ALONG * height])
    map_x = (x + cos * over - sin * under).astype(np.float32)[None]
    map_y = (y + sin * over + cos * under).astype(np.float32)[None]
    gx, gy = (cv2.remap(one, map_x, map_y, cv2.INTER_LINEAR)[0].reshape(4, count) for one in (right, down))
    normal = np.array([[-sin, cos], [-sin, cos], [cos, sin], [cos, sin]])
    sides = np.abs(gx * normal[:, :1] + gy * normal[:, 1:]).mean(axis=1)
    return float(sides.sum() + sides.min())
