"""The uncertainty of a reading: each term where it belongs, and the sum held to what happens."""

import numpy as np
import pytest
from made_frames import frames_of, pins_at, session_of

from hotspot.extract.budget import TERMS, budget_table, standard_uncertainty, terms
from hotspot.extract.series import collect, pixel_noise

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
