"""Surroundings hotter than the pin, and counts beyond their calibration: a doubt in the row, words beside it."""

import numpy as np
import pytest
from made_frames import ArrayPixels, frames_of, pins_at, session_of

from hotspot.calibration import Calibration
from hotspot.doubts import BIT
from hotspot.extract import measure
from hotspot.extract.budget import standard_uncertainty, terms
from hotspot.extract.series import collect
from hotspot.records import Frame

SHAPE = (40, 60)


def measured(frames, pins, **tables):
    return measure(session_of(**tables), frames, pins, (), None, {0: ""})


@pytest.mark.parametrize(
    ("surface", "shown_c", "doubtful"),
    [
        ({"emissivity": 0.6, "set_emissivity": 1.0, "reflected": 60.0}, 50.0, True),
        ({"emissivity": 0.6, "set_emissivity": 1.0, "reflected": 25.0}, 50.0, False),
        ({"emissivity": 1.0, "set_emissivity": 1.0, "reflected": 60.0}, 50.0, False),
        ({"emissivity": 0.6, "set_emissivity": 1.0}, 5.0, False),  # only assumed surroundings
        ({"emissivity": 0.2, "set_emissivity": 1.0, "reflected": 90.0}, 30.0, True),  # reflections alone outshine it
    ],
)
def test_surroundings_hotter_than_the_pin_are_a_doubt_with_words(surface, shown_c, doubtful):
    found = measured(frames_of([np.full(SHAPE, shown_c)]), pins_at((20, 20)), surface=surface)
    assert ("reflected_hotter" in found.readings["quality"][0]) is doubtful
    told = [said for said in found.notices if said.code == "pins_reflected_hotter"]
    assert len(told) == doubtful
    assert all((said.values["pins"], said.values["frames"], said.frames) == (["1"], 1, (0,)) for said in told)


def test_a_pin_colder_than_its_surroundings_reads_high_and_that_is_undone():
    """Measurement equation over 8-14 um: a surface of 20 °C and emissivity 0.6 under 80 °C shows some 47 °C."""
    from hotspot.physics.radiation import band, received

    table = band(8.0, 14.0)
    shown = float(table.celsius(received(table.radiance(20.0), 0.6, table.radiance(80.0))))
    assert shown > 40.0
    surface = {"emissivity": 0.6, "set_emissivity": 1.0, "reflected": 80.0}
    found = measured(frames_of([np.full(SHAPE, shown)]), pins_at((20, 20)), surface=surface)
    assert found.readings["temperature_c"][0] == pytest.approx(20.0, abs=0.01)


class Calibrated(ArrayPixels):
    calibration = Calibration("linear", 0.0, 100.0, (1.0, 0.0), level_k=0.5, slope=0.02, pivot_c=20.0, shape_k=0.1)


def test_a_calibration_is_two_terms_of_the_budget_and_its_level_is_common():
    frames = [
        Frame(k, f"f{k}", 10.0 * k, Calibrated(np.full(SHAPE, c), BIT["beyond_calibration"] if c > 100 else 0))
        for k, c in enumerate((20.0, 70.0, 120.0))
    ]
    surface = {"emissivity": 0.95, "set_emissivity": 0.95, "reflected": 20.0}
    session = session_of(surface=surface, camera={"noise_k": 0.0})
    series = collect(session, frames, pins_at((20, 20)), None, {})
    found = terms(session, series)
    assert found["calibration"][:, 0] == pytest.approx([0.5, 0.5, 0.5])
    assert found["calibration_shape"][:, 0] == pytest.approx(np.hypot([0.0, 1.0, 2.0], 0.1))
    whole = standard_uncertainty(session, series)[:, 0]
    assert whole[1] >= np.hypot(0.5, np.hypot(1.0, 0.1)) - 1e-9
    extracted = measure(session, frames, pins_at((20, 20)), (), None, {})
    codes = [said.code for said in extracted.notices]
    assert "pins_beyond_calibration" in codes
    assert "accuracy_by_calibration" in codes
    assert "accuracy_not_stated" not in codes
    assert list(extracted.readings["quality"].str.contains("beyond_calibration")) == [False, False, True]
    assert extracted.readings["common_c"].to_numpy() == pytest.approx(0.5)


