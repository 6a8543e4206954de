"""Stages that lie wrong on the frames, and stages that nobody stated: the pins tell when the load changed.

Curves of two bodies in a row (a time constant behind a lag), so that each truth is a formula.
"""

import numpy as np
import pytest
from readings_made import readings_of, session_of

from hotspot.reason.stage_clock import clock_notices
from hotspot.reason.stages_felt import felt
from hotspot.reason.turns import common_curve, turns
from hotspot.records import StageSpan
from hotspot.session import Stage
from hotspot.tell.words import say

TIMES = np.arange(0.0, 1801.0, 5.0)
ON_S, UP_S, OFF_S, END_S = 180.0, 900.0, 1500.0, 1800.0


def late(t, tau_s=260.0, lag_s=25.0):
    """Share of the settled rise, 0 before the load."""
    t = np.maximum(t, 0.0)
    return 1 - (tau_s * np.exp(-t / tau_s) - lag_s * np.exp(-t / lag_s)) / (tau_s - lag_s)


def course(t):
    """Load on at 3:00, nearly twice the heat at 15:00, off at 25:00."""
    return late(t - ON_S) + 0.9 * late(t - UP_S) - 1.9 * late(t - OFF_S)


def readings(heat=course, moved_s=0.0, rises=(40.0, 22.0, 21.0), times=TIMES):
    rng = np.random.default_rng(5)
    pins = {str(n + 1): 22.0 + k * heat(times - moved_s) + rng.normal(0, 0.08, times.size) for n, k in enumerate(rises)}
    return readings_of(times, pins, 22.0)


def span(name, start, end, amps, **keys):
    frames = tuple(int(n) for n in np.flatnonzero((start <= TIMES) & (end > TIMES)))
    return StageSpan(name, start, end, frames, Stage(name=name, amps=amps, **keys))


STAGES = (span("off", 0.0, ON_S, 0.0), span("half", ON_S, UP_S, 14.0), span("full", UP_S, OFF_S, 20.0),
          span("cooling", OFF_S, END_S, 0.0))  # fmt: skip
WHOLE = StageSpan("", 0.0, END_S, tuple(range(TIMES.size)), None)


def noticed(table, spans=STAGES, **keys):
    return clock_notices(session_of(**keys), spans, table)


def test_stages_that_lie_where_the_pins_turn_are_passed_in_silence():
    assert noticed(readings()) == ()
    for moved_s in (10.0, 40.0):  # a face starts late
        assert noticed(readings(moved_s=moved_s)) == ()


@pytest.mark.parametrize(("moved_s", "word"), [(150.0, "late"), (240.0, "late"), (-120.0, "early")])
def test_a_clock_that_is_off_is_told_with_the_offset_that_mends_it(moved_s, word):
    table = readings(moved_s=moved_s)
    (told,) = noticed(table, stage=[{"name": "half", "start_s": ON_S}])
    assert told.code == f"stage_clock_{word}"
    assert told.values["by"] == pytest.approx(abs(moved_s), abs=20.0)
    assert told.values["felt"] - told.values["start"] == pytest.approx(moved_s, abs=20.0)
    assert (told.values["stage"], told.values["start"], told.values["count"]) == ("half", ON_S, 3)
    assert told.values["first"] == pytest.approx(-moved_s, abs=20.0)
    assert told.values["offset"] == pytest.approx(-moved_s, abs=20.0)


def test_the_offset_that_is_told_goes_on_top_of_the_one_in_force():
    keys = {"clock": {"frames_offset_s": 60.0}, "frames": {"start_s": 30.0}}
    (told,) = noticed(readings(moved_s=150.0), stage=[{"name": "half", "start_s": ON_S}], **keys)
    assert told.values["offset"] == pytest.approx(60.0 - 150.0, abs=20.0)
    assert told.values["first"] == pytest.approx(30.0 - 150.0, abs=20.0)


def test_stages_by_clock_times_are_mended_by_the_clock():
    (told,) = noticed(readings(moved_s=150.0), stage=[{"name": "half", "start": "09:03:00"}])
    assert told.code == "stage_clock_late_clocked"
    assert noticed(readings(moved_s=150.0))[0].code == "stage_clock_late_clocked"  # a log of stages has clock times


def test_a_rise_that_was_under_way_before_the_load_is_told():
    stages = (span("full", 600.0, END_S, 20.0),)
    table = readings(lambda t: late(t + 30.0))
    (told,) = noticed(table, stages, stage=[{"name": "full", "start_s": 600.0}])
    assert told.code == "stage_clock_underway"
    risen = float(late(np.array([610.0]))[0] - late(np.array([30.0]))[0]) * 83.0 / 3.0
    assert told.values["risen"] == pytest.approx(risen, abs=1.5)
    assert (told.values["stage"], told.values["start"]) == ("full", 600.0)
    assert "full" in say(told)


def test_a_load_that_is_on_from_the_first_frame_is_where_it_is_said():
    stages = (span("full", 0.0, END_S, 20.0),)
    assert noticed(readings(late), stages) == ()


def test_loads_too_alike_to_be_felt_are_not_asked_for():
    """14 A and 15 A differ by an eighth of their heat: no turn need be seen between them."""
    stages = (span("off", 0.0, ON_S, 0.0), span("a", ON_S, UP_S, 14.0), span("b", UP_S, END_S, 15.0))
    assert noticed(readings(lambda t: late(t - ON_S)), stages) == ()


