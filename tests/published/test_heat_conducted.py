"""Logged runs of two heaters on one board (tests/data/two_heater_steps, SOURCE.md there): one driven, one only warmed.

Which was driven is known from the file's name; nothing else is taken for truth.
"""

import re

import numpy as np
import pytest
from heater_runs import DATA, logged, session_of
from readings_made import span

from hotspot.reason.findings import judge

RUNS = sorted(path.name.split(".")[0] for path in (DATA / "two_heater_steps").glob("H?_000to*_run?.csv.gz"))


def found(name):
    readings = logged(name, 22.0)
    driven = re.match(r"H(\d)", name).group(1)
    stage = span(np.unique(readings["time_s"]), {driven: 1.0})
    return driven, judge(session_of(ambient=22.0), readings, (stage,), None, lambda *_: None)


def conducted(findings):
    return [said for pin in findings.pins for said in pin.reasons if said.code == "heat_conducted"]


@pytest.mark.published
@pytest.mark.parametrize("name", RUNS)
def test_the_driven_heater_is_the_source_and_the_others_rise_is_called_conducted(name):
    driven, findings = found(name)
    assert findings.source_pins == (driven,)
    said = conducted(findings)
    assert all(each.values["from_pin"] == driven and each.values["pin"] != driven for each in said)
    if int(re.search(r"to(\d+)", name).group(1)) >= 20:  # below, the neighbour rises less than matters
        assert len(said) == 1


@pytest.mark.published
@pytest.mark.parametrize("heater", ["H1", "H2"])
def test_the_share_that_is_conducted_does_not_depend_on_the_drive(heater):
    """Rise of the neighbour over that of the driven one, 30 to 100 %: within a tenth of each other."""
    shares = []
    for name in RUNS:
        if name.startswith(heater) and int(re.search(r"to(\d+)", name).group(1)) >= 30:
            shares += [said.values["share"] for said in conducted(found(name)[1])]
    assert len(shares) >= 8
    assert np.ptp(shares) < 0.1 * np.mean(shares)
