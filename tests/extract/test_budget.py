"""The uncertainty of a reading: each term where it belongs, and the sum held to what happens."""

import numpy as np
import pytest
from made_frames import frames_of, pins_at, session_of

from hotspot.extract.budget import TERMS, budget_table, standard_uncertainty, terms
from hotspot.extract.noise import pixel_noise, scatter
from hotspot.extract.series import collect

SHAPE = (40, 60)
KNOWN = {"emissivity": 0.95, "set_emissivity": 0.95, "reflected": 25.0}


def series_of(frames, pin_map, **tables):
    session = session_of(**tables)
    return session, collect(session, frames, pin_map, None, {})


def test_the_noise_of_pixels_is_seen_and_shrinks_with_their_number() -> None:
    rng = np.random.default_rng(11)
    warm = np.linspace(0, 30, 40)[:, None, None]  # climbs while it is watched
    pictures = 30 + warm + rng.normal(0, 0.2, (40, *SHAPE))
    session, series = series_of(frames_of(pictures), pins_at((20, 20), (40, 20)), surface=KNOWN)
    assert np.median(series.noise_k) == pytest.approx(0.2, rel=0.05)
    noise = terms(session, series)["noise"]
    single = 0.2 / np.sqrt(series.faces.independent)
    assert np.all(noise >= 0.95 * single)
    assert np.all(noise <= 2.0 * single)
    assert series.faces.independent[0] == pytest.approx(np.pi * 25, rel=0.1)


def test_noise_from_two_frames_and_from_one() -> None:
    rng = np.random.default_rng(3)
    assert pixel_noise(30 + rng.normal(0, 0.3, (2, 4000))) == pytest.approx(0.3, rel=0.06)
    assert np.isnan(pixel_noise(np.full((1, 50), 30.0)))
    assert np.isnan(pixel_noise(np.full((3, 50), np.nan)))


def warming(frames: int, gap_s: float, noise_k: float, seed: int) -> np.ndarray:
    """Eight pins (frames, 8) that warm by 20-55 K with 240 s, a frame every `gap_s`."""
    rise = 1.0 - np.exp(-gap_s * np.arange(frames) / 240.0)
    own = np.linspace(20.0, 55.0, 8)
    return 22.0 + rise[:, None] * own + np.random.default_rng(seed).normal(0.0, noise_k, (frames, 8))


@pytest.mark.parametrize(("frames", "gap_s"), [(12, 120.0), (20, 60.0), (40, 20.0), (400, 5.0)])
def test_what_warms_is_no_noise_where_frames_are_far_apart(frames: int, gap_s: float) -> None:
    """Against the noise that was put in. Second differences alone read 0.05 K as 0.39 K in the first case."""
    found = np.mean([np.median(scatter(warming(frames, gap_s, 0.05, seed))) for seed in range(30)])
    assert 0.045 < found < 0.075
    pixels = np.repeat(warming(frames, gap_s, 0.0, 1), 60, axis=1)  # of eight pins, each warming in its own way
    pixels += np.random.default_rng(2).normal(0.0, 0.1, pixels.shape)
    assert pixel_noise(pixels) == pytest.approx(0.1, rel=0.15)


def test_steady_noise_is_what_it_was_by_second_differences() -> None:
    """Their factor, sqrt(6), and that of the fourth, sqrt(70), against scipy's binomial coefficients."""
    from scipy.special import binom

    values = np.random.default_rng(5).normal(0.0, 0.2, (200, 12))
    assert np.median(scatter(values)) == pytest.approx(0.2, rel=0.1)
    assert np.diff(values, n=4, axis=0).std() == pytest.approx(0.2 * np.sqrt(np.sum(binom(4, range(5)) ** 2)), rel=0.05)
    assert list(scatter(values[:4])) == [0.0] * 12
    assert list(scatter(np.full((9, 2), np.nan))) == [0.0, 0.0]


def test_the_stated_accuracy_is_rectangular_and_common() -> None:
    pins = pins_at((20, 20))
    session, series = series_of(
        frames_of([np.full(SHAPE, 60.0)]), pins, surface=KNOWN, camera={"accuracy_k": 2.0, "noise_k": 0.0}
    )
    found = terms(session, series)
    assert found["accuracy"][0, 0] == pytest.approx(2.0 / np.sqrt(3.0))
    assert found["noise"][0, 0] == 0.0
    assert found["placing"][0, 0] == pytest.approx(0.0, abs=1e-9)


