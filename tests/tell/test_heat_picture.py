"""The heat-per-pin chart: pins at their places, area for heat, a mark for what has no value, readable in grey."""

import dataclasses
import io
import math

import numpy as np
import pytest
from matplotlib.patches import Circle
from PIL import Image
from told_sessions import analysis

from hotspot.tell import heat_picture, look


def _circles(figure, filled):
    return [p for p in figure.axes[0].patches if isinstance(p, Circle) and bool(p.get_fill()) is filled]


def _words(figure):
    return [text.get_text() for text in figure.axes[0].texts]


def test_a_disc_has_the_heat_ratio_as_its_area_and_the_ring_is_one():
    figure = heat_picture.heat_picture(analysis())
    discs, rings = _circles(figure, True), _circles(figure, False)
    assert len(discs) == 5
    ring = rings[0].radius
    areas = [(disc.radius / ring) ** 2 for disc in discs]
    assert areas == pytest.approx([1.0, 2.9, 1.0, 1.0, 1.0])
    # the sixth pin was not judged: a dotted ring of the same size
    assert rings[-1].radius == ring
    assert rings[-1].get_linestyle() != "solid"
    assert "not judged" in _words(figure)
    assert "2 hot" in _words(figure)
    assert "3 watch" in _words(figure)


def test_pins_lie_as_in_the_picture():
    told = analysis()
    figure = heat_picture.heat_picture(told)
    middles = np.array([disc.center for disc in _circles(figure, True)])
    pins = np.array([(pin.x_px, -pin.y_px) for pin in told.findings.pins[:5]])
    told_face = " ".join(" ".join(_words(figure)).split())
    assert told_face.endswith("Pins lie as the camera sees them. Mating face seen; pin 1: lock left.")
    # a similarity: every distance grows by the same factor
    between = [np.hypot(*(a[1:] - a[0]).T) for a in (middles, pins)]
    assert np.ptp(between[0] / between[1]) < 1e-6
    assert (np.sign(np.diff(middles, axis=0)) == np.sign(np.diff(pins, axis=0))).all()


@pytest.mark.parametrize("count", [1, 2, 12, 40, 200])
def test_no_two_cells_touch_and_all_lie_within(count):
    told = analysis([f"A{i}" for i in range(count)])
    figure = heat_picture.heat_picture(told)
    if count == 1:
        # the only pin has no peers
        assert figure is None
        return
    width, height = 72 * figure.get_size_inches()
    rings = _circles(figure, True) + _circles(figure, False)
    middles = np.array(sorted({tuple(np.round(ring.center, 3)) for ring in rings}))
    assert len(middles) == count
    apart = np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1))
    widest = max(ring.radius for ring in rings)
    assert apart[~np.eye(count, dtype=bool)].min() >= 2 * widest
    assert (middles > widest).all()
    assert (middles < np.array([width, height]) - widest).all()
    assert {"A0", "A1 hot"} <= set(_words(figure)) or {"A0", "A1"} <= set(_words(figure))


def test_intervals_lie_on_one_log_scale_with_a_tick_at_one():
    figure = heat_picture.heat_picture(analysis())
    thick = [line for line in figure.axes[0].lines if line.get_linewidth() == 2.4]
    ticks = [line for line in figure.axes[0].lines if line.get_linewidth() == 0.9]
    assert len(thick) == len(ticks) == 5
    low, high = thick[0].get_xdata()
    share = (ticks[0].get_xdata()[0] - low) / (high - low)
    # interval 0.8 to 4.4
    assert share == pytest.approx(math.log(1 / 0.8) / math.log(4.4 / 0.8))


def test_far_more_heat_than_fits_ends_in_an_arrow():
    told = analysis()
    table = told.findings.pin_table
    table.loc[table["pin"] == "2", ["heat_ratio", "heat_ratio_low", "heat_ratio_high"]] = (40.0, 20.0, 80.0)
    figure = heat_picture.heat_picture(told)
    assert any(line.get_marker() == ">" for line in figure.axes[0].lines)
    assert "40" in _words(figure)
    assert any("stop at 16" in text for text in _words(figure))


def test_the_hot_pin_stands_out_in_grey():
    png = look.png_bytes(heat_picture.heat_picture(analysis()))
    grey = np.asarray(Image.open(io.BytesIO(png)).convert("L")).astype(float)
    rows, columns = grey.shape
    # dark pixels in the left, middle and right third of the upper row of pins: the hot one is in the middle
    dark = [(part < 130).sum() for part in np.array_split(grey[: rows // 2], 3, axis=1)]
    assert dark[1] > 1.5 * max(dark[0], dark[2])


def test_pins_without_a_place_stand_in_order_and_it_is_said():
    told = analysis()
    pins = tuple(dataclasses.replace(pin, x_px=None, y_px=None) for pin in told.findings.pins)
    told = dataclasses.replace(told, findings=dataclasses.replace(told.findings, pins=pins))
    figure = heat_picture.heat_picture(told)
    middles = np.array([disc.center for disc in _circles(figure, True)])
    assert (np.diff(middles[:3, 0]) > 0).all()
    assert middles[3, 1] < middles[0, 1]
    assert "not known to the program" in " ".join(_words(figure))


def test_without_any_ratio_there_is_no_chart_and_the_words_say_so():
    told = analysis()
    bare = told.findings.pin_table.assign(heat_ratio=None)
    told = dataclasses.replace(told, findings=dataclasses.replace(told.findings, pin_table=bare))
    assert heat_picture.heat_picture(told) is None
    assert heat_picture.heat_html(told) == ""
    assert "not worked out" in heat_picture.caption(told)


def test_the_words_name_the_strongest_first_and_what_has_no_value():
    text = heat_picture.caption(analysis())
    assert text.startswith("Pin 2 makes 2.9 (0.80 to 4.4) times the heat")
    assert text.endswith("No value for pin 6.")
