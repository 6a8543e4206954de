"""Frames to look through: evenly chosen with all stage ends, circles on the pins, small, and a list without script."""

import base64
import dataclasses
import io
import re

import numpy as np
import pytest
from PIL import Image
from told_pages import report_page
from told_sessions import analysis

from hotspot.poses import Pose
from hotspot.read.shown import MOST_SLIDES, slide_frames, slides_over
from hotspot.records import Frame, Snapshot, StageSpan, Stamp
from hotspot.tell import slides


def _chosen(count, bounds):
    stamps = [Stamp(i, f"f{i}", 5.0 * i) for i in range(count)]
    spans = [StageSpan(f"s{a}", 5.0 * a, 5.0 * b, tuple(range(a, b))) for a, b in bounds]
    return slide_frames(stamps, spans)


def test_an_hours_frames_are_sixty_evenly_with_every_stage_end():
    bounds = [(0, 13), (13, 301), (301, 302), (302, 720)]
    chosen = _chosen(720, bounds)
    assert len(chosen) == MOST_SLIDES
    assert {end for a, b in bounds for end in (a, b - 1)} <= set(chosen)
    # 720 / 60 = 12 frames apart; the stage ends take 7 of the sixty
    assert np.diff(list(chosen)).max() <= 15
    assert chosen[300] == "s13"
    assert chosen[301] == "s301"


@pytest.mark.parametrize("count", [1, 2, 59, 60])
def test_few_frames_are_all_shown(count):
    assert list(_chosen(count, [])) == list(range(count))


def test_more_stages_than_fit_and_no_frame_at_all():
    assert len(_chosen(400, [(i * 4, i * 4 + 4) for i in range(100)])) == MOST_SLIDES
    assert _chosen(0, []) == {}


class _Flat:
    shape = (4, 6)

    def grey(self):
        return np.full(self.shape, 21.0, np.float32)

    def picture(self):
        return None


def test_a_second_pass_starts_anew():
    frames = [Frame(i, f"f{i}", float(i), _Flat()) for i in range(5)]
    kept = []
    for _ in range(2):
        assert [frame.index for frame in slides_over(frames, {1: "a", 4: "b"}, kept)] == [0, 1, 2, 3, 4]
        assert [(shot.index, shot.stage) for shot in kept] == [(1, "a"), (4, "b")]


def _hour(told):
    """Sixty frames of 480 x 640 with noise: what compresses worst."""
    rng = np.random.default_rng(4)
    warm = np.kron(told.snapshots[-1].celsius, np.ones((8, 4), np.float32))
    shots = (warm + rng.normal(0, 0.3, warm.shape).astype(np.float32) for _ in range(60))
    pins = tuple(
        dataclasses.replace(pin, x_px=pin.x_px * 4, y_px=pin.y_px * 8, radius_px=20.0) for pin in told.findings.pins
    )
    findings = dataclasses.replace(told.findings, pins=pins)
    kept = tuple(Snapshot(i, f"f{i:04d}.tiff", 60.0 * i, "full", shot) for i, shot in enumerate(shots))
    return dataclasses.replace(told, slides=kept, findings=findings)


def test_sixty_noisy_frames_stay_within_a_report_of_a_megabyte_and_a_half():
    told = _hour(analysis([str(i) for i in range(12)], frames=181))
    page = report_page(told)
    assert page.count('<figure class="end">') + page.count("<figure><div") == 60
    assert sum(map(len, re.findall('data:image/jpeg;base64,[^"]*', page))) <= slides.MOST_BYTES
    assert len(page.encode()) < 1_500_000


def test_circles_move_with_the_frame_onto_the_warm_spots():
    told = analysis()
    pose = Pose(a=np.cos(0.05), b=np.sin(0.05), right_px=7.3, down_px=-2.6)
    shots = (told.snapshots[-1], dataclasses.replace(told.snapshots[-1], index=61, pose=pose))
    film = slides.slides(dataclasses.replace(told, slides=shots))
    for shot, slide in zip(shots, film.slides, strict=True):
        a, b, c, d, e, f = map(float, slide.matrix.split())
        left = 0.5 - float(film.slides[0].matrix.split()[4])
        top = 0.5 - float(film.slides[0].matrix.split()[5])
        for ring in film.rings:
            x, y = a * ring.x + c * ring.y + e, b * ring.x + d * ring.y + f
            row, column = (shot.pose or Pose()).at(ring.y, ring.x)
            assert (x, y) == pytest.approx((column + 0.5 - left, row + 0.5 - top), abs=0.02)


def test_the_picture_is_the_cut_out_of_the_frame():
    told = analysis()
    green = np.zeros((60, 160, 3), np.uint8)
    green[..., 1] = 180
    shots = tuple(dataclasses.replace(shot, picture=green) for shot in told.snapshots)
    film = slides.slides(dataclasses.replace(told, slides=shots))
    raw = base64.b64decode(film.slides[0].uri.split(",")[1])
    shown = np.asarray(Image.open(io.BytesIO(raw)).convert("RGB"))
    assert shown.shape == (film.height, film.width, 3)
    assert abs(int(shown[2, 2, 1]) - 180) < 6


def test_without_script_every_frame_stands_there_and_one_is_printed_per_stage():
    told = analysis()
    page = report_page(told)
    assert page.count('alt="Frame with the pins circled') == len(told.snapshots)
    assert page.count('<figure class="end">') == 2
    assert 'type="range"' not in page


def test_no_frame_no_section():
    told = dataclasses.replace(analysis(), snapshots=())
    assert slides.slides(told) is None
    assert "<h2>Frames</h2>" not in report_page(told)


def test_where_there_is_little_room_frames_get_smaller_and_then_fewer_and_stage_ends_stay():
    told = analysis()
    noise = np.random.default_rng(5).normal(20.0, 5.0, (60, 160)).astype(np.float32)
    shots = [dataclasses.replace(told.snapshots[0], index=k, celsius=noise, stage="ab"[k // 10]) for k in range(20)]
    told = dataclasses.replace(told, slides=tuple(shots))
    size = {most: [len(slide.uri) for slide in slides.slides(told, most).slides] for most in (600_000, 60_000, 20_000)}
    assert len(size[600_000]) == len(size[60_000]) == 20
    assert sum(size[60_000]) <= 60_000 < sum(size[600_000])
    assert len(size[20_000]) < 20
    assert sum(size[20_000]) <= 20_000
    assert len(slides.slides(told, 0).slides) == 4