def test_emissivity_and_reflection_by_an_own_difference() -> None:
    """A surface that shows 60 °C at 0.95 in surroundings of 25 °C: -33.6 K per unit of emissivity and -0.039 K
    per K of the surroundings, by differences of scipy's root of scipy's integral over 8-14 um."""
    from scipy import constants as codata
    from scipy.integrate import quad
    from scipy.optimize import brentq

    c2 = codata.h * codata.c / codata.k * 1e6

    def radiance(celsius):
        return quad(lambda um: um**-5 / np.expm1(c2 / (um * (celsius + 273.15))), 8, 14, epsrel=1e-11)[0]

    def surface_of(emissivity, reflected):
        own = (radiance(60.0) - (1 - emissivity) * radiance(reflected)) / emissivity
        return brentq(lambda celsius: radiance(celsius) - own, 0, 200, xtol=1e-10)

    by_emissivity = (surface_of(0.951, 25.0) - surface_of(0.949, 25.0)) / 0.002
    by_reflection = surface_of(0.95, 25.5) - surface_of(0.95, 24.5)
    assert by_emissivity == pytest.approx(-33.6, abs=0.05)
    session, series = series_of(
        frames_of([np.full(SHAPE, 60.0)]), pins_at((20, 20)), surface=KNOWN | {"set_emissivity": 1.0}
    )
    found = terms(session, series)
    assert found["emissivity"][0, 0] == pytest.approx(-by_emissivity * 0.02 / np.sqrt(3), rel=1e-3)
    assert found["reflected"][0, 0] == pytest.approx(-by_reflection * 3.0 / np.sqrt(3), rel=1e-3)


def test_what_is_not_known_widens_the_interval() -> None:
    frames = [np.full(SHAPE, 80.0)]
    widths = []
    for surface in (KNOWN, {"emissivity": 0.95, "reflected": 25.0}, {"reflected": 25.0}):
        session, series = series_of(frames_of(frames), pins_at((20, 20)), surface=surface)
        widths.append(float(standard_uncertainty(session, series)[0, 0]))
    assert widths[0] < widths[1] < widths[2]
    assert 1.0 < widths[2] < 4.0


def test_a_pin_on_a_slope_or_a_crest_is_unsure_of_its_place() -> None:
    rows, columns = np.indices(SHAPE, dtype=float)
    slope = 40 + 2.0 * columns
    crest = 40 + 30 * np.exp(-((rows - 20) ** 2 + (columns - 20) ** 2) / 8.0)
    _, on_slope = series_of(frames_of([slope]), pins_at((20, 20)))
    _, on_crest = series_of(frames_of([crest]), pins_at((20, 20), radius=2.0))
    _, on_flat = series_of(frames_of([np.full(SHAPE, 40.0)]), pins_at((20, 20)))
    assert on_slope.placing_k[0, 0] == pytest.approx(2.0 * 0.3, rel=0.02)
    assert 0.05 < on_crest.placing_k[0, 0] < 1.0
    assert on_flat.placing_k[0, 0] == pytest.approx(0.0, abs=1e-9)
    _, one_of_each = series_of(frames_of([40 + 2.0 * np.maximum(columns - 30, 0.0)]), pins_at((12, 20), (42, 20)))
    assert one_of_each.placing_k[0] == pytest.approx([0.0, 2.0 * 0.3], rel=0.02, abs=1e-9)


def test_reading_the_carrier_is_half_in_common() -> None:
    session, series = series_of(
        frames_of([np.full(SHAPE, 40.0)], reading_k=1.0), pins_at((20, 20)), camera={"noise_k": 0.0}
    )
    n = float(series.faces.independent[0])
    assert terms(session, series)["carrier"][0, 0] == pytest.approx(np.sqrt(0.5 + 0.5 / n))


def test_the_table_of_one_reading_adds_up() -> None:
    rng = np.random.default_rng(5)
    session, series = series_of(
        frames_of(50 + rng.normal(0, 0.1, (8, *SHAPE))), pins_at((20, 20), (40, 20)), camera={"accuracy_k": 1.5}
    )
    table = budget_table(session, series, "2", 3)
    assert list(table) == [*TERMS, "together"]
    assert table["together"] == pytest.approx(np.sqrt(sum(table[name] ** 2 for name in TERMS)))
    with pytest.raises(KeyError):
        budget_table(session, series, "9", 3)


def test_half_of_nothing_known_holds_the_truth_as_often_as_it_says() -> None:
    """Coverage: pins on slopes placed 0.3 px off, noise and accuracy as stated, cases not tuned on."""
    rng = np.random.default_rng(2024)
    rows, columns = np.indices(SHAPE, dtype=float)
    held = []
    for _ in range(300):
        right, down = rng.normal(0, 2.0, 2)
        x, y = rng.uniform(15, 40), rng.uniform(12, 28)
        off = rng.uniform(-1.0, 1.0)
        scene = 60 + right * (columns - x) + down * (rows - y) + off + rng.normal(0, 0.5, SHAPE)
        at = (x + rng.normal(0, 0.3), y + rng.normal(0, 0.3))
        session, series = series_of(
            frames_of([scene]), pins_at(at, radius=3.0), surface=KNOWN | {"reflected": 60.0},
            camera={"accuracy_k": 1.0, "noise_k": 0.5},
        )  # fmt: skip
        u = float(standard_uncertainty(session, series)[0, 0])
        held.append(abs(float(series.surface_c[0, 0]) - 60.0) < 1.96 * u)
    assert 0.93 <= np.mean(held) <= 0.99
