"""Units at fixed points, refusals of at most twelve lines, and the registry of doubts."""

import pytest

from hotspot import doubts
from hotspot.errors import InputError, Problem, refuse
from hotspot.units import difference_from_kelvin, difference_to_kelvin, from_celsius, to_celsius


@pytest.mark.published
@pytest.mark.parametrize(
    ("celsius", "fahrenheit", "kelvin"),
    # 0 °C = 273.15 K by the definition of the Celsius scale (SI Brochure, 9th ed., 2.3.1); ice and steam points
    # 32 °F and 212 °F: NIST SP 811 (2008), appendix B.8; triple point of water 273.16 K: ITS-90.
    [(0.0, 32.0, 273.15), (100.0, 212.0, 373.15), (0.01, 32.018, 273.16), (-40.0, -40.0, 233.15)],
)
def test_fixed_points(celsius, fahrenheit, kelvin):
    assert from_celsius(celsius, "F") == pytest.approx(fahrenheit, abs=1e-9)
    assert from_celsius(celsius, "K") == pytest.approx(kelvin, abs=1e-9)
    assert to_celsius(fahrenheit, "F") == pytest.approx(celsius, abs=1e-9)
    assert to_celsius(kelvin, "K") == pytest.approx(celsius, abs=1e-9)


def test_a_difference_has_no_offset():
    assert difference_from_kelvin(30.0, "F") == pytest.approx(54.0)
    assert difference_to_kelvin(54.0, "F") == pytest.approx(30.0)
    assert difference_from_kelvin(30.0, "K") == 30.0


def test_another_unit_is_refused():
    with pytest.raises(ValueError, match="neither C, F nor K"):
        to_celsius(1.0, "R")


def test_a_refusal_names_file_key_finding_and_mend():
    assert str(refuse("session.toml", "scale.low", "90 is above high 80", "Swap low and high.")) == (
        "session.toml: scale.low: 90 is above high 80. Swap low and high."
    )


def test_a_refusal_is_at_most_twelve_lines_and_counts_the_rest():
    lines = str(InputError([Problem("s.toml", f"k{n}", "bad", "mend") for n in range(20)])).splitlines()
    assert len(lines) == 12
    assert "9 more" in lines[-1]


def test_doubts_come_back_from_their_bits():
    names = [doubt.name for doubt in doubts.REGISTRY]
    assert len(set(names)) == len(names) <= 32
    assert doubts.names(doubts.bits(names)) == names
    assert doubts.joined(doubts.bits(["off_map", "clipped_low"])) == "clipped_low;off_map"
    assert all(doubt.sentence and doubt.remedy for doubt in doubts.REGISTRY)
