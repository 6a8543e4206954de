"""Readings per frame and pin: means, rises, clipping, doubts, surface temperature."""

from dataclasses import replace

import numpy as np
import pytest
from made_frames import frames_of, pins_at, region, session_of

from hotspot.columns import READINGS, column_names
from hotspot.doubts import BIT, REGISTRY
from hotspot.extract import measure
from hotspot.extract.surroundings import ACROSS, DOWN, PIXELS
from hotspot.physics import radiation
from hotspot.records import StageSpan
from hotspot.tell.words import say

SHAPE = (40, 60)
QUIET = {"camera": {"accuracy_k": 0.0, "noise_k": 0.0}}


def read(frames, pin_map, session=None, **more):
    return measure(
        session or session_of(), frames, pin_map, more.get("stages", ()), more.get("log"), more.get("keep", {})
    )


def slope_picture(at=50.0, right=0.3, down=-0.2):
    rows, columns = np.indices(SHAPE, dtype=float)
    return at + right * columns + down * rows


def test_a_flat_scene_reads_flat_and_has_the_columns_of_the_contract() -> None:
    table = read(frames_of([np.full(SHAPE, 41.25)] * 3), pins_at((20, 20), (40.3, 19.6))).readings
    assert list(table.columns) == column_names(READINGS)
    assert len(table) == 6
    np.testing.assert_allclose(table["temperature_c"], 41.25, atol=1e-12)
    np.testing.assert_allclose(table["pixels"], np.pi * 25, rtol=1e-9)
    assert table["frame"].tolist() == [0, 0, 1, 1, 2, 2]
    assert table["pin"].tolist() == ["1", "2"] * 3
    assert table["shift_px"].isna().all()
    assert table["rise_c"].isna().all()


def test_the_mean_over_a_slope_is_the_value_at_the_centre() -> None:
    x, y = 23.37, 17.81
    table = read(frames_of([slope_picture()]), pins_at((x, y), radius=6.2)).readings
    # pixels are squares of one value: the mean of a slope is the centre's but for the rim's rounding
    assert table["temperature_c"][0] == pytest.approx(50 + 0.3 * x - 0.2 * y, abs=0.005)


def test_the_mean_over_a_round_hill_is_the_integral_of_scipy() -> None:
    """A fine disc mean by scipy's quad of the same hill, pixels small against it."""
    from scipy.integrate import quad

    rows, columns = np.indices((80, 80), dtype=float)
    width, radius = 15.0, 9.0
    hill = 30 + 40 * np.exp(-((rows - 40.2) ** 2 + (columns - 39.7) ** 2) / (2 * width**2))
    expected = 30 + 2 / radius**2 * quad(lambda r: 40 * r * np.exp(-(r**2) / (2 * width**2)), 0, radius)[0]
    table = read(frames_of([hill]), pins_at((39.7, 40.2), radius=radius)).readings
    assert table["temperature_c"][0] == pytest.approx(expected, abs=0.02)


def test_only_the_pixels_that_matter_are_asked_for_and_once_a_frame() -> None:
    logged = (np.array([0.0]), np.array([20.0]))
    for log, spots in ((logged, 0), (None, ACROSS * DOWN * PIXELS)):  # nothing logged: the surroundings too
        frames = frames_of([np.full(SHAPE, 30.0)] * 4)
        read(frames, pins_at((20, 20), (22, 20), radius=3.0), log=log)
        for frame in frames:
            assert len(frame.pixels.asked) == 1
            assert frame.pixels.asked[0] < 90 + spots  # two overlapping circles of 28 px with a rim


