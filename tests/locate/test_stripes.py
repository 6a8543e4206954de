"""A loose wire before the connector: seen, filled from both sides, told; the connector's own wires are none."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made_housing import CELLS, SHAPE, crossed, frames_of, housing

from hotspot.errors import PinsNotFound
from hotspot.locate import place
from hotspot.locate.fitting import covered
from hotspot.locate.lattice import Lattice
from hotspot.locate.stripes import stripes, without_stripes
from hotspot.locate.views import views
from hotspot.session import Session
from hotspot.tell import words

TURN = 7.0


def found_in(frames, rows=2, columns=4):
    return place(Session.model_validate({"connector": {"rows": rows, "columns": columns}}), frames)


def test_a_wire_across_is_where_it_was_drawn() -> None:
    frames, truth = housing(TURN)
    for angle, wide in ((7.0, 6.0), (-12.0, 9.0), (60.0, 4.0)):
        [seen] = stripes(views(crossed(frames, truth[5], angle, wide)))
        normal = np.array([np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))])
        off = normal @ (truth[5] - [(SHAPE[1] - 1) / 2, (SHAPE[0] - 1) / 2])
        turn = (np.degrees(seen.angle) - angle + 90.0) % 180.0 - 90.0
        assert turn == pytest.approx(0.0, abs=1.0)
        assert seen.off * np.cos(np.radians(np.degrees(seen.angle) - angle)) == pytest.approx(off, abs=0.7)
        assert seen.width == pytest.approx(wide, abs=1.2)


def test_a_picture_without_a_wire_has_none_and_its_own_wires_are_none() -> None:
    frames, truth = housing(TURN)
    seen = views(frames)
    assert stripes(seen) == []
    np.testing.assert_array_equal(without_stripes(seen).all, seen.all)
    assert not without_stripes(seen).covered.any()
    assert stripes(views(crossed(frames, truth[5], TURN, until=12.0))) == []


def test_a_wire_that_stops_short_is_one_alone_and_none_of_a_bunch() -> None:
    """Three beside each other that end 20 px before the rim are the connector's own; one like them is a loose wire."""
    frames = frames_of([np.random.default_rng(k).normal(20.0, 0.05, SHAPE) for k in range(6)])
    short = crossed(frames, (60, 60), 0.0, until=-40.0)
    assert len(stripes(views(short))) == 1
    assert stripes(views(crossed(frames, (60, 60), 0.0, until=5.0))) == []
    for x in (80, 100):
        short = crossed(short, (x, 60), 0.0, until=-40.0)
    assert stripes(views(short)) == []


@pytest.mark.parametrize(("until", "seen"), [(190, 1), (150, 0)])
def test_a_wire_alone_may_be_lost_a_quarter_of_its_way_before_the_rim(until, seen) -> None:
    """Among the connector's own wires, for one: 50 px of 240 are, 90 are not."""
    pictures = []
    for k in range(6):
        picture = np.random.default_rng(k).normal(20.0, 0.05, (240, 160))
        picture[:until, 57:63] += 4.0
        pictures.append(picture)
    assert len(stripes(views(frames_of(pictures)))) == seen


def test_what_lies_under_it_is_put_between_its_sides_and_called_covered() -> None:
    """An even slope across is given back exactly, whatever the wire's warmth."""
    rows, columns = np.indices(SHAPE, dtype=float)
    slope = 20.0 + 0.05 * columns + 0.02 * rows
    frames = crossed(
        frames_of([slope + np.random.default_rng(k).normal(0, 0.02, SHAPE) for k in range(6)]), (80, 60), 5.0
    )
    seen = views(frames)
    mended = without_stripes(seen)
    under = mended.covered
    assert under[60, 80]
    assert under.mean() == pytest.approx((6.0 + 4.0) / SHAPE[1], rel=0.15)
    inside = under.copy()
    inside[:4] = inside[-4:] = False
    error = mended.mean[inside] / np.sqrt(6) - slope[inside]
    assert np.abs(error).max() < 0.1
    np.testing.assert_array_equal(mended.all[:, ~under], seen.all[:, ~under])


@pytest.mark.parametrize(("pins", "angle"), [((3, 7), TURN), ((0,), 25.0), ((6,), -20.0)])
def test_pins_under_a_wire_are_placed_by_the_others_and_named(pins, angle) -> None:
    frames, truth = housing(TURN)
    through = truth[list(pins)].mean(axis=0)
    found = found_in(crossed(frames, through, angle))
    away = np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1])
    assert away.max() < 0.5
    [said] = [one for one in found.notices if one.code == "pins_covered"]
    assert set(said.values["pins"]) >= {str(pin + 1) for pin in pins}
    assert "lies over pin" in words.say(said)
    assert found.covered == tuple(said.values["pins"])
    assert found.hidden_px[np.rint(truth[list(pins), 1]).astype(int), np.rint(truth[list(pins), 0]).astype(int)].all()


def test_a_grid_without_the_column_under_the_wire_is_refused() -> None:
    frames, truth = housing(TURN)
    with pytest.raises(PinsNotFound):
        found_in(crossed(frames, truth[[3, 7]].mean(axis=0), TURN), 2, 3)


def test_a_pin_is_covered_from_half_of_it_on() -> None:
    frames, truth = housing(0.0)
    seen = views(frames)
    grid = Lattice(truth[0], truth[1] - truth[0], truth[4] - truth[0], 3.0, 0.0, None, (0.5, 1.5))
    for beyond, second in ((2, True), (-1, False)):
        seen.covered[:] = False
        seen.covered[:, : int(truth[1, 0]) + beyond] = True
        assert covered(grid, seen, CELLS).tolist() == [True, second, False, False] * 2


def test_filling_agrees_with_another_way_of_filling() -> None:
    """skimage.restoration.inpaint_biharmonic of the same pixels, where the warmth bends: to a tenth of its range."""
    from skimage.restoration import inpaint_biharmonic

    rows, columns = np.indices(SHAPE, dtype=float)
    bent = 20.0 + 8.0 * np.exp(-(((columns - 70) / 30) ** 2) - ((rows - 55) / 25) ** 2)
    noisy = [bent + np.random.default_rng(k).normal(0, 0.02, SHAPE) for k in range(6)]
    seen = views(crossed(frames_of(noisy), (80, 60), 5.0, level=26.0))
    mended = without_stripes(seen)
    theirs = inpaint_biharmonic(seen.mean / np.sqrt(6), mended.covered)
    off = (mended.mean / np.sqrt(6) - theirs)[mended.covered]
    assert np.sqrt(np.mean(off**2)) < 0.2
    assert np.abs((mended.mean / np.sqrt(6) - bent)[mended.covered]).max() < 0.8


@pytest.mark.parametrize("shape", [(1, 1), (2, 3), (4, 5), (1, 200)])
def test_pictures_too_small_for_a_stripe_have_none(shape) -> None:
    noise = np.random.default_rng(0).normal(20.0, 1.0, (3, *shape))
    assert stripes(views(frames_of(noise))) == []
