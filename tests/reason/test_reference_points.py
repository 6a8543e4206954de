"""Calibrating and checking a camera against points: truth held as often as said, and nothing surer than the points."""

import numpy as np
import pytest

from hotspot.calibration import ReferencePoint, flat_band, sakuma_hattori
from hotspot.errors import InputError
from hotspot.physics.water import boiling_c, standard_pressure_pa
from hotspot.reason.calibrating import fit
from hotspot.reason.camera_check import check_camera
from hotspot.reason.reference_points import worth


def point(kind, reading, reference=None, limits=None, **more):
    return ReferencePoint(kind, reading, reference, limits, **more)


def bath(reading_of, *celsius, limits=0.5, repeats=2):
    return [point("other", reading_of(c) + k * 1e-3, c, limits) for c in celsius for k in range(repeats)]


def test_what_ice_and_boiling_water_are_worth():
    known = worth(
        [point("ice", 1.0), point("boiling", 2.0, altitude_m=1000.0), point("boiling", 2.0, pressure_hpa=900.0)], 23.0
    )
    assert known.celsius == pytest.approx([0.0, boiling_c(standard_pressure_pa(1000.0)), boiling_c(90000.0)])
    assert known.standard_k[1] > known.standard_k[2] > known.standard_k[0]
    assert list(known.group) == [0, 1, 1]
    assert known.covariance[0, 1] < 0  # a wrong emissivity of the tape errs up at one and down at the other


def test_a_line_is_found_again_with_the_uncertainty_that_it_has():
    """60 sets of five places with errors as stated, not tuned on: the truth at three temperatures is held."""
    rng = np.random.default_rng(31)
    held = []
    for _ in range(60):
        points = []
        for celsius in (0.0, 25.0, 50.0, 75.0, 100.0):
            reading = (celsius + rng.normal(0, 0.3) + 40.0) / 0.01
            points.append(ReferencePoint("other", reading + rng.normal(0, 5.0), celsius, None, 0.3))
        made = fit(worth(points, 50.0), "linear", "points.csv").calibration
        for truth in (10.0, 50.0, 90.0):
            away = float(made.celsius((truth + 40.0) / 0.01)) - truth
            held.append(abs(away) < 1.96 * float(made.uncertainty_k(truth)))
    assert 0.90 <= np.mean(held) <= 1.0


def test_sakuma_hattori_is_found_again_from_its_own_counts():
    a, b = flat_band(8.0, 14.0)
    points = bath(lambda c: float(sakuma_hattori(c, a * 1.05, b * 0.9, 4e5)), 0.0, 30.0, 60.0, 100.0, 140.0)
    made = fit(worth(points, 23.0), "sakuma-hattori", "points.csv").calibration
    truth = np.linspace(0.0, 140.0, 15)
    assert made.celsius(sakuma_hattori(truth, a * 1.05, b * 0.9, 4e5)) == pytest.approx(truth, abs=0.02)


def test_a_table_goes_through_its_places_and_is_less_sure_between_them():
    points = bath(lambda c: 3000.0 - 10.0 * c, 0.0, 50.0, 100.0)
    fitted = fit(worth(points, 23.0), "table", "points.csv")
    made = fitted.calibration
    assert made.falling
    assert made.celsius(2500.0) == pytest.approx(50.0, abs=1e-3)
    assert made.shape_k > 0.5
    assert [said.code for said in fitted.said] == ["table_between_points", "counts_fall"]


def test_ten_readings_of_one_kettle_are_no_better_than_the_kettle():
    few, many = (
        [point("ice", 4000.0 + k) for k in range(n)] + [point("boiling", 14000.0 + k, altitude_m=0.0) for k in range(n)]
        for n in (3, 30)
    )
    for points in (few, many):
        known = worth(points, 23.0)
        made = fit(known, "linear", "points.csv").calibration
        assert made.uncertainty_k(0.0) >= known.standard_k.min()
        check = check_camera(worth([point(p.kind, 0.0, altitude_m=0.0) for p in points], 23.0), 2.0, None)
        assert (check.high_k - check.low_k) / 2 >= 1.96 * known.standard_k.min() * 0.999


