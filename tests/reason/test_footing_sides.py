"""One pin in two tests on one footing: which times, whose errors drop out, warm starts, levels, refusals."""

import math
from dataclasses import replace

import numpy as np
import pytest
from readings_made import session_of

from hotspot.handbook.criteria import section
from hotspot.physics.statistics import rectangular
from hotspot.reason.footing import Side, _is_bound, on_one_footing
from hotspot.session import Stage
from hotspot.tell.words import say

NUMBERS = section("compare")
T = np.arange(0.0, 1201.0, 10.0)


def side(rise_k=30.0, until_s=1200.0, *, start_k=0.0, amps=9.0, u=0.5, session=None, settled_k=None, **more):
    """A first-order rise; `more` takes the place of what a Side holds."""
    t = T[until_s >= T]
    held = {
        "session": session_of(**{"camera": {"name": "shed camera"}, **(session or {})}),
        "stage": Stage(name="full", amps=amps), "pin": "1", "amps": amps, "into_s": t,
        "rise_k": start_k + (rise_k - start_k) * (1.0 - np.exp(-t / 200.0)), "uncertainty_k": u, "accuracy_k": 0.4,
        "clipped": np.zeros(t.size, bool), "over_k": 0.0, "settled_k": settled_k,
        "stage_amps": {"1": amps} if amps else {},
    }  # fmt: skip
    return Side(**(held | more))


def footed(before, after):
    found = on_one_footing(before, after)
    for said in (*found.basis, *filter(None, [found.refused])):
        say(said)
    return found


def codes(found):
    return {said.code for said in found.basis}


def test_rises_are_compared_at_the_time_that_both_tests_reach():
    found = footed(side(30.0), side(20.0, 600.0))
    share = 1.0 - math.exp(-600.0 / 200.0)
    assert (found.before_k, found.after_k) == (
        pytest.approx(30.0 * share, abs=0.1),
        pytest.approx(20.0 * share, abs=0.2),
    )
    (said,) = [said for said in found.basis if said.code == "basis_same_time"]
    assert said.values["time"] == 600.0
    assert found.refused is None
    assert found.load_known


def test_where_one_ends_before_half_of_the_other_the_settled_rises_stand_for_both():
    before, after = side(30.0, settled_k=(31.0, 0.3)), side(20.0, 590.0, settled_k=(21.0, 1.2))
    found = footed(before, after)
    assert "basis_settled" in codes(found)
    assert (found.before_k, found.after_k) == (31.0, 21.0)
    assert "basis_same_time" in codes(footed(before, side(20.0, 610.0, settled_k=(21.0, 1.2))))
    assert "basis_same_time" in codes(footed(before, side(20.0, 590.0)))  # not known of one
    wide = footed(before, side(20.0, 590.0, settled_k=(21.0, 4.0)))
    assert wide.uncertainty_k > found.uncertainty_k


def test_the_earlier_rise_is_carried_to_the_later_load():
    found = footed(side(30.0, amps=8.0), side(30.0, amps=10.0))
    assert found.expected_k == pytest.approx(found.before_k * 1.25 ** NUMBERS["exponent"])
    unknown = footed(side(30.0, amps=None), side(30.0, amps=None))
    assert not unknown.load_known
    assert unknown.expected_k == unknown.before_k
    far = footed(side(30.0, amps=4.0), side(30.0, amps=10.0))
    assert far.refused.code == "refused_load_far"


def test_another_camera_brings_its_whole_error_and_one_camera_only_its_own():
    def u(name, **more):
        return footed(side(), side(24.0, session={"camera": {"name": name}}, **more)).uncertainty_k

    assert u("another") > u("shed camera")
    assert "basis_camera_differs" in codes(footed(side(), side(session={"camera": {"name": "another"}})))
    unnamed = {"camera": {"name": ""}}
    assert "basis_camera_unknown" in codes(footed(side(session=unnamed), side(session=unnamed)))
    assert not codes(footed(side(), side())) & {"basis_camera_unknown", "basis_camera_differs"}
    larger = [
        footed(side(), side(24.0, u=each, session={"camera": {"name": "another"}})).uncertainty_k for each in (0.5, 2.0)
    ]
    assert larger[1] ** 2 - larger[0] ** 2 == pytest.approx(2.0**2 - 0.5**2, rel=0.02)  # summed in squares


def test_like_rises_of_one_camera_are_surer_than_unlike_ones():
    same, apart = footed(side(30.0), side(30.0)), footed(side(30.0), side(15.0))
    assert same.uncertainty_k < apart.uncertainty_k
    other = {"surface": {"emissivity": 0.8}}
    found = footed(side(30.0, session={"surface": {"emissivity": 0.95}}), side(30.0, session=other))
    assert "basis_surface_differs" in codes(found)
    assert found.uncertainty_k > same.uncertainty_k


def test_what_the_ambients_limits_and_a_new_contact_leave_open_is_in_every_comparison():
    found = footed(side(30.0), side(30.0))
    ambient = math.sqrt(2.0) * rectangular(NUMBERS["ambient_k"])
    least = math.hypot(ambient, NUMBERS["replug"] * found.expected_k, math.sqrt(2.0) * 0.1)
    assert found.uncertainty_k == pytest.approx(least, rel=0.02)


