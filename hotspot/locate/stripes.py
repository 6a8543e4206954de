"""Straight stripes across the picture - a loose wire before the connector - and the views without them.

Such a stripe cuts a face in two and hides pins. It is told by two clear edges that run side by side across the
picture, of opposite sense wherever they show: what lies under the stripe may be warmer than it or colder. What it
covers is filled from both its sides and known as covered: nothing is said of a pin there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hotspot.locate.views import Views

WIDTHS_PX = (2.0, 20.0)
"""Distance of the two edges: what is taken for a stripe."""

LEAST_CLEAR = 0.4
ALONE, OF_A_BUNCH = ((0.65, 30), (0.70, 65)), ((0.83, 12),)
"""Share of the line's way through the picture on which both edges must be so clear, and how far [px] from one rim of
the picture they may begin, either of two pairs: where it runs alone, and where others run beside it as the connector's
own wires do, which end at its face. Ours, between what either kind shows."""

AT_A_RIM_PX = 12
"""How far from the other rim they may begin: a bar printed on the picture reaches neither."""

BESIDE_RAD, BESIDE = np.radians(2.0), 2
"""From so many further straight edges on, at so small an angle, a stripe is one of a bunch."""

SHORTEST = 0.5
"""Shares of the picture's shorter side that the line must run through, and half of which an edge is looked for with."""

NOISES, SHARE = 1.0, 0.01
"""An edge is half clear where it rises per pixel by so many noises of one and so much of the picture's steepest."""

GAP_PX = 20
"""Breaks in both edges up to this length are closed: a pin below, or something of the stripe's own warmth."""

MARGIN_PX = 2.0
"""What is left out beyond each edge: the lens blurs it."""

MOST = 3
_LINES, _PAIRS = 100, 80
"""How many straight edges, and how many pairs of them, are looked at."""


@dataclass(frozen=True, slots=True)
class Stripe:
    """The middle line - its distance [px] from the picture's middle along its normal, and the angle [rad] of that
    normal from the right to down - and the distance [px] of the two edges."""

    off: float
    angle: float
    width: float


def without_stripes(seen: Views) -> Views:
    """The views with what stripes cover filled from both their sides, and noted as covered."""
    fields = _fields(seen)
    pictures, covered = list(seen.all), seen.covered
    for stripe in stripes(seen):
        under = _under(stripe, fields)
        pictures = [_filled(picture, stripe, under) for picture in pictures]
        covered = covered | under
    return replace(seen, mean=pictures[0], changes=np.array(pictures[1:]).reshape(seen.changes.shape), covered=covered)


def stripes(seen: Views) -> list[Stripe]:
    """The stripes across a picture, the clearest first, no two upon one another."""
    fields = _fields(seen)
    edges = _edges(fields)
    found = [_settled(pair, fields) for pair in _pairs(edges)]
    ends = [(one, ALONE if _runs_alone(one[1], edges) else OF_A_BUNCH) for one in found]
    found = [one for one, least in ends if _crosses(one, fields, least)]
    kept: list[Stripe] = []
    for _, stripe in sorted(found, key=lambda one: one[0], reverse=True):
        if len(kept) < MOST and all(_unlike(stripe, one) for one in kept):
            kept.append(stripe)
    return kept


def _crosses(settled: tuple[float, Stripe], fields: list[np.ndarray], least: tuple[tuple[float, int], ...]) -> bool:
    """Whether a stripe is long enough and shows from rim to rim. `least`: `ALONE` or `OF_A_BUNCH`."""
    share, stripe = settled
    near, far = _ends(stripe, fields)
    return bool(near <= AT_A_RIM_PX and any(share >= clear and far <= most for clear, most in least))


def _ends(stripe: Stripe, fields: list[np.ndarray]) -> tuple[float, float]:
    """How far [px] from the rims of the picture a stripe begins to show, the nearer first; infinite for a short one."""
    shows = np.flatnonzero(points := _shows(stripe, fields) > LEAST_CLEAR)
    if len(points) < SHORTEST * min(fields[0].shape[1:]) or not len(shows):
        return np.inf, np.inf
    near, far = sorted((float(shows[0]), float(len(points) - 1 - shows[-1])))
    return near, far


