"""What makes a grid sure or not: other layouts, another connector in view, perspective, places without a pin."""

import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made_housing import CELLS, frames_of, housing

from hotspot.errors import PinsNotFound
from hotspot.locate import place
from hotspot.locate.certainty import WEIGHTS, _in_its_face, confidence_of, terms, weighed
from hotspot.locate.faces import faces
from hotspot.locate.finding import LEAST_CONFIDENCE
from hotspot.locate.fitting import fit, nearest, polished
from hotspot.locate.lattice import Lattice, propose
from hotspot.locate.rivals import rivals, with_more
from hotspot.locate.sheets import Sheets, tried_radii
from hotspot.locate.views import sharper_than_a_lens, views
from hotspot.locate.weighing import weigh
from hotspot.session import Session
from hotspot.synthetic.camera import CameraSpec, film
from hotspot.synthetic.connector import ConnectorSpec, Load, LoadStage, simulate


def every(rows, columns):
    return np.array([(row, column) for row in range(rows) for column in range(columns)])


def found_in(frames, rows, columns, **more):
    return place(Session.model_validate({"connector": {"rows": rows, "columns": columns, **more}}), frames)


def looked(frames, layout):
    sheets = Sheets(views(frames))
    found = faces((sheets.right, sheets.down), *layout)
    cells = every(*layout)
    best = weighed(propose(sheets, found, layout, cells), sheets, cells, found)[0]
    return best, rivals(best, sheets, (layout, cells), found)


def test_no_other_layout_is_worth_as_much_as_the_right_one() -> None:
    best, others = looked(housing()[0], (2, 4))
    assert {one.layout for one in others} <= {(2, 2), (2, 3), (2, 5), (2, 6), (1, 4), (3, 4)}
    assert max(one.best.worth for one in others) < best.worth - 0.1
    assert confidence_of(best, others) > 0.9


def test_the_right_layout_is_worth_more_than_the_one_that_was_asked_for() -> None:
    best, others = looked(housing()[0], (2, 3))
    assert max(others, key=lambda one: one.best.worth).layout == (2, 4)
    assert confidence_of(best, others) < LEAST_CONFIDENCE
    with pytest.raises(PinsNotFound, match="2 x 4 would fit better"):
        found_in(housing()[0], 2, 3)


def test_a_rival_with_more_places_must_be_worth_more_and_show_more() -> None:
    best, others = looked(housing()[0], (2, 4))
    assert with_more(best, others) is None
    fewer, of_fewer = looked(housing()[0], (2, 3))
    assert with_more(fewer, of_fewer).layout == (2, 4)
    more = with_more(fewer, of_fewer).best.shown
    assert with_more(replace(fewer, shown=more / 1.2), of_fewer) is not None
    assert with_more(replace(fewer, shown=more / 1.1), of_fewer) is None
    assert with_more(replace(fewer, plain=9.0), of_fewer) is None


def test_a_grid_belongs_to_the_clearer_face_that_has_it_in_its_middle() -> None:
    """A part of the face, half a unit less clear, proposed it; the face itself is known too."""
    sheets = Sheets(views(housing()[0]))
    whole = faces((sheets.right, sheets.down), 2, 4)[0]
    grid = fit(propose(sheets, [whole], (2, 4), CELLS)[0], sheets.seen, CELLS)
    part = replace(whole, y=whole.y + 2.0, height=whole.height - 4.0, clear=whole.clear - 0.5)
    first = weigh(replace(grid, face=part), sheets, CELLS, [whole, part])
    moved = _in_its_face(first, sheets, CELLS, [whole, part])
    assert moved.grid.face == whole
    assert moved.off < first.off
    unclear = replace(whole, clear=part.clear)
    assert _in_its_face(first, sheets, CELLS, [unclear, part]) is first


def test_every_weight_speaks_in_the_sense_of_its_term() -> None:
    best, others = looked(housing()[0], (2, 4))
    assert set(terms(best, others)) == set(WEIGHTS)
    assert {name for name, weight in WEIGHTS.items() if weight > 0} == {"rim", "score", "lead"}


def test_rows_and_columns_exchanged_are_told() -> None:
    with pytest.raises(PinsNotFound, match="2 x 4 fits: rows and columns seem exchanged"):
        found_in(housing()[0], 4, 2)


def test_of_two_alike_neither_is_taken() -> None:
    one, two = housing(seed=1)[0], housing(-9.0, seed=2)[0]
    both = [np.vstack([a.celsius(), b.celsius()]) for a, b in zip(one, two, strict=True)]
    found_in(frames_of([np.vstack([a.celsius(), np.full_like(a.celsius(), 20.0)]) for a in one]), 2, 4)
    with pytest.raises(PinsNotFound, match="two things were seen that it could be"):
        found_in(frames_of(both), 2, 4)


def test_one_pin_alone_is_not_looked_for() -> None:
    with pytest.raises(PinsNotFound, match="one pin alone is not looked for"):
        found_in(housing()[0], 1, 1)


def test_where_nothing_stands_out_that_is_the_reason() -> None:
    noise = np.random.default_rng(0).normal(21.0, 0.05, (6, 100, 120))
    with pytest.raises(PinsNotFound, match="nothing with four straight edges was seen"):
        found_in(frames_of(noise), 2, 4)


