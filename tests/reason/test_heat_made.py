"""Heat made per pin, on made connectors whose truth is known, and what is said where it cannot be told."""

import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import hotspot

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from heat_cases import held  # noqa: E402
from heat_made import Tally, judged_pins, table_text, tell, with_sections, with_wires  # noqa: E402
from heat_troubles import troubled  # noqa: E402

from hotspot.reason.findings import judge  # noqa: E402
from hotspot.reason.heat_loads import Loads  # noqa: E402
from hotspot.reason.heat_made import Heat, PinHeat  # noqa: E402
from hotspot.reason.heat_verdicts import level_of  # noqa: E402
from hotspot.reason.heat_wires import WireFlow, wire_flows  # noqa: E402
from hotspot.session import Pin, Stage  # noqa: E402


def found(test, pictures=True):
    seen = test.extracted.rise_pictures if pictures else None
    return judge(test.session, test.extracted.readings, test.stages, test.pin_map, lambda *_: None, pictures=seen)


def codes(findings):
    return {said.code for pin in findings.pins for said in pin.reasons}


def with_amps(test, amps):
    stages = tuple(replace(span, stage=Stage(name=span.name, amps=amps)) for span in test.stages)
    return replace(test, stages=stages)


@pytest.fixture(scope="module")
def one():
    return held(105, "one contact", "equal")


def test_the_bad_contact_is_the_only_source_and_its_ratio_holds_the_truth(one):
    findings = found(one)
    fault = one.case.faulty[0]
    assert findings.settings["heat"]["method"] == "picture"
    assert findings.source_pins == (one.names[fault],)
    row = findings.pin_table.set_index("pin").loc[one.names[fault]]
    true = one.truth[fault] / np.median(np.delete(one.truth, fault))
    assert row["heat_ratio_low"] < true < row["heat_ratio_high"]
    assert findings.answer.code.startswith("answer_heat")


def test_equal_is_enough_for_peers_of_one_load(one):
    findings = found(with_amps(one, "equal"))
    assert findings.source_pins == (one.names[one.case.faulty[0]],)


def test_with_unknown_load_there_is_no_ratio_and_the_tool_says_so(one):
    findings = found(with_amps(one, None))
    assert findings.pin_table["heat_ratio"].isna().all()
    assert findings.settings["heat"]["method"] == "rise"
    assert "load_unknown" in codes(findings)
    assert "heat_by_rise" in {said.code for said in findings.notices}


def test_a_pin_without_peers_has_no_ratio_but_keeps_what_a_later_test_needs(one):
    lone = one.names[one.case.faulty[0]]
    findings = found(with_amps(one, {name: 9.0 if name == lone else 2.0 for name in one.names}))
    assert findings.pin_table["heat_ratio"].isna().all()
    assert findings.settings["heat"]["method"] == "rise"
    assert {pin.verdict for pin in findings.pins if pin.name != lone} == {"unknown"}
    balance = findings.settings["heat"]["balance"]
    assert [name for name, judged in zip(balance["pins"], balance["judged"], strict=True) if judged] == [lone]


def test_without_the_picture_the_pins_as_a_network_find_it_too(one):
    findings = found(one, pictures=False)
    assert findings.settings["heat"]["method"] == "network"
    assert findings.source_pins == (one.names[one.case.faulty[0]],)


def test_a_saturated_picture_is_not_used(one):
    pictures = one.extracted.rise_pictures
    clipped = replace(pictures, clipped=np.ones_like(pictures.clipped))
    findings = found(replace(one, extracted=replace(one.extracted, rise_pictures=clipped)))
    assert findings.settings["heat"]["method"] == "network"


def test_weak_pins_have_no_ratio_and_are_told_the_current_that_would_do():
    for seed in range(3):
        test = held(seed, "healthy", "unequal")
        findings = found(test)
        weak = [test.names[pin] for pin in np.flatnonzero(~judged_pins(test))]
        table = findings.pin_table.set_index("pin")
        for entry in findings.not_judged:
            if entry["pin"] in weak and entry["reason"].code == "weak_load":
                assert np.isnan(table.loc[entry["pin"], "heat_ratio"])
                assert entry["amps_needed"] > table.loc[entry["pin"], "amps"]
        if weak:
            return
    pytest.fail("no case with a weak pin was drawn")


def test_heat_along_the_wire_is_not_blamed_on_the_contact():
    """Of these warm-body cases none may be blamed with the wires in view, at most one without."""
    blind, seen = [], []
    for seed in (133, 158, 179, 191):
        test = held(seed, "upstream", "equal")
        pin = test.names[test.case.faulty[0]]
        blind.append(pin in found(test).source_pins)
        seen.append(pin in found(with_wires(test)).source_pins)
    assert sum(seen) == 0
    assert sum(blind) <= 1


