"""Pins given by the session, pins found, and the honest refusals."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "extract"))
from made_frames import frames_of

from hotspot.errors import InputError
from hotspot.locate import place
from hotspot.locate.finding import LEAST_CONFIDENCE
from hotspot.session import Session

SHAPE = (90, 130)


def session_of(**tables):
    return Session.model_validate(tables)


def scene(places, turn_deg=0.0, sign=1.0, seed=0, pin_k=6.0, radius=4.0):
    """A housing warmer than the bench, with round pins that warm up over eight frames; places in px about its
    middle, before it is turned."""
    import cv2

    rng = np.random.default_rng(seed)
    rows, columns = np.indices(SHAPE, dtype=float)
    angle = np.deg2rad(turn_deg)
    x, y = columns - 66.3, rows - 43.8
    right, down = x * np.cos(angle) + y * np.sin(angle), -x * np.sin(angle) + y * np.cos(angle)
    half = np.abs(places).max(axis=0) + 12.0
    housing = ((np.abs(right) < half[0]) & (np.abs(down) < half[1])).astype(float)
    pins = np.zeros(SHAPE)
    for px, py in places:
        pins += np.hypot(right - px, down - py) < radius
    pictures = []
    for share in np.linspace(0.0, 1.0, 8):
        clean = 20.0 + housing * (1.0 + 15.0 * share) + sign * pins * pin_k * (0.1 + share)
        pictures.append(cv2.GaussianBlur(clean, (0, 0), 0.9) + rng.normal(0, 0.08, SHAPE))
    truth = np.array(
        [
            (66.3 + px * np.cos(angle) - py * np.sin(angle), 43.8 + px * np.sin(angle) + py * np.cos(angle))
            for px, py in places
        ]
    )
    return frames_of(pictures), truth


def grid_places(rows, columns, pitch):
    return np.array(
        [
            ((column - (columns - 1) / 2) * pitch, (row - (rows - 1) / 2) * pitch)
            for row in range(rows)
            for column in range(columns)
        ]
    )


@pytest.mark.parametrize(
    ("rows", "columns", "turn", "sign"), [(1, 6, 0.0, 1.0), (1, 4, 12.0, 1.0), (2, 4, -9.0, -1.0), (3, 4, 5.0, 1.0)]
)
def test_a_plain_grid_is_found_where_it_is(rows, columns, turn, sign) -> None:
    frames, truth = scene(grid_places(rows, columns, 15.0), turn, sign)
    found = place(session_of(connector={"rows": rows, "columns": columns}), frames)
    assert found.names == tuple(str(k + 1) for k in range(rows * columns))
    assert set(found.placed) == {"found"}
    assert LEAST_CONFIDENCE <= found.confidence <= 1.0
    away = np.hypot(found.x_px - truth[:, 0], found.y_px - truth[:, 1])
    assert float(np.sqrt(np.mean(away**2))) <= 0.5
    assert np.all((found.radius_px > 1.5) & (found.radius_px < 5.6))
    assert [notice.code for notice in found.notices] == ["pins_found"]


@pytest.mark.parametrize(
    "pictures",
    [
        [np.full(SHAPE, 21.0)] * 5,
        list(np.random.default_rng(4).normal(21.0, 0.1, (6, *SHAPE))),
        [21.0 + 0.1 * np.indices(SHAPE)[1]] * 4,
        [np.full(SHAPE, np.nan)] * 2,
    ],
    ids=["flat", "noise", "slope", "nothing"],
)
def test_where_nothing_is_to_be_seen_it_is_refused(pictures) -> None:
    with pytest.raises(InputError, match="were not found") as caught:
        place(session_of(connector={"rows": 1, "columns": 4}), frames_of(pictures))
    assert "give x, y" in str(caught.value)


def test_a_grid_of_another_count_is_never_offered_as_sure() -> None:
    frames, _ = scene(grid_places(1, 6, 15.0))
    with pytest.raises(InputError, match="were not found"):
        place(session_of(connector={"rows": 1, "columns": 4}), frames)


def test_neither_grid_nor_places_says_what_to_write() -> None:
    with pytest.raises(InputError, match="--pins 1x6"):
        place(session_of(), frames_of([np.full(SHAPE, 20.0)]))
    with pytest.raises(InputError, match="pins B have no x and y"):
        place(session_of(pin=[{"name": "A", "x": 3.0, "y": 4.0}, {"name": "B"}]), frames_of([np.full(SHAPE, 20.0)]))


def test_pins_that_are_given_stay_as_they_are() -> None:
    session = session_of(
        pin=[
            {"name": "01", "x": 20.5, "y": 30.0, "radius": 4.0},
            {"name": "NA", "x": 40.5, "y": 30.0},
            {"name": "z", "x": 500.0, "y": 30.0, "radius": 2.0},
        ],
        region=[{"name": "air", "kind": "ambient", "box": [300.0, 0.0, 5.0, 5.0]}],
        connector={"on": "f0000.tif"},
    )
    found = place(session, frames_of([np.full(SHAPE, 20.0)]))
    assert found.names == ("01", "NA", "z")
    assert found.confidence is None
    assert found.placed == ("given",) * 3
    np.testing.assert_allclose(found.x_px, [20.5, 40.5, 500.0])
    np.testing.assert_allclose(found.radius_px, [4.0, 6.0, 2.0])
    assert [n.code for n in found.notices] == ["radius_derived", "pins_beyond_picture", "regions_beyond_picture"]
    assert found.notices[0].values["pins"] == ["NA"]
    assert found.notices[1].values["pins"] == ["z"]
    assert found.regions == tuple(session.region)


def test_a_pin_given_among_found_ones_keeps_its_place() -> None:
    frames, truth = scene(grid_places(1, 6, 15.0))
    session = session_of(
        connector={"rows": 1, "columns": 6}, pin=[{"name": "2", "x": 44.0, "y": 43.0, "radius": 3.5}, {"name": "3"}]
    )
    found = place(session, frames)
    assert found.placed == ("found", "given", "found", "found", "found", "found")
    assert (found.x_px[1], found.y_px[1], found.radius_px[1]) == (44.0, 43.0, 3.5)
    assert found.x_px[2] == pytest.approx(truth[2, 0], abs=0.5)


def test_every_sentence_of_this_room_is_said_by_it() -> None:
    import tomllib

    import hotspot

    root = Path(hotspot.__file__).parent
    words = tomllib.loads((root / "tell/catalogue/locate.toml").read_text(encoding="utf-8"))
    source = "".join(path.read_text(encoding="utf-8") for path in sorted((root / "locate").glob("*.py")))
    assert [code for code in words if f'"{code}"' not in source] == []
