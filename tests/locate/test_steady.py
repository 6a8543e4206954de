"""Frames laid on each other: drift, growth, printed marks, shutter steps, a hand that leaves, a camera aimed anew.

The scenes are closed formulas, worked out at the very places a moved camera would see: nothing is interpolated.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "extract"))
from made_frames import frames_of, pins_at

from hotspot.doubts import BIT
from hotspot.locate import laid_back, on_first, posed, steadying
from hotspot.poses import Motion, Pose
from hotspot.records import Stamp
from hotspot.session import Session

SHAPE = (120, 160)
PINS = np.array([(62.0, 58.0), (76.0, 58.0), (90.0, 58.0), (104.0, 58.0)])
NOISE_K = 0.1


def soft(distance):
    """A step blurred by the camera: 1 inside, 0 outside."""
    from scipy.special import erf

    return 0.5 * (1.0 - erf(distance / (0.8 * np.sqrt(2.0))))


def housing(x, y):
    return soft(np.abs(x - 83.0) - 36.0) * soft(np.abs(y - 58.0) - 15.0)


def scene(x, y, contrast_k, share):
    """A housing with four pins, the third one getting hot, two wires; contrast_k over the bench."""
    value = 20.0 + contrast_k * housing(x, y)
    for k, (px, py) in enumerate(PINS):
        rise = contrast_k * (0.25 + (1.2 * share if k == 2 else 0.0))
        value = value + rise * soft(np.hypot(x - px, y - py) - 3.5)
    for wire in (66.0, 97.0):
        value = value + 0.5 * contrast_k * soft(np.abs(x - wire) - 3.0) * soft(-(y - 73.0))
    return value


def film(poses, contrasts, seed=0, shutter=True):
    """Frames (t, rows, columns) float32 of the scene in each pose."""
    rng = np.random.default_rng(seed)
    rows, columns = np.indices(SHAPE, dtype=float)
    frames = []
    for k, (pose, contrast) in enumerate(zip(poses, contrasts, strict=True)):
        y, x = pose.back(rows, columns)
        celsius = scene(x, y, contrast, k / len(poses))
        celsius += rng.normal(0.0, NOISE_K, SHAPE) + (rng.normal(0.0, 0.5) if shutter else 0.0)
        frames.append(celsius.astype(np.float32))
    return np.array(frames)


def hand(count, reach=8.0, turn=3.0, seed=1):
    """Slow waves, and a tremble; the first pose is none."""
    rng = np.random.default_rng(seed)
    time = np.linspace(0.0, 1.0, count)
    waves = [np.sin(2 * np.pi * (f * time + p)) for f, p in ((1.3, 0.1), (0.9, 0.4), (0.7, 0.8))]
    right, down = (reach * wave + 0.3 * rng.normal(size=count) for wave in waves[:2])
    return [turned(r, d, turn * w, 1.0 + 0.01 * w) for r, d, w in zip(right, down, waves[2], strict=True)]


def turned(right, down, turn_deg, scale=1.0):
    """About the middle of the picture."""
    a, b = scale * np.cos(np.deg2rad(turn_deg)), scale * np.sin(np.deg2rad(turn_deg))
    x, y = (SHAPE[1] - 1) / 2, (SHAPE[0] - 1) / 2
    return Pose(float(a), float(b), float(x - a * x + b * y + right), float(y - b * x - a * y + down))


def run(celsius):
    frames = frames_of(celsius)
    sample = [frames[k] for k in sorted({round(k * (len(frames) - 1) / 11) for k in range(12)})]
    steady = steadying(sample)
    assert [frame.index for frame in steady.over(frames)] == list(range(len(frames)))
    again = steady.again(lambda wanted: frames if wanted is None else [frames[k] for k in wanted])
    return again.motion(), steady


def errors(motion, truth, on):
    """RMS distance [px] of pins placed on frame `on` from where they are in every frame."""
    rows, columns = truth[on].at(PINS[:, 1], PINS[:, 0])
    found = []
    for k, true in enumerate(truth):
        r, c = motion.poses[k].after(motion.poses[on].inverse()).at(rows, columns)
        true_r, true_c = true.at(PINS[:, 1], PINS[:, 0])
        found.append(np.sqrt(np.mean((r - true_r) ** 2 + (c - true_c) ** 2)))
    return np.array(found)


def printed(celsius):
    """Digits, a cross, a clock and a bar that stay on the sensor, some of them over the connector's edge."""
    from hotspot.synthetic.handheld import print_marks

    marked = print_marks(celsius)
    marked[:, 40:52, 44:56] = np.where(np.eye(12, dtype=bool), 90.0, marked[:, 40:52, 44:56])
    return marked