def _runs_alone(stripe: Stripe, edges: list[tuple[float, float]]) -> bool:
    """Whether hardly any straight edges but its own run along with a stripe."""
    beside = [line for line in (_along(edge, stripe.angle) for edge in edges) if _is_beside(line, stripe)]
    return len({round(off / 3.0) for off, _ in beside}) < BESIDE


def _is_beside(line: tuple[float, float], stripe: Stripe) -> bool:
    off, angle = line
    return abs(angle - stripe.angle) <= BESIDE_RAD and abs(off - stripe.off) > stripe.width / 2 + 2.0 * MARGIN_PX


def _along(line: tuple[float, float], angle: float) -> tuple[float, float]:
    """The same line (distance from the picture's middle, angle of its normal), turned to within 90 degrees of one."""
    off, own = line
    turns = np.round((own - angle) / np.pi)
    return (off if turns % 2 == 0 else -off), own - turns * np.pi


def _unlike(one: Stripe, other: Stripe) -> bool:
    off, angle = _along((other.off, other.angle), one.angle)
    return abs(one.off - off) > 0.5 * (one.width + other.width) or abs(one.angle - angle) > np.radians(4.0)


def _fields(seen: Views) -> list[np.ndarray]:
    """For the mean and the strongest change: unit normals of the edges times how clear they are (2, rows, columns)."""
    import cv2

    fields = []
    for picture in (seen.mean, *seen.changes[:1]):
        smooth = cv2.GaussianBlur((picture - np.median(picture)).astype(np.float32), (0, 0), 0.7)
        slope = np.array([cv2.Sobel(smooth, cv2.CV_32F, *order, ksize=3) / 8.0 for order in ((1, 0), (0, 1))])
        steep = np.hypot(*slope)
        fields.append(slope / (steep + NOISES * seen.noise_k + SHARE * np.percentile(steep, 99.5)))
    return fields


def _edges(fields: list[np.ndarray]) -> list[tuple[float, float]]:
    """Straight edges by Hough's transform, the longest first: as `Stripe` gives its middle line."""
    import cv2

    rows, columns = fields[0].shape[1:]
    middle = np.array([(columns - 1) / 2, (rows - 1) / 2])
    marks = np.zeros((rows, columns), np.uint8)
    for field in fields:
        scaled = (1000.0 * field).astype(np.int16)
        marks |= cv2.Canny(scaled[0], scaled[1], 400.0, 600.0, L2gradient=True)
    lines = cv2.HoughLines(marks, 1.0, np.pi / 180, int(0.5 * SHORTEST * min(rows, columns)))
    if lines is None:
        return []
    return [
        (float(rho - middle @ [np.cos(angle), np.sin(angle)]), float(angle))
        for rho, angle in lines[:_LINES, 0].astype(float)
    ]


def _pairs(edges: list[tuple[float, float]]) -> list[Stripe]:
    """Pairs of straight edges that run side by side."""
    found = []
    for k, (off, angle) in enumerate(edges):
        for edge in edges[:k]:
            other, turn = _along(edge, angle)
            width = abs(other - off)
            if WIDTHS_PX[0] <= width <= WIDTHS_PX[1] and abs(turn - angle) <= np.radians(2.5):
                found.append(Stripe((off + other) / 2, (angle + turn) / 2, width))
    return found[:_PAIRS]


