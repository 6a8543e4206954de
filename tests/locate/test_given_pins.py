"""Placed pins that cannot all be meant as they stand are told, and read as they stand."""

from hotspot.locate.given import given
from hotspot.session import Session
from hotspot.tell.words import say_all


def codes(radius, **connector):
    pins = [{"name": name, "x": x, "y": 10.0, "radius": radius} for name, x in (("1", 10.0), ("2", 20.0))]
    session = Session.model_validate({"connector": connector, "pin": pins})
    notices = given(session, (40, 60)).notices
    say_all(notices)
    return [note.code for note in notices]


def test_circles_that_lie_over_each_other():
    assert codes(5.0) == []
    assert codes(6.0) == ["pins_overlap"]


def test_a_grid_that_the_placed_pins_do_not_fill():
    assert codes(4.0, rows=1, columns=2) == []
    assert codes(4.0, rows=1, columns=3, empty=["3"]) == []
    assert codes(4.0, rows=2, columns=3) == ["grid_unlike_pins"]
