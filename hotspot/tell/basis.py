"""What a comparison rests on, told so that each line says which pins and which stage it speaks of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hotspot.records import bounded
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
        told.append(words.text("cmp_least_rise", ends=_between(ends), unit=DIFFERENCE_SYMBOL[units]))
    if shares:
        ends = [words.per_cent(end).removesuffix(" %") for end in (min(shares), max(shares))]
        told.append(words.text("cmp_least_heat", ends=_between(ends)))
    code = "cmp_least_by_pin" if len(rows) > 1 else "cmp_least"
    return words.text(code, told="; ".join(told)) if told else ""


def rises_of(row: Mapping[str, Any]) -> dict[str, float]:
    """`before`, `expected` and `after` of a row of the comparison, as bounds where the scale ended there."""
    ends = (("before", "before_clipped"), ("expected", "before_clipped"), ("after", "after_clipped"))
    return {word: bounded(row[f"{word}_rise_c"], row[column]) for word, column in ends}


def _between(ends: Sequence[str]) -> str:
    low, high = ends
    return low if low == high else words.text("cmp_least_ends", low=low, high=high)


def _about(rows: Sequence[Mapping[str, Any]], stage: str, pins: Sequence[str]) -> str:
    """`Stage full, pins 1 and 3`, or the pins alone where stages have no names."""
    every = {row["pin"] for row in rows if row["stage"] == stage}
    which = words.text("cmp_all_pins") if len(pins) == len(every) and len(pins) > 1 else words.pins_named(pins)
    return words.text("cmp_of_stage", stage=stage, which=which) if stage else which[0].upper() + which[1:]


def in_plain_words(row: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], sources: Sequence[str]) -> str:
    """What is to be added to the verdict on a pin's rise, so that nobody takes it for a repair; empty for nothing.

    `sources` are the pins that made more heat than the others before.
    """
    if row["verdict"] != "better" or row["repaired"] == "yes":
        return ""
    if row["repaired"] == "no" and row["pin"] not in sources:
        return words.text("cmp_plain_no_less")
    if row["repaired"] == "no":
        return words.text("cmp_plain_not_mended")
    others = [r for r in rows if r["stage"] == row["stage"] and r["pin"] != row["pin"] and r["verdict"] == "better"]
    if row["pin"] not in sources and others:
        return words.text("cmp_plain_neighbours")
    return words.text("cmp_plain_alone")
