"""The script that prints how often scale ends are read still runs, on a small series; its intervals are Wilson's."""

import pytest
import scale_reading
from scipy.stats import binomtest


def test_a_small_series_is_counted(capsys):
    assert scale_reading.main(["--series", "1", "--frames", "24", "--first-seed", "101", "--fonts", "seen"]) == 0
    rows = capsys.readouterr().out.splitlines()
    counts = {line.split()[0]: int(line.split()[1]) for line in rows if line.startswith(("right", "wrong", "doubtful"))}
    assert counts["wrong"] == 0
    assert counts["right"] + counts["doubtful"] in (21, 22)
    assert counts["right"] >= 18


@pytest.mark.parametrize(("hits", "of"), [(0, 100), (1, 1000), (2280, 2310), (77, 77)])
def test_the_interval_is_wilsons(hits, of):
    expected = binomtest(hits, of).proportion_ci(method="wilson")
    assert scale_reading.wilson(hits, of) == pytest.approx((expected.low, expected.high), abs=1e-6)
