"""The script of pairs runs, tiny: a mended pin and an untouched connector."""

import before_after_pairs
import pytest


@pytest.mark.slow
def test_one_mended_and_one_left_alone():
    tally = before_after_pairs.run([1045, 1046])
    assert tally.yes["mended: repaired = yes"] == [True]
    assert tally.yes["mended: rise better in some stage"] == [True]
    assert not any(tally.yes["no repair: answer fixed or better"])
    assert not any(tally.yes["untouched pin repaired = yes, mended pair"])


def test_intervals_hold_that_pins_of_one_pair_are_not_independent():
    tally = before_after_pairs.PairTally()
    for pair in range(40):
        tally.pair = pair
        for pin in range(10):
            tally.add("all or none of a pair", pair < 36)
            tally.add("each for itself", (pair + pin) % 10 != 0)
    together, alone = tally.interval("all or none of a pair"), tally.interval("each for itself")
    assert together[0] < 0.82 < 0.86 < alone[0] < 0.9 < alone[1] < together[1] <= 1.0
    tally.add("always", True)
    assert 0.2 < tally.interval("always")[0] < tally.interval("always")[1] == 1.0
