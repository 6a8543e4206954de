"""The outline about the pins: edges that were found, moved with the camera, or half a pitch beyond the outer pins."""

import dataclasses

import numpy as np
import pytest
from told_sessions import analysis

from hotspot.poses import Pose
from hotspot.tell import marked
from hotspot.tell.outline import beyond, outline_in

EDGES = np.array([[10.0, 8.0], [150.0, 8.0], [150.0, 52.0], [10.0, 52.0]])


def test_half_a_pitch_beyond_a_square_of_four():
    # area of a square grown by r: s^2 + 4 s r + pi r^2 (Steiner's formula for convex bodies); 24-gon for the circle
    circles = [(x, y, 2.0) for x in (0.0, 20.0) for y in (0.0, 20.0)]
    x, y = beyond(circles).T
    area = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    assert area == pytest.approx(20.0**2 + 4 * 20.0 * 10.0 + np.pi * 10.0**2, rel=0.01)
    assert (x.min(), x.max(), y.min(), y.max()) == pytest.approx((-10.0, 30.0, -10.0, 30.0))


def test_pins_that_touch_and_one_alone_still_lie_inside():
    for circles in ([(5.0, 5.0, 4.0)], [(0.0, 0.0, 4.0), (6.0, 0.0, 4.0)], [(0.0, 0.0, 4.0), (0.0, 0.0, 4.0)]):
        line = beyond(circles)
        for x, y, radius in circles:
            assert np.hypot(line[:, 0] - x, line[:, 1] - y).min() > radius


def test_edges_that_were_found_move_with_the_camera():
    told = analysis()
    told = dataclasses.replace(told, pin_map=dataclasses.replace(told.pin_map, outline_px=EDGES))
    still = told.snapshots[-1]
    pose = Pose(a=np.cos(0.1), b=np.sin(0.1), right_px=4.0, down_px=-3.0)
    moved = dataclasses.replace(still, pose=pose)
    for shot in (still, moved):
        outline = outline_in(told, shot, marked.seen_in(shot, told.findings.pins))
        assert outline.seen
        for (x, y), drawn in zip(EDGES, outline.corners, strict=True):
            row, column = (shot.pose or Pose()).at(y, x)
            assert tuple(drawn) == pytest.approx((column, row))
    assert "edges of the face" in marked.words_under(told)


def test_without_edges_the_line_is_broken_and_without_pins_there_is_none():
    told = analysis()
    assert not outline_in(told, told.snapshots[-1], marked.seen_in(told.snapshots[-1], told.findings.pins)).seen
    assert "broken outline" in marked.words_under(told)
    assert outline_in(told, told.snapshots[-1], []) is None
    assert "outline" not in marked.words_under(analysis([]))
