"""How well a repair is told from no repair, on made pairs of tests drawn anew: a table with counts and 95 % intervals.

    python tests/benchmarks/before_after_pairs.py 5000 160

compares the pairs of 160 seeds from 5000 on: of four, one has a faulty pin left as it was, two have it mended, one is
healthy and only plugged anew; loads equal, unequal by design and circuits in turn. Pins that carry under a tenth of the
largest I^2 in every stage are left out of the lines about heat, for a test cannot judge them. What the air does to one
pin it does to all of its pair: the intervals are by pairs drawn again (bootstrap), or by cases where that is wider.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from heat_made import Tally, interval
from pair_cases import MadePair, pair, results

from hotspot.reason.before_after import compare
from hotspot.reason.equivalence import matters
from hotspot.records import Comparison

REDRAWN = 2000
PATTERN = ("left", "mended", "untouched", "mended")
LOADS = ("equal", "unequal", "in turn")


@dataclass
class PairTally(Tally):
    """The same with the pair that each case is of. `pair` is the one at hand, `pairs` those of each line's cases."""

    pair: int = 0
    pairs: dict[str, list[int]] = field(default_factory=dict)

    def add(self, name: str, value: bool) -> None:
        super().add(name, value)
        self.pairs.setdefault(name, []).append(self.pair)

    def interval(self, name: str) -> tuple[float, float]:
        """95 % interval of a line's share: of pairs drawn again, or of its cases (Wilson) if wider."""
        values, pairs = np.array(self.yes[name], float), np.array(self.pairs[name])
        numbers, place = np.unique(pairs, return_inverse=True)
        counts = np.column_stack([np.bincount(place, weights=values), np.bincount(place)])
        again = np.random.default_rng(0).integers(numbers.size, size=(REDRAWN, numbers.size))
        yes, of = counts[again].sum(axis=1).T
        ends = [*np.quantile(yes / of, (0.025, 0.975)), *interval(int(values.sum()), values.size)]
        return max(min(ends[0], ends[2]), 0.0), min(max(ends[1], ends[3]), 1.0)


