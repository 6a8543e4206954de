"""Currents of a stage against the supply's total in log.csv."""

import pytest

from hotspot.read.log import read_log
from hotspot.read.logged_load import follow_log
from hotspot.records import StageSpan
from hotspot.session import Pin, Session, Stage
from hotspot.tell.words import say_all

PINS = [Pin(name="1"), Pin(name="2"), Pin(name="3", return_of=["1", "2"])]


def followed(folder, text, amps, pins=PINS):
    (folder / "log.csv").write_text(text, encoding="utf-8")
    session = Session(folder=folder, pin=pins)
    span = StageSpan("full", 0.0, 40.0, (), Stage(name="full", amps=amps))
    spans, said = follow_log(session, [span], read_log(session, None), 40.0)
    return spans[0].stage.amps, [note.code for note in said], say_all(said)


def test_the_total_scales_every_pin_alike_and_the_return_is_not_counted_twice(tmp_path):
    amps, codes, sentences = followed(tmp_path, "time_s,amps\n0,16\n20,16\n40,99\n", {"1": 12.0, "2": 8.0, "3": 20.0})
    assert amps == pytest.approx({"1": 9.6, "2": 6.4, "3": 16.0})
    assert codes == ["log_scaled_amps"]
    assert "16 A" in sentences[0]
    assert "20 A" in sentences[0]


def test_a_total_that_falls_counts_by_its_square(tmp_path):
    # 20 A for half of the time and 10 A for the other half heat like sqrt((400 + 100) / 2) A all through
    text = "time_s,amps\n0,20\n19.999,20\n20.001,10\n39.999,10\n"
    amps, codes, _ = followed(tmp_path, text, {"1": 12.0, "2": 8.0, "3": 20.0})
    assert amps["3"] == pytest.approx(250**0.5, rel=1e-3)
    assert codes == ["log_load_moved", "log_scaled_amps"]


def test_one_current_out_and_back_through_two_pins(tmp_path):
    pins = [Pin(name="1"), Pin(name="2")]
    amps, codes, _ = followed(tmp_path, "time_s,amps\n0,9\n30,9\n", 10.0, pins)
    assert amps == pytest.approx(9.0)
    assert codes == ["log_scaled_amps"]


def test_a_total_that_cannot_belong_to_the_stated_currents_changes_nothing(tmp_path):
    stated = {"1": 12.0, "2": 8.0, "3": 20.0}
    amps, codes, _ = followed(tmp_path, "time_s,amps\n0,150\n30,150\n", stated)
    assert (amps, codes) == (stated, ["log_total_unlike"])


@pytest.mark.parametrize("text", ["time_s,volts\n0,24\n", "time_s,amps\n0,0\n10,0\n", "time_s,amps\n90,36\n"])
def test_without_a_current_in_the_stage_nothing_is_scaled(tmp_path, text):
    amps, codes, _ = followed(tmp_path, text, {"1": 12.0})
    assert (amps, codes) == ({"1": 12.0}, [])


@pytest.mark.parametrize("stated", ["equal", None])
def test_without_stated_currents_there_is_nothing_to_scale(tmp_path, stated):
    assert followed(tmp_path, "time_s,amps\n0,16\n30,16\n", stated)[0] == stated