@pytest.mark.parametrize(("marks", "rms_px"), [(False, 0.15), (True, 0.25)])
def test_pins_are_followed_while_contrast_grows_from_nothing(marks, rms_px) -> None:
    count = 30
    truth = hand(count)
    contrast = 16.0 * (1.0 - np.exp(-np.maximum(np.arange(count) - 2, 0) / 8.0))
    celsius = film(truth, contrast)
    motion, _ = run(printed(celsius) if marks else celsius)
    error = errors(motion, truth, count - 1)
    warm = contrast >= 20 * NOISE_K
    states = np.array([motion.poses[k].state for k in range(count)])
    assert set(states[warm]) == {"measured"}
    assert float(np.sqrt(np.mean(error[warm] ** 2))) <= rms_px
    assert np.mean(error[warm] <= 0.4) >= 0.99
    assert np.all((error[~warm] <= 0.5) | (states[~warm] != "measured"))
    assert set(states[:2]) == {"carried"}  # nothing to be seen in them at all
    codes = [notice.code for notice in motion.notices]
    assert codes[0] == "camera_moved"
    assert "places_carried" in codes


@pytest.mark.parametrize("marks", [False, True])
def test_a_camera_that_stands_moves_nothing(marks) -> None:
    count = 20
    contrast = np.linspace(0.0, 15.0, count)
    celsius = film([Pose()] * count, contrast)
    motion, steady = run(printed(celsius) if marks else celsius)
    assert steady.looks_still
    assert motion.still
    assert all(pose.still and pose.state == "measured" for pose in motion.poses.values())
    assert motion.notices == ()


def test_a_knock_between_still_frames_is_seen_though_marks_stand_still() -> None:
    count = 40
    truth = [turned(4.0, -2.5, 1.0) if k in (17, 18, 19) else Pose() for k in range(count)]
    motion, steady = run(printed(film(truth, np.linspace(4.0, 15.0, count))))
    assert steady.looks_still  # none of the three is in the sample
    assert not motion.still
    assert errors(motion, truth, 0).max() < 0.25
    assert [k for k in motion.poses if not motion.poses[k].still] == [17, 18, 19]


def test_small_movements_beside_printed_marks() -> None:
    count = 24
    truth = hand(count, reach=0.8, turn=0.2, seed=5)
    motion, _ = run(printed(film(truth, np.linspace(6.0, 15.0, count))))
    error = errors(motion, truth, 0)
    assert float(np.sqrt(np.mean(error**2))) <= 0.25


def test_frames_of_something_else_are_lost_and_those_after_them_are_not() -> None:
    count = 30
    truth = hand(count, reach=3.0, turn=1.0)
    celsius = film(truth, np.full(count, 12.0))
    rows, columns = np.indices(SHAPE, dtype=float)
    for k in (12, 13, 14):  # the bench beside it: a tin lid and a strap
        other = 20.0 + 15.0 * soft(np.hypot(rows - 70.0 - k, columns - 40.0) - 22.0)
        celsius[k] = other + 9.0 * soft(np.abs(columns + rows - 190.0) - 6.0)
        celsius[k] += np.random.default_rng(k).normal(0.0, NOISE_K, SHAPE)
    motion, _ = run(celsius)
    assert {k for k, pose in motion.poses.items() if pose.state == "lost"} == {12, 13, 14}
    laid = [k for k in range(count) if k not in (12, 13, 14)]
    assert errors(motion, truth, 0)[laid].max() < 0.2
    notice = next(one for one in motion.notices if one.code == "frames_not_laid_on")
    assert notice.frames == (12, 13, 14)
    frames = list(posed(frames_of(celsius), motion))
    assert [frame.index for frame in frames if frame.doubts & BIT["not_laid_on"]] == [12, 13, 14]


