"""The made camera: is what it shows what is there, and do its carriers hold what it showed?"""

import datetime

import numpy as np
import pytest

from hotspot.synthetic.camera import CameraSpec, band_radiance, film
from hotspot.synthetic.connector import ConnectorSpec, Load, LoadStage, simulate
from hotspot.synthetic.draw import DrawnScale, colour_picture, colours
from hotspot.synthetic.write import (
    as_counts,
    clock_names,
    write_colour_video,
    write_colours,
    write_count_video,
    write_counts,
    write_float_tiff,
    write_npy,
    write_table,
)

STILL = {"noise_k": 0.0, "wander_k": 0.0, "blur_px": 0.01}
SCALE = DrawnScale(10.0, 90.0)


@pytest.fixture(scope="module")
def heated():
    spec = ConnectorSpec(1, 4, (2e-3, 2e-3, 9e-3, 2e-3), (1.5,) * 4, pitch_mm=6, pin_mm=3, upstream_k=(0, 0, 0, 20.0))
    return simulate(spec, Load((LoadStage("full", 400.0, (12.0,) * 4),), 20.0), dt=5.0)


@pytest.fixture(scope="module")
def footage(heated):
    return film(heated, CameraSpec(120, 96, 3.5, 10.0), 40.0, seed=3)


@pytest.mark.published
@pytest.mark.parametrize(
    ("kelvin", "below_8_um", "below_14_um"), [(300.0, 0.1402, 0.5160), (350.0, 0.2279, 0.6209), (400.0, 0.3181, 0.7010)]
)
def test_band_radiance_of_a_black_body(kelvin, below_8_um, below_14_um):
    # Kutz (ed.), Mechanical Engineers' Handbook vol. 4, table 16: printed fractions of sigma T^4 / pi, to 4 digits.
    celsius, radiance = band_radiance()
    expected = (below_14_um - below_8_um) * 5.670374419e-8 * kelvin**4 / np.pi
    assert np.interp(kelvin - 273.15, celsius, radiance) == pytest.approx(expected, rel=5e-4)


def test_perfect_camera_shows_the_truth(heated):
    camera = CameraSpec(160, 120, 4.0, 7.0, (80.0, 55.0), pin_emissivity=(0.95,) * 4, **STILL)
    footage = film(heated, camera, 100.0)
    assert footage.time_s == pytest.approx([0, 100, 200, 300, 400])
    rows, columns = np.indices((120, 160))
    for pin in range(4):
        disc = np.hypot(columns - footage.x_px[pin], rows - footage.y_px[pin]) <= footage.radius_px[pin]
        assert footage.celsius[-1][disc].mean() == pytest.approx(footage.truth_c[-1, pin], abs=0.15)
        hottest_cell = heated.face_c[-1].max()
        assert footage.celsius[-1][disc].max() <= hottest_cell + 0.05


def test_pins_are_where_they_are_said_to_be(heated):
    for turn in (0.0, 30.0, 90.0, 180.0):
        camera = CameraSpec(140, 140, 4.0, turn, (68.0, 71.0), pin_emissivity=(0.95,) * 4, **STILL)
        footage = film(heated, camera, 400.0)
        row, column = np.unravel_index(footage.celsius[-1].argmax(), (140, 140))
        assert np.hypot(column - footage.x_px[2], row - footage.y_px[2]) < 2.5
    assert footage.x_px[0] > footage.x_px[3]  # upside down


def test_emissivity_lowers_what_is_shown(heated):
    grey = film(heated, CameraSpec(pin_emissivity=(0.95, 0.95, 0.80, 0.95), **STILL), 400.0)
    black = film(heated, CameraSpec(pin_emissivity=(0.95,) * 4, **STILL), 400.0)
    row, column = round(grey.y_px[2]), round(grey.x_px[2])
    rise = [f.celsius[-1, row, column] - 20.0 for f in (grey, black)]
    # Against surroundings at ambient the rise in radiance falls by 0.80 / 0.95; in kelvin by a little less.
    assert rise[0] / rise[1] == pytest.approx(0.80 / 0.95, abs=0.025)
    assert rise[0] / rise[1] > 0.80 / 0.95
    assert np.array_equal(grey.truth_c, black.truth_c)


def test_noise_bias_and_wander_are_as_stated(heated):
    camera = CameraSpec(wander_k=0.0, noise_k=0.08, bias_k=1.5)
    noisy = film(heated, camera, 20.0, seed=1)
    bench = noisy.celsius[:, :20, :].astype(float)
    assert np.diff(bench, axis=0).std() / np.sqrt(2) == pytest.approx(0.08, rel=0.02)
    assert bench.mean() == pytest.approx(21.5, abs=0.2)
    wandering = [film(heated, CameraSpec(wander_k=0.5, noise_k=0.0), 20.0, seed=s) for s in range(12)]
    levels = np.array([f.celsius[:, :20].mean(axis=(1, 2)) for f in wandering])
    assert 0.3 < levels.std() < 0.75


