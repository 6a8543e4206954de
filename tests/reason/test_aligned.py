"""The views of two tests laid over each other by their pins, or why they cannot be."""

from types import SimpleNamespace

import numpy as np
import pytest

from hotspot.reason.aligned import overlays
from hotspot.reason.pairing import Pairing
from hotspot.tell.words import say
from hotspot.views import View

AT = np.array([[10.0, 10.0], [30.0, 10.0], [10.0, 26.0], [30.0, 26.0]])
TURN = 1.1 * np.exp(0.2j)  # a camera a tenth nearer and turned by 0.2 rad


def moved(points):
    there = (points @ np.array([1.0, 1.0j])) * TURN + (5.0 - 3.0j)
    return np.stack([there.real, there.imag], axis=1)


def view(at=AT, stage="full", pins=("1", "2", "3", "4"), ambient=20.0):
    places = np.column_stack([at, np.full(len(at), 4.0)])
    return View(stage, "f.tif", 900.0, np.zeros((40, 50), np.float32), tuple(pins), places, ambient)


def results(views, stages=("full",), face="mating"):
    connector = {"face": face} if face else {}
    findings = {"stages": [{"name": name} for name in stages], "settings": {"session": {"connector": connector}}}
    return SimpleNamespace(findings=findings, views=tuple(views))


PINS = tuple((pin, pin) for pin in ("1", "2", "3", "4"))


def laid(before, after, pins=PINS, stages=((0, 0),)):
    found = overlays(before, after, Pairing(tuple(pins), tuple(stages), (), ()))
    for each in found:
        if each.why is not None:
            say(each.why)
    return found


def test_the_later_view_is_taken_to_the_earlier_one_by_its_pins():
    (found,) = laid(results([view()]), results([view(moved(AT))]))
    assert (found.stage, found.why) == ("full", None)
    back = np.column_stack([moved(AT), np.ones(4)]) @ found.to_before.T
    assert back == pytest.approx(AT)
    assert found.off_px == pytest.approx(0.0, abs=1e-9)
    assert found.before.ambient_c == 20.0


def test_pins_of_other_names_and_orders_are_laid_by_their_pairs():
    order = [2, 0, 3, 1]
    after = view(moved(AT)[order], pins=("C", "A", "D", "B"))
    pairs = (("1", "A"), ("2", "B"), ("3", "C"), ("4", "D"), (None, "E"), ("5", None))
    (found,) = laid(results([view()]), results([after]), pairs)
    assert np.column_stack([moved(AT), np.ones(4)]) @ found.to_before.T == pytest.approx(AT)


def test_what_is_left_at_the_pins_is_told_and_too_much_of_it_is_refused():
    """Half of a radius of 4 px, in pixels of the earlier picture."""
    off = AT.copy()
    off[3] += [3.0, 0.0]
    (found,) = laid(results([view()]), results([view(off)]))
    assert found.why is None
    assert 0.5 < found.off_px < 2.0
    off[3] += [12.0, 0.0]
    (found,) = laid(results([view()]), results([view(off)]))
    assert (found.why.code, found.to_before) == ("overlay_off", None)
    assert found.why.values["radii"] == pytest.approx(found.off_px / 4.0)
    assert found.off_px > 2.0


def test_a_stage_without_a_frame_is_told_for_the_test_that_lacks_it():
    for before, after, tests in (([], [view()], ["before"]), ([view()], [], ["after"]), ([], [], ["before", "after"])):
        (found,) = laid(results(before), results(after))
        assert (found.why.code, found.why.values["tests"]) == ("overlay_no_frame", tests)
        assert (found.before is None, found.after is None) == (not before, not after)


def test_two_faces_are_not_laid_over_each_other_and_an_unknown_one_is():
    (found,) = laid(results([view()]), results([view()], face="wire"))
    assert (found.why.code, dict(found.why.values)) == ("overlay_face", {"before": "mating", "after": "wire"})
    assert laid(results([view()]), results([view()], face=None))[0].why is None
    assert laid(results([view()], face=None), results([view()], face="wire"))[0].why is None


def test_two_pins_are_needed_at_two_places():
    (found,) = laid(results([view()]), results([view()]), PINS[:1])
    assert (found.why.code, found.why.values["count"]) == ("overlay_few_pins", 1)
    assert laid(results([view()]), results([view()]), PINS[:2])[0].why is None
    (found,) = laid(results([view()]), results([view(np.full((4, 2), 7.0))]))
    assert found.why.code == "overlay_few_pins"


def test_without_an_ambient_they_are_laid_but_it_is_told():
    for ambients, tests in (((None, 20.0), ["before"]), ((20.0, None), ["after"]), ((None, None), ["before", "after"])):
        (found,) = laid(*(results([view(ambient=ambient)]) for ambient in ambients))
        assert (found.why.code, found.why.values["tests"]) == ("overlay_no_ambient", tests)
        assert found.to_before == pytest.approx(np.eye(2, 3))
        assert found.off_px == pytest.approx(0.0, abs=1e-9)


def test_each_stage_that_both_have_is_laid_under_its_later_name():
    before = results([view(stage="a"), view(stage="b")], ("a", "b"))
    after = results([view(stage="y"), view(moved(AT), stage="x")], ("x", "y"))
    found = laid(before, after, stages=((0, 0), (1, None), (None, 1)))
    assert [each.stage for each in found] == ["x"]
    assert (found[0].before.stage, found[0].after.stage) == ("a", "x")
