"""The budget of a reading at the end of the scale, or outside the calibration: no interval that does not hold."""

import numpy as np
import pytest
from made_frames import ArrayPixels, pins_at, session_of

from hotspot.calibration import Calibration
from hotspot.doubts import BIT
from hotspot.extract import measure
from hotspot.records import Frame
from hotspot.tell.budget_text import budget_lines

SHAPE = (40, 60)


class Counted(ArrayPixels):
    calibration = Calibration("linear", 0.0, 100.0, (1.0, 0.0), level_k=0.5, slope=0.02, pivot_c=20.0, shape_k=0.1)


def told(last_c=70.0, left="", right="", cold="", kind=ArrayPixels):
    """Lines of the budget of the last reading of the left one of two pins: by which end of the scale each is clipped,
    and the left one in the first frame; and the neighbour 10 K cooler."""

    def bits(*ends):
        found = np.zeros(SHAPE, dtype=np.uint32)
        for half, end in zip((slice(None, 30), slice(30, None)), ends, strict=True):
            found[:, half] |= BIT[f"clipped_{end}"] if end else 0
        return found | (BIT["beyond_calibration"] if last_c > 100.0 else 0)

    warm = np.full(SHAPE, last_c)
    warm[:, 30:] -= 10.0
    pixels = kind(np.full(SHAPE, 20.0), bits(cold, "")), kind(warm, bits(left, right))
    frames = [Frame(k, f"f{k}.tif", 10.0 * k, one) for k, one in enumerate(pixels)]
    surface = {"emissivity": 1.0, "set_emissivity": 1.0}
    session = session_of(surface=surface, camera={"noise_k": 0.1, "accuracy_k": 2.0}, ambient=20.0)
    budget = measure(session, frames, pins_at((15, 20), (45, 20)), (), None, {}).budget
    return "\n".join(budget_lines(budget.at("1", 10.0), "C"))


@pytest.mark.parametrize(("side", "words"), [("high", "at least"), ("low", "at most")])
def test_a_clipped_reading_is_a_bound_in_every_line(side, words):
    text = told(left=side)
    assert text.startswith(f"Pin 1 at 0:10 (f1.tif): {words} 70.0 °C")
    assert f"The scale ends there: the temperature is {words} 70.0 °C." in text
    assert f"it rose by {words} 50.0 K" in text
    assert f"It is {words} 10.0 K over pin 2" in text
    assert "give or take" not in text
    assert "Against another test" not in text
    assert "Against another test" in told()


def test_a_difference_is_bounded_by_either_reading_and_left_out_where_both_are():
    assert "it rose by at least 50.0 K" in told(cold="low")
    assert "The temperature is 70.0 °C, give or take" in told(cold="low")
    assert "It is at most 10.0 K over pin 2" in told(right="high")
    assert "It is at least 10.0 K over pin 2" in told(left="high", right="low")
    assert "over pin 2" not in told(left="high", right="high")


def test_counts_outside_the_calibration_are_said_not_to_be_covered():
    text = told(120.0, kind=Counted)
    assert "Its counts lie outside the range of the calibration (0.0 °C to 100.0 °C)" in text
    assert "the interval does not cover that" in text
    assert "outside the range" not in told(90.0, kind=Counted)


def test_the_blur_is_not_said_to_err_alike_in_pins_of_unlike_heat():
    text = told()
    assert "camera and calibration err alike in both" in text
    assert "calibration and blur err alike" not in text
    assert "The blur takes a share of each pin's contrast" in text
