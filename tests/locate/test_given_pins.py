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


def test_a_pin_outside_the_picture_is_nobodys_neighbour():
    """Its distance must not make circles that reach into the picture, or over all of it."""
    places = {"1": (10.0, 10.0), "2": (20.0, 10.0), "3": (400.0, 10.0)}
    pins = [{"name": name, "x": x, "y": y} for name, (x, y) in places.items()]
    radius = given(Session.model_validate({"pin": pins}), (40, 60)).radius_px
    assert list(radius) == [3.0, 3.0, 3.0]  # 0.3 of 10 px, and a lone pin's
    alone = given(Session.model_validate({"pin": pins[1:]}), (40, 60)).radius_px
    assert list(alone) == [3.0, 3.0]
