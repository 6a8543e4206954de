"""The large marked frame: every pin is named beside the picture, no name lies on another, lattices are lattices."""

import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from told_sessions import analysis

from hotspot.poses import Pose
from hotspot.records import PinFinding
from hotspot.tell import large_frame, look, marked
from hotspot.tell.leaders import STEP, Box, Spot, leaders, room
from hotspot.tell.neighbours import joint, neighbours, spacing


def grid(rows: int, columns: int, pitch: float, tilt: float = 0.0) -> np.ndarray:
    """Corners of a lattice (n, 2) x, y, row by row, turned by `tilt` radians."""
    y, x = np.divmod(np.arange(rows * columns), columns)
    spots = np.column_stack([x, y]) * pitch
    turn = np.array([[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]])
    return spots @ turn.T


@pytest.mark.parametrize("tilt", [0.0, 0.07])
def test_the_neighbours_on_a_lattice_are_the_sides_of_its_cells(tilt):
    spots = grid(3, 8, 12.0, tilt)
    pairs = set(neighbours(*spots.T))
    # 3 rows of 7 sides, 2 x 8 between the rows
    assert pairs == {(k, k + 1) for k in range(24) if k % 8 < 7} | {(k, k + 8) for k in range(16)}
    assert spacing(*spots.T) == pytest.approx(12.0)


def test_one_of_a_triangle_and_one_alone_have_the_neighbours_they_should():
    # an equilateral triangle has three sides, a single pin none, two pins at one place no line
    assert len(neighbours(np.array([0.0, 2.0, 1.0]), np.array([0.0, 0.0, np.sqrt(3)]))) == 3
    assert neighbours(np.zeros(1), np.zeros(1)) == []
    assert neighbours(np.zeros(2), np.zeros(2)) == []
    assert spacing(np.zeros(1), np.zeros(1)) == np.inf


def test_a_joint_goes_from_rim_to_rim():
    np.testing.assert_allclose(joint((0, 0), (10, 0), (2, 3)), [[2, 0], [7, 0]])
    assert np.isnan(joint((0, 0), (4, 0), (2, 3))).all()


def _boxes(found, size):
    """Outline (left, right, bottom, top) of each name."""
    for one in found:
        lines = one.text.split("\n")
        wide, tall = max(look.width_of(line, size) for line in lines), STEP * size * len(lines) * 0.85
        left = one.at[0] - {"left": 0.0, "center": 0.5, "right": 1.0}[one.ha] * wide
        low = one.at[1] - {"bottom": 0.0, "center": 0.5, "top": 1.0}[one.va] * tall
        yield left, left + wide, low, low + tall


@settings(deadline=None, max_examples=40)
@given(
    st.integers(1, 4),
    st.integers(1, 10),
    st.floats(-0.08, 0.08),
    st.sampled_from(["{}", "X17.{} GND", "{} hot"]),
)
def test_names_never_lie_on_each_other_nor_on_the_picture(rows, columns, tilt, form):
    wide, size = 660.0, 9.5
    spots = grid(rows, columns, min(50.0, 560.0 / columns, 400.0 / rows), tilt)
    spots = spots - spots.min(axis=0) + [40.0, 60.0]
    spots[:, 1] = spots[:, 1].max() + 60.0 - spots[:, 1]
    box = Box(10.0, 650.0, 0.0, float(spots[:, 1].max()) + 60.0)
    radius = 0.3 * spacing(*spots.T) if len(spots) > 1 else 12.0
    every = [Spot(x, y, min(radius, 15.0), (form.format(k + 1), "45 °C")) for k, (x, y) in enumerate(spots)]
    found = leaders(every, box, wide, size)
    assert sorted(one.text.split("  ")[0].split("\n")[0] for one in found) == sorted(s.words[0] for s in every)
    for one, two in itertools.combinations(_boxes(found, size), 2):
        assert one[1] <= two[0] or two[1] <= one[0] or one[3] <= two[2] or two[3] <= one[2], (one, two)
    for left, right, low, high in _boxes(found, size):
        assert low >= box.top or high <= box.bottom or right <= box.left or left >= box.right
    above, below, _ = room(found, box, wide, size)
    assert above >= 0 <= below


@pytest.mark.parametrize(("rows", "columns"), [(1, 6), (3, 8), (2, 10)])
def test_no_leader_runs_through_the_circle_of_another_pin(rows, columns):
    spots = grid(rows, columns, 50.0) + [60.0, 60.0]
    box = Box(0.0, 660.0, 0.0, float(spots[:, 1].max()) + 60.0)
    every = [Spot(x, y, 14.0, (f"P{k}",)) for k, (x, y) in enumerate(spots)]
    for one in leaders(every, box, 660.0, 9.5):
        own = next(spot for spot in every if spot.words[0] == one.text)
        corners = np.array(one.path)
        steps = np.linspace(0, 1, 60)[:, None]
        walked = np.concatenate([a + (b - a) * steps for a, b in itertools.pairwise(corners)])
        for other in every:
            if other is not own:
                assert np.hypot(*(walked - [other.x, other.y]).T).min() > 14.0


