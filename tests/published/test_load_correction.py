"""Rise against current, wire sizes and the survey table against printed numbers."""

import math

import numpy as np
import pytest

from hotspot.handbook.criteria import section, survey_action
from hotspot.physics.load import rise_at
from hotspot.physics.wire import awg_area_mm2, copper_ohm_per_m
from hotspot.reason.wires import areas_mm2


@pytest.mark.published
@pytest.mark.parametrize(
    ("exponent", "temperature", "scaled"), [(1.6, 34.90, 22.96), (1.8, None, 24.90), (2.0, 32.50, 27.00)]
)
def test_partial_load_formula(exponent, temperature, scaled):
    """Tmax = (I / Irated)^n dTrated + Tamb with n from 1.6 to 2.0, as taught for infrared surveys (irinfo.org,
    tip of 16 October 2023); inputs 30 K rated, 10 of 20 A, 25 °C ambient, and 12 K carried from 10 to 15 A;
    the figures were worked out from the formula by hand, to two decimals.
    """
    if temperature is not None:
        assert 25.0 + rise_at(30.0, 20.0, 10.0, exponent) == pytest.approx(temperature, abs=0.005)
    assert rise_at(12.0, 10.0, 15.0, exponent) == pytest.approx(scaled, abs=0.005)


@pytest.mark.published
def test_derating_curve_lies_within_the_exponents_of_practice():
    """Base curve of a 5-pole M12 connector with an upper limit of 85 °C (IEC 60512-5-2 test 5b, a maker's sheet):
    at ambients of 20, 30 ... 80 °C it carries these currents, so its rise there is 85 °C less the ambient.
    """
    amps = np.array([8.6, 7.9, 7.05, 6.2, 5.15, 3.9, 2.1])
    rises = 85.0 - np.arange(20.0, 81.0, 10.0)
    assert np.polyfit(np.log(amps), np.log(rises), 1)[0] == pytest.approx(1.82, abs=0.005)
    low, high = section("practice")["exponent_low"], section("practice")["exponent_high"]
    for current, rise in zip(amps[1:], rises[1:], strict=True):
        assert rise_at(65.0, 8.6, current, high) <= rise <= rise_at(65.0, 8.6, current, low)


def test_a_fixed_resistance_heats_by_the_square():
    assert rise_at(10.0, 5.0, 15.0) == pytest.approx(90.0)


def test_no_current_is_refused():
    with pytest.raises(ValueError, match="not above 0"):
        rise_at(10.0, 0.0, 5.0)


@pytest.mark.published
@pytest.mark.parametrize(
    ("gauge", "ohm_per_1000_ft"),
    [(8, 0.6282), (10, 0.9989), (12, 1.588), (14, 2.525), (16, 4.016), (18, 6.385), (20, 10.15), (22, 16.14)],
)
def test_wire_table(gauge, ohm_per_1000_ft):
    """ASTM B258 sizes with IEC 60028 copper, against Floyd's printed table (HyperPhysics, wire gauge)."""
    assert copper_ohm_per_m(awg_area_mm2(gauge)) * 304.8 == pytest.approx(ohm_per_1000_ft, rel=5e-4)


@pytest.mark.published
@pytest.mark.parametrize(
    ("rise", "action"),
    [
        (0.4, None), (0.5, "possible deficiency"), (3.49, "possible deficiency"), (3.5, "probable deficiency"),
        (15.49, "probable deficiency"), (15.5, "major discrepancy"),
    ],
)  # fmt: skip
def test_survey_table_and_its_bridge(rise, action):
    """ANSI/NETA ATS-2003 table 100.18, like parts: 1-3, 4-15, over 15 °C; rounded half up between its rows."""
    assert survey_action(rise, "like") == action


@pytest.mark.published
@pytest.mark.parametrize(
    ("rise", "action"),
    [(10.0, "possible deficiency"), (11.0, "probable deficiency"), (40.0, "monitor until corrected"),
     (41.0, "major discrepancy")],
)  # fmt: skip
def test_survey_table_over_air(rise, action):
    assert survey_action(rise, "air") == action


def test_sizes_as_people_write_them():
    assert areas_mm2("2.5 mm2") == (2.5, 2.5)
    assert areas_mm2("1,5–2,5 mm²") == (1.5, 2.5)
    assert areas_mm2("AWG 14")[0] == pytest.approx(2.081, abs=5e-4)
    assert areas_mm2("16-14 AWG") == pytest.approx((1.309, 2.081), abs=5e-4)
    assert areas_mm2("AWG 16-14") == areas_mm2("awg14-16")
    assert areas_mm2("blue") == (1.3, 2.5)
    assert areas_mm2("SAE 14")[0] == pytest.approx(2.0809 * 3702 / 4106.7, rel=1e-3)
    for text in ("", "thick", "AWG", "0 mm2", "SAE 13"):
        assert areas_mm2(text) is None
    assert math.isclose(areas_mm2("2.5mm2")[0], 2.5)
