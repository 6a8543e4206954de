"""Readings follow the pins: frames that lie elsewhere, larger or turned, and frames that are lost."""

from dataclasses import replace

import numpy as np
import pytest
from made_frames import frames_of, pins_at, region, session_of

from hotspot.doubts import BIT
from hotspot.extract import measure
from hotspot.extract.series import collect
from hotspot.poses import Pose

SHAPE = (80, 100)
PLACES = ((30.0, 40.0), (60.0, 42.0))
QUIET = {"camera": {"accuracy_k": 0.0}}


def turned(right, down, turn_deg=0.0, scale=1.0):
    a, b = scale * np.cos(np.deg2rad(turn_deg)), scale * np.sin(np.deg2rad(turn_deg))
    return Pose(float(a), float(b), float(49.5 - a * 49.5 + b * 39.5 + right), float(39.5 - b * 49.5 - a * 39.5 + down))


def hills(pose):
    """Two warm hills on a bench, seen in that pose: 50 and 35 °C at the top, 5 px wide."""
    rows, columns = np.indices(SHAPE, dtype=float)
    y, x = pose.back(rows, columns)
    value = np.full(SHAPE, 20.0)
    for (px, py), top in zip(PLACES, (30.0, 15.0), strict=True):
        value += top * np.exp(-((x - px) ** 2 + (y - py) ** 2) / (2 * 5.0**2))
    return value


def read(poses, noise_k=0.0, session=None, regions=()):
    rng = np.random.default_rng(2)
    pictures = [hills(pose) + rng.normal(0.0, noise_k, SHAPE) for pose in poses]
    frames = [replace(frame, pose=pose) for frame, pose in zip(frames_of(pictures), poses, strict=True)]
    pins = pins_at(*PLACES, radius=4.0, regions=regions)
    return measure(session or session_of(**QUIET), frames, pins, (), None, {0: "", len(poses) - 1: ""})


def test_moved_pins_read_as_where_they_stood() -> None:
    poses = [Pose(), turned(5.3, -3.7), turned(-4.2, 6.1, 3.0), turned(2.0, 1.0, -2.0, 1.2)]
    table = read(poses).readings
    wide = table.pivot(index="frame", columns="pin", values="temperature_c").to_numpy()
    np.testing.assert_allclose(wide, wide[:1].repeat(4, axis=0), atol=0.12)
    expected = [pose.shift_px(41.0, 45.0) for pose in poses]
    np.testing.assert_allclose(table["shift_px"].to_numpy()[::2], expected)
    area = table["pixels"].to_numpy()[::2]
    np.testing.assert_allclose(area, np.pi * 16.0 * np.array([1, 1, 1, 1.44]), rtol=1e-6)


def test_frames_read_where_the_pins_were_would_be_wrong() -> None:
    """The check above would pass for a reader that ignores poses only if moving made no difference: it does."""
    still = read([Pose(), Pose()]).readings["temperature_c"].to_numpy()
    picture = hills(turned(5.3, -3.7))
    moved = measure(session_of(**QUIET), frames_of([picture]), pins_at(*PLACES, radius=4.0), (), None, {}).readings
    assert still[0] - moved["temperature_c"][0] > 8.0


def test_a_lost_frame_gives_no_number() -> None:
    table = read([Pose(), replace(turned(9.0, 9.0), state="lost"), Pose()]).readings
    assert table["temperature_c"].isna().tolist() == [False, False, True, True, False, False]
    assert table["shift_px"].isna().tolist() == [False, False, True, True, False, False]


def test_an_uncertain_place_widens_the_interval_and_the_doubt_is_written() -> None:
    carried = replace(turned(1.0, 1.0), state="carried", sigma_px=0.9)
    terms = []
    for pose in (turned(1.0, 1.0), carried):
        frames = [replace(frames_of([hills(pose)])[0], pose=pose)]
        terms.append(collect(session_of(**QUIET), frames, pins_at(*PLACES, radius=4.0), None, {}).placing_k)
    assert terms[0].min() > 0.01
    np.testing.assert_allclose(terms[1], terms[0] * np.hypot(1.0, 0.9 / 0.3))  # 0.3 px: how well a hand places a pin
    frames = [replace(frames_of([hills(carried)])[0], pose=carried, doubts=BIT["place_carried"])]
    said = measure(session_of(**QUIET), frames, pins_at(*PLACES, radius=4.0), (), None, {}).readings["quality"]
    assert "place_carried" in said[0].split(";")


def test_regions_move_with_the_connector_and_noise_is_seen_in_each_frame() -> None:
    air = region("air", "ambient", (5, 5, 10, 10))
    poses = [turned(0.4 * k, -0.3 * k) for k in range(12)]
    found = read(poses, noise_k=0.2, regions=(air,))
    assert found.ambient["ambient_c"].to_numpy() == pytest.approx(20.0, abs=0.1)
    noise = read(poses, noise_k=0.2).readings["uncertainty_c"]
    assert np.isfinite(noise).all()
    assert not any(notice.code == "noise_assumed" for notice in found.notices)
    assert found.snapshots[-1].pose == poses[-1]