def test_an_empty_column_at_the_side_leaves_the_grid_where_it_is() -> None:
    """The middle of the face is that of all places, not of those with a pin."""
    frames, truth = housing(hidden=(3, 7))
    found = found_in(frames, 2, 4, empty=["4", "8"])
    kept = [0, 1, 2, 4, 5, 6]
    assert found.names == ("1", "2", "3", "5", "6", "7")
    assert np.hypot(found.x_px - truth[kept, 0], found.y_px - truth[kept, 1]).max() < 0.3


def test_a_grid_that_leans_is_a_homography_of_its_cells() -> None:
    """Against cv2.findHomography; the radius against the determinant of the derivative."""
    face = faces((sheets := Sheets(views(housing()[0]))) and (sheets.right, sheets.down), 2, 4)[0]
    grid = Lattice(
        np.array([40.0, 50.0]), np.array([11.0, 1.0]), np.array([-1.5, 12.0]), 3.0, 0.0, face, (0.5, 1.5),
        lean=(0.06, -0.04),
    )  # fmt: skip
    cells = np.random.default_rng(1).uniform(0.0, 3.0, (30, 2))
    points = np.column_stack(grid.at(cells))
    matrix, _ = cv2.findHomography(cells, points)
    assert np.abs(cv2.perspectiveTransform(cells[None], matrix)[0] - points).max() < 1e-4
    step = 1e-5
    change = [
        (np.column_stack(grid.at(cells + way)) - np.column_stack(grid.at(cells - way))) / (2 * step)
        for way in (np.array([step, 0.0]), np.array([0.0, step]))
    ]
    flat = abs(np.linalg.det(np.column_stack([grid.across, grid.along])))
    area = np.abs(np.linalg.det(np.stack(change, axis=2))) / flat
    np.testing.assert_allclose(grid.radii_at(cells), 3.0 * np.sqrt(area), rtol=1e-5)


def test_perspective_is_fitted_where_it_shows() -> None:
    """A 1 x 6 whose far end is 13 % farther away than its middle: equal steps are off by a pixel, the fit is not."""
    spec = ConnectorSpec(1, 6, (2e-3,) * 6, (1.5,) * 6)
    solution = simulate(spec, Load((LoadStage("full", 900.0, (9.0,) * 6),), 21.0), dt=20.0)
    camera = CameraSpec(
        320, 240, 5.0, 4.0, noise_k=0.05, pin_emissivity=(0.84,) * 6, lean_deg=30.0, away_mm=2.2 * spec.shape[1]
    )
    footage = film(solution, camera, 180.0, seed=5)
    frames = frames_of(list(footage.celsius.astype(float)))
    truth = np.column_stack([footage.x_px, footage.y_px])
    best, _ = looked(frames, (1, 6))
    cells = every(1, 6)
    off = np.hypot(*(np.column_stack(best.grid.at(cells)) - truth).T)
    assert best.grid.lean[1] > 0.01
    assert off.max() < 0.3
    np.testing.assert_allclose(best.grid.radii_at(cells), footage.radius_px, rtol=0.12)
    sheets = Sheets(views(frames))
    found = faces((sheets.right, sheets.down), 1, 6)
    start = propose(sheets, found, (1, 6), cells)[0]
    even = nearest(start, sheets.seen, cells)
    assert np.hypot(*(np.column_stack(even.at(cells)) - truth).T).max() > 2.0 * off.max()
    again = polished(even, sheets.seen, cells)
    assert np.hypot(*(np.column_stack(again.at(cells)) - truth).T).max() < 0.3
    found = found_in(frames, 1, 6)
    assert np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1]).max() < 0.3
    assert found.radius_px[0] > found.radius_px[-1] * 1.05


def test_a_flat_grid_is_not_made_to_lean() -> None:
    frames, _ = housing()
    sheets = Sheets(views(frames))
    found = faces((sheets.right, sheets.down), 2, 4)
    flat = fit(propose(sheets, found, (2, 4), CELLS)[0], sheets.seen, CELLS)
    assert flat.lean == polished(flat, sheets.seen, CELLS).lean == (0.0, 0.0)


def test_radii_that_are_tried_are_always_of_one_series() -> None:
    wide, narrow = tried_radii(0.5, 30.0), tried_radii(2.9, 4.4)
    assert set(narrow) <= set(wide)
    assert wide[0] == pytest.approx(1.2)
    assert len(tried_radii(3.0, 3.01)) == 1
    assert tried_radii(4.0, 3.0) == []


def hard(turn_deg=5.0):
    """A housing with 2 x 4 pins drawn without any blur, each pixel one thing or another."""
    rows, columns = np.indices((120, 160), dtype=float)
    angle = np.deg2rad(turn_deg)
    x, y = columns - 80.0, rows - 60.0
    right, down = x * np.cos(angle) + y * np.sin(angle), -x * np.sin(angle) + y * np.cos(angle)
    on = (np.abs(right) < 34) & (np.abs(down) < 20)
    middles = np.array([((c - 1.5) * 15.0, (r - 0.5) * 18.0) for r, c in CELLS])
    pins = sum((np.hypot(right - a, down - b) < 4.0) for a, b in middles)
    pictures = [20.0 + share * (12.0 * on - 3.0 * pins) for share in np.linspace(0.2, 1.0, 6)]
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return frames_of(pictures), middles @ turn.T + [80.0, 60.0]


def test_edges_without_blur_are_told_from_those_of_a_lens_and_their_pins_found() -> None:
    frames, truth = hard()
    assert sharper_than_a_lens(views(frames))
    assert not sharper_than_a_lens(views(housing()[0]))
    assert not sharper_than_a_lens(views(frames, (), 0.7))
    found = found_in(frames, 2, 4)
    assert np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1]).max() < 0.5
