"""Names of the places of a grid."""

import pytest

from hotspot.errors import InputError
from hotspot.locate.numbering import order, places
from hotspot.session import Session


def grid(numbering):
    rows, columns = 2, 3
    table = [[0] * columns for _ in range(rows)]
    for number, (row, column) in enumerate(order(rows, columns, numbering), 1):
        table[row][column] = number
    return table


@pytest.mark.parametrize(
    ("numbering", "expected"),
    [
        ("row", [[1, 2, 3], [4, 5, 6]]),
        ("column", [[1, 3, 5], [2, 4, 6]]),
        ("snake", [[1, 2, 3], [6, 5, 4]]),
        ("row mirror", [[3, 2, 1], [6, 5, 4]]),
        ("column mirror", [[5, 3, 1], [6, 4, 2]]),
        ("snake mirror", [[3, 2, 1], [4, 5, 6]]),
    ],
)
def test_order(numbering, expected) -> None:
    assert grid(numbering) == expected


def named(pins=(), **connector):
    session = Session.model_validate({"connector": connector, "pin": [{"name": name} for name in pins]})
    return [place.name for place in places(session)]


def test_places_without_names_are_numbers_and_empty_ones_are_left_out() -> None:
    assert named(rows=2, columns=2) == ["1", "2", "3", "4"]
    assert named(rows=2, columns=2, empty=["3"]) == ["1", "2", "4"]


def test_pins_name_the_places_in_order() -> None:
    assert named(("A", "01", "NA"), rows=1, columns=3) == ["A", "01", "NA"]
    assert named(("A", "B", "C"), rows=2, columns=2, empty=["2"]) == ["A", "B", "C"]
    assert named(("A", "B", "C", "D"), rows=2, columns=2, empty=["B"]) == ["A", "C", "D"]


def test_pins_that_bear_numbers_only_add_to_those() -> None:
    assert named(("3",), rows=1, columns=4) == ["1", "2", "3", "4"]


@pytest.mark.parametrize("pins", [("A", "B"), ("1", "2", "3", "4", "5"), ("1", "x")])
def test_a_count_that_does_not_fit_is_refused(pins) -> None:
    with pytest.raises(InputError, match=r"connector\.rows: 1 x 4"):
        named(pins, rows=1, columns=4)