def _told(names, rows, columns, pitch):
    told = analysis(names)
    spots = grid(rows, columns, pitch) + [18.0, 14.0]
    pins = tuple(
        PinFinding(name, "hot" if k == 1 else "normal", (), *map(float, spots[k]), 3.0, "given")
        for k, name in enumerate(names)
    )
    return dataclasses.replace(told, findings=dataclasses.replace(told.findings, pins=pins))


@pytest.mark.parametrize("form", [large_frame.WIDE, large_frame.NARROW], ids=["wide", "narrow"])
def test_every_pin_of_three_rows_is_named_uncut_and_inside_the_drawing(form):
    names = [f"X17.{k + 1:02d} GND" for k in range(24)]
    figure = large_frame.large_frame(_told(names, 3, 8, 12.0), form)
    texts = [text for text in figure.axes[0].texts if text.get_text()]
    assert len(texts) == 24
    assert all(any(name in text.get_text() for text in texts) for name in names)
    wide = 72 * form.width_in
    for text in texts:
        long = max(look.width_of(line, form.size, text.get_fontweight()) for line in text.get_text().split("\n"))
        left = text.get_position()[0] - {"left": 0.0, "center": 0.5, "right": 1.0}[text.get_ha()] * long
        assert left >= -1
        assert left + long <= wide + 1
        assert text.get_fontsize() >= 9


def test_the_large_frame_is_the_hottest_and_says_face_and_pin_1():
    told = analysis()
    assert large_frame.hottest(told).index == 60
    assert "Mating face seen; pin 1: lock left" in large_frame.caption(told)
    texts = [text.get_text() for text in large_frame.large_frame(told).axes[0].texts]
    last = told.readings[(told.readings["pin"] == "2") & (told.readings["frame"] == 60)]["temperature_c"].iloc[0]
    assert f"2 hot\n{last:.0f} °C" in texts
    in_fahrenheit = large_frame.large_frame(analysis(about={"units": "F"})).axes[0].texts
    assert f"2 hot\n{last * 1.8 + 32:.0f} °F" in [text.get_text() for text in in_fahrenheit]


def test_the_same_analysis_gives_the_same_large_frame_and_none_without_frames():
    one, two = (look.svg_text(large_frame.large_frame(analysis())) for _ in range(2))
    assert one == two
    told = dataclasses.replace(analysis(), snapshots=())
    assert large_frame.large_frame(told) is None
    assert large_frame.caption(told) == ""


def test_a_hundred_pins_keep_the_names_that_matter():
    names = [f"N{k}" for k in range(96)]
    told = _told(names, 8, 12, 5.0)
    texts = [text.get_text() for text in large_frame.large_frame(told).axes[0].texts]
    assert len(texts) == 3
    assert any("N1 hot" in text for text in texts)
    assert "Only pins that stand out" in large_frame.caption(told)


def test_small_frames_name_all_pins_or_none():
    few, many = _told([str(k) for k in range(6)], 2, 3, 24.0), _told([f"X17.{k} GND" for k in range(24)], 3, 8, 12.0)
    for told, named in ((few, True), (many, False)):
        pins = marked.placed(told.findings.pins)
        left, right, *_ = marked.view((60, 160), pins)
        assert (marked._name_size(pins, 72 * 4.4 / (right - left)) is not None) == named


def test_small_frames_tell_temperatures_under_all_circles_or_none():
    for pitch, told_at in ((24.0, True), (8.0, False)):
        told = _told([str(k) for k in range(6)], 2, 3, pitch)
        shot = told.snapshots[-1]
        values = marked._values(told, shot)
        own = told.readings[told.readings["frame"] == shot.index].set_index("pin")["temperature_c"]
        assert values == {name: f"{own[name]:.0f}°" for name in own.index}
        figure = marked._draw(told, shot, (20.0, 60.0))
        texts = [text.get_text() for text in figure.axes[0].texts]
        assert sorted(text for text in texts if text.endswith("°")) == (sorted(values.values()) if told_at else [])


def test_circles_follow_a_camera_that_moved():
    told = analysis()
    shot = dataclasses.replace(told.snapshots[-1], pose=Pose(a=2.0, right_px=7.0, down_px=-3.0))
    before, after = marked.placed(told.findings.pins), marked.seen_in(shot, told.findings.pins)
    for one, two in zip(before, after, strict=True):
        # twice as large, then shifted
        assert (two.x_px, two.y_px) == (2 * one.x_px + 7, 2 * one.y_px - 3)
        assert two.radius_px == 2 * one.radius_px
    assert marked.seen_in(told.snapshots[-1], told.findings.pins) == before
