"""Whether the camera moves the ends of its colour scale: what is printed at the ends of the bar, compared over frames.

Nothing is read. A number that stays is the same picture in every frame; one that changes has, at the same place,
strokes where the other has none, both ways round. A piece of the scene that touches a number adds strokes and takes
none away, and a character that is like no other of the camera's is left out, so that neither passes for a change.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hotspot.read.bar import Bar
from hotspot.read.colour_image import ColourImage
from hotspot.read.scale_digits import POINT, SCRAP, TALL, Character, Line, unlikeness
from hotspot.read.scale_learn import zones_of
from hotspot.read.scale_reading import Found, Look, candidates

# Settled on made sessions (docs/decisions/reading_scale_digits.md), on the side of saying nothing.
_FEWEST = 4  # frames with a whole number at an end
_CLEAN = 0.13  # unlikeness of a character to the nearest one of another frame or end, at most
_OTHER = 0.4  # unlikeness of two digits at one place, at least
_EACH_WAY = 0.08  # of the squared ink: what either has where the other has none
_CHANGED = 0.25  # of the frames: how many show another number than the commonest one
_VALUES = 3  # different numbers, where those at the other end stay
_BESIDE, _BESIDE_PX = 1.3, 12.0  # of the height, and px: the farthest from the bar's end to its number, the greater
_MOST_TALL = 5  # characters of a number with its unit; a date or a clock has more
_SINKS, _TOP = 0.05, 0.05  # of the scale: the middle of the picture sinks by so much while its top does not
_PIXELS, _SHADES = 8000, 64
Moves = Literal["", "perhaps", "clearly"]


class EndsWatch:
    """Keeps, of pictures that pass by, what is printed around the ends of the bar and how warm the scene looks."""

    def __init__(self, bar: Bar, shape: tuple[int, int]) -> None:
        """`shape` is (rows, columns) of the pictures."""
        self._zones = zones_of(bar, shape)
        self._shape = tuple(shape)
        self._looks: list[Look] = []
        scene = np.ones(shape, dtype=bool)
        for zone in self._zones:
            zone.of(scene)[:] = False
        rows, columns = np.nonzero(scene)
        step = max(len(rows) // _PIXELS, 1)
        self._at = rows[::step], columns[::step]
        shades = np.linspace(0.0, 1.0, _SHADES)
        colours = bar.colours
        self._shades = np.stack([np.interp(shades, colours.places, colours.rgb[:, k]) for k in range(3)], axis=1)

    def over(self, images: Iterable[ColourImage]) -> Iterator[ColourImage]:
        """The same pictures, looked at; those of another size are passed on only."""
        for image in images:
            if isinstance(image, ColourImage) and tuple(image.shape) == self._shape:
                luma = np.asarray(image.luma(), dtype=np.float32)
                zones = tuple(np.ascontiguousarray(zone.of(luma)) for zone in self._zones)
                self._looks.append(Look(len(self._looks), "", zones, self._places(image), np.empty((0, 3))))
            yield image

    def moves(self) -> Moves:
        """Whether the numbers at the ends differ between the pictures; nothing is said where none were found.

        `clearly`: those at both ends, or those at one while the scene sinks along the scale as it could not along a
        fixed one. `perhaps`: those at one end.
        """
        if len(self._looks) < _FEWEST:
            return ""
        found = next(iter(candidates(self._looks, self._zones)), None)
        if found is None:
            return ""
        ends = [_End.of(found, end, len(self._looks)) for end in (0, 1)]
        changed = [one for one in ends if one is not None and one.changed]
        if len(changed) == 2:
            return "clearly"
        if len(changed) == 1 and None not in ends and changed[0].values >= _VALUES and ends[0].point == ends[1].point:
            return "clearly" if self._sinks() else "perhaps"
        return ""

    def _places(self, image: ColourImage) -> np.ndarray:
        """Rough places (n,) along the scale, 0-1, of pixels of the scene."""
        colours = image.as_rgb()[self._at].astype(np.float32)
        shades = self._shades.astype(np.float32)
        squared = (shades**2).sum(axis=1)[None] - 2.0 * colours @ shades.T
        return squared.argmin(axis=1) / (_SHADES - 1)

    def _sinks(self) -> bool:
        """Whether the middle of the scene sinks from one picture to a later one while its top does not: so it looks
        where a hot end rises, and not while something warms up before a fixed scale.
        """
        middle, top = np.array([np.percentile(look.places, (50, 99.5)) for look in self._looks]).T
        return any(
            middle[j] < middle[i] - _SINKS and top[j] > top[i] - _TOP
            for i in range(len(middle))
            for j in range(i + 1, len(middle))
        )


@dataclass(frozen=True, slots=True)
class _End:
    """The numbers at one end: the share of the frames that show another one than the commonest, how many different ones
    there are, and how many characters stand behind the point (-1 without one)."""

    share: float
    values: int
    point: int

    @property
    def changed(self) -> bool:
        return self.share >= _CHANGED

    @classmethod
    def of(cls, found: Found, end: int, frames: int) -> _End | None:
        """None where too few frames show a whole number next to the bar's end."""
        numbers = {frame: one for frame in range(frames) if (one := _number(found, (frame, end))) is not None}
        usual = _commonest([len(one) for one in numbers.values()])
        alike = {frame: one for frame, one in numbers.items() if len(one) == usual}
        if len(alike) < _FEWEST:
            return None
        whole = list(alike.values())
        other = np.array([[_differ(a, b) for b in whole] for a in whole])
        kinds: list[int] = []
        for k in range(len(whole)):
            if all(other[k, kind] for kind in kinds):
                kinds.append(k)
        point = _commonest([_behind_point(found.prints.runs[frame, end]) for frame in alike])
        return cls(float(other.sum(axis=1).min() / len(whole)), len(kinds), point)


