"""Grids that rest on one place, faces that are part of larger ones, a second face alike: told and refused."""

import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made_housing import CELLS, SHAPE, frames_of, housing

from hotspot.errors import PinsNotFound
from hotspot.locate import finding, held_out, place
from hotspot.locate.certainty import weighed
from hotspot.locate.faces import Face, faces
from hotspot.locate.finding import MOST_SPREAD
from hotspot.locate.fitting import again, shows
from hotspot.locate.held_out import spread, steadiest
from hotspot.locate.lattice import propose
from hotspot.locate.sheets import Sheets
from hotspot.locate.views import views
from hotspot.session import Session
from hotspot.synthetic.scenes import draw_scene


def found_in(frames, rows, columns):
    return place(Session.model_validate({"connector": {"rows": rows, "columns": columns}}), frames)


def fitted(frames):
    sheets = Sheets(views(frames))
    found = faces((sheets.right, sheets.down), 2, 4)
    return weighed(propose(sheets, found, (2, 4), CELLS), sheets, CELLS, found)[0].grid, sheets.seen


def pulled(frames, truth, off):
    """Frames with a warm round spot beside the second pin, `off` px along the row: heat, not a pin."""
    rows, columns = np.indices(SHAPE, dtype=float)
    along = (truth[1] - truth[0]) / np.hypot(*(truth[1] - truth[0]))
    x, y = truth[1] + off * along
    spot = 1.0 / (1.0 + np.exp((np.hypot(columns - x, rows - y) - 3.0) / 0.5))
    return frames_of([f.celsius() + 4.0 * k / 5 * spot for k, f in enumerate(frames)])


def test_places_that_all_show_bear_each_other_out() -> None:
    """Against the truth: what leaving one out moves is of the size of what the grid is off, a fraction of a pixel."""
    frames, truth = housing()
    grid, seen = fitted(frames)
    x, y = grid.at(CELLS)
    assert np.hypot(x - truth[:, 0], y - truth[:, 1]).max() < 0.3
    assert spread(grid, seen, CELLS) * grid.pitch_px < 0.3


def test_a_grid_that_one_hot_spot_pulls_does_not_stand_without_it() -> None:
    """Seven pins hardly show, and a spot of heat lies 4 px beside the eighth: a grid drawn there rests on it."""
    frames, truth = housing(pin_k=0.0)
    seen = views(pulled(frames, truth, 4.0))
    right, _ = fitted(housing()[0])
    grid = again(right, seen, CELLS)
    assert np.argmax(shows(grid, seen, CELLS)) == 1
    assert spread(grid, seen, CELLS) > MOST_SPREAD


@pytest.mark.parametrize(
    ("moves", "expected"), [((0.09,), ("once", 0.09)), ((0.3, 0.1), ("twice", 0.1)), ((0.3, 0.4), ("once", 0.3))]
)
def test_a_grid_that_is_not_steady_is_fitted_once_more_and_the_steadier_one_kept(monkeypatch, moves, expected) -> None:
    left = list(moves)
    monkeypatch.setattr(held_out, "fit", lambda *_: "twice")
    monkeypatch.setattr(held_out, "polished", lambda grid, *_: grid)
    monkeypatch.setattr(held_out, "spread", lambda *_: left.pop(0))
    assert steadiest("once", None, CELLS) == expected
    assert left == []


def test_a_grid_whose_places_lie_elsewhere_without_one_of_them_is_refused(monkeypatch) -> None:
    monkeypatch.setattr("hotspot.locate.held_out.spread", lambda *_: MOST_SPREAD + 0.01)
    with pytest.raises(PinsNotFound, match="with one of them left out the others would lie elsewhere"):
        found_in(housing()[0], 2, 4)


def test_a_second_face_alike_is_enough_for_a_refusal_though_its_pins_do_not_show() -> None:
    one, two = housing(seed=1)[0], housing(-9.0, seed=2, pin_k=0.0)[0]
    both = [np.vstack([a.celsius(), b.celsius()]) for a, b in zip(one, two, strict=True)]
    with pytest.raises(PinsNotFound, match="two things were seen that it could be"):
        found_in(frames_of(both), 2, 4)


def test_a_second_face_of_another_shape_is_none() -> None:
    """A plain square of the same width beside it: no 2 x 4 has such a face."""
    frames, truth = housing(seed=1)
    rows, columns = np.indices(SHAPE, dtype=float)
    square = (np.abs(columns - 80) < 25) & (np.abs(rows - 60) < 25)
    below = [20.0 + 10.0 * k / 5 * square + np.random.default_rng(k).normal(0, 0.05, SHAPE) for k in range(len(frames))]
    both = frames_of([np.vstack([a.celsius(), b]) for a, b in zip(frames, below, strict=True)])
    found = found_in(both, 2, 4)
    assert np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1]).max() < 0.5


def test_a_face_that_is_part_of_a_larger_one_is_refused() -> None:
    """A seam that is as clear as the outline cuts three of four columns off; three were stated."""
    frames, truth = housing(0.0, pin_k=2.0)
    rows, columns = np.indices(SHAPE, dtype=float)
    seam = truth[2:4, 0].mean()
    beyond = (columns > seam) & (columns < truth[3, 0] + 9.0) & (np.abs(rows - truth[[0, 4], 1].mean()) < 14.5)
    hotter = frames_of([f.celsius() + 8.0 * k / 5 * beyond for k, f in enumerate(frames)])
    with pytest.raises(PinsNotFound, match="part of a larger one"):
        found_in(hotter, 2, 3)


def test_of_a_piece_of_a_face_and_the_whole_one_the_whole_one_is_taken_where_it_is_sure() -> None:
    """In this scene heat runs through half of the face, and six spots in that half are worth more than the six pins."""
    footage = draw_scene(73092).footage
    chosen = np.linspace(0, len(footage.celsius) - 1, 12).round().astype(int)
    found = found_in(frames_of(footage.celsius[chosen]), 1, 6)
    away = np.hypot(found.x_px - footage.x_px, found.y_px - footage.y_px)
    assert away.max() < 0.15 * np.hypot(*np.diff([footage.x_px, footage.y_px])[:, 0])


@pytest.mark.parametrize(
    ("whole", "expected"),
    [
        ({}, "whole"),
        ({"x": 60.0}, "piece"),  # beside it
        ({"width": 10.0}, "piece"),  # no larger
        ({"larger": 0.9}, "piece"),  # a part of a larger one itself
        ({"sure": 0.5}, "piece"),
    ],
)
def test_only_a_sure_grid_in_a_whole_face_takes_the_place_of_one_in_a_piece(monkeypatch, whole, expected) -> None:
    given = {"x": 2.0, "width": 40.0, "larger": 0.0, "sure": 0.7} | whole
    piece = SimpleNamespace(grid=SimpleNamespace(face=Face(0.0, 0.0, 20.0, 10.0, 0.0, 4.0)), larger=1.2, sure=0.1)
    wider = Face(given["x"], 0.0, given["width"], 10.0, 0.0, 4.0)
    other = SimpleNamespace(grid=SimpleNamespace(face=wider), larger=given["larger"], sure=given["sure"])
    monkeypatch.setattr("hotspot.locate.rivals.rivals", lambda *_: [])
    monkeypatch.setattr("hotspot.locate.certainty.confidence_of", lambda grid, _: grid.sure)
    first, _, sure = finding._surer([piece, other], None, ((1, 6), CELLS), [])
    assert first is {"whole": other, "piece": piece}[expected]
    assert sure == first.sure