def drawn(seed: int) -> MadePair:
    """The pair of a seed, kinds and loads in turn."""
    return pair(seed, PATTERN[seed % 4], LOADS[(seed // 4) % 3])


def compared(made: MadePair) -> Comparison:
    """Both tests judged and compared as from their results on disk."""
    return compare(results(made.before, "before"), results(made.after, "after"))


def count(made: MadePair, told: Comparison, tally: Tally) -> None:
    """Adds one comparison to the tally."""
    judged = made.judged()
    faulty = made.faulty
    tested = faulty and judged[faulty[0]]
    if made.kind != "mended":
        tally.add("no repair: answer fixed or better", told.answer in ("fixed", "better"))
        tally.add("no repair: answer worse", told.answer == "worse")
    elif tested:
        tally.add("mended: answer fixed", told.answer == "fixed")
        tally.add("mended: answer fixed or better", told.answer in ("fixed", "better"))
        own = told.table[told.table["pin"] == str(faulty[0] + 1)]
        better = bool((own["verdict"] == "better").any())
        tally.add("mended: rise better in some stage", better)
        if any(_fell_by_what_matters(made, row, faulty[0]) for row in own.to_dict("records")):
            tally.add("mended: rise better in some stage, of pins whose true rise fell by what matters", better)
        tally.add("mended: repaired = yes", (own["repaired"] == "yes").any())
        tally.add("mended: heat of the pin worked out", own["heat_change"].notna().any())
    for row in told.table.to_dict("records"):
        _rise(made, row, tally)
    for row in told.table.dropna(subset=["heat_change"]).drop_duplicates("pin").to_dict("records"):
        _heat(made, row, tally)


def _rise(made: MadePair, row: dict, tally: Tally) -> None:
    pin = int(row["pin"]) - 1
    if made.kind != "mended":
        said = row["verdict"]
        tally.add("no repair, pin and stage: same", said == "same")
        tally.add("no repair, pin and stage: same or not comparable", said in ("same", "not comparable"))
        tally.add("no repair, pin and stage: better or worse", said in ("better", "worse"))
    low, high = row["change_low_c"], row["change_high_c"]
    if np.isfinite(low):
        truth = _true_change(made, row["stage"], pin)
        tally.add("interval of the change of rise holds", low <= truth <= high)
        kind = "mended pin" if made.kind == "mended" and pin in made.faulty else "other pins"
        tally.add(f"interval of the change of rise holds, {kind}", low <= truth <= high)
        tally.error("half width of it [K]", 0.5 * (high - low))


def _fell_by_what_matters(made: MadePair, row: dict, pin: int) -> bool:
    return _true_change(made, row["stage"], pin) <= -matters(row["expected_rise_c"], None)


def _true_change(made: MadePair, stage: str, pin: int) -> float:
    """The pin's true rise less what it would have been unmended, at the time into the stage that is compared."""
    spans = [next(s for s in test.stages if s.name == stage) for test in (made.before, made.after)]
    ends = [s.frames[-1] for s in spans]
    times = [test.extracted.readings for test in (made.before, made.after)]
    last = [
        t.loc[t["frame"] == end, "time_s"].iloc[0] - s.start_s for t, end, s in zip(times, ends, spans, strict=True)
    ]
    at = spans[1].start_s + min(last)
    after, unmended = (np.interp(at, time_s, rise[:, pin]) for time_s, rise in (made.truth, made.unmended))
    return float(after - unmended)


def _heat(made: MadePair, row: dict, tally: Tally) -> None:
    pin = int(row["pin"]) - 1
    low, high = row["heat_change_low"], row["heat_change_high"]
    truth = made.after.ohm[pin] / made.before.ohm[pin]
    kind = "faulty" if pin in made.faulty else "neighbour" if made.kind == "mended" else "other"
    done = "mended" if made.kind == "mended" else "left"
    inside = low <= truth <= high
    tally.add("interval of heat after / before holds", inside)
    if made.judged()[pin]:
        if kind == "faulty":
            tally.add(f"interval of heat after / before holds, faulty pin {done}", inside)
            tally.error(f"ln error of heat after / before, faulty pin {done}", np.log(row["heat_change"] / truth))
        if (kind, done) == ("faulty", "left"):
            tally.error("smallest change of a faulty pin's heat", 1.0 - np.sqrt(low / high))
    if kind != "faulty":
        tally.add(
            f"untouched pin repaired = yes, {'mended pair' if kind == 'neighbour' else 'no repair'}",
            row["repaired"] == "yes",
        )
    elif done == "left":
        tally.add("faulty pin left: repaired = yes", row["repaired"] == "yes")


def run(seeds: Iterable[int]) -> PairTally:
    """The tally over these seeds; a pair that cannot be drawn (no steady state) is left out and counted."""
    tally = PairTally()
    for seed in seeds:
        tally.pair = seed
        try:
            made = drawn(seed)
        except (ArithmeticError, ValueError):
            tally.add("could not be drawn", True)
            continue
        count(made, compared(made), tally)
    return tally


def table_text(tally: PairTally) -> str:
    """The tally as lines of text."""
    lines = []
    for name, values in tally.yes.items():
        low, high = tally.interval(name)
        lines.append(
            f"{name:78s} {np.mean(values):6.3f}  {sum(values):4d} of {len(values):4d}  ({low:.3f} to {high:.3f})"
        )
    for name, values in tally.errors.items():
        size = np.abs(values)
        ends = f"median {np.median(size):.3f}, 90 % {np.quantile(size, 0.9):.3f}, mean {np.mean(values):+.3f}"
        lines.append(f"{name:78s} {ends}, of {len(values)}")
    return "\n".join(sorted(lines))


if __name__ == "__main__":
    first, number = (int(text) for text in sys.argv[1:3])
    print(table_text(run(range(first, first + number))))