def test_the_table_of_one_reading_says_what_is_left_in_differences():
    frames = [Frame(k, f"f{k}", 10.0 * k, Calibrated(np.full(SHAPE, c))) for k, c in enumerate((20.0, 45.0, 70.0))]
    surface = {"emissivity": 0.9, "set_emissivity": 0.95, "reflected": 20.0}
    session = session_of(surface=surface, camera={"noise_k": 0.1, "accuracy_k": 2.0})
    budget = measure(session, frames, pins_at((20, 20), (40, 20)), (), None, {0: ""}).budget
    found = budget.at("2", 26.0)
    assert (found.pin, found.frame, found.file, found.time_s) == ("2", 2, "f2", 20.0)
    assert (found.neighbour, found.since_s, found.across_px) == ("1", 0.0, 10.0)
    read_c = budget.series.surface_c
    assert (found.celsius, found.rise_k) == (read_c[2, 1], pytest.approx(read_c[2, 1] - read_c[0, 1]))
    assert found.over_neighbour_k == pytest.approx(read_c[2, 1] - read_c[2, 0])
    for whole, part in (("rise_uncertainty_k", "rise_k"), ("neighbour_uncertainty_k", "neighbour_k"),
                        ("again_uncertainty_k", "again_k")):  # fmt: skip
        assert getattr(found, whole) == pytest.approx(np.sqrt(sum(getattr(row, part) ** 2 for row in found.rows)))
    rows = {row.name: row for row in found.rows}
    assert sum(row.share for row in found.rows) == pytest.approx(1.0)
    assert found.together_k == pytest.approx(float(standard_uncertainty(session, budget.series)[2, 1]))
    assert rows["accuracy"].standard_k > 1.1
    assert rows["accuracy"].rise_k < 0.1  # what is left is by how much the correction for the surface multiplies it
    assert rows["calibration"].neighbour_k == pytest.approx(0.0, abs=1e-9)
    shown = budget.series.camera_c[:, 1]
    assert rows["calibration_shape"].rise_k == pytest.approx(np.hypot(0.02 * (shown[2] - shown[0]), 0.1 * np.sqrt(2)))
    assert rows["calibration_shape"].again_k == 0.0
    assert rows["emissivity"].rise_k == pytest.approx(rows["emissivity"].standard_k, rel=0.05)
    assert rows["noise"].rise_k == pytest.approx(np.sqrt(2) * rows["noise"].standard_k, rel=0.1)
    assert rows["emissivity"].again_k == pytest.approx(np.sqrt(2) * rows["emissivity"].standard_k)
    for name in ("9", "3"):
        with pytest.raises(KeyError):
            budget.at(name, 0.0)


def test_what_is_left_in_a_difference_is_what_drawn_errors_leave():
    """Monte Carlo (JCGM 101): a common camera error and a common error of emissivity, drawn 4000 times, through the
    measurement equation itself; the spread of the rise is that of the terms."""
    from hotspot.physics.radiation import band, emitted

    table, rng = band(8.0, 14.0), np.random.default_rng(12)
    emissivity = 0.9 + rng.uniform(-0.02, 0.02, 4000)
    off = rng.uniform(-2.0, 2.0, 4000)
    around = table.radiance(20.0)
    hot, cold = (table.celsius(emitted(table.radiance(c + off), emissivity, around)) for c in (70.0, 20.0))
    surface = {"emissivity": 0.9, "set_emissivity": 1.0, "reflected": 20.0}
    session = session_of(surface=surface, camera={"noise_k": 0.0, "accuracy_k": 2.0})
    frames = frames_of([np.full(SHAPE, 20.0), np.full(SHAPE, 70.0)])
    found = measure(session, frames, pins_at((20, 20)), (), None, {0: ""}).budget.at("1", 10.0)
    rows = {row.name: row for row in found.rows}
    left = np.hypot(rows["accuracy"].rise_k, rows["emissivity"].rise_k)
    assert left == pytest.approx(np.std(hot - cold), rel=0.1)
    assert np.hypot(rows["accuracy"].standard_k, rows["emissivity"].standard_k) == pytest.approx(np.std(hot), rel=0.1)
