"""What a comparison rests on, told so that each line says which pins and which stage it speaks of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hotspot.tell import pages, words
from hotspot.units import DIFFERENCE_SYMBOL


def basis_lines(told: Mapping[str, Any]) -> list[str]:
    """The sentences of a comparison's content: of all rows plain, of some with their stage and pins before them.

    In the order of the stages, what concerns most pins first.
    """
    rows = told["pins"]
    held: dict[str, list[int]] = {text: [] for text in told["basis"]}
    for place, row in enumerate(rows):
        for text in row["basis"]:
            held.setdefault(text, []).append(place)
    stages = list(dict.fromkeys(row["stage"] for row in rows))
    lines = []
    for text, places in held.items():
        if len(places) in (0, len(rows)):
            lines.append((-1, 0, text))
            continue
        for stage in dict.fromkeys(rows[place]["stage"] for place in places):
            pins = list(dict.fromkeys(rows[place]["pin"] for place in places if rows[place]["stage"] == stage))
            lines.append((stages.index(stage), -len(pins), f"{_about(rows, stage, pins)}: {text}"))
    return list(dict.fromkeys(text for _, _, text in sorted(lines, key=lambda line: line[:2])))


def least_shown(rows: Sequence[Mapping[str, Any]], units: str) -> str:
    """From which size on the rows of one stage would have shown a change, of rise and of heat; empty where no row
    could have shown any."""
    rises = [row["smallest_change_c"] for row in rows if pages.known(row["smallest_change_c"])]
    shares = [row["smallest_heat_change"] for row in rows if pages.known(row["smallest_heat_change"])]
    told = []
    if rises:
        ends = [pages.rise_cell(end, units) for end in (min(rises), max(rises))]
        told.append(f"of rise {_between(ends)} {DIFFERENCE_SYMBOL[units]}")
    if shares:
        told.append(
            f"of heat {_between([words.per_cent(end).removesuffix(' %') for end in (min(shares), max(shares))])} %"
        )
    by_pin = ", by pin" if len(rows) > 1 else ""
    return f"Smallest change that would have shown{by_pin}: {'; '.join(told)}." if told else ""


def _between(ends: Sequence[str]) -> str:
    return " to ".join(dict.fromkeys(ends))


def _about(rows: Sequence[Mapping[str, Any]], stage: str, pins: Sequence[str]) -> str:
    """`Stage full, pins 1 and 3`, or the pins alone where stages have no names."""
    every = {row["pin"] for row in rows if row["stage"] == stage}
    which = "all pins" if len(pins) == len(every) and len(pins) > 1 else words.pins_named(pins)
    return f"Stage {stage}, {which}" if stage else which[0].upper() + which[1:]


def in_plain_words(row: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], sources: Sequence[str]) -> str:
    """What is to be added to the verdict on a pin's rise, so that nobody takes it for a repair; empty for nothing.

    `sources` are the pins that made more heat than the others before.
    """
    if row["verdict"] != "better" or row["repaired"] == "yes":
        return ""
    if row["repaired"] == "no" and row["pin"] not in sources:
        return "cooler, but it makes no less heat itself"
    if row["repaired"] == "no":
        return "cooler, but not mended by what these tests show"
    others = [r for r in rows if r["stage"] == row["stage"] and r["pin"] != row["pin"] and r["verdict"] == "better"]
    if row["pin"] not in sources and others:
        return "cooler, like its neighbours"
    return "cooler; whether it was mended, a rise alone does not show"
