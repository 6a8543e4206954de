"""Rise pictures: the right frames, the right pixels, the air taken off, nothing else asked."""

from dataclasses import replace

import numpy as np
import pytest

from hotspot.doubts import BIT
from hotspot.extract import RiseWatch
from hotspot.extract.raster import laid_over
from hotspot.extract.rise_pictures import _Sums
from hotspot.poses import Pose
from hotspot.records import Frame, PinMap, StageSpan, Stamp
from hotspot.session import Session, Stage

SHAPE = (60, 90)
PINS = PinMap(("1", "2", "3"), np.array([30.0, 45.0, 60.0]), np.full(3, 30.0), np.full(3, 3.0), ("given",) * 3)


class Plain:
    def __init__(self, celsius, bits=0):
        self.celsius, self.bits, self.asked, self.shape = celsius, bits, 0, celsius.shape

    def at(self, rows, columns):
        self.asked += len(rows)
        return self.celsius[rows, columns], np.full(len(rows), self.bits, np.uint32), np.zeros(len(rows))

    def picture(self):
        return None


def watched(pictures, times, stages, session=None, pins=PINS, **more):
    session = session or Session.model_validate({"ambient": 20.0}, strict=False)
    stamps = [Stamp(k, str(k), float(t)) for k, t in enumerate(times)]
    watch = RiseWatch(session, pins, stages, stamps, **more)
    frames = [Frame(s.index, s.file, s.time_s, p) for s, p in zip(stamps, pictures, strict=True)]
    assert [frame.index for frame in watch.over(frames)] == list(range(len(frames)))
    return watch.pictures()


def stage(times, start, end, amps=5.0, name="full"):
    inside = tuple(k for k, t in enumerate(times) if start <= t < end)
    return StageSpan(name, start, end, inside, Stage(name=name, amps=amps))


TIMES = np.arange(0.0, 601.0, 10.0)


def warming(rate=0.01, bits=0):
    slope = np.linspace(0.5, 1.5, SHAPE[1]) * np.ones(SHAPE)
    return [Plain(20.0 + rate * t * slope, bits) for t in TIMES]


def test_mean_of_the_last_minute_less_the_cold_frame_and_only_those_frames_are_asked():
    pictures = warming()
    found = watched(pictures, TIMES, (stage(TIMES, 0.0, 601.0),))
    late = TIMES[TIMES > 540.0]  # frames 55 to 60
    row, column = (int(round(each[1])) for each in (found.pin_row, found.pin_column))
    assert found.frames == (6,)
    expected = 0.01 * late.mean() * np.linspace(0.5, 1.5, SHAPE[1])[45]
    assert found.rise_k[0, row, column] == pytest.approx(expected, rel=0.02)
    assert found.slope_k_s[0, row, column] == pytest.approx(0.01 * np.linspace(0.5, 1.5, SHAPE[1])[45], rel=0.02)
    asked = [k for k, picture in enumerate(pictures) if picture.asked]
    assert set(asked) <= {0, *range(43, 61)}
    assert {0, 60} <= set(asked)
    assert max(picture.asked for picture in pictures) < SHAPE[0] * SHAPE[1]


def test_a_region_of_ambient_takes_the_cameras_drift_off():
    session = Session.model_validate(
        {"region": [{"name": "air", "kind": "ambient", "box": [0, 0, 10, 10]}]}, strict=False
    )
    drift = np.linspace(0.0, 3.0, TIMES.size)
    pictures = warming()
    for picture, more in zip(pictures, drift, strict=True):
        picture.celsius[:12, :12] = 20.0
        picture.celsius = picture.celsius + more
    found = watched(pictures, TIMES, (stage(TIMES, 0.0, 601.0),), session)
    plain = watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),))
    middle = np.s_[0, 10:20, 15:30]
    assert found.air == "seen"
    assert found.rise_k[middle] == pytest.approx(plain.rise_k[middle], abs=1e-6)


def test_cold_frames_are_those_before_the_first_load_and_without_any_there_is_no_picture():
    cold, full = stage(TIMES, 0.0, 300.0, 0.0, "cold"), stage(TIMES, 300.0, 601.0)
    found = watched(warming(), TIMES, (cold, full))
    before = TIMES[(TIMES >= 240.0) & (TIMES <= 300.0)].mean()
    row, column = (int(round(each[1])) for each in (found.pin_row, found.pin_column))
    rate = 0.01 * np.linspace(0.5, 1.5, SHAPE[1])[45]
    assert found.rise_k[1, row, column] == pytest.approx(rate * (TIMES[TIMES > 540].mean() - before), rel=0.02)
    late = TIMES + 100.0
    assert watched(warming(), late, (StageSpan("full", 0.0, 800.0, tuple(range(61)), Stage(amps=5.0)),)) is None


