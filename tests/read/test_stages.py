"""Stages on the session's time: seconds, clock times, frames' names; half-open; what is left out is filled in."""

import datetime
import math

import pytest

from hotspot.errors import InputError
from hotspot.read.stages import stage_names, stage_spans
from hotspot.records import StageSpan, Stamp
from hotspot.session import Pin, Session, Stage
from hotspot.tell.words import say_all

NOON = datetime.datetime(2026, 3, 11, 14, 20, 0)


def stamps(count: int = 11, step: float = 10.0, clock: datetime.datetime | None = NOON, start: float = 0.0):
    return tuple(
        Stamp(k, f"f{k}.png", start + k * step, clock and clock + datetime.timedelta(seconds=k * step))
        for k in range(count)
    )


def spans(*stages: Stage, of: tuple[Stamp, ...] | None = None) -> tuple[tuple[StageSpan, ...], list]:
    found, said = stage_spans(Session(stage=list(stages)), of or stamps())
    say_all(said)
    return found, said


def refused(*stages: Stage, of: tuple[Stamp, ...] | None = None) -> list[str]:
    with pytest.raises(InputError) as error:
        stage_spans(Session(stage=list(stages)), of or stamps())
    return [str(problem) for problem in error.value.problems]


def test_without_stages_the_whole_run_is_one_with_an_empty_name():
    (whole,), said = spans()
    assert (whole.name, whole.start_s, whole.stage, said) == ("", 0.0, None, [])
    assert whole.end_s == pytest.approx(100.0)
    assert whole.end_s > 100.0
    assert whole.frames == tuple(range(11))


def test_a_stage_has_its_first_instant_and_not_its_last():
    (one,), said = spans(Stage(name="full", start_s=20.0, end_s=50.0))
    assert (one.start_s, one.end_s, one.frames, said) == (20.0, 50.0, (2, 3, 4), [])
    assert one.stage.name == "full"


def test_an_end_left_out_is_the_start_of_the_next_stage_or_just_past_the_last_frame():
    (a, b), said = spans(Stage(name="a", start_s=0.0), Stage(name="b", start_s=40.0))
    assert (a.end_s, a.frames) == (40.0, (0, 1, 2, 3))
    assert b.end_s == math.nextafter(100.0, math.inf)
    assert (b.frames, said) == (tuple(range(4, 11)), [])


def test_the_next_stage_is_the_next_in_time_wherever_it_stands_in_the_file():
    (a, b, c), said = spans(Stage(name="c", start_s=80.0), Stage(name="a", start_s=0.0), Stage(name="b", start_s=40.0))
    assert [(s.name, s.start_s) for s in (a, b, c)] == [("a", 0.0), ("b", 40.0), ("c", 80.0)]
    assert (a.end_s, b.end_s, said) == (40.0, 80.0, [])


def test_a_start_left_out_is_the_end_of_the_stage_before_or_the_first_frame():
    (a, b), _ = spans(Stage(name="a", end_s=30.0), Stage(name="b", end_s=60.0), of=stamps(start=5.0))
    assert (a.start_s, a.end_s, b.start_s, b.end_s) == (5.0, 30.0, 30.0, 60.0)
    assert b.frames == (3, 4, 5)


def test_a_start_that_nothing_tells_is_refused():
    assert refused(Stage(name="a"), Stage(name="b")) == [
        'session.toml: stage 2 "b": start_s: is missing, and the stage before has no end. '
        "Give this stage a start_s, or the one before an end_s."
    ]


def test_an_end_after_the_last_frame_is_the_planned_end():
    (one,), said = spans(Stage(name="full", start_s=0.0, end_s=1500.0))
    assert (one.end_s, len(one.frames), said) == (1500.0, 11, [])


def test_clock_times_are_taken_on_the_day_of_the_frames():
    (one,), _ = spans(Stage(name="full", start="14:20:30", end="14:21:00.5"))
    assert (one.start_s, one.end_s, one.frames) == (30.0, 60.5, (3, 4, 5, 6))


