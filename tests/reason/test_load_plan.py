"""The plan of a load test: stages, currents, when to stop, and what it leaves open."""

import math
import tomllib

import pytest

from hotspot.reason.load_plan import circuits_of, full_currents, pin_names, plan
from hotspot.session import Session
from hotspot.tell.plan_text import plan_dict, plan_text, stage_blocks


def session(amps, **more):
    keys = {"connector": {"rows": 1, "columns": 4}, **more}
    if amps is not None:
        keys["stage"] = [{"name": "full", "amps": amps}]
    return Session.model_validate(keys)


def test_equal_loads_need_a_first_step_and_one_that_settles():
    told = plan(session(9.0))
    assert [(step.name, step.lasts_s) for step in told.steps] == [("half", 480.0), ("full", 1500.0)]
    assert told.steps[0].amps == dict.fromkeys("1234", 4.5)
    assert told.lasts_s == 60 + 480 + 1500
    assert told.gaps == ()


def test_unequal_circuits_run_alone_once_and_their_return_carries_what_is_on():
    pins = [{"name": name} for name in "123"] + [{"name": "4", "return_of": ["1", "2", "3"]}]
    told = plan(session({"1": 12.0, "2": 6.0, "3": 2.0}, pin=pins))
    assert [step.name for step in told.steps] == ["half", "only 1", "only 2", "only 3", "full"]
    assert told.steps[2].amps == {"2": 6.0, "4": 6.0}
    assert told.steps[-1].amps == {"1": 12.0, "2": 6.0, "3": 2.0, "4": 20.0}
    said = {note.code: note.values for note in told.gaps}
    # I^2 of 2 A is a hundredth of that of 20 A, and that of 6 A nine hundredths: both under a tenth
    assert said["plan_gap_weak"]["pins"] == ["2", "3"]
    assert said["plan_gap_weak"]["amps_needed"] == pytest.approx(20 / math.sqrt(10))
    assert said["plan_gap_return"]["pins"] == ["4"]


@pytest.mark.parametrize(
    ("ratings", "accuracy", "limit"),
    [({"rated": 105.0}, None, 95.0), ({"rated": 105.0, "wire_rated": 80.0}, 2.0, 68.0), ({}, None, 75.0)],
)
def test_it_stops_below_the_lowest_rating_less_the_cameras_error(ratings, accuracy, limit):
    keys = {"connector": {"rows": 1, "columns": 2, **ratings}}
    if accuracy:
        keys["camera"] = {"accuracy_k": accuracy}
    assert plan(Session.model_validate(keys)).stop_c == limit


def test_an_error_of_the_camera_that_is_not_stated_is_not_taken_for_none():
    keys = {"connector": {"rows": 1, "columns": 2, "rated": 105.0}}
    assert plan(Session.model_validate(keys)).stop.code == "plan_stop_error_unknown"
    assert plan(Session.model_validate({**keys, "camera": {"accuracy_k": 2.0}})).stop.code == "plan_stop"


def test_without_currents_it_says_what_is_missing():
    told = plan(session(None))
    assert [step.amps for step in told.steps] == [None, None]
    assert [note.code for note in told.gaps] == ["plan_gap_amps"]
    assert full_currents(session("equal"), ["1"]) is None


def test_names_leave_empty_positions_out():
    assert pin_names(session(None, connector={"rows": 1, "columns": 4, "empty": ["2"]})) == ["1", "3", "4"]
    assert circuits_of(session(None), {"1": 2.0, "2": 0.0}) == [("1",)]


def test_cautions_come_before_the_stages_and_the_blocks_are_a_session(tmp_path):
    told = plan(session({"1": 12.0, "2": 6.0}))
    text = plan_text(told, "F")
    assert text.index("Before any load") < text.index("Stages (")
    assert "°F" in text
    blocks = tomllib.loads(stage_blocks(told))["stage"]
    assert [block["start_s"] for block in blocks] == [60.0, 540.0, 1020.0, 1500.0]
    (tmp_path / "session.toml").write_text(stage_blocks(told), encoding="utf-8")
    assert [stage.name for stage in Session.load(tmp_path).stage] == ["half", "only 1", "only 2", "full"]
    assert plan_dict(told, "C")["stages"][1]["amps"] == {"1": 12.0}


def test_the_command(hotspot_cli):
    done = hotspot_cli("plan", "--pins", "1x3", "--amps", "1=12,2=4", "--rated", "105")
    assert (done.status, done.err) == (0, "")
    assert "Stop at 95.0 °C" in done.out
    refused = hotspot_cli("plan")
    assert refused.status == 2
    assert "--pins" in refused.err


def test_equal_loads_need_no_amperes_and_a_single_pin_has_no_peer():
    keys = {"connector": {"rows": 1, "columns": 4}, "stage": [{"amps": "equal"}]}
    alike = plan(Session.model_validate(keys))
    assert [gap.code for gap in alike.gaps] == ["plan_gap_equal"]
    keys = {"connector": {"rows": 1, "columns": 1}, "stage": [{"amps": 9.0}]}
    single = plan(Session.model_validate(keys))
    assert [gap.code for gap in single.gaps] == ["plan_gap_alone"]