@pytest.mark.parametrize(("right", "down", "scale"), [(-26.0, 12.0, 1.0), (-8.0, 5.0, 1.25)], ids=["aimed", "zoomed"])
def test_a_camera_aimed_anew_or_zoomed_opens_a_segment(right, down, scale) -> None:
    count, at = 30, 18
    truth = [Pose() if k < at else turned(right, down, 2.0, scale) for k in range(count)]
    motion, _ = run(film(truth, np.linspace(8.0, 15.0, count)))
    assert errors(motion, truth, 0).max() < 0.3
    assert [motion.poses[k].segment for k in range(count)] == [0] * at + [1] * (count - at)
    notice = next(one for one in motion.notices if one.code == "camera_aimed_anew")
    assert notice.frames == (at,)
    assert notice.values["zoom"] == pytest.approx(scale, abs=0.02)


@pytest.mark.parametrize("noise_k", [0.0, 0.1])
def test_where_nothing_is_to_be_seen_nothing_is_claimed(noise_k) -> None:
    rng = np.random.default_rng(3)
    wall = 21.0 + noise_k * rng.normal(size=(15, *SHAPE)).astype(np.float32)
    motion, _ = run(wall)
    assert motion.poses == {}
    assert [notice.code for notice in motion.notices] == ["movement_unknown"]


def test_one_frame_lies_on_itself() -> None:
    frames = frames_of(film([Pose()], [10.0]))
    steady = steadying(frames)
    list(steady.over(frames))
    assert steady.motion() == Motion({0: Pose()})


def test_frames_without_values_here_and_there_are_laid_on_as_well() -> None:
    count = 16
    truth = hand(count, reach=4.0)
    celsius = film(truth, np.full(count, 10.0))
    celsius[:, 30:44, 60:70] = np.nan
    celsius[5, :, ::7] = np.nan
    motion, _ = run(celsius)
    whole = [k for k in range(count) if k != 5]
    assert errors(motion, truth, 0)[whole].max() < 0.3


def test_the_sample_is_laid_back_on_the_first_frame() -> None:
    truth = hand(12, reach=5.0)
    frames = frames_of(film(truth, np.full(12, 12.0), shutter=False))
    steady = steadying(frames)
    back = laid_back(steady, frames)
    assert len(back) == 12
    inner = (slice(20, -20), slice(20, -20))
    before = np.std([frame.celsius()[inner] - frames[0].celsius()[inner] for frame in frames[1:]])
    after = np.nanstd([frame.celsius()[inner] - frames[0].celsius()[inner] for frame in back[1:]])
    assert after < 0.25 * before


def test_pins_measured_on_another_frame_are_brought_onto_the_first() -> None:
    moved = turned(6.0, -4.0, 2.0, 1.1)
    motion = Motion({0: Pose(), 1: moved})
    stamps = [Stamp(0, "a.png", 0.0), Stamp(1, "b.png", 10.0)]
    rows, columns = moved.at(PINS[:, 1], PINS[:, 0])
    pins = pins_at(*zip(columns, rows, strict=True), radius=4.4)
    session = Session.model_validate({"connector": {"on": "b.png"}})
    found = on_first(session, pins, motion, stamps)
    np.testing.assert_allclose(found.x_px, PINS[:, 0])
    np.testing.assert_allclose(found.y_px, PINS[:, 1])
    np.testing.assert_allclose(found.radius_px, 4.0)
    lost = Motion({0: Pose(), 1: Pose(state="lost")})
    assert [one.code for one in on_first(session, pins, lost, stamps).notices] == ["frame_on_not_laid"]
    same = on_first(Session.model_validate({"connector": {"on": "a.png"}}), pins, motion, stamps)
    assert same.x_px is pins.x_px