def test_full_date_times_are_taken_as_they_are():
    (one,), _ = spans(Stage(name="full", start="2026-03-11T14:20:30", end="2026-03-11 14:21"))
    assert (one.start_s, one.end_s) == (30.0, 60.0)


def test_clock_times_across_midnight():
    late = datetime.datetime(2026, 3, 11, 23, 59, 30)
    (a, b), _ = spans(Stage(name="a", start="23:59:40"), Stage(name="b", start="00:00:10", end="00:00:40"),
                      of=stamps(clock=late))  # fmt: skip
    assert (a.start_s, a.end_s, b.start_s, b.end_s) == (10.0, 40.0, 40.0, 70.0)


def test_a_clock_time_just_before_the_first_frame_is_not_put_on_the_next_day():
    (one,), _ = spans(Stage(name="full", start="14:19:50"))
    assert one.start_s == -10.0
    assert len(one.frames) == 11


def test_the_frames_start_s_is_kept():
    (one,), _ = spans(Stage(name="full", start="14:20:30"), of=stamps(start=100.0))
    assert one.start_s == 130.0


def test_a_clock_time_without_a_clock_is_refused():
    assert refused(Stage(name="full", start="14:20:30"), of=stamps(clock=None)) == [
        'session.toml: stage 1 "full": start: found the clock time 14:20:30, but the clock time of the frames is not '
        "known. Use start_s and end_s, in seconds from the first frame, or the names of frames."
    ]


def test_names_of_frames():
    (one,), _ = spans(Stage(name="full", start="f3.png", end="frames/f6.png"), of=stamps(clock=None))
    assert (one.start_s, one.end_s, one.frames) == (30.0, 60.0, (3, 4, 5))


def test_a_frame_that_does_not_exist_is_refused_with_the_nearest():
    assert refused(Stage(start="f3.pgn", end="dawn")) == [
        'session.toml: stage 1: start: found "f3.pgn", neither a clock time nor the name of a frame. '
        'The nearest frame is "f3.png".',
        'session.toml: stage 1: end: found "dawn", neither a clock time nor the name of a frame. '
        "Write hh:mm:ss, or the name of a frame.",
    ]


def test_a_stage_that_turns_out_to_end_before_it_starts_is_refused():
    assert refused(Stage(name="full", start="14:21:00", end="14:20:30")) == [
        'session.toml: stage 1 "full": end: ends at 30 s, before or when it starts (60 s). Give an end after the start.'
    ]
    assert refused(Stage(name="full", start="f6.png", end_s=10.0)) == [
        'session.toml: stage 1 "full": end_s: ends at 10 s, before or when it starts (60 s). '
        "Give an end after the start."
    ]


def test_of_overlapping_stages_the_later_one_wins_and_it_is_told():
    (a, b), said = spans(Stage(name="a", start_s=0.0, end_s=60.0), Stage(name="b", start_s=40.0, end_s=100.0))
    assert (a.end_s, a.frames, b.frames) == (40.0, (0, 1, 2, 3), (4, 5, 6, 7, 8, 9))
    assert [(s.code, s.frames) for s in said] == [("stages_overlap", (4, 5))]
    assert say_all(said) == ["Stage a runs until 1:00, but stage b starts at 0:40: from there on b counts."]


def test_a_stage_inside_another_takes_only_its_own_frames():
    (a, b), said = spans(Stage(name="a", start_s=0.0, end_s=90.0), Stage(name="b", start_s=40.0, end_s=60.0))
    assert (a.frames, b.frames) == ((0, 1, 2, 3, 6, 7, 8), (4, 5))
    assert (a.end_s, [s.code for s in said]) == (90.0, ["stages_overlap"])


