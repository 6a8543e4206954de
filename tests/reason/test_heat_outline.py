"""Where the housing ends, on painted pictures whose edges are known."""

import numpy as np
import pytest

from hotspot.reason.heat_outline import outline_of
from hotspot.records import RisePictures

ROWS, COLUMNS = 40, 60
PINS_ROW, PINS_COLUMN, RADIUS = np.full(3, 18.0), np.array([22.0, 30.0, 38.0]), np.full(3, 2.0)
TOP, BOTTOM, LEFT, RIGHT = 10, 27, 14, 46


def painted(top=TOP, bottom=BOTTOM, left=LEFT, right=RIGHT, warm=20.0):
    """Warm in the rows and columns of the housing, 1 K beyond."""
    row, column = np.indices((ROWS, COLUMNS))
    return np.where((row >= top) & (row < bottom) & (column >= left) & (column < right), warm, 1.0)


def outlined(*rises):
    rise = np.stack(rises)
    nothing = np.zeros(rise.shape)
    seen = RisePictures(rise, nothing, nothing > 0, None, (6,) * len(rises), PINS_ROW, PINS_COLUMN, RADIUS, 2.0)
    return outline_of(seen)


def edges(inside):
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    return rows[0], rows[-1] + 1, columns[0], columns[-1] + 1


def test_the_rectangle_of_the_housing_is_found_on_all_sides():
    inside, found = outlined(painted())
    assert found == (True, True, True, True)
    assert edges(inside) == (TOP, BOTTOM, LEFT, RIGHT)
    assert inside[TOP:BOTTOM, LEFT:RIGHT].all()


@pytest.mark.parametrize(
    ("more", "seen"),
    [({"top": 7}, (7, BOTTOM, LEFT, RIGHT)), ({"bottom": 31}, (TOP, 31, LEFT, RIGHT)),
     ({"left": 9}, (TOP, BOTTOM, 9, RIGHT)), ({"right": 51}, (TOP, BOTTOM, LEFT, 51))],
)  # fmt: skip
def test_each_edge_is_found_on_its_own(more, seen):
    inside, found = outlined(painted(**more))
    assert all(found)
    assert edges(inside) == seen


def test_an_edge_that_is_not_seen_lies_as_far_out_as_the_others_do():
    """Beyond the picture's rim on the right; the others lie 6, 7 and 6 cells beyond the pins' edges."""
    inside, found = outlined(painted(right=COLUMNS))
    assert found == (True, True, True, False)
    assert edges(inside)[:3] == (TOP, BOTTOM, LEFT)
    assert edges(inside)[3] == pytest.approx(38 + 2 + 6, abs=1.5)


def test_without_any_edge_the_whole_picture_is_inside():
    inside, found = outlined(np.full((ROWS, COLUMNS), 20.0))
    assert found == (False, False, False, False)
    assert inside.all()


def test_warm_wires_that_leave_the_housing_hide_no_edge():
    warm = painted()
    warm[BOTTOM:, 21:24] = 18.0
    warm[BOTTOM:, 29:32] = 18.0
    assert edges(outlined(warm)[0]) == (TOP, BOTTOM, LEFT, RIGHT)


def test_cells_that_no_pixel_fills_and_other_stages_do_not_move_it():
    holes = painted()
    holes[TOP + 3, ::7] = np.nan
    assert edges(outlined(holes)[0]) == (TOP, BOTTOM, LEFT, RIGHT)
    assert edges(outlined(painted(), np.full((ROWS, COLUMNS), 0.2))[0]) == (TOP, BOTTOM, LEFT, RIGHT)


def test_a_fall_that_plastic_alone_makes_is_no_edge():
    """A rise that halves over ten cells loses less than a third in two of them."""
    row, column = np.indices((ROWS, COLUMNS))
    away = np.maximum(np.abs(row - 18), np.abs(column - 30) - 8)
    assert outlined(20.0 * 0.5 ** (away / 10.0))[1] == (False, False, False, False)
