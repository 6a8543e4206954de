"""The raster along the rows of pins: where its cells lie, what a cell's mean is, and when there is none."""

import numpy as np
import pytest
from made_frames import pins_at

from hotspot.extract.raster import MARGIN_PITCHES, laid_over

SHAPE = (120, 160)
ROW = pins_at((60, 50), (74, 50), (88, 50), (60, 64), (74, 64), (88, 64), radius=4.0)


def test_it_reaches_the_stated_margin_beyond_the_outer_pins_on_every_side():
    raster = laid_over(ROW, SHAPE)
    assert raster.cell_px == pytest.approx(2.0)  # seven cells from pin to pin
    reach = MARGIN_PITCHES * 14.0 / 2.0
    rows, columns = raster.shape
    assert raster.pin_column[[0, 2]] == pytest.approx([reach, reach + 14.0])
    assert raster.pin_row[[0, 3]] == pytest.approx([reach, reach + 7.0])
    assert columns - 1 == pytest.approx(2 * reach + 14.0, abs=1.0)
    assert rows - 1 == pytest.approx(2 * reach + 7.0, abs=1.0)
    assert raster.pin_radius == pytest.approx(np.full(6, 2.0))


def test_the_mean_of_a_cell_is_that_of_the_pixels_about_its_middle():
    raster = laid_over(ROW, SHAPE)
    across, down = raster.means(raster.columns.astype(float)), raster.means(raster.rows.astype(float))
    left, top = 60.0 - MARGIN_PITCHES * 14.0, 50.0 - MARGIN_PITCHES * 14.0
    row, column = np.indices(raster.shape)
    inner = np.s_[2:-2, 2:-2]
    assert across[inner] == pytest.approx((left + 2.0 * column)[inner], abs=0.51)
    assert down[inner] == pytest.approx((top + 2.0 * row)[inner], abs=0.51)
    assert np.isfinite(across[inner]).all()


def test_pixels_without_a_value_are_left_out_of_a_mean_and_empty_cells_stay_empty():
    raster = laid_over(ROW, SHAPE)
    values = np.full(raster.rows.size, 5.0)
    values[::3] = np.nan
    some = raster.means(values)
    assert set(some[np.isfinite(some)]) == {5.0}
    values[raster.cell == raster.cell[200]] = np.nan
    assert np.isnan(raster.means(values).ravel()[raster.cell[200]])


def test_no_pixel_is_asked_for_outside_the_picture():
    for places in (((5, 5), (19, 5)), ((150, 115), (136, 115))):
        raster = laid_over(pins_at(*places, radius=4.0), SHAPE)
        assert raster.rows.min() >= 0
        assert raster.rows.max() < SHAPE[0]
        assert raster.columns.min() >= 0
        assert raster.columns.max() < SHAPE[1]
        assert len(set(zip(raster.rows.tolist(), raster.columns.tolist(), strict=True))) == raster.rows.size


def test_a_cell_is_never_finer_than_a_pixel_nor_asks_every_pixel_of_a_large_picture():
    assert laid_over(pins_at((60, 50), (63, 50), radius=1.0), SHAPE).cell_px == 1.0
    wide = laid_over(pins_at((400, 400), (610, 400), radius=40.0), (800, 1000))
    assert wide.cell_px == pytest.approx(30.0)
    assert np.diff(np.unique(wide.rows)).min() == 10
    assert np.bincount(wide.cell).max() <= 16


def test_a_lone_pin_stands_for_a_pitch_of_four_radii():
    raster = laid_over(pins_at((80, 60), radius=7.0), SHAPE)
    assert raster.cell_px == pytest.approx(4.0)
    assert raster.pin_column == pytest.approx([MARGIN_PITCHES * 7.0])


def test_there_is_none_for_pins_that_are_nowhere():
    assert laid_over(pins_at((np.nan, 50), (60, 50)), SHAPE) is None
    assert laid_over(pins_at((5000, 5000), (5014, 5000)), SHAPE) is None


def test_rows_that_stand_upright_are_turned_by_no_more_than_an_eighth():
    upright = laid_over(pins_at((60, 30), (60, 44), (60, 58), radius=4.0), SHAPE)
    assert np.diff(upright.pin_row) == pytest.approx([7.0, 7.0])
    assert np.ptp(upright.pin_column) == pytest.approx(0.0, abs=1e-9)
