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