def test_a_cold_start_in_both_tests_tells_the_level_and_takes_it_off():
    found = footed(side(31.0, start_k=1.0, cold_k=1.0), side(30.0, cold_k=0.0))
    assert found.expected_k == pytest.approx(found.before_k - 1.0)
    (said,) = [said for said in found.basis if said.code == "basis_cold"]
    assert dict(said.values) == {"before": 1.0, "after": 0.0}
    assert found.uncertainty_k < footed(side(31.0, start_k=1.0), side(30.0, cold_k=0.0)).uncertainty_k
    assert "basis_cold" not in codes(footed(side(cold_k=0.2), side(cold_k=0.0)))
    assert "basis_warm_start" not in codes(found)


def test_an_estimated_ambient_is_told_and_widens():
    plain = footed(side(), side())
    found = footed(side(guessed_k=(3.0, 1.0)), side())
    (said,) = [said for said in found.basis if said.code == "basis_ambient_estimated"]
    assert said.values["tests"] == ["before"]
    assert found.uncertainty_k**2 - plain.uncertainty_k**2 == pytest.approx(9.0 - rectangular(1.0) ** 2, rel=1e-6)
    cold = footed(side(cold_k=0.0), side(cold_k=0.0))
    moved = footed(side(cold_k=0.0), side(cold_k=0.0, guessed_k=(3.0, 1.0)))
    assert moved.uncertainty_k**2 - cold.uncertainty_k**2 == pytest.approx(1.0)  # only what it moved by since


def test_stages_that_began_at_other_warmth_are_told_and_fade_with_the_time():
    found = footed(side(30.0), side(30.0, start_k=10.0))
    (said,) = [said for said in found.basis if said.code == "basis_warm_start"]
    assert said.values["after"] - said.values["before"] == pytest.approx(10.0, abs=1.0)
    left = footed(side(30.0, 300.0), side(30.0, 300.0, start_k=10.0)).uncertainty_k
    assert left > 2.0
    assert left > found.uncertainty_k + 1.0
    assert "basis_warm_start" not in codes(footed(side(30.0), side(30.0, start_k=0.5)))
    twice = footed(side(7.5, amps=5.0, start_k=5.0), side(30.0, amps=10.0, start_k=20.0))  # warm alike for their loads
    assert "basis_warm_start" not in codes(twice)


BARE = {"surface": {"emissivity": 0.1}}


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        (
            side(session={"connector": {"face": "mating"}}),
            side(session={"connector": {"face": "wire"}}),
            "refused_face",
        ),
        (side(), side(clipped=T > 1150.0), "refused_clipped"),
        (side(clipped=T > 1150.0), side(), "refused_clipped"),
        (side(), side(shape_only=True), "refused_shape_only"),
        (side(shape_only=True), side(), "refused_shape_only"),
        (side(), side(amps=0.0), "refused_unloaded"),
        (side(session=BARE), side(session=BARE), "refused_bare_metal"),
    ],
)
def test_what_cannot_be_compared_is_refused_with_the_reason(before, after, code):
    found = footed(before, after)
    assert (found.refused and found.refused.code) == code


def test_readings_clipped_elsewhere_do_not_refuse():
    assert footed(side(), side(clipped=T < 300.0)).refused is None
    assert not _is_bound(side(clipped=T < 300.0), 1200.0)
    assert _is_bound(side(clipped=T < 300.0), 200.0)
    assert _is_bound(side(clipped=T < 300.0), None)  # a settled rise rests on them all


def test_which_end_of_the_scale_bounds_each_rise_is_told():
    late = (T > 1150.0).astype(int)
    assert footed(side(clipped=late), side()).clipped == ("high", "")
    assert footed(side(clipped=-late), side(clipped=late)).clipped == ("low", "high")
    assert footed(side(clipped=T < 300.0), side()).clipped == ("", "")


def test_a_missing_rise_is_told_as_no_readings_or_no_ambient():
    without = replace(side(), into_s=T[:0], rise_k=T[:0], clipped=T[:0] > 0)
    assert footed(side(), without).refused.code == "refused_no_readings"
    assert footed(without, side()).refused.code == "refused_no_readings"
    nowhere = replace(side(), rise_k=np.full(T.size, np.nan))
    found = footed(nowhere, side())
    assert (found.refused.code, found.refused.values["tests"]) == ("refused_no_ambient", ["before"])
    assert footed(side(), nowhere).refused.values["tests"] == ["after"]


def test_what_differs_between_the_tests_is_told():
    supplied = side(stage=Stage(name="full", amps=9.0, supply="bench"))
    (said,) = [said for said in footed(supplied, side()).basis if said.code == "basis_supply_differs"]
    assert dict(said.values) == {"before": "bench", "after": "?"}
    assert "basis_supply_differs" not in codes(footed(supplied, supplied))
    faced = side(session={"connector": {"face": "mating"}})
    assert "basis_face_unknown" in codes(footed(faced, side()))
    assert "basis_face_unknown" in codes(footed(side(), faced))
    assert "basis_face_unknown" not in codes(footed(faced, faced))
