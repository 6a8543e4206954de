"""Which frames a person is shown to look through, and their quick pictures, taken as the frames go by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from hotspot.records import Frame, Snapshot, StageSpan, Stamp

MOST_SLIDES = 60


def slide_frames(stamps: Sequence[Stamp], stages: Sequence[StageSpan]) -> dict[int, str]:
    """Number -> stage of the frames to look through: at most sixty, the first and last of each stage and of the
    test always (of more than thirty stages, evenly some), the others spread evenly over the test.
    """
    stage_of = {index: span.name for span in stages for index in span.frames}
    numbers = [stamp.index for stamp in stamps]
    ends = {index for span in stages if span.frames for index in (span.frames[0], span.frames[-1])}
    ends |= {numbers[0], numbers[-1]} if numbers else set()
    chosen = set(_evenly(sorted(ends), MOST_SLIDES))
    others = [index for index in numbers if index not in chosen]
    chosen |= set(_evenly(others, MOST_SLIDES - len(chosen)))
    return {index: stage_of.get(index, "") for index in sorted(chosen)}


def slides_over(frames: Iterable[Frame], chosen: Mapping[int, str], kept: list[Snapshot]) -> Iterator[Frame]:
    """The frames as they come; a quick picture of those `chosen` is put into `kept`, which is emptied first."""
    kept.clear()
    for frame in frames:
        if frame.index in chosen:
            told = (frame.index, frame.file, frame.time_s, chosen[frame.index])
            kept.append(Snapshot(*told, frame.grey(), frame.pixels.picture(), frame.pose))
        yield frame


def _evenly(items: Sequence[int], most: int) -> list[int]:
    """At most `most` items, spread evenly; the first and the last among them where there is room for both."""
    if len(items) <= most:
        return list(items)
    if most < 2:
        return list(items[len(items) // 2 :][:most])
    return [items[round(k * (len(items) - 1) / (most - 1))] for k in range(most)]
