"""Ends of the scale in compressed pictures: what is past them, what compression put there, what is only in doubt."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from hotspot.read.colour_ends import deciding, held_up

_SCRIPTS = Path(__file__).parents[1] / "benchmarks"
sys.path.insert(0, str(_SCRIPTS))
_SPEC = importlib.util.spec_from_file_location("bars_and_clips_for_ends", _SCRIPTS / "bars_and_clips.py")
script = importlib.util.module_from_spec(_SPEC)
sys.modules[_SPEC.name] = script
_SPEC.loader.exec_module(script)
sys.path.remove(str(_SCRIPTS))

STEEP, FLAT = 5.6, 1.8  # levels of luma over the last 1.5 % of the scale, of inferno and of hot
SEED = 7_301  # not among those that anything was settled on


def surface(level: float, size: int = 15) -> np.ndarray:
    """How far from the end a disc of 11 px lies that is this far from it, on ground that is half the scale away."""
    down, across = np.indices((size, size)) - size // 2
    return np.where(np.hypot(down, across) <= 5, level, 0.5)


def test_few_of_many_nearly_as_warm_are_noise() -> None:
    from_end = surface(0.03)
    from_end[6:8, 7] = 0.0
    from_end[9, 8:10] = 0.0
    assert not held_up(from_end, STEEP).any()


def test_a_few_that_stand_alone_are_past_the_end() -> None:
    from_end = surface(0.25)
    from_end[7, 6:9] = 0.0
    at = held_up(from_end, STEEP)
    assert at[7, 6:9].all()
    assert at.sum() == 3


def test_most_of_a_surface_is_past_the_end() -> None:
    from_end = surface(0.0)
    from_end[7, 3:9] = 0.04
    np.testing.assert_array_equal(held_up(from_end, STEEP), from_end == 0.0)


def test_towards_a_flat_end_half_of_a_surface_may_be_noise() -> None:
    """Every other pixel is at the end, the rest 4 % below: noise in hot, too many for it in inferno."""
    down, across = np.indices((15, 15))
    from_end = np.where((surface(0.04) < 0.1) & ((down + across) % 2 == 0), 0.0, surface(0.04))
    assert held_up(from_end, STEEP).any()
    assert not held_up(from_end, FLAT).any()
    assert held_up(surface(0.0), FLAT).sum() > 0.9 * (surface(0.0) == 0.0).sum()  # all but where the rim is near


def test_a_pixel_by_itself_is_a_slip() -> None:
    from_end = surface(0.25)
    from_end[5, 5] = from_end[9, 9] = 0.0
    assert not held_up(from_end, STEEP).any()


def test_what_is_not_known_counts_for_nothing() -> None:
    from_end = surface(0.25)
    from_end[7, 6:9] = 0.0
    from_end[4:7] = from_end[8:11] = np.nan
    assert held_up(from_end, STEEP).sum() == 3


@pytest.mark.parametrize(("row", "column"), [(0, 0), (9, 19), (5, 10)])
def test_what_decides_on_a_pixel_is_a_disc_about_it_inside_the_picture(row: int, column: int) -> None:
    (top, left), near = deciding(np.array([row]), np.array([column]), (10, 20))
    rows, columns = np.indices((10, 20))
    wanted = np.hypot(rows - row, columns - column) <= 4.3
    assert {(top + r, left + c) for r, c in np.argwhere(near)} == {tuple(each) for each in np.argwhere(wanted)}


@pytest.mark.parametrize("carrier", ["png", "q95", "q75"])
@pytest.mark.parametrize("name", ["inferno", "gray", "jet"])
def test_pins_past_the_top_are_marked_lower_ones_are_not_and_no_strand_is_silent(name: str, carrier: str) -> None:
    told = script.Told()
    told.add(name, carrier, SEED)
    for kind, past, marked, doubted in zip(told.kind, told.past, told.marked, told.doubted, strict=True):
        if kind == "past" and past:
            assert marked or doubted
        elif kind in ("below", "lower"):
            assert not marked
        if kind == "strand" and past:
            assert marked or doubted
    whole = [marked for kind, marked, past in zip(told.kind, told.marked, told.past, strict=True) if kind == "past"]
    assert sum(whole) >= 2
    assert "found" in told.row()


def test_asking_for_a_pin_marks_what_the_whole_frame_marks() -> None:
    seen, _ = script.pins_about_the_top(SEED)
    pixels = script.pixels_of(
        script.carried(script.drawn(np.clip(seen.field, 0, 1), "plasma"), "q75"), "plasma", exact=False
    )
    rows, columns = np.indices(seen.field.shape)
    whole = pixels.at(rows.ravel(), columns.ravel())[1].reshape(rows.shape)
    for x, y, radius in seen.pins:
        face = np.hypot(columns - x, rows - y) <= radius
        np.testing.assert_array_equal(pixels.at(rows[face], columns[face])[1], whole[face])
