"""What all pins of a picture have in common drops out between them and between tests; pins too small are not judged."""

import numpy as np
import pytest
from readings_made import readings_of, session_of, span

from hotspot.reason import judge
from hotspot.reason.footing import Side, _own
from hotspot.reason.stage_ends import common_uncertainty, own_uncertainty

TIMES = np.arange(0.0, 600.0, 10.0)


def warming(rise, start=22.0):
    return start + rise * (1 - np.exp(-TIMES / 120.0))


def test_the_common_part_is_taken_off_reading_by_reading():
    assert own_uncertainty(np.array([1.0, 1.0, np.nan]), np.array([0.8, 0.8, 0.8])) == pytest.approx(0.6)
    assert own_uncertainty(np.array([0.5]), np.array([0.5])) == pytest.approx(0.1)  # never surer than the floor
    table = readings_of([0.0, 1.0], {"1": [20.0, 21.0]}, uncertainty=2.0)
    session = session_of(camera={"accuracy_k": 2.0})
    assert common_uncertainty(table, session) == pytest.approx(2.0 / np.sqrt(3))  # not said: the stated accuracy
    assert common_uncertainty(table.drop(columns="common_c"), session) == pytest.approx(2.0 / np.sqrt(3))
    assert common_uncertainty(table.assign(common_c=1.5), session) == pytest.approx(1.5)


def side(seen_through=("", None), camera="shed camera"):
    session = session_of(camera={"name": camera})
    return Side(session, None, "1", None, TIMES, TIMES, 1.0, 0.8, False, 0.0, None, seen_through)


@pytest.mark.parametrize(
    ("after", "left"),
    [
        (side(), 0.6),
        (side(camera="another"), 1.0),
        (side(("other file", None)), 1.0),
        (side(("", 3.1)), 0.6),
        (side(("", 4.0)), 1.0),  # a pin of 6 px seen at 8 px loses less to the blur
    ],
)
def test_between_two_tests_it_drops_out_where_the_same_thing_makes_both_wrong(after, left):
    before = side(("", 3.0)) if after.seen_through[1] else side()
    assert _own(before, before, after) == pytest.approx(left)


def test_large_pins_lose_nothing_whatever_their_size():
    assert _own(side(("", 6.0)), side(("", 6.0)), side(("", 12.0))) == pytest.approx(0.6)


def test_pins_of_fewer_than_three_pixels_are_not_judged_but_a_rating_that_is_passed_is_told():
    pins = {str(n): warming(20.0 if n != 2 else 70.0) for n in range(1, 6)}
    table = readings_of(TIMES, pins, ambient=22.0).assign(quality="few_pixels")
    stages = (span(TIMES, {name: 9.0 for name in pins}, name="full"),)
    found = judge(session_of(ambient=22.0), table, stages, None)
    assert {pin.verdict for pin in found.pins} == {"unknown"}
    assert found.answer.code == "answer_cannot_shape_only"
    assert {entry["reason"].code for entry in found.not_judged} == {"shape_only"}
    rated = judge(session_of(ambient=22.0, connector={"rated": 80.0}), table, stages, None)
    assert [pin.name for pin in rated.pins if pin.verdict == "hot"] == ["2"]