def test_wires_show_the_heat_along_them(heated):
    footage = film(heated, CameraSpec(120, 120, 3.5, 0.0, (60.0, 30.0), wires=True, **STILL), 400.0)
    bare = film(heated, CameraSpec(120, 120, 3.5, 0.0, (60.0, 30.0), **STILL), 400.0)
    column = round(footage.x_px[2])
    assert footage.celsius[-1, 60, column] > footage.celsius[-1, 100, column] > bare.celsius[-1, 100, column] + 5.0
    assert bare.celsius[-1, 60, column] == pytest.approx(20.0, abs=1.0)


def test_same_seed_same_frames(heated, footage):
    again = film(heated, CameraSpec(120, 96, 3.5, 10.0), 40.0, seed=3)
    other = film(heated, CameraSpec(120, 96, 3.5, 10.0), 40.0, seed=4)
    assert np.array_equal(footage.celsius, again.celsius)
    assert not np.array_equal(footage.celsius, other.celsius)


def test_colours_hold_the_temperatures(footage):
    picture = colour_picture(footage.celsius[-1], SCALE)
    table = colours(SCALE.map).astype(int)
    assert picture.shape == (96, 168, 3)
    seen = picture[:, :120].reshape(-1, 1, 3).astype(int)
    level = np.abs(seen - table).sum(axis=2).argmin(axis=1).reshape(96, 120)
    back = 10.0 + 80.0 * level / 255
    assert np.abs(back - footage.celsius[-1]).max() < 80.0 / 255
    x, y, wide, high = SCALE.bar(120, 96)
    assert (picture[y, x : x + wide] == table[255]).all()
    assert (picture[y + high - 1, x : x + wide] == table[0]).all()
    assert picture[5:18, 122:166].max() > 200  # figures over the bar
    assert picture[78:92, 122:166].max() > 200


def test_still_carriers_hold_the_frames(footage, tmp_path):
    import tifffile
    from PIL import Image

    start = datetime.datetime(2026, 2, 17, 23, 59, 30)
    names = clock_names(start, footage.time_s, "plug", ".png")
    assert names[:2] == ["plug_20260217_235930.png", "plug_20260218_000010.png"]
    counts = write_counts(tmp_path / "counts", footage, names, 0.02, -40.0)
    with Image.open(counts[-1]) as image:
        back = 0.02 * np.asarray(image).astype(float) - 40.0
    assert np.abs(back - footage.celsius[-1]).max() <= 0.0101
    pictures = write_colours(tmp_path / "colours", footage, SCALE, names)
    with Image.open(pictures[-1]) as image:
        assert np.array_equal(np.asarray(image), colour_picture(footage.celsius[-1], SCALE))
    jpegs = write_colours(tmp_path / "colours", footage, SCALE, [name.replace("png", "jpg") for name in names])
    with Image.open(jpegs[-1]) as image:
        assert np.abs(np.asarray(image).astype(int) - colour_picture(footage.celsius[-1], SCALE)).mean() < 3
    write_float_tiff(tmp_path / "a.tif", footage)
    assert np.array_equal(tifffile.imread(tmp_path / "a.tif"), footage.celsius)
    write_npy(tmp_path / "a.npy", footage)
    assert np.array_equal(np.load(tmp_path / "a.npy"), footage.celsius)


def test_videos_carry_times_and_counts(footage, tmp_path):
    import av

    write_count_video(tmp_path / "a.mkv", footage, 0.01, -40.0)
    write_colour_video(tmp_path / "a.mp4", footage, SCALE)
    with av.open(str(tmp_path / "a.mkv")) as container:
        frames = list(container.decode(video=0))
    assert [float(frame.time) for frame in frames] == pytest.approx(footage.time_s)
    assert np.array_equal(frames[-1].to_ndarray(), as_counts(footage.celsius[-1], 0.01, -40.0))
    with av.open(str(tmp_path / "a.mp4")) as container:
        frames = list(container.decode(video=0))
    assert [float(frame.time) for frame in frames] == pytest.approx(footage.time_s)
    last = frames[-1].to_ndarray(format="rgb24").astype(int)
    assert np.abs(last - colour_picture(footage.celsius[-1], SCALE)).mean() < 6


def test_table_has_a_column_per_pin(footage, tmp_path):
    (path,) = write_table(tmp_path / "log.csv", footage, ["A1", "A2", "B1", "B2"])
    lines = path.read_text().splitlines()
    assert lines[0] == "time_s,A1,A2,B1,B2"
    assert [float(value) for value in lines[-1].split(",")] == pytest.approx([400.0, *footage.truth_c[-1]], abs=0.006)


def test_a_camera_that_misses_the_pins_is_refused(heated):
    with pytest.raises(ValueError, match="outside the picture"):
        film(heated, CameraSpec(40, 30, 5.0), 10.0)
    with pytest.raises(ValueError, match="3 values for 4 pins"):
        film(heated, CameraSpec(pin_emissivity=(0.9,) * 3), 10.0)
