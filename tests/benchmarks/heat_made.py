"""How well the pin that makes the heat is found, on made connectors drawn anew: a table with counts and intervals.

    python tests/benchmarks/heat_made.py 20000 400

judges the cases of 400 seeds from 20000 on: with nothing but the face in view; with two spots on every wire; with
the wires' sections stated (the heat ratios are then of the contacts alone). With a third word `pins` only the pins are
read, not the plastic between them, and with `pins-unplaced` it is not known either which are neighbours.
"""

from __future__ import annotations

import sys
import time
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from unittest import mock

import numpy as np
from heat_cases import WIRE_SPOTS_MM, Held, held

from hotspot.reason.findings import judge
from hotspot.session import Pin, Region

LEAST_SIZE = 2.0


@dataclass
class Tally:
    """Counts of yes among cases, by the name of the line; errors and intervals of heat ratios."""

    yes: dict[str, list[bool]] = field(default_factory=dict)
    errors: dict[str, list[float]] = field(default_factory=dict)
    seconds: list[float] = field(default_factory=list)

    def add(self, name: str, value: bool) -> None:
        self.yes.setdefault(name, []).append(bool(value))

    def error(self, name: str, value: float) -> None:
        self.errors.setdefault(name, []).append(float(value))


def with_wires(test: Held) -> Held:
    """The same test with two spots on every wire in view."""
    regions, rises = [], {}
    for pin, name in enumerate(test.names):
        for k, at_mm in enumerate(WIRE_SPOTS_MM):
            label = f"wire {name} {k}"
            box = [0.0, 0.0, 2.0, 2.0]
            regions.append(Region(name=label, kind="wire", box=box, pin=name, at_mm=at_mm))
            rises[label] = test.spots_k[:, pin, k]
    pictures = test.extracted.rise_pictures
    if pictures is not None:
        pictures = replace(pictures, regions=rises)
    session = test.session.model_copy(update={"region": regions})
    return replace(test, session=session, extracted=replace(test.extracted, rise_pictures=pictures))


def with_sections(test: Held) -> Held:
    """The same test with the wires' sections stated, as they were meant to be."""
    areas = np.array(test.case.spec.wire_mm2)
    if test.case.kind == "thin wire":
        areas[test.case.faulty[0]] *= test.case.sizes[0]
    pins = [Pin(name=name, wire=f"{area:g} mm2") for name, area in zip(test.names, areas, strict=True)]
    session = test.session.model_copy(update={"pin": pins})
    return replace(test, session=session, truth=np.array(test.case.spec.contact_ohm))


def wires_left_in(test: Held) -> Held:
    """The same test with the wires' sections stated, held against contact and wire: see `ratios_with_wires`."""
    return replace(with_sections(test), truth=test.ohm)


def ratios_with_wires(test: Held, tally: Tally) -> None:
    """Ratios where the sections are known but the wires' own share is not taken out."""
    known = wires_left_in(test)
    with mock.patch("hotspot.reason.heat_made.yardstick", return_value=None):
        found = _judged(known)
    table = found.pin_table.dropna(subset=["heat_ratio"]).drop_duplicates("pin").set_index("pin")
    _ratios(known, tally, table, "wires stated, share left in")


def _judged(test: Held):
    pictures = test.extracted.rise_pictures
    return judge(test.session, test.extracted.readings, test.stages, test.pin_map, lambda *_: None, pictures=pictures)


def pins_only(test: Held) -> Held:
    """The same test without rise pictures."""
    return replace(test, extracted=replace(test.extracted, rise_pictures=None))


def judged_pins(test: Held) -> np.ndarray:
    """Pins (n,) that carry a tenth of the largest I^2 in some stage, by the true currents."""
    square = np.array([stage.amps for stage in test.case.load.stages]) ** 2
    return (square >= 0.1 * square.max(axis=1, keepdims=True)).any(axis=0)


def tell(test: Held, tally: Tally, wires: str) -> None:
    """Judge one test and count what came out."""
    start = time.perf_counter()
    found = _judged(test)
    tally.seconds.append(time.perf_counter() - start)
    judged, case = judged_pins(test), test.case
    table = found.pin_table.dropna(subset=["heat_ratio"]).drop_duplicates("pin").set_index("pin")
    sources = [test.names.index(pin) for pin in found.source_pins]
    watched = [pin.name for pin in found.pins if pin.verdict in ("hot", "watch")]
    tally.add(f"{wires}: by {found.settings['heat']['method']}", True)
    if case.kind == "healthy":
        tally.add(f"{wires}: healthy flagged", bool(sources))
        tally.add(f"{wires}: healthy flagged, {case.load_kind}", bool(sources))
        tally.add(f"{wires}: healthy flagged or watched", bool(watched))
    elif case.kind == "one contact" and judged[case.faulty[0]] and case.sizes[0] >= LEAST_SIZE:
        _one(test, tally, wires, (sources, table, _most_ohms(found)))
    elif case.kind == "two contacts" and judged[list(case.faulty)].all():
        tally.add(f"{wires}: two contacts, exactly both", sorted(sources) == list(case.faulty))
    elif case.kind == "upstream":
        tally.add(f"{wires}: upstream called a contact", case.faulty[0] in sources)
    elif case.kind == "thin wire":
        tally.add(f"{wires}: thin wire called a contact", case.faulty[0] in sources)
    _ratios(test, tally, table, wires)
    for pin, own in enumerate(found.pins):
        for said in own.reasons:
            if said.code.startswith("resistance_") and case.kind in ("healthy", "one contact"):
                tally.error(f"{wires}: ln error of ohms", np.log(said.values["milliohm"] * 1e-3 / test.ohm[pin]))


