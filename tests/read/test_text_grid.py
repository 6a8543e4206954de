"""Frames whose numbers are still text: the cells that are asked for are those of the whole frame."""

import io

import numpy as np
import pandas as pd
import pytest

from hotspot.read import csv_grid
from hotspot.read.carrier import Broken, Options
from hotspot.read.text_grid import TextGrid, width_of


def decoded(text: str, size: tuple[int, int] | None = None, number: int = 0):
    return next(csv_grid.decode(io.BytesIO(text.encode()), [number], Options("a.csv", size)))[1]


def test_cells_asked_for_are_those_of_the_whole_frame():
    celsius = np.random.default_rng(5).normal(40.0, 20.0, (24, 32)).round(3)
    frame = decoded("\n".join(";".join(f"{v:.3f}".replace(".", ",") for v in row) for row in celsius))
    rows, columns = np.array([[3, 0, 23], [3, 7, 3]]), np.array([[4, 0, 31], [1, 2, 4]])
    assert frame.shape == (24, 32)
    np.testing.assert_array_equal(frame[rows, columns], celsius[rows, columns])
    np.testing.assert_array_equal(np.asarray(frame), celsius)
    assert frame[np.zeros(0, int), np.zeros(0, int)].shape == (0,)


def test_a_frame_in_text_is_what_pandas_reads():
    """pandas 3, read_csv with decimal comma: the same numbers, and no number where it finds none."""
    lines = ["21,5;22;-3,25", "inf;;1e2", "-inf;nan;7"]
    frame = decoded("\n".join(["bench frame", *lines]))
    other = pd.read_csv(io.StringIO("\n".join(lines)), sep=";", decimal=",", header=None).to_numpy(float)
    other[~np.isfinite(other)] = np.nan
    np.testing.assert_array_equal(np.asarray(frame), other)
    np.testing.assert_array_equal(frame[np.array([0, 1, 1, 2]), np.array([2, 0, 1, 2])], [-3.25, np.nan, np.nan, 7.0])


def test_a_frame_in_one_line_is_cut_into_rows():
    text = "time_s,p0,p1,p2,p3,p4,p5\n0.5,21,22,23,24,25,26\n1.5,7,8,OL,10,11,12\n"
    frame = decoded(text, (3, 2), 1)
    np.testing.assert_array_equal(np.asarray(frame), [[7.0, 8.0, np.nan], [10.0, 11.0, 12.0]])
    assert frame[np.array([1]), np.array([2])] == [12.0]


@pytest.mark.parametrize(
    ("line", "separator", "width"),
    [
        ("1;2;3", ";", 3),
        ("1;2;3;", ";", 3),
        ("1;2;3; \n", ";", 3),
        ("1;2;3;4", ";", 4),
        ("1;2", ";", 2),
        ("1  2 3\n", " ", 3),
        ('"1,5","2",3', ",", 3),
        ('"1,5","2",3,', ",", 3),
    ],
)
def test_cells_are_counted_without_reading_them(line, separator, width):
    assert width_of(line, separator, 3) == width


def test_a_short_row_breaks_the_frame():
    broken = decoded("1,4,3\n4,5,6\n7,8\n1,4,3\n")
    assert isinstance(broken, Broken)
    assert broken.why == "row 3 holds 2 numbers, the first one 3"


def test_outside_the_frame_is_refused():
    frame = TextGrid(lambda row: [["1", "2"], ["3", "4"]][row], (2, 2))
    for rows, columns in (([2], [0]), ([0], [2])):
        with pytest.raises(IndexError):
            frame[np.array(rows), np.array(columns)]
    with pytest.raises(ValueError, match="new array"):
        np.asarray(frame, copy=False)
