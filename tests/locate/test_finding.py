"""The steps of finding a grid: faces, spots, the fit, and what is said where nothing is found."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made_housing import CELLS, SHAPE, frames_of, housing

from hotspot.errors import PinsNotFound
from hotspot.locate import place
from hotspot.locate.faces import clear_edges, faces
from hotspot.locate.finding import LEAST_CONFIDENCE, clearest
from hotspot.locate.fitting import fit, shows
from hotspot.locate.lattice import Lattice, between, propose
from hotspot.locate.sheets import Sheets
from hotspot.locate.spots import disc_profile
from hotspot.locate.views import views
from hotspot.session import Region, Session


def found_in(frames, rows=2, columns=4, **more):
    return place(Session.model_validate({"connector": {"rows": rows, "columns": columns, **more}}), frames)


@pytest.mark.parametrize("turn", [-20.0, 0.0, 13.0])
def test_the_clearest_face_is_the_housing(turn) -> None:
    frames, truth = housing(turn)
    first = faces(clear_edges(views(frames)), 2, 4)[0]
    assert (first.x, first.y) == pytest.approx(truth.mean(axis=0), abs=0.5)
    assert (first.width, first.height) == pytest.approx(
        (3 * 11 + 18, 11 + 18), abs=4.0
    )  # it stops where an edge begins to be clear
    assert np.degrees(first.turn) == pytest.approx(turn, abs=1.0)


def test_a_face_is_where_other_ways_of_measuring_a_rectangle_put_it() -> None:
    """cv2.minAreaRect of what Otsu's threshold (skimage.filters) calls warm: neither is used by the finder."""
    import cv2
    from skimage.filters import threshold_otsu

    frames, _ = housing(11.0, pin_k=0.0)
    last = frames[-1].celsius()
    points = np.argwhere(last > threshold_otsu(last))[:, ::-1].astype(np.float32)
    (x, y), sides, angle = cv2.minAreaRect(points)
    first = faces(clear_edges(views(frames)), 2, 4)[0]
    assert (first.x, first.y) == pytest.approx((x, y), abs=0.8)
    assert sorted((first.width, first.height)) == pytest.approx(sorted(side + 1 for side in sides), abs=4.0)
    assert (np.degrees(first.turn) - angle + 45) % 90 - 45 == pytest.approx(0.0, abs=1.0)
    box = cv2.boxPoints(((x, y), (sides[0] + 1, sides[1] + 1), angle))
    for corner in found_in(housing(11.0)[0]).outline_px:  # the same housing with pins in it
        assert np.hypot(*(box - corner).T).min() < 4.0


def test_pins_and_radius_to_a_fraction_of_a_pixel() -> None:
    for turn, radius in ((7.0, 3.0), (-14.0, 2.2), (2.0, 4.2)):
        frames, truth = housing(turn, radius, pitch=4.0 * radius)
        found = found_in(frames)
        away = np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1])
        assert np.sqrt(np.mean(away**2)) < 0.15
        assert found.radius_px[0] == pytest.approx(radius, rel=0.06)
        assert found.confidence >= LEAST_CONFIDENCE


def test_one_pin_that_cannot_be_seen_does_no_harm() -> None:
    frames, truth = housing(hidden=(5,))
    found = found_in(frames)
    assert np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1]).max() < 0.3


def test_empty_places_hold_no_pin_and_need_none() -> None:
    frames, truth = housing(hidden=(1, 6))
    found = found_in(frames, empty=["2", "7"])
    assert found.names == ("1", "3", "4", "5", "6", "8")
    kept = [0, 2, 3, 4, 5, 7]
    assert np.hypot(found.x_px - truth[kept, 0], found.y_px - truth[kept, 1]).max() < 0.3


@pytest.mark.parametrize(("rows", "columns"), [(1, 4), (2, 3), (3, 4), (2, 6), (1, 8)])
def test_a_grid_that_is_not_there_is_not_offered(rows, columns) -> None:
    frames, _ = housing()
    with pytest.raises(PinsNotFound, match=f"the {rows} x {columns} pins were not found"):
        found_in(frames, rows, columns)


def test_where_pins_are_not_found_the_clearest_frame_is_handed_over() -> None:
    frames, _ = housing(pin_k=0.0)
    with pytest.raises(PinsNotFound, match=r"measured on f0005\.tif") as caught:
        found_in(frames)
    assert caught.value.exit_status == 2
    assert caught.value.shown.index == 5
    np.testing.assert_allclose(caught.value.shown.celsius, frames[5].celsius(), atol=1e-4)
    assert clearest(frames_of([np.full(SHAPE, np.nan)] * 2)).index == 0


