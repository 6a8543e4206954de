"""Which pin and which stage belong together, and what is said of those that have no counterpart."""

from types import SimpleNamespace

import pandas as pd
import pytest

from hotspot.errors import InputError
from hotspot.reason.pairing import paired
from hotspot.tell.words import say


def made(pins=("1", "2"), stages=("full",), last_c=None, amps=None, grid=None, told="stated"):
    """Only what the pairing reads of a test."""
    last_c, amps = last_c or [50.0] * len(stages), amps or [9.0] * len(stages)
    connector = {} if grid is None else {"rows": grid[0], "columns": grid[1]}
    lines = [
        {"stage": stage or None, "pin": pin, "last_c": c + n, "amps": a}
        for stage, c, a in zip(stages, last_c, amps, strict=True)
        for n, pin in enumerate(pins)
    ]
    findings = {
        "pins": [{"name": pin} for pin in pins],
        "stages": [{"name": stage} for stage in stages],
        "settings": {"session": {"connector": connector}, "stages": told},
    }
    return SimpleNamespace(name="later", findings=findings, pins=pd.DataFrame(lines))


def told(before, after, match=None):
    found = paired(before, after, match)
    for said in (*found.by, *found.notices):
        say(said)
    return found, {said.code: dict(said.values) for said in (*found.by, *found.notices)}


def test_pins_and_stages_of_one_name_belong_together():
    found, codes = told(made(stages=("half", "full")), made(stages=("full", "half")))
    assert found.pins == (("1", "1"), ("2", "2"))
    assert found.stages == ((0, 1), (1, 0))
    assert set(codes) == {"pins_by_name", "stages_by_name"}


def test_what_has_no_counterpart_is_told_on_both_sides():
    found, codes = told(made(("1", "2", "3")), made(("2", "3", "9", "8")))
    assert found.pins == (("1", None), ("2", "2"), ("3", "3"), (None, "9"), (None, "8"))
    assert codes["pins_unmatched_before"] == {"pins": ["1"]}
    assert codes["pins_unmatched_after"] == {"pins": ["9", "8"]}


def test_other_names_of_as_many_pins_are_matched_by_position():
    found, codes = told(made(("1", "2")), made(("A", "B")))
    assert found.pins == (("1", "A"), ("2", "B"))
    assert codes["pins_by_position"] == {"before": ["1", "2"], "after": ["A", "B"]}


def test_other_names_of_another_number_of_pins_are_refused():
    with pytest.raises(InputError, match="3 pins, none with the name of one of the 2 pins"):
        paired(made(("1", "2")), made(("A", "B", "C")), None)
    found, _ = told(made(("1", "2")), made(("A", "B", "C")), {"1": "C"})
    assert found.pins == (("1", "C"), ("2", None), (None, "A"), (None, "B"))


def test_a_match_that_is_given_stands_above_the_names():
    found, codes = told(made(), made(), {"1": "2"})
    assert found.pins == (("1", "2"), ("2", "1"))
    assert codes["pins_by_match"] == {"pairs": ["1 to 2"]}
    assert "pins_by_name" not in codes
    for match, why in (({"7": "1"}, "there is no pin '7'"), ({"1": "7"}, "there is no pin '7'"),
                       ({"1": "2", "2": "2"}, "two pins are matched")):  # fmt: skip
        with pytest.raises(InputError, match=why):
            paired(made(), made(), match)


def test_layouts_that_differ_are_told_with_both():
    _, codes = told(made(grid=(1, 2)), made(grid=(2, 3)))
    assert codes["layouts_differ"] == {"before": "1x2", "after": "2x3"}
    for grids in (((1, 2), (1, 2)), (None, (2, 3)), ((1, 2), None)):
        assert "layouts_differ" not in told(*(made(grid=grid) for grid in grids))[1]


def test_stages_of_other_names_belong_together_by_their_load():
    before = made(stages=("half", "full"), amps=[5.0, 10.0])
    found, codes = told(before, made(stages=("a", "b"), amps=[10.1, 5.0]))
    assert found.stages == ((0, 1), (1, 0))
    assert "stages_by_load" in codes
    found, codes = told(before, made(stages=("a", "b", "c"), amps=[5.0, 30.0, 60.0]))
    assert found.stages == ((0, 0), (1, None), (None, 1), (None, 2))
    assert codes["stages_unmatched"] == {"stages": ["full", "b", "c"]}


def test_each_stage_is_taken_once():
    found, _ = told(made(stages=("a", "b"), amps=[10.0, 10.0]), made(stages=("c", "d"), amps=[10.0, 10.0]))
    assert found.stages == ((0, 0), (1, 1))


def test_without_names_or_loads_their_order_decides():
    unknown = [float("nan")] * 2
    found, codes = told(made(stages=("a", "b"), amps=unknown), made(stages=("c", "d"), amps=unknown))
    assert found.stages == ((0, 0), (1, 1))
    assert "stages_by_order" in codes


def test_stages_that_were_found_belong_together_from_the_hottest_on():
    before = made(stages=("step 1", "step 2"), last_c=[22.0, 60.0], told="inferred")
    after = made(stages=("step 1", "step 2", "step 3"), last_c=[22.0, 40.0, 70.0], told="inferred")
    found, codes = told(before, after)
    assert found.stages == ((0, 1), (1, 2), (None, 0))
    assert "stages_by_heat" in codes
    assert codes["stages_unmatched"] == {"stages": ["step 1"]}
    assert told(after, before)[0].stages == ((0, None), (1, 0), (2, 1))


def test_one_found_test_is_enough_for_names_not_to_count():
    stated = made(stages=("step 1", "step 2"), last_c=[22.0, 60.0])
    inferred = made(stages=("step 1", "step 2", "step 3"), last_c=[22.0, 60.0, 30.0], told="inferred")
    assert "stages_by_heat" in told(stated, inferred)[1]
    assert (
        "stages_by_heat" not in told(made(told="inferred"), made(told="inferred"))[1]
    )  # one stage each: the whole run


def test_a_stage_without_readings_is_never_the_hottest():
    nan = float("nan")
    before = made(stages=("step 1", "step 2"), last_c=[nan, 40.0], told="inferred")
    after = made(stages=("step 1", "step 2"), last_c=[60.0, 40.0], told="inferred")
    assert told(before, after)[0].stages == ((0, None), (1, 0), (None, 1))
    none = made(stages=("step 1", "step 2"), last_c=[nan, nan], told="inferred")
    assert told(none, after)[0].stages == ((0, 0), (1, 1))