def _line(stripe: Stripe, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """x and y of the middle line's points in the picture, a pixel apart."""
    rows, columns = shape
    reach = np.hypot(rows, columns) / 2
    along = np.arange(-reach, reach + 1.0)
    cos, sin = np.cos(stripe.angle), np.sin(stripe.angle)
    x, y = (columns - 1) / 2 + stripe.off * cos - along * sin, (rows - 1) / 2 + stripe.off * sin + along * cos
    there = (x >= 1) & (y >= 1) & (x <= columns - 2) & (y <= rows - 2)
    return x[there], y[there]


def _shows(stripe: Stripe, fields: list[np.ndarray]) -> np.ndarray:
    """How clear both edges are, 0 to 1, at each point of the middle line, where they are of opposite sense."""
    import cv2

    x, y = _line(stripe, fields[0].shape[1:])
    if not len(x):
        return np.zeros(0)
    cos, sin = np.cos(stripe.angle), np.sin(stripe.angle)
    best = np.zeros(len(x))
    for field in fields:
        sides = []
        for way in (-0.5 * stripe.width, 0.5 * stripe.width):
            at = [place.astype(np.float32)[None] for place in (x + way * cos, y + way * sin)]
            right, down = (cv2.remap(one, *at, cv2.INTER_LINEAR)[0] for one in field)
            sides.append(cos * right + sin * down)
        best = np.maximum(best, np.where(sides[0] * sides[1] < 0, np.minimum(*np.abs(sides)), 0.0))
    return best


def _settled(stripe: Stripe, fields: list[np.ndarray]) -> tuple[float, Stripe]:
    """The stripe moved, turned and widened to where its edges are clearest, and the share of its way they show on."""
    place = np.array([stripe.off, stripe.angle, stripe.width])
    steps = np.array([1.0, np.radians(0.5), 1.0])

    def value(place: np.ndarray) -> float:
        shows = _shows(Stripe(*place), fields) if WIDTHS_PX[0] <= place[2] <= WIDTHS_PX[1] else np.zeros(1)
        return float(shows.mean()) if len(shows) else 0.0

    best = value(place)
    for _ in range(4):
        for which in range(3):
            for way in (1.0, -1.0):
                moved = place.copy()
                moved[which] += way * steps[which]
                if (more := value(moved)) > best:
                    place, best = moved, more
        steps = steps / 1.6
    settled = Stripe(*(float(one) for one in place))
    shows = _shows(settled, fields)
    return float((shows > LEAST_CLEAR).mean()) if len(shows) else 0.0, settled


def _under(stripe: Stripe, fields: list[np.ndarray]) -> np.ndarray:
    """What the stripe covers (rows, columns), where it shows: beyond a longer break it may have ended."""
    import cv2

    shape = fields[0].shape[1:]
    x, y = _line(stripe, shape)
    there = (_shows(stripe, fields) > 0.5 * LEAST_CLEAR).astype(np.uint8)[None]
    wide = np.pad(there, ((0, 0), (GAP_PX, GAP_PX)), mode="edge")
    there = cv2.morphologyEx(wide, cv2.MORPH_CLOSE, np.ones((1, GAP_PX + 1), np.uint8))[0, GAP_PX:-GAP_PX]
    along, across = _about(stripe, shape)
    first = along[round(float(y[0])), round(float(x[0]))]
    step = np.clip(np.rint(along - first).astype(int), 0, len(x) - 1)
    return (np.abs(across) <= stripe.width / 2 + MARGIN_PX) & (there[step] > 0)


def _about(stripe: Stripe, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """How far [px] each pixel lies along the middle line and across it."""
    rows, columns = np.indices(shape, dtype=float)
    x, y = columns - (shape[1] - 1) / 2, rows - (shape[0] - 1) / 2
    cos, sin = np.cos(stripe.angle), np.sin(stripe.angle)
    return y * cos - x * sin, x * cos + y * sin - stripe.off


def _filled(picture: np.ndarray, stripe: Stripe, under: np.ndarray) -> np.ndarray:
    """The picture with what lies under the stripe put between the values on its two sides, straight across."""
    import cv2

    _, across = _about(stripe, picture.shape)
    rows, columns = np.nonzero(under)
    reach = stripe.width / 2 + MARGIN_PX + 1.0
    sides = []
    for side in (-reach, reach):
        less = side - across[rows, columns]
        x, y = columns + less * np.cos(stripe.angle), rows + less * np.sin(stripe.angle)
        flat = x.astype(np.float32)[None], y.astype(np.float32)[None]
        sides.append(cv2.remap(picture, *flat, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0])
    share = (across[rows, columns] + reach) / (2.0 * reach)
    out = picture.copy()
    out[rows, columns] = (1.0 - share) * sides[0] + share * sides[1]
    return out