def test_clipped_pixels_are_marked():
    assert watched(warming(bits=BIT["clipped_high"]), TIMES, (stage(TIMES, 0.0, 601.0),)).clipped.any()
    assert not watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),)).clipped.any()


def test_a_moved_frame_is_looked_up_where_it_shows_the_connector():
    still = watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),))
    pictures = warming()
    for picture in pictures[1:]:
        picture.celsius = np.roll(picture.celsius, 4, axis=1)
    poses = {k: Pose(right_px=4.0) for k in range(1, TIMES.size)}
    moved = watched(pictures, TIMES, (stage(TIMES, 0.0, 601.0),), poses=poses)
    middle = np.s_[0, 10:20, 15:30]
    assert moved.rise_k[middle] == pytest.approx(still.rise_k[middle], abs=1e-6)


@pytest.mark.parametrize("angle", [-30.0, 0.0, 12.0])
def test_the_raster_turns_with_the_rows_of_pins(angle):
    turn = np.deg2rad(angle)
    along = np.arange(4)[:, None] * 14.0 * np.array([np.cos(turn), np.sin(turn)]) + [80.0, 80.0]
    raster = laid_over(PinMap(tuple("1234"), along[:, 0], along[:, 1], np.full(4, 3.0), ("given",) * 4), (200, 200))
    assert raster.pin_row == pytest.approx(np.full(4, raster.pin_row[0]), abs=1e-9)
    assert np.diff(raster.pin_column) == pytest.approx([7.0, 7.0, 7.0])
    assert raster.cell_px == pytest.approx(2.0)


def test_what_a_region_of_kind_ignore_covers_is_not_looked_at():
    """Whatever lies across the connector is no plastic of it: those cells are empty, the others as they were."""
    box = [38.0, 24.0, 14.0, 12.0]  # over the pin in the middle
    session = Session.model_validate(
        {"ambient": 20.0, "region": [{"name": "cable", "kind": "ignore", "box": box}]}, strict=False
    )
    found = watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),), session)
    plain = watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),))
    row, column = int(round(found.pin_row[1])), int(round(found.pin_column[1]))
    assert np.isnan(found.rise_k[0, row, column])
    empty = np.isnan(found.rise_k) & ~np.isnan(plain.rise_k)
    assert 0 < empty.sum() < 0.5 * empty.size
    left = ~np.isnan(found.rise_k)
    far = np.abs(np.arange(found.rise_k.shape[2]) - column) > 0.5 * (found.pin_column[1] - found.pin_column[0]) + 2
    assert left[0][:, far].sum() == (~np.isnan(plain.rise_k[0][:, far])).sum()
    assert found.rise_k[0][:, far] == pytest.approx(plain.rise_k[0][:, far], nan_ok=True)


def test_what_a_wire_covers_is_not_looked_at_either():
    """As for a region to ignore that covers the same pixels."""
    box = [37.5, 0.0, 14.0, 60.0]
    region = {"ambient": 20.0, "region": [{"name": "cable", "kind": "ignore", "box": box}]}
    asked = watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),), Session.model_validate(region, strict=False))
    hidden = np.zeros(SHAPE, dtype=bool)
    hidden[:, 38:52] = True
    found = watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),), pins=replace(PINS, hidden_px=hidden))
    assert np.isnan(found.rise_k).sum() > np.isnan(watched(warming(), TIMES, (stage(TIMES, 0.0, 601.0),)).rise_k).sum()
    np.testing.assert_array_equal(np.isnan(found.rise_k), np.isnan(asked.rise_k))


def test_a_cell_that_a_frame_does_not_show_has_the_mean_and_slope_of_the_others():
    """Against numpy's own mean and straight line over what is there; no slope from one frame."""
    times = np.arange(0.0, 60.0, 10.0)
    values = 40.0 + 0.3 * times[:, None] + np.array([0.0, 2.0, 5.0]) + np.random.default_rng(1).normal(0, 0.1, (6, 3))
    values[[1, 4], 1] = np.nan
    values[1:, 2] = np.nan
    sums = _Sums.of(3)
    for line, time_s in zip(values, times, strict=True):
        sums.add(line, np.zeros(3), time_s)
    there = np.isfinite(values[:, 1])
    slopes = [np.polyfit(times, values[:, 0], 1)[0], np.polyfit(times[there], values[there, 1], 1)[0], 0.0]
    assert sums.mean() == pytest.approx(np.nanmean(values, axis=0))
    assert sums.slope() == pytest.approx(slopes)
    assert np.isnan(_Sums.of(1).mean()).all()