def test_of_two_stages_that_start_together_the_one_written_later_wins():
    (a, b), said = spans(Stage(name="a", start_s=0.0, end_s=60.0), Stage(name="b", start_s=0.0, end_s=60.0))
    assert (a.frames, b.frames) == ((), (0, 1, 2, 3, 4, 5))
    assert [s.code for s in said] == ["stages_overlap", "stage_without_frames"]


def test_a_stage_without_a_frame_stays_and_is_told():
    (a, b), said = spans(Stage(name="a", start_s=0.0, end_s=50.0), Stage(name="b", start_s=200.0, end_s=300.0))
    assert (b.name, b.start_s, b.end_s, b.frames) == ("b", 200.0, 300.0, ())
    assert say_all(said) == ["Stage b (3:20 to 5:00) holds no frame: nothing is measured of it."]
    (_, late), _ = spans(Stage(name="a", start_s=0.0), Stage(name="b", start_s=200.0))
    assert (late.start_s, late.end_s, late.frames) == (200.0, 200.0, ())


def test_frames_outside_every_stage_belong_to_none():
    found, _ = spans(Stage(name="a", start_s=20.0, end_s=40.0), Stage(name="b", start_s=60.0, end_s=80.0))
    assert sorted(index for span in found for index in span.frames) == [2, 3, 6, 7]


def test_stages_of_one_name_get_a_number_each_in_the_results():
    found, said = spans(Stage(name="on", start_s=0.0), Stage(name="off", start_s=30.0), Stage(name="on", start_s=60.0))
    assert [span.name for span in found] == ["on", "off", "on 2"]
    assert found[2].stage.name == "on"
    assert say_all(said) == ["Stage number 3 needs a name of its own in the results: it is called on 2 there."]


def test_nameless_stages_get_a_number_unless_there_is_only_one():
    assert stage_names([Stage()]) == [""]
    assert stage_names([Stage(), Stage(name="full"), Stage()]) == ["stage 1", "full", "stage 3"]
    assert stage_names([Stage(name="a"), Stage(name="a 2"), Stage(name="a")]) == ["a", "a 2", "a 3"]


def test_no_frame_is_refused():
    with pytest.raises(InputError, match=r"frames\.files: there is no frame\. Check frames\.files\."):
        stage_spans(Session(), ())


def test_a_return_left_out_of_the_table_carries_the_sum_of_the_pins_that_it_returns():
    pins = [
        Pin(name="1"),
        Pin(name="2"),
        Pin(name="r", return_of=["1", "2", "3"]),
        Pin(name="rr", return_of=["r", "4"]),
    ]
    session = Session(pin=pins, stage=[Stage(name="full", start_s=0.0, amps={"1": 9.0, "2": 4.5, "4": 1.0})])
    ((one,), _) = stage_spans(session, stamps())
    assert [one.stage.amps_of(pin) for pin in ("1", "2", "3", "4", "r", "rr")] == [9.0, 4.5, 0.0, 1.0, 13.5, 14.5]
    assert session.stage[0].amps == {"1": 9.0, "2": 4.5, "4": 1.0}


def test_what_is_stated_of_a_return_stays_and_so_does_one_number_for_all():
    pins = [Pin(name="1"), Pin(name="2", return_of=["1"])]
    stages = [Stage(name="a", start_s=0.0, end_s=50.0, amps={"1": 9.0, "2": 3.0}), Stage(start_s=50.0, amps=7.0)]
    (a, b), _ = stage_spans(Session(pin=pins, stage=stages), stamps())
    assert (a.stage.amps_of("2"), b.stage.amps_of("2")) == (3.0, 7.0)


def test_returns_in_a_circle_are_refused():
    pins = [Pin(name="1", return_of=["2"]), Pin(name="2", return_of=["1"]), Pin(name="3")]
    with pytest.raises(InputError, match="circle"):
        stage_spans(Session(pin=pins, stage=[Stage(start_s=0.0, amps={"3": 9.0})]), stamps())
