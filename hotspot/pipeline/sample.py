"""Which frames are looked at beforehand and which are kept, and how far the reading is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from typing import Any

from hotspot.records import Frame, Recording, StageSpan

Progress = Callable[[int, int], None]
SHOWN_FRAMES = 60
SAMPLE_FRAMES = 12


class Sample(Sequence[Frame]):
    """The first good frame, then some spread evenly over the test up to the last good one.

    Pins that are placed need the first one only, and a video would be decoded once more for the others: those are
    read when they are asked for.
    """

    def __init__(self, recording: Recording) -> None:
        self._recording = recording

    def __len__(self) -> int:
        return len(self._all)

    def __bool__(self) -> bool:
        return self._first is not None

    def __getitem__(self, place: Any) -> Any:
        return self._first if place == 0 and self._first is not None else self._all[place]

    @cached_property
    def _first(self) -> Frame | None:
        return next(iter(self._recording.frames()), None)

    @cached_property
    def _all(self) -> list[Frame]:
        if self._first is None:
            return []
        last = len(self._recording.stamps) - 1
        wanted = {round(k * last / (SAMPLE_FRAMES - 1)) for k in range(SAMPLE_FRAMES)}
        return [self._first, *self._recording.frames(k for k in wanted if k > self._first.index)]


def counted(recording: Recording, progress: Progress | None, chosen: Iterable[int] | None = None) -> Iterator[Frame]:
    """The frames of a recording, or those of the numbers `chosen`, telling `progress` how far it is."""
    total = len(recording.stamps)
    for frame in recording.frames(chosen):
        if progress:
            progress(frame.index + 1, total)
        yield frame


def shown_frames(recording: Recording, stages: Iterable[StageSpan]) -> dict[int, str]:
    """Number -> stage of the frames kept for showing: first, middle and last of each stage, at most sixty."""
    kept: dict[int, str] = {}
    for span in stages:
        if span.frames:
            for place in (0, len(span.frames) // 2, len(span.frames) - 1):
                kept[span.frames[place]] = span.name
    if not kept and recording.stamps:
        kept[recording.stamps[0].index] = ""
    return dict(sorted(kept.items())[:SHOWN_FRAMES])