def _commonest(values: Sequence[int]) -> int:
    return max(sorted(set(values)), key=values.count, default=0)


def _behind_point(run: Sequence[Character]) -> int:
    kinds = [one.kind for one in run]
    return kinds[::-1].index(POINT) if POINT in kinds else -1


def _number(found: Found, key: tuple[int, int]) -> list[np.ndarray] | None:
    """The pictures of the tall characters of one number; None where it stands apart from the bar's end, is no number,
    or holds a character that is like no other."""
    run, line = found.prints.runs.get(key, []), found.lines[key[1]]
    tall = [k for k, one in enumerate(run) if one.kind == TALL]
    if not tall or len(tall) > _MOST_TALL or any(one.kind == SCRAP for one in run[tall[0] : tall[-1]]):
        return None
    if _gap(run, line) > max(_BESIDE * line.height, _BESIDE_PX):
        return None
    rows = [found.prints.rows[key][k] for k in tall]
    others = np.setdiff1d(np.arange(len(found.prints.pictures)), rows)
    if not len(others):
        return None
    nearest = unlikeness(found.prints.pictures[rows], found.prints.pictures[others]).min(axis=1)
    return list(found.prints.pictures[rows]) if (nearest < _CLEAN).all() else None


def _gap(run: Sequence[Character], line: Line) -> float:
    """From the bar's end to the number, px, the greater of across and down."""
    (x, y), left, right = line.beside, run[0].left, run[-1].right
    return max(left - x, x - right, line.top - y, y - line.bottom, 0.0)


def _differ(one: Sequence[np.ndarray], other: Sequence[np.ndarray]) -> bool:
    return any(_unlike(a, b) for a, b in zip(one, other, strict=True))


def _unlike(a: np.ndarray, b: np.ndarray) -> bool:
    if unlikeness(a[None], b[None])[0, 0] < _OTHER:
        return False
    ink = max(float((a**2).sum()), float((b**2).sum()), 1e-9)
    each = [float((np.maximum(one, 0.0) ** 2).sum()) for one in (a - b, b - a)]
    return min(each) > _EACH_WAY * ink