def test_pins_of_different_currents_count_by_the_largest():
    stages = (span("off", 0.0, ON_S, {"1": 0.0, "2": 0.0}), span("half", ON_S, END_S, {"1": 20.0, "2": 3.0}))
    (told,) = noticed(readings(lambda t: late(t - ON_S), 200.0), stages, stage=[{"name": "half", "start_s": ON_S}])
    assert (told.code, told.values["count"]) == ("stage_clock_late", 1)
    assert told.values["by"] == pytest.approx(200.0, abs=20.0)


def test_a_stage_of_unknown_current_must_begin_with_a_rise():
    stages = (span("off", 0.0, ON_S, 0.0), span("on", ON_S, END_S, None))
    assert noticed(readings(lambda t: late(t - ON_S)), stages) == ()
    (told,) = noticed(readings(lambda t: late(t - ON_S), 200.0), stages)
    assert (told.code, told.values["stage"]) == ("stage_clock_late_clocked", "on")


def test_a_load_that_ends_before_the_record_does_is_felt_to_end():
    stages = (span("off", 0.0, ON_S, 0.0), span("full", ON_S, OFF_S, 20.0))
    (told,) = noticed(readings(lambda t: late(t - ON_S) - late(t - OFF_S), 150.0), stages)
    assert told.values["count"] == 2


def test_pins_that_hardly_move_tell_no_clock():
    assert noticed(readings(moved_s=150.0, rises=(1.0, 1.0, 1.0))) == ()
    assert noticed(readings(moved_s=150.0), ()) == ()
    assert noticed(readings(moved_s=150.0), (WHOLE,)) == ()
    assert noticed(readings(moved_s=150.0).iloc[:6]) == ()


def test_turns_lie_where_the_load_changed_and_carry_its_sign():
    found = turns(*common_curve(readings()))
    assert [turn.time_s for turn in found] == pytest.approx([ON_S, UP_S, OFF_S], abs=30.0)
    assert [np.sign(turn.bend_k_s) for turn in found] == [1, 1, -1]
    assert found[2].bend_k_s == pytest.approx(-2.1 * found[1].bend_k_s, rel=0.25)  # 1.9 against 0.9 of the heat
    assert turns(TIMES[:11], np.arange(11.0)) == []
    assert turns(TIMES, 22.0 + 40.0 * (TIMES / 1800.0)) == []


def test_the_common_curve_is_the_mean_of_the_pins_that_move():
    table = readings(rises=(40.0, 30.0, 2.0))
    times, rises = common_curve(table)
    assert np.diff(times) == pytest.approx(5.0)
    assert rises == pytest.approx(35.0 * course(times), abs=0.4)
    assert rises[0] == 0.0


def test_the_common_curve_leaves_out_what_is_clipped_wrong_or_missing():
    table = readings(rises=(40.0, 40.0))
    wrong = table.index[table["frame"] % 7 == 3]
    table.loc[wrong, "temperature_c"] = 300.0
    table.loc[wrong[::2], "quality"] = "started_warm;outlier"
    table.loc[wrong[1::2], "clipped"] = "high"
    times, rises = common_curve(table)
    assert times.size == TIMES.size - np.sum(np.arange(TIMES.size) % 7 == 3)
    assert rises == pytest.approx(40.0 * course(times), abs=0.4)
    assert common_curve(table[table["frame"] % 7 == 3])[0].size == 0


def test_quick_readings_are_averaged_and_short_records_tell_nothing():
    times = np.arange(0.0, 600.0, 0.25)
    at, rises = common_curve(readings(lambda t: late(t - ON_S), times=times))
    assert np.diff(at) == pytest.approx(2.0)
    assert rises == pytest.approx(83.0 / 3.0 * late(at - ON_S), abs=0.4)
    assert common_curve(readings(times=TIMES[:9]))[0].size == 0
    assert common_curve(readings().iloc[:0])[0].size == 0


def test_stages_that_nobody_stated_are_found_at_the_turns():
    spans, told = felt(readings(), WHOLE)
    assert [span.name for span in spans] == ["step 1", "step 2", "step 3", "step 4"]
    assert [span.start_s for span in spans] == pytest.approx([0.0, ON_S, UP_S, OFF_S], abs=30.0)
    assert [span.end_s for span in spans[:-1]] == [span.start_s for span in spans[1:]]
    assert spans[-1].end_s == END_S
    assert [stage.stage.amps for stage in spans] == [None] * 4
    frames = [n for each in spans for n in each.frames]
    assert frames == list(range(TIMES.size - 1))  # the last one lies on the end, which is in no stage
    assert all(TIMES[n] >= each.start_s for each in spans for n in each.frames)
    assert told.code == "stages_inferred"
    assert told.values["count"] == 4
    minutes, seconds = told.values["stages"][2].removeprefix("step 3 at ").split(":")
    assert (60 * int(minutes) + int(seconds), len(seconds)) == (round(spans[2].start_s), 2)


def test_no_stage_is_invented_where_the_pins_do_not_turn_for_sure():
    assert felt(readings(late), WHOLE) is None  # on from the first frame: one course
    assert felt(readings(rises=(3.0, 3.0, 3.0)), WHOLE) is None  # hardly moves
    assert felt(readings(lambda t: late(t - 30.0)), WHOLE) is None  # within the first minute
    assert felt(readings(lambda t: late(t + 60.0) + late(t - 1760.0)), WHOLE) is None  # within the last minute
    assert felt(readings(lambda t: late(t + 120.0) + 0.9 * late(t - 150.0)), WHOLE) is None  # moved before: a late face


def test_no_stage_is_invented_where_the_load_changed_oftener_than_is_found():
    def swung(share):
        return readings(lambda t: late(t - ON_S) + share * np.sin(2 * np.pi * t / 20.0) * (t > 600.0))

    assert felt(swung(0.08), WHOLE) is None
    assert felt(swung(0.01), WHOLE) is not None