def test_one_frame_alone_is_enough_where_it_shows_the_pins() -> None:
    frames, truth = housing()
    found = found_in(frames[-1:])
    assert np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1]).max() < 0.4


def test_regions_to_ignore_hide_what_is_in_them() -> None:
    frames, _ = housing()
    hide = Region(name="other", kind="ignore", box=[20.0, 20.0, 110.0, 90.0])
    assert (
        not faces(clear_edges(views(frames, [hide])), 2, 4)
        or faces(clear_edges(views(frames, [hide])), 2, 4)[0].clear < 2.5
    )


def test_frames_of_another_size_are_left_out_and_holes_are_flat() -> None:
    frames, _ = housing()
    holed = frames[2].celsius()
    holed[:5] = np.nan
    mixed = [*frames[:2], *frames_of([holed, np.zeros((9, 9))])]
    seen = views(mixed)
    assert seen.frames == 3
    assert np.isfinite(seen.all).all()


def test_noise_is_measured() -> None:
    frames, _ = housing(noise_k=0.08)
    assert views(frames).noise_k == pytest.approx(0.08, rel=0.06)
    assert views(frames[-1:]).noise_k == pytest.approx(0.08, rel=0.25)


def test_views_hold_all_that_changes_in_two_patterns() -> None:
    """Mean and components together give back frames that were made of two patterns (Parseval)."""
    rng = np.random.default_rng(1)
    one, two, base = rng.normal(0, 1, (3, 20, 30))
    pictures = [base + a * one + b * two for a, b in rng.normal(0, 2, (7, 2))]
    seen = views(frames_of(pictures))
    energy = sum(float((picture**2).sum()) for picture in pictures)
    assert float((seen.all**2).sum()) == pytest.approx(energy, rel=1e-9)


def test_the_profile_of_a_disc_is_a_disc_blurred() -> None:
    """Against scipy's Gaussian filter of a finely drawn disc; the rim is taken as straight, so small ones differ."""
    from scipy.ndimage import gaussian_filter

    fine, radius, blur = 20, 4.0, 0.7
    rows, columns = (np.indices((12 * fine, 12 * fine)) + 0.5) / fine - 6.0
    drawn = gaussian_filter((np.hypot(rows, columns) <= radius).astype(float), blur * fine)
    away = np.hypot(rows, columns)
    ours = disc_profile(away, radius, np.sqrt(blur**2 - 1 / 12))
    assert np.abs(ours - drawn).max() < 0.06


def test_fit_and_shows_on_a_grid_set_off() -> None:
    frames, truth = housing(0.0)
    seen = views(frames)
    face = faces(clear_edges(seen), 2, 4)[0]
    start = Lattice(truth[0] + [0.9, -0.7], np.array([11.2, 0.1]), np.array([-0.1, 10.8]), 2.4, 0.0, face, (0.5, 1.5))
    fitted = fit(start, seen, CELLS)
    np.testing.assert_allclose(np.column_stack(fitted.at(CELLS)), truth, atol=0.15)
    assert shows(fitted, seen, CELLS).min() > 0.6
    assert shows(fitted, seen, between(CELLS)).max() < 0.25
    assert not len(shows(fitted, seen, np.zeros((0, 2))))


def test_no_face_proposes_nothing() -> None:
    frames, _ = housing()
    assert propose(Sheets(views(frames)), [], (2, 4), CELLS) == []


def test_run_leaves_the_picture_to_place_on_and_says_where(tmp_path, capsys) -> None:
    from PIL import Image

    from hotspot.cli import main

    frames, _ = housing(pin_k=0.0)
    np.save(tmp_path / "stack.npy", np.array([frame.celsius() for frame in frames], np.float32))
    (tmp_path / "session.toml").write_text(
        '[frames]\nfiles = "stack.npy"\nreading = "temperature"\nevery_s = 10.0\n[connector]\nrows = 2\ncolumns = 4\n'
    )
    out = tmp_path / "out"
    sys.argv = ["hotspot", "run", str(tmp_path), "--out", str(out)]
    with pytest.raises(SystemExit) as caught:
        main()
    said = capsys.readouterr().err
    assert caught.value.code == 2
    assert "were not found" in said
    assert str(out / "place.png") in said
    assert f"hotspot place {tmp_path}" in said
    assert "stack.npy#5" in said
    assert len(said.strip().splitlines()) <= 12
    assert [path.name for path in out.iterdir()] == ["place.png"]
    with Image.open(out / "place.png") as picture:
        assert picture.width >= 1200