def test_a_lone_return_is_judged_by_its_ohms_where_the_wires_are_stated():
    test = held(12, "healthy", "unequal")
    amps = {test.names[0]: 12.0}
    stated = with_sections(with_amps(test, amps))
    findings = found(stated)
    assert findings.settings["heat"]["method"] == "absolute"
    assert codes(findings) & {"resistance_usual", "resistance_perhaps_high", "resistance_high"}
    assert findings.pin_table["heat_ratio"].isna().all()


def test_returns_that_do_not_sum_and_parallel_pins_are_said(one):
    names = one.names
    amps = {name: 4.0 for name in names}
    pins = [Pin(name=names[0], return_of=[names[1], names[2]]), *(Pin(name=name) for name in names[1:])]
    test = with_amps(one, amps)
    findings = found(replace(test, session=one.session.model_copy(update={"pin": pins})))
    assert "return_does_not_sum" in {said.code for said in findings.notices}
    pins[1:3] = [Pin(name=names[1]), Pin(name=names[2], return_of=[names[1]])]
    pins[0] = Pin(name=names[0], return_of=[names[1]])
    halves = with_amps(one, amps | {names[0]: 2.0, names[2]: 2.0})
    findings = found(replace(halves, session=one.session.model_copy(update={"pin": pins})))
    assert "parallel_share_assumed" in {said.code for said in findings.notices}


def test_a_single_pin_has_no_peer_and_no_ratio(one):
    keep = one.names[0]
    readings = one.extracted.readings[one.extracted.readings["pin"] == keep]
    place = one.pin_map
    alone = replace(
        place, names=(keep,), x_px=place.x_px[:1], y_px=place.y_px[:1], radius_px=place.radius_px[:1], placed=("given",)
    )
    findings = judge(one.session, readings, one.stages, alone, lambda *_: None)
    assert findings.source_pins == ()
    assert findings.pin_table["heat_ratio"].isna().all()
    assert [entry["pin"] for entry in findings.not_judged] == [keep]


@pytest.mark.parametrize(("early", "part", "level"), [(2.6, 50.0, "watch"), (2.6, 20.0, "hot"), (9.0, 50.0, "hot")])
def test_a_warm_part_behind_a_pin_takes_the_blame_unless_the_first_minute_is_strong(early, part, level):
    own = PinHeat(2.0, 1.3, 3.1, 4.0, (0.6, 0.05, early), 5, part_k=part, rise_k=40.0)
    said = level_of(Heat("picture", {"3": own}, frozenset(), {}), "3")
    assert said.level == level
    assert said.source == (level == "hot")
    assert ("heat_from_part" in {each.code for each in said.reasons}) == (level == "watch")


@pytest.mark.parametrize(
    ("steady", "early", "level", "code"),
    [
        (4.0, 4.0, "hot", "heat_more_both"),
        (4.0, 0.1, "watch", "heat_from_elsewhere"),
        (0.5, 6.0, "hot", "heat_first_minute_only"),
        (0.2, 0.3, "normal", "heat_like_peers"),
    ],
)
def test_the_first_minute_has_its_vote(steady, early, level, code):
    own = PinHeat(1.8, 1.2, 2.7, steady, (0.13 * early, 0.05, early), 5)
    said = level_of(Heat("picture", {"3": own}, frozenset(), {}), "3")
    assert said.level == level
    assert said.reasons[0].code == code


@pytest.mark.parametrize(
    ("flow", "level", "code"), [(0.2, "watch", "heat_along_wire"), (-0.1, "hot", "heat_into_wire")]
)
def test_the_flow_along_the_wire_decides_between_contact_and_wire(flow, level, code):
    own = PinHeat(2.0, 1.3, 3.1, 4.0, (0.6, 0.05, 4.0), 5, flow=WireFlow(flow, 0.05, watts=True))
    said = level_of(Heat("picture", {"3": own}, frozenset(), {}), "3")
    assert said.level == level
    assert code in {each.code for each in said.reasons}
    elsewhere = replace(own, early=(0.0, 0.05, 0.1))
    agreed = "heat_wire_agrees" in {
        each.code for each in level_of(Heat("picture", {"3": elsewhere}, frozenset(), {}), "3").reasons
    }
    assert agreed == (flow > 0)


@pytest.mark.published
def test_heat_in_a_wire_is_fouriers_law():
    """k A dT/dx: copper of 1.5 mm2 with 5 K over 16 mm carries 390 x 1.5e-6 x 5 / 0.016 = 0.183 W."""
    test = with_sections(held(105, "one contact", "equal"))
    test = replace(test, spots_k=np.zeros_like(test.spots_k))
    test.spots_k[:, 0, 1] = 5.0
    seen = with_wires(replace(test, session=test.session))
    names = test.names
    pins = [Pin(name=name, wire="1.5 mm2") for name in names]
    session = seen.session.model_copy(update={"pin": pins})
    loads = Loads((0,), np.full((1, len(names)), 5.0), np.ones((1, len(names)), bool), False)
    flows = wire_flows(session, seen.extracted.rise_pictures, names, loads)
    assert flows[names[0]].excess == pytest.approx(0.183, abs=0.001)
    assert flows[names[0]].watts


