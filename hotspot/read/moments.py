"""Clock times and date-times as people, loggers and file names write them. All are local and without a zone."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence

_DAY = 86400.0
_YEARS = (1900, 2200)
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d+))?)?(?:\s*([AaPp])\.?[Mm]\.?)?")
_DATE_TIME = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})[T ,]+(\d{1,2}:\d{2}.*)")
_ZONE = re.compile(r"\s*(Z|[+-]\d{2}:?\d{2})$")
_FRACTION = r"(?:[.,](\d+)(?![0-9A-Za-z]))?"
_IN_NAMES = (
    re.compile(r"(?<!\d)(\d{4})(\d\d)(\d\d)_(\d\d)(\d\d)(\d\d)(?!\d)" + _FRACTION),
    re.compile(r"(?<!\d)(\d{4})-(\d\d)-(\d\d)_(\d\d)-(\d\d)-(\d\d)(?!\d)" + _FRACTION),
    re.compile(r"(?<!\d)(\d{4})-(\d\d)-(\d\d)T(\d\d)(\d\d)(\d\d)(?!\d)" + _FRACTION),
)
NAME_PATTERNS = len(_IN_NAMES)


def clock_time(text: str, day_first: bool = False) -> datetime.time | datetime.datetime | None:
    """`14:20:30`, `2:20 PM`, `2026-03-11T14:20:30.5`, `11.03.2026 14:20` -> a time or a date-time, else None.

    A date begins with its year, or ends with it: with points the day comes first, with slashes or hyphens the
    month, unless `day_first`. A zone is dropped.
    """
    text = _ZONE.sub("", text.strip()) if ":" in text else text.strip()
    if found := _TIME.fullmatch(text):
        return _time(found)
    found = _DATE_TIME.fullmatch(text)
    time = _time(_TIME.fullmatch(found[5].strip())) if found else None
    if time is None:
        return None
    first, middle, last = int(found[1]), int(found[3]), int(found[4])
    if len(found[1]) == 4:
        year, month, day = first, middle, last
    elif day_first or found[2] == ".":
        year, month, day = last, middle, first
    else:
        year, month, day = last, first, middle
    try:
        return believable(datetime.datetime.combine(datetime.date(year, month, day), time))
    except ValueError:
        return None


def believable(moment: datetime.datetime) -> datetime.datetime | None:
    """The moment, or None for a year that no camera or logger was set to."""
    return moment if _YEARS[0] <= moment.year <= _YEARS[1] else None


def later(moment: datetime.datetime | None, seconds: float) -> datetime.datetime | None:
    """`moment` some seconds on; None where that leaves the calendar."""
    try:
        return None if moment is None else moment + datetime.timedelta(seconds=seconds)
    except OverflowError:
        return None


def clock_times(cells: Sequence[str]) -> list[datetime.time | datetime.datetime | None]:
    """A column of clock times. Where day and month could be either, the order that fits more cells counts, then
    the one that makes the shorter test, then month before day.
    """

    def fit(times: list) -> tuple[int, float]:
        dated = [time for time in times if isinstance(time, datetime.datetime)]
        span = (max(dated) - min(dated)).total_seconds() if dated else 0.0
        return sum(time is None for time in times), span

    return min(([clock_time(cell, order) for cell in cells] for order in (False, True)), key=fit)


def in_name(name: str, pattern: int) -> datetime.datetime | None:
    """The date-time in a file name, by one of the `NAME_PATTERNS`; None where it does not fit or is no date.

    YYYYMMDD_HHMMSS, YYYY-MM-DD_HH-MM-SS, YYYY-MM-DDTHHMMSS, each with an optional fraction after a point and
    without further digits on either side.
    """
    for found in _IN_NAMES[pattern].finditer(name):
        try:
            whole = believable(datetime.datetime(*(int(group) for group in found.groups()[:6])))
        except ValueError:
            continue
        return whole and whole + datetime.timedelta(microseconds=_microseconds(found[7]))
    return None


def before_moment(name: str, pattern: int) -> str:
    """What stands in a file name before its date-time."""
    found = _IN_NAMES[pattern].search(name)
    return name[: found.start()] if found else name


def nearest_to(
    when: datetime.time | datetime.datetime, first: datetime.datetime, last: datetime.datetime
) -> datetime.datetime:
    """A clock time put on the day that brings it into [first, last] or nearest to it (the earlier of two alike)."""
    if isinstance(when, datetime.datetime):
        return when
    days = range(-1, (last.date() - first.date()).days + 2)
    found = [datetime.datetime.combine(first.date() + datetime.timedelta(days=k), when) for k in days]

    def distance(moment: datetime.datetime) -> float:
        return max((first - moment).total_seconds(), (moment - last).total_seconds(), 0.0)

    return min(found, key=distance)


def unrolled(times: list[datetime.time | datetime.datetime | None], day: datetime.date) -> list[float]:
    """Clock times in the order of writing -> seconds since midnight of `day`, NaN for None.

    A time of day that falls by more than half a day against the one before it lies past midnight.
    """
    midnight = datetime.datetime.combine(day, datetime.time())
    seconds, days, before = [], 0, None
    for when in times:
        if when is None:
            seconds.append(float("nan"))
        elif isinstance(when, datetime.datetime):
            seconds.append((when - midnight).total_seconds())
        else:
            of_day = (datetime.datetime.combine(day, when) - midnight).total_seconds()
            if before is not None and before - of_day > _DAY / 2:
                days += 1
            before = of_day
            seconds.append(of_day + days * _DAY)
    return seconds


def _time(found: re.Match[str] | None) -> datetime.time | None:
    if found is None:
        return None
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    if found[5]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found[5] in "Pp" else 0)
    try:
        return datetime.time(hour, minute, second, _microseconds(found[4]))
    except ValueError:
        return None


def _microseconds(fraction: str | None) -> int:
    return int((fraction or "0")[:6].ljust(6, "0"))