@pytest.mark.parametrize(
    ("tables", "log", "regions", "expected"),
    [
        ({"ambient": 21.0}, (np.array([0.0]), np.array([5.0])), (), [29.0, 29.0, 29.0]),
        ({}, (np.array([0.0, 20.0]), np.array([20.0, 22.0])), (), [30.0, 29.0, 28.0]),
        ({}, None, (("air", "ambient", (0, 0, 4, 4)),), [26.0, 26.0, 26.0]),
        ({}, None, (("case", "reference", (0, 0, 4, 4)),), [np.nan] * 3),
    ],
    ids=["number", "log", "region", "unknown"],
)
def test_rise_over_the_first_ambient_that_is_known(tables, log, regions, expected) -> None:
    picture = np.full(SHAPE, 50.0)
    picture[:6, :6] = 24.0
    found = read(
        frames_of([picture] * 3),
        pins_at((30, 20), regions=[region(*one) for one in regions]),
        session_of(**tables),
        log=log,
    )
    np.testing.assert_allclose(found.readings["rise_c"], expected)
    assert len(found.ambient) == (0 if np.isnan(expected[0]) else 3)
    assert ("ambient_unknown" in [s.code for s in found.notices]) == bool(np.isnan(expected[0]))


@pytest.mark.parametrize(("end", "word"), [("clipped_low", "low"), ("clipped_high", "high")])
def test_clipping_by_the_written_rule(end, word) -> None:
    bits = np.zeros(SHAPE, dtype=np.uint32)
    bits[20, 18:21] = BIT[end]  # 3 px of the first pin, 2 of the second, none of the third
    bits[20, 40:42] = BIT[end]
    found = read(frames_of([np.full(SHAPE, 80.0)], bits=bits), pins_at((19, 20), (40, 20), (50, 30)))
    assert found.readings["clipped"].tolist() == [word, "", ""]
    assert [end in quality for quality in found.readings["quality"]] == [True, False, False]
    said = next(s for s in found.notices if s.code == f"pins_{end}")
    assert said.values["pins"] == ["1"]
    assert said.frames == (0,)


def test_a_fifth_of_a_small_pin_is_clipped_too() -> None:
    bits = np.zeros(SHAPE, dtype=np.uint32)
    bits[20, 20] = BIT["clipped_high"]  # 1 of 3.1 px
    table = read(frames_of([np.full(SHAPE, 80.0)], bits=bits), pins_at((20, 20), radius=1.0)).readings
    assert table["clipped"].tolist() == ["high"]
    assert table["temperature_c"][0] == pytest.approx(80.0, abs=1e-12)


def test_a_few_pixels_at_an_end_are_a_doubt_and_are_said() -> None:
    """Fewer than make a clipped pin, or such as compression may have put there: never a number without a word."""
    bits = np.zeros(SHAPE, dtype=np.uint32)
    bits[20, 18:20] = BIT["clipped_high"]
    bits[20, 39:44] = BIT["end_touched"]
    found = read(frames_of([np.full(SHAPE, 80.0)], bits=bits), pins_at((19, 20), (41, 20), (50, 30)))
    assert found.readings["clipped"].tolist() == ["", "", ""]
    assert ["end_touched" in quality.split(";") for quality in found.readings["quality"]] == [True, True, False]
    said = next(s for s in found.notices if s.code == "pins_end_touched")
    assert (said.values["pins"], said.values["frames"], said.frames) == (["1", "2"], 1, (0,))
    assert "may lie beyond it" in say(said)


def test_a_clipped_pin_is_not_said_to_touch_the_end_too() -> None:
    bits = np.zeros(SHAPE, dtype=np.uint32)
    bits[20, 18:22] = BIT["clipped_high"] | BIT["end_touched"]
    found = read(frames_of([np.full(SHAPE, 80.0)], bits=bits), pins_at((20, 20)))
    assert found.readings["clipped"].tolist() == ["high"]
    assert "end_touched" not in found.readings["quality"][0]
    assert "pins_end_touched" not in [said.code for said in found.notices]


def test_every_other_doubt_of_pixels_and_frames_reaches_the_quality() -> None:
    for doubt in REGISTRY:
        if doubt.name.startswith("clipped"):
            continue
        quality = read(frames_of([np.full(SHAPE, 30.0)], bits=BIT[doubt.name]), pins_at((20, 20), radius=6.0)).readings[
            "quality"
        ][0]
        assert doubt.name in quality.split(";")


def test_pixels_without_a_value_are_left_out_and_told() -> None:
    picture = slope_picture()
    picture[20, 18:22] = np.nan
    picture[:, 45:] = np.nan
    table = read(frames_of([picture]), pins_at((20, 20), (52, 20))).readings
    assert np.isfinite(table["temperature_c"][0])
    assert "no_value" in table["quality"][0]
    assert np.isnan(table["temperature_c"][1])
    assert np.isnan(table["uncertainty_c"][1])
    assert "no_value" in table["quality"][1]