def test_two_places_cannot_show_whether_they_lie_on_a_line():
    two = fit(worth(bath(lambda c: 100.0 * c + 4000.0, 0.0, 100.0), 23.0), "linear", "p.csv")
    three = fit(worth(bath(lambda c: 100.0 * c + 4000.0, 0.0, 50.0, 100.0), 23.0), "linear", "p.csv")
    assert [said.code for said in two.said] == ["line_not_checked"]
    assert three.said == ()
    assert two.calibration.shape_k > 3.0 > three.calibration.uncertainty_k(50.0)


def test_counts_that_bend_are_not_passed_off_as_a_line():
    a, b = flat_band(8.0, 14.0)
    points = bath(lambda c: float(sakuma_hattori(c, a, b, 4e5)), 0.0, 33.0, 66.0, 100.0)
    fitted = fit(worth(points, 23.0), "linear", "points.csv")
    worst = float(np.abs(fitted.residual_k).max())
    assert worst > 2.0
    assert float(fitted.calibration.uncertainty_k(50.0)) > 0.3 * worst


@pytest.mark.parametrize(
    ("points", "kind", "said"),
    [
        ([point("ice", 10.0), point("ice", 11.0)], "linear", "one place of known"),
        (bath(lambda c: c, 20.0, 30.0), "linear", "span 10.0 K"),
        (bath(lambda c: c, 20.0, 45.0, limits=9.0), "linear", "span 25.0 K"),
        (bath(lambda c: c, 0.0, 100.0), "sakuma-hattori", "2 places"),
        (bath(lambda c: abs(c - 60.0), 0.0, 50.0, 100.0), "linear", "neither rise nor fall"),
    ],
)
def test_too_few_and_too_close_points_are_refused(points, kind, said):
    with pytest.raises(InputError, match=said):
        fit(worth(points, 23.0), kind, "points.csv")


def test_the_bias_of_a_camera_is_held_as_often_as_said():
    """400 checks at ice, a thermocouple and boiling water, reference errors drawn from what they are stated as."""
    rng = np.random.default_rng(77)
    held, wrong = [], 0
    for _ in range(400):
        off = rng.uniform(-1.5, 1.5)
        errors = {"ice": rng.uniform(-0.2, 0.2), "thermocouple": rng.uniform(-1.0, 1.0)}
        points = []
        for kind, reference in (("ice", 0.0), ("thermocouple", 60.0)):
            for _ in range(4):
                shown = reference + errors[kind] + off + rng.normal(0, 0.1)
                points.append(point(kind, shown, reference, None if kind == "ice" else 1.0))
        check = check_camera(worth(points, 23.0), 2.0, None)
        held.append(check.low_k <= off <= check.high_k)
        wrong += check.verdict == "outside"
    assert np.mean(held) >= 0.93
    assert wrong <= 2  # the true error is always within the limits


@pytest.mark.parametrize(("off", "verdict"), [(0.0, "within"), (2.2, "cannot tell"), (6.0, "outside")])
def test_the_makers_limits_are_judged_with_the_points_uncertainty(off, verdict):
    points = [point("other", c + off + k * 0.01, c, 0.5) for c in (0.0, 60.0) for k in range(5)]
    check = check_camera(worth(points, 30.0), 2.0, None)
    assert check.verdict == verdict
    assert check.bias_k == pytest.approx(off + 0.02)


def test_limits_in_per_cent_are_the_larger_and_a_bias_that_changes_is_said():
    points = [point("other", c * 1.05, c, 0.2) for c in (0.0, 150.0) for _ in range(3)]
    check = check_camera(worth(points, 23.0), 2.0, 0.02)
    assert [place.limits_k for place in check.places] == [2.0, pytest.approx(3.0)]
    assert check.changes
    assert not check_camera(worth(points[:3], 23.0), None, None).changes
    assert check_camera(worth(points, 23.0), None, None).verdict == ""
