"""Pictures without the connector, with two of them, and of faces that lean."""

import itertools

import cv2
import numpy as np
import pytest

from hotspot.synthetic.camera import CameraSpec
from hotspot.synthetic.scenes import FOUND_UNAIDED, draw_scene, on_face
from hotspot.synthetic.walls import beside_another, draw_wall

LEANING = CameraSpec(320, 240, 4.0, 12.0, centre_px=(150.0, 100.0), lean_deg=20.0, lean_way_deg=130.0, away_mm=80.0)


def test_a_leaning_plane_is_seen_through_a_homography() -> None:
    """Against cv2.findHomography; and the inverse, and the scale against the determinant of the derivative."""
    mm = np.random.default_rng(0).uniform(-20.0, 20.0, (50, 2))
    px = LEANING.to_px(mm)
    matrix, _ = cv2.findHomography(mm, px)
    assert np.abs(cv2.perspectiveTransform(mm[None], matrix)[0] - px).max() < 1e-4
    assert np.abs(LEANING.to_mm(px) - mm).max() < 1e-9
    step = 1e-4
    change = [
        (LEANING.to_px(mm + way) - LEANING.to_px(mm - way)) / (2 * step) for way in (np.array([step, 0]), [0, step])
    ]
    area = np.linalg.det(np.stack(change, axis=2))
    np.testing.assert_allclose(LEANING.scale_at(mm), np.sqrt(area), rtol=1e-6)


def test_a_plane_that_does_not_lean_is_only_turned_and_scaled() -> None:
    flat = CameraSpec(320, 240, 4.0, 90.0, centre_px=(150.0, 100.0), away_mm=80.0)
    np.testing.assert_allclose(flat.to_px(np.array([[1.0, 2.0]])), [[150.0 - 8.0, 100.0 + 4.0]], atol=1e-9)
    assert flat.scale_at(np.array([[3.0, 9.0]])) == pytest.approx(4.0)


def test_leaning_scenes_bend_the_grid_by_more_than_a_tenth_of_a_radius() -> None:
    """What no shift, turn, stretch or skew takes away (least squares), in the pins' radii."""
    left = []
    for seed in range(9010, 9014):
        scene = draw_scene(seed, (3, 4), most_lean_deg=30.0)
        footage, spec = scene.footage, scene.case.spec
        assert ((footage.x_px > 0) & (footage.x_px < 319) & (footage.y_px > 0) & (footage.y_px < 239)).all()
        basis = np.column_stack([spec.pin_centres_mm, np.ones(spec.pins)])
        points = np.column_stack([footage.x_px, footage.y_px])
        fitted = basis @ np.linalg.lstsq(basis, points, rcond=None)[0]
        left.append(np.hypot(*(points - fitted).T).max() / footage.radius_px.mean())
    assert max(left) > 0.3
    assert np.median(left) > 0.1


def test_walls_hold_warm_things_with_straight_edges_and_no_two_are_alike() -> None:
    walls = [draw_wall(seed) for seed in range(9000, 9006)]
    assert all(wall.shape == (24, 240, 320) and np.isfinite(wall).all() for wall in walls)
    grown = [float(np.percentile(wall[-1] - np.median(wall[-1]), 99)) for wall in walls]
    assert max(grown) > 8.0
    assert min(grown) < 4.0
    np.testing.assert_array_equal(walls[0], draw_wall(9000))


def test_a_second_connector_leaves_the_first_as_it_was() -> None:
    for alike in (True, False):
        made = ((seed, beside_another(seed, alike)) for seed in range(9000, 9008))
        there = list(itertools.islice(((seed, scene) for seed, scene in made if scene is not None), 3))
        assert len(there) == 3
        for seed, scene in there:
            spec = scene.case.spec
            plain = draw_scene(seed).footage.celsius
            face = on_face(scene.footage.camera, spec) < 0
            np.testing.assert_array_equal(scene.footage.celsius[:, face], plain[:, face])
            assert (np.abs(scene.footage.celsius - plain)[0] > 0.5).mean() > 0.003
            assert (spec.rows, spec.columns) in FOUND_UNAIDED