def test_pins_outside_the_picture_are_doubted_not_a_crash() -> None:
    found = read(frames_of([np.full(SHAPE, 30.0)]), pins_at((0, 20), (900, -50), (30, 20)))
    inside, outside, clear = found.readings["quality"]
    assert "outside_picture" in inside
    assert "outside_picture" in outside
    assert "outside_picture" not in clear
    assert found.readings["temperature_c"].isna().tolist() == [False, True, False]
    assert found.readings["pixels"].tolist()[1] == 0.0
    assert next(s for s in found.notices if s.code == "pins_outside").values["pins"] == ["1", "2"]


@pytest.mark.parametrize(("radius", "doubt"), [(1.4, "few_pixels"), (1.5, "reads_low"), (4.9, "reads_low"), (5.0, "")])
def test_few_pixels_across(radius, doubt) -> None:
    quality = read(frames_of([np.full(SHAPE, 30.0)]), pins_at((20, 20), radius=radius)).readings["quality"][0]
    assert {"few_pixels", "reads_low"} & set(quality.split(";")) == ({doubt} if doubt else set())


def test_a_pin_under_a_wire_has_no_reading_and_says_why() -> None:
    """Analytic: the thing over it has 80 degC; no number of it may pass for the pin's, the other pin reads its own."""
    picture = np.full(SHAPE, 41.25)
    picture[:, 17:24] = 80.0
    under = replace(pins_at((20, 20), (40, 20)), covered=("1",))
    table = read(frames_of([picture] * 3), under).readings
    assert table[table["pin"] == "1"][["temperature_c", "rise_c"]].isna().all(axis=None)
    assert table[table["pin"] == "1"]["quality"].str.split(";").map(lambda names: "covered" in names).all()
    other = table[table["pin"] == "2"]
    np.testing.assert_allclose(other["temperature_c"], 41.25, atol=1e-12)
    assert not other["quality"].str.contains("covered").any()


def test_an_ignored_box_is_cut_out_of_the_face() -> None:
    picture = np.full(SHAPE, 30.0)
    picture[18:20, 10:30] = 99.0
    table = read(
        frames_of([picture]), pins_at((20, 20), radius=6.0, regions=[region("mark", "ignore", (10, 18, 20, 2))])
    ).readings
    assert table["temperature_c"][0] == pytest.approx(30.0)
    assert table["pixels"][0] < np.pi * 36 - 20


def test_frames_of_another_size_are_set_aside() -> None:
    frames = frames_of([np.full(SHAPE, 30.0), np.full((20, 30), 30.0), np.full(SHAPE, 31.0)])
    found = read(frames, pins_at((20, 20)))
    assert found.readings["temperature_c"].isna().tolist() == [False, True, False]
    assert next(s for s in found.notices if s.code == "frame_size_changed").frames == (1,)


def test_stages_and_frames_to_keep() -> None:
    frames = frames_of([np.full(SHAPE, 30.0 + n) for n in range(4)])
    spans = (StageSpan("warm", 10.0, 30.0, (1, 2)),)
    found = read(frames, pins_at((20, 20)), stages=spans, keep={2: "warm"})
    assert found.readings["stage"].tolist() == ["", "warm", "warm", ""]
    (kept,) = found.snapshots
    assert (kept.index, kept.stage, kept.celsius.dtype, kept.celsius[0, 0]) == (2, "warm", np.float32, 32.0)


def test_no_frame_gives_an_empty_table_with_its_columns() -> None:
    table = read([], pins_at((20, 20))).readings
    assert list(table.columns) == column_names(READINGS)
    assert len(table) == 0


def test_many_batches_are_one_table() -> None:
    frames = frames_of([np.full(SHAPE, 20.0 + 0.1 * n) for n in range(150)])
    table = read(frames, pins_at((20, 20), (40, 20))).readings
    np.testing.assert_allclose(table["temperature_c"], np.repeat(20.0 + 0.1 * np.arange(150), 2))
    assert table["frame"].tolist() == list(np.repeat(np.arange(150), 2))


