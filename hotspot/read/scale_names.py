"""Whether the digits are named rightly: what is still in the scene has one temperature, whatever the digits are called.

Two digits that a person exchanged in typing give every such character of the camera the wrong name, and print alone
cannot tell. With wrong names the scene leaps up and down from frame to frame, with the right ones it goes on: names
are exchanged one pair after the other, and the scene is asked which fit it best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from hotspot.read.scale_scene import OF_STEP, Scene, step_of

_WIDEST = 8  # frames over which the scene is held against itself
_FEWEST = 8  # frames between two others: fewer tell too little
# What other names must explain better: the sum over the frames, that over the root of the sum of squares, and the share
# of all that is unexplained. Made series typed rightly give -8 at most, those with two digits exchanged 8 at least.
_BETTER, _SURELY, _SHARE = 6.0, 2.0, 0.1
_QUIET = 6.0  # misfit of a frame, at most, where names fit the scene: both ends within 2 steps; right ones leave 2
_CONFIRMED = 3.0  # what two digits exchanged must explain worse, where nothing else tells their order
_MOST_PAIRS = 4  # exchanged one after the other
_DIGITS = "0123456789"
Texts = tuple[str, str]


@dataclass(frozen=True, slots=True)
class _Link:
    """A frame between two others: their places, the share of the first, and where the ends of the frame lie on the
    scale of the first and of the second, 0-1, (2,) each.
    """

    around: tuple[int, int, int]
    share: float
    first: np.ndarray
    second: np.ndarray


@dataclass(frozen=True, slots=True)
class Names:
    """What the scene says of the names: digits that it names otherwise (as read -> by the scene), and those of which it
    cannot tell whether they were exchanged in typing.
    """

    renamed: dict[str, str]
    unsure: frozenset[str]


def judged(texts: Mapping[int, Texts], scene: Scene, typed: Mapping[int, Texts]) -> Names:
    """The names by the scene as a whole; `texts` are low and high of the frames that were typed or read."""
    step = step_of(typed)
    links = _links(sorted(texts), scene)
    names = dict(zip(_DIGITS, _DIGITS, strict=True))
    now = _misfit(texts, links, names, step)
    open_to = [
        pair
        for pair in _only_together(typed)
        if now.sum() + _CONFIRMED > _misfit(texts, links, _exchanged(names, *pair), step).sum()
    ]
    unsure = frozenset(digit for pair in open_to for digit in pair)
    if len(links) < _FEWEST:
        return Names({}, unsure)
    for _ in range(_MOST_PAIRS):
        tried = [_exchanged(names, *pair) for pair in combinations(_DIGITS, 2)]
        misfits = [_misfit(texts, links, each, step) for each in tried]
        best = int(np.argmin([misfit.sum() for misfit in misfits]))
        gained = now - misfits[best]
        least = max(_BETTER, _SURELY * float(np.linalg.norm(gained)), _SHARE * float(now.sum()))
        if gained.sum() < least:
            break
        names, now = tried[best], misfits[best]
    told = now.mean() <= _QUIET
    return Names({digit: name for digit, name in names.items() if told and digit != name}, unsure)


def _only_together(typed: Mapping[int, Texts]) -> list[tuple[str, str]]:
    """Pairs of digits of one typed number that no other holds: only the scene tells which of them is which."""
    texts = [text for both in typed.values() for text in both]
    alone = [
        {digit for digit in _DIGITS if digit in text and sum(digit in each for each in texts) == 1} for text in texts
    ]
    return [pair for digits in alone for pair in combinations(sorted(digits), 2)]


def by_names(text: str, names: Mapping[str, str]) -> str:
    """A number with its digits called otherwise."""
    return "".join(names.get(sign, sign) for sign in text)


def _exchanged(names: Mapping[str, str], one: str, other: str) -> dict[str, str]:
    """The names with two of them exchanged."""
    each = {one: other, other: one}
    return {digit: each.get(name, name) for digit, name in names.items()}


def _links(frames: Sequence[int], scene: Scene) -> list[_Link]:
    out = []
    for before, frame, after in zip(frames, frames[1:], frames[2:], strict=False):
        if after - before > _WIDEST:
            continue
        first, second = scene.line(frame, before), scene.line(frame, after)
        if np.isfinite(first).all() and np.isfinite(second).all():
            out.append(_Link((before, frame, after), (after - frame) / (after - before), first, second))
    return out


def _misfit(texts: Mapping[int, Texts], links: Sequence[_Link], names: Mapping[str, str], step: float) -> np.ndarray:
    """How far each frame between two others is from them, (links,): the logarithm of Cauchy's distribution (from
    memory), so that one frame read wrongly weighs little.
    """
    ends = {k: np.array([float(by_names(text, names)) for text in both]) for k, both in texts.items()}
    off = []
    for link in links:
        before, frame, after = (ends[k] for k in link.around)
        carried = [low + at * (high - low) for (low, high), at in ((before, link.first), (after, link.second))]
        off.append(link.share * carried[0] + (1.0 - link.share) * carried[1] - frame)
    return np.log1p((np.array(off).reshape(-1, 2) / (OF_STEP * step)) ** 2).sum(axis=1)
