"""What a reference region takes off, how unsure that is, and when it is itself warmed."""

from types import SimpleNamespace

import numpy as np
import pytest
from made_frames import pins_at, region, session_of

from hotspot.extract.reference import Reference, reference_k, reference_notices
from hotspot.extract.source_size import Contrast
from hotspot.tell.words import say

NAN = float("nan")


def test_the_picture_reads_high_by_what_the_reference_left_its_first_value_by():
    found = Reference(session_of(), None).departure(np.array([NAN, 25.0, 25.5, NAN, 24.0]), np.arange(5.0))
    assert list(found) == [0.0, 0.0, 0.5, 0.5, -1.0]


def test_the_first_value_is_kept_from_batch_to_batch():
    reference = Reference(session_of(), None)
    reference.departure(np.array([25.0, 26.0]), np.array([0.0, 1.0]))
    assert list(reference.departure(np.array([NAN, 27.0]), np.array([2.0, 3.0]))) == [1.0, 2.0]


def test_what_a_logged_air_moved_by_is_real_and_stays_in():
    log = (np.array([0.0, 10.0]), np.array([20.0, 22.0]))
    means, times = np.array([25.0, 26.0, 28.0]), np.array([0.0, 5.0, 10.0])
    assert Reference(session_of(), log).departure(means, times) == pytest.approx([0.0, 0.0, 1.0])
    assert Reference(session_of(ambient=20.0), log).departure(means, times) == pytest.approx([0.0, 1.0, 3.0])
    empty = (np.array([]), np.array([]))
    assert Reference(session_of(), empty).departure(means, times) == pytest.approx([0.0, 1.0, 3.0])


def series(drift, pixels=50.0, carrier=0.0, surface=((20.0, 60.0),)):
    drift = np.asarray(drift, float)
    pin_map = pins_at(
        (10, 10), regions=[region("block", "reference", (0, 0, 5, 5)), region("air", "ambient", (9, 9, 3, 3))]
    )
    return SimpleNamespace(reference_px=pixels, drift_k=drift, drift_carrier_k=np.full(drift.size, carrier),
                           times_s=np.arange(drift.size), pin_map=pin_map, surface_c=np.array(surface).T)  # fmt: skip


def test_a_larger_reference_is_surer_as_the_root_of_its_pixels():
    """Two means of n pixels, their noise and the carrier's summed in squares (JCGM 100:2008, 5.1.2)."""
    assert reference_k(series([0.0], 50.0), 0.5) == pytest.approx(np.sqrt(2.0) * 0.5 / np.sqrt(50.0))
    assert reference_k(series([0.0], 200.0), 0.5) == pytest.approx(0.5 * reference_k(series([0.0], 50.0), 0.5))
    whole = reference_k(series([0.0, 0.0], 50.0, 0.1), 0.5)
    assert whole == pytest.approx(np.sqrt(2.0) * np.hypot(0.5 / np.sqrt(50.0), 0.1))
    assert list(reference_k(series([0.0, 1.0], 0.0), 0.5)) == [0.0, 0.0]


def told(*given, **more):
    found = {said.code: dict(said.values) for said in reference_notices(series(*given, **more), 0.5)}
    for said in reference_notices(series(*given, **more), 0.5):
        say(said)
    return found


def test_what_was_taken_off_is_told_with_its_range_and_its_largest_step():
    found = told([0.0, 0.4, -0.2, -0.1])["reference_taken_off"]
    assert (found["regions"], found["low"], found["high"]) == (["block"], -0.2, 0.4)
    assert found["step"] == pytest.approx(0.6)
    assert found["unsure"] == pytest.approx(2.0 * np.sqrt(2.0) * 0.5 / np.sqrt(50.0))
    assert told([0.3])["reference_taken_off"]["step"] == 0.0
    assert told([0.3], 0.0) == {}
    assert told([]) == {}


@pytest.mark.parametrize(
    ("drift", "pin", "far"),
    [([0.0, 9.0], (20.0, 60.0), False), ([0.0, 11.0], (20.0, 60.0), True),  # a quarter of what the pins moved
     ([0.0, 1.9], (20.0, 21.0), False), ([-1.0, 1.1], (20.0, 21.0), True),  # and at least 2 K
     ([0.0, 11.0], (20.0, NAN), True)],
)  # fmt: skip
def test_a_reference_that_moves_with_the_pins_may_be_warmed(drift, pin, far):
    found = told(drift, surface=(pin, (NAN, NAN)))
    assert ("reference_moves_far" in found) == far
    if far:
        assert found["reference_moves_far"] == {"regions": ["block"], "by": pytest.approx(drift[1] - drift[0])}


def test_contrast_follows_the_face_between_the_coldest_and_the_hottest_snapshot():
    seen = Contrast(np.array([[20.0, 30.0], [40.0, NAN], [60.0, 30.5]]), np.array([[0.0, 1.0], [9.0, 5.0], [8.0, 3.0]]))
    found = seen.at(np.array([[20.0, 30.0], [50.0, 90.0], [70.0, 0.0]]))
    assert found[:, 0] == pytest.approx([0.0, 6.0, 10.0])
    assert found[:, 1] == pytest.approx([3.0, 3.0, 3.0])  # half a kelvin apart tells no slope
    none = Contrast(np.full((2, 1), NAN), np.zeros((2, 1))).at(np.array([[20.0], [30.0]]))
    assert np.isnan(none).all()
    steady = Contrast(np.array([[20.0], [21.5]]), np.array([[0.0], [3.0]])).at(np.array([[22.0]]))
    assert steady[0, 0] == pytest.approx(4.0)