def shown(true_c, emissivity, reflected_c, set_emissivity, set_reflected_c):
    """What a camera set so shows of a surface, by the exact integral and scipy's root."""
    from scipy.optimize import brentq

    def radiance(celsius):
        return float(radiation.band_radiance(celsius, 8.0, 14.0))

    came = emissivity * radiance(true_c) + (1 - emissivity) * radiance(reflected_c)
    own = (came - (1 - set_emissivity) * radiance(set_reflected_c)) / set_emissivity
    return brentq(lambda celsius: radiance(celsius) - own, -80, 500, xtol=1e-9)


@pytest.mark.parametrize(("emissivity", "set_emissivity"), [(0.95, 1.0), (0.6, 0.95), (0.9, 0.9), (0.1, 0.95)])
def test_the_cameras_setting_is_undone_and_the_surfaces_applied(emissivity, set_emissivity) -> None:
    camera = shown(80.0, emissivity, 25.0, set_emissivity, 20.0)
    surface = {
        "emissivity": emissivity, "reflected": 25.0, "set_emissivity": set_emissivity, "set_reflected": 20.0
    }  # fmt: skip
    table = read(frames_of([np.full(SHAPE, camera)]), pins_at((20, 20)), session_of(surface=surface)).readings
    assert table["temperature_c"][0] == pytest.approx(80.0, abs=1e-3 / emissivity)


def test_a_camera_set_as_the_surface_is_changes_nothing_to_the_last_bit() -> None:
    picture = np.random.default_rng(1).normal(60, 5, SHAPE)
    plain = read(frames_of([picture]), pins_at((20, 20))).readings["temperature_c"][0]
    surface = {"emissivity": 0.95, "set_emissivity": 0.95}
    same = read(frames_of([picture]), pins_at((20, 20)), session_of(surface=surface)).readings
    assert same["temperature_c"][0] == plain


def test_without_the_cameras_setting_values_stay_and_it_is_said() -> None:
    found = read(
        frames_of([np.full(SHAPE, 77.0)]), pins_at((20, 20)), session_of(surface={"emissivity": 0.9}, ambient=20.0)
    )
    assert found.readings["temperature_c"][0] == 77.0
    assert "emissivity_not_applied" in [s.code for s in found.notices]


def test_a_pin_of_its_own_emissivity_is_turned_on_its_own() -> None:
    camera = shown(80.0, 0.6, 25.0, 0.95, 25.0)
    session = session_of(
        surface={"emissivity": 0.95, "reflected": 25.0, "set_emissivity": 0.95}, pin=[{"name": "2", "emissivity": 0.6}]
    )
    table = read(frames_of([np.full(SHAPE, camera)]), pins_at((20, 20), (40, 20)), session).readings
    assert table["temperature_c"][0] == pytest.approx(camera, abs=1e-12)
    assert table["temperature_c"][1] == pytest.approx(80.0, abs=0.002)


def test_unknown_emissivity_and_bare_metal_are_doubted() -> None:
    unknown = read(frames_of([np.full(SHAPE, 60.0)]), pins_at((20, 20)))
    assert "emissivity_unknown" in unknown.readings["quality"][0]
    bare = read(frames_of([np.full(SHAPE, 60.0)]), pins_at((20, 20)), session_of(surface={"emissivity": 0.3}))
    assert "bare_metal" in bare.readings["quality"][0]
    assert "emissivity_unknown" not in bare.readings["quality"][0]


def test_every_notice_has_its_sentence() -> None:
    import tomllib
    from pathlib import Path

    import hotspot

    words = tomllib.loads((Path(hotspot.__file__).parent / "tell/catalogue/extract.toml").read_text())
    bits = np.full(SHAPE, BIT["clipped_high"], dtype=np.uint32)
    found = read(frames_of([np.full(SHAPE, 60.0)], bits=bits), pins_at((20, 20), (0, 0), radius=1.0))
    assert {s.code for s in found.notices} <= set(words)
    assert {"accuracy_not_stated", "noise_assumed", "pins_shape_only"} <= {s.code for s in found.notices}