def _most_ohms(found) -> str | None:
    """The pin of the highest resistance, where resistances are all there is."""
    ohms = {
        pin.name: said.values["milliohm"]
        for pin in found.pins
        for said in pin.reasons
        if said.code.startswith("resistance_")
    }
    return max(ohms, key=lambda name: ohms[name]) if ohms else None


def _one(test: Held, tally: Tally, wires: str, found: tuple) -> None:
    sources, table, most_ohms = found
    fault, size = test.case.faulty[0], test.case.sizes[0]
    bracket = "x2-3" if size < 3 else "x3-5" if size < 5 else "x5-10"
    top = table["heat_ratio"].idxmax() if len(table) else most_ohms
    tally.add(f"{wires}: faulty pin first", top == test.names[fault])
    if judged_pins(test).sum() > 1:
        tally.add(f"{wires}: faulty pin first of two judged pins or more", top == test.names[fault])
    for tail in ("", f", {test.case.load_kind}", f", {bracket}"):
        tally.add(f"{wires}: flagged{tail}", fault in sources)
        tally.add(f"{wires}: exactly that pin{tail}", sources == [fault])


def _ratios(test: Held, tally: Tally, table, wires: str) -> None:
    """Error and coverage of the heat ratios, against apparent resistance; heat from up the line left out."""
    judged = judged_pins(test)
    faults = test.case.faulty
    if test.case.kind == "upstream" or (test.case.kind == "thin wire"):
        return
    for pin, name in enumerate(test.names):
        if name not in table.index:
            continue
        others = judged & (np.arange(len(judged)) != pin)
        true = np.log(test.truth[pin] / np.median(test.truth[others]))
        row = table.loc[name]
        kind = "faulty" if pin in faults else "healthy"
        tally.error(f"{wires}: ln error, {kind} pins", np.log(row["heat_ratio"]) - true)
        if test.case.kind == "healthy":
            tally.error(f"{wires}: ln error, pins of healthy connectors", np.log(row["heat_ratio"]) - true)
        inside = row["heat_ratio_low"] <= np.exp(true) <= row["heat_ratio_high"]
        tally.add(f"{wires}: interval holds, {kind} pins", inside)
        tally.add(f"{wires}: interval holds, all pins", inside)
        tally.error(f"{wires}: half width, {kind} pins", 0.5 * np.log(row["heat_ratio_high"] / row["heat_ratio_low"]))


def interval(yes: int, count: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson, J. Am. Stat. Assoc. 22:209, 1927)."""
    z = 1.959964
    share, square = yes / count, z**2 / count
    half = z * np.sqrt(share * (1 - share) / count + square / (4 * count))
    return tuple((share + square / 2 + np.array([-half, half])) / (1 + square))


def table_text(tally: Tally) -> str:
    """The tally as lines of text."""
    lines = []
    for name in sorted(tally.yes):
        values = tally.yes[name]
        low, high = interval(sum(values), len(values))
        lines.append(
            f"{name:60s} {np.mean(values):6.3f}  {sum(values):4d} of {len(values):4d}  ({low:.3f} to {high:.3f})"
        )
    for name in sorted(tally.errors):
        values = np.array(tally.errors[name])
        size = np.abs(values)
        lines.append(
            f"{name:60s} middle {np.median(values):+.3f}, |.| middle {np.median(size):.3f}, "
            f"90 % {np.quantile(size, 0.9):.3f}, n {values.size}"
        )
    lines.append(f"seconds per session: middle {np.median(tally.seconds):.2f}, most {np.max(tally.seconds):.2f}")
    return "\n".join(lines)


def main(first: int, count: int) -> Tally:
    """Judge `count` seeds from `first` on."""
    tally = Tally()
    for seed in range(first, first + count):
        test = held(seed)
        tell(test, tally, "no wire in view")
        tell(with_wires(test), tally, "wire in view")
        tell(with_sections(test), tally, "wires stated")
        ratios_with_wires(test, tally)
    return tally


def fall_back(first: int, count: int, placed: bool) -> Tally:
    """The same seeds where the picture cannot be used."""
    tally = Tally()
    hidden = nullcontext() if placed else mock.patch("hotspot.reason.heat_made.neighbours_of", return_value=None)
    with hidden:
        for seed in range(first, first + count):
            tell(pins_only(held(seed)), tally, "pins only" if placed else "pins unplaced")
    return tally


if __name__ == "__main__":
    seeds = [int(word) for word in sys.argv[1:3]]
    which = sys.argv[3] if len(sys.argv) > 3 else ""
    print(table_text(fall_back(*seeds, which == "pins") if which else main(*seeds)))