def test_every_composed_code_of_heat_has_a_sentence():
    known = tomllib.loads((Path(hotspot.__file__).parent / "tell/catalogue/reason.toml").read_text(encoding="utf-8"))
    for method in ("picture", "network", "first_minute", "pair", "absolute", "rise"):
        assert "heat_by_" + method in known
    for base in ("heat_along_wire", "heat_perhaps_along_wire", "heat_into_wire", "heat_wire_agrees"):
        assert {base, base + "_no_watts"} <= set(known)
    for tail in ("", "_not_hottest"):
        assert {f"answer_heat{tail}", f"answer_heat{tail}_and_others"} <= set(known)
    codes = {"heat_more", "heat_perhaps_more", "heat_like_peers"}
    codes |= {"resistance_high", "resistance_perhaps_high", "resistance_usual", "answer_heat_alike_but"}
    assert codes <= set(known)


def test_the_benchmark_runs_and_counts():
    tally = Tally()
    for seed, kind in ((105, "one contact"), (133, "upstream"), (7, "healthy")):
        tell(held(seed, kind, "equal"), tally, "no wire in view")
    assert tally.yes["no wire in view: flagged"] == [True]
    assert tally.yes["no wire in view: healthy flagged"] == [False]
    assert "interval holds" in table_text(tally)


def test_two_pins_are_held_against_each_other_and_neither_is_blamed():
    """A contact of more than x2 with one other pin under load: more, with an interval, but not by the rule of peers."""
    test = held(105, "one contact", "equal")
    fault = test.case.faulty[0]
    other = (fault + 1) % len(test.names)
    amps = test.stages[0].stage.amps
    findings = found(with_amps(test, {test.names[k]: amps[test.names[k]] for k in (fault, other)}))
    assert findings.settings["heat"]["method"] == "pair"
    table = findings.pin_table.dropna(subset=["heat_ratio"]).set_index("pin")
    assert set(table.index) == {test.names[fault], test.names[other]}
    assert table["heat_ratio"].idxmax() == test.names[fault]
    assert table.loc[test.names[fault], "heat_ratio"] == pytest.approx(1 / table.loc[test.names[other], "heat_ratio"])
    assert {"heat_of_two_more", "heat_of_two"} <= codes(findings)


def test_a_hidden_pin_is_unknown_but_the_plastic_around_it_speaks():
    test = troubled("faulty_hidden_told", 41000)
    findings = found(test)
    name = test.names[test.case.faulty[0]]
    assert name not in findings.source_pins
    pin = next(pin for pin in findings.pins if pin.name == name)
    assert pin.verdict == "unknown"
    assert {"hidden", "heat_of_hidden"} <= {said.code for said in pin.reasons}


def test_a_part_in_view_is_as_warm_as_its_wire_or_the_body_on_it():
    test = troubled("part", 41001)
    rises = [test.extracted.rise_pictures.regions[f"part {name}"] for name in test.names]
    assert pytest.approx(test.parts_k) == np.array(rises).T


def test_an_unknown_trouble_is_refused():
    with pytest.raises(ValueError, match="drought"):
        troubled("drought", 1)


def test_a_pin_of_doubtful_current_is_watched_not_blamed(one):
    """The bad pin is called one of two returns that share evenly: what it really carries nobody clamped."""
    fault, names = one.case.faulty[0], one.names
    other, feed = (fault + 1) % len(names), (fault + 2) % len(names)
    amps = dict(one.stages[0].stage.amps)
    amps[names[fault]] = amps[names[other]] = 0.5 * amps[names[feed]]
    pins = [Pin(name=name, return_of=[names[feed]] if k in (fault, other) else []) for k, name in enumerate(names)]
    findings = found(replace(with_amps(one, amps), session=one.session.model_copy(update={"pin": pins})))
    assert not {names[fault], names[other]} & set(findings.source_pins)
    verdict = {pin.name: pin for pin in findings.pins}[names[fault]]
    assert verdict.verdict == "watch"
    assert "heat_load_doubted" in {said.code for said in verdict.reasons}


def test_strands_cut_at_the_terminal_leave_the_wire_behind_it_as_it_was(one):
    stated = with_sections(one)
    pins = list(stated.session.pin)
    pins[0] = pins[0].model_copy(update={"strands": 0.4})
    cut = replace(stated, session=stated.session.model_copy(update={"pin": pins}))
    columns = ["heat_ratio", "heat_ratio_low", "heat_ratio_high"]
    assert found(cut).pin_table[columns].equals(found(stated).pin_table[columns])
