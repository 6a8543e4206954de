"""Heat after / before from one balance of two tests, on rises that follow the balance's own equation."""

import json
from dataclasses import replace

import numpy as np
import pytest

from hotspot.reason.heat_balance import Observed, modelled
from hotspot.reason.heat_change import by_ratios, heat_changes
from hotspot.reason.heat_kept import Kept, kept, taken_up
from hotspot.reason.heat_loads import Loads
from hotspot.tell.tables import plain

PINS = ("1", "2", "3", "4", "5", "6")
PAIRS = [(name, name) for name in PINS]


def _conductance(n):
    links = -0.5 * (np.eye(n, k=1) + np.eye(n, k=-1))
    return links - np.diag(links.sum(axis=1)) + 0.15 * np.eye(n)


def _test(ohms, amps=10.0, gamma=1.3, seed=0, relative=False):
    """A test of a row of six whose rises are the balance's, with 0.5 % of noise."""
    ohms = np.asarray(ohms, float)
    n = ohms.size
    flow = np.full((1, n), 1.0 if relative else amps)
    seen = Observed(np.full((1, n), 20.0), flow, np.zeros((1, n)), _conductance(n), np.ones(n), np.ones(n, bool))
    x = np.concatenate([[np.log(gamma), np.log(seen.depth), 0.0], np.log(ohms * (amps / flow[0, 0]) ** 2)])
    for _ in range(40):
        seen = replace(seen, rise_k=modelled(x, seen))
    noise = np.random.default_rng(seed).normal(1.0, 0.005, seen.rise_k.shape)
    return Kept(replace(seen, rise_k=seen.rise_k * noise), PINS[:n], (0,), relative)


SOUND = np.array([1.0, 1.05, 0.96, 1.0, 1.02, 0.98]) * 0.5
FAULTY = SOUND * np.array([1, 1, 1, 4.0, 1, 1])


def test_nothing_done_is_one_within_its_interval():
    found = heat_changes(_test(FAULTY), _test(FAULTY, amps=11.2, seed=1), PAIRS, {0: 0})
    assert found.amps_known
    for change in found.pins.values():
        assert change.stayed
        assert change.low < 1.0 < change.high
        assert change.value == pytest.approx(1.0, abs=0.06)


def test_a_mended_pin_is_found_and_its_neighbours_are_left_alone():
    found = heat_changes(_test(FAULTY), _test(SOUND, amps=11.2, seed=1), PAIRS, {0: 0})
    assert found.pins["4"].fell
    assert found.pins["4"].low < 0.25 < found.pins["4"].high
    assert all(found.pins[pin].not_fallen for pin in PINS if pin != "4")
    assert found.effects[0, "4"] < found.effects[0, "3"] < found.effects[0, "1"] < 0.0

    assert found.before["4"] > 2.0
    assert max(found.before[pin] for pin in PINS if pin != "4") < 1.2


def test_currents_too_far_apart_are_not_balanced():
    assert heat_changes(_test(FAULTY), _test(SOUND, amps=19.0, seed=1), PAIRS, {0: 0}) is not None
    assert heat_changes(_test(FAULTY), _test(SOUND, amps=21.0, seed=1), PAIRS, {0: 0}) is None


def test_a_pin_is_judged_where_either_test_had_current_enough():
    def only(test, judged):
        return replace(test, seen=replace(test.seen, judged=np.isin(PINS, judged)))

    found = heat_changes(only(_test(FAULTY), ["4"]), only(_test(SOUND, seed=1), ["5"]), PAIRS, {0: 0})
    assert set(found.pins) == {"4", "5"}
    assert found.pins["4"].fell


def test_a_pin_that_grew_is_told():
    found = heat_changes(_test(SOUND), _test(FAULTY, seed=1), PAIRS, {0: 0})
    assert found.pins["4"].grew
    assert not any(found.pins[pin].grew for pin in PINS if pin != "4")


def test_what_all_pins_share_is_the_days_only_while_it_is_small():
    day = heat_changes(_test(FAULTY), _test(1.08 * FAULTY, seed=1), PAIRS, {0: 0})
    assert day.day == pytest.approx(1.08, abs=0.03)
    assert all(change.stayed for change in day.pins.values())
    every = heat_changes(_test(3.0 * SOUND), _test(SOUND, seed=1), PAIRS, {0: 0})
    assert every.day == pytest.approx(1.0, abs=0.05)
    assert all(change.fell for change in every.pins.values())


def test_currents_only_called_alike_compare_pins_among_themselves():
    found = heat_changes(_test(FAULTY, relative=True), _test(SOUND, 14.0, relative=True), PAIRS, {0: 0})
    assert not found.amps_known
    assert found.pins["4"].fell
    assert all(found.pins[pin].not_fallen for pin in PINS if pin != "4")


def test_other_pins_or_another_method_are_not_balanced_together():
    first, second = _test(FAULTY), _test(SOUND)
    assert heat_changes(first, None, PAIRS, {0: 0}) is None
    assert heat_changes(first, second, PAIRS[:5], {0: 0}) is None
    assert heat_changes(first, replace(second, seen=replace(second.seen, share=0.08)), PAIRS, {0: 0}) is None


def test_what_is_kept_comes_back_from_the_file():
    test = _test(FAULTY)
    loads = Loads((0,), test.seen.amps, np.ones((1, 6), bool), False)
    text = json.dumps(plain({"method": "picture", "balance": kept(test.seen, PINS, loads)}))
    back = taken_up(json.loads(text))
    for key in ("rise_k", "amps", "stored", "conductance", "wire"):
        np.testing.assert_allclose(getattr(back.seen, key), getattr(test.seen, key), rtol=1e-8)
    assert (back.pins, back.stages, back.relative) == (PINS, (0,), False)
    told = json.loads(text)["balance"]
    assert told["amps_known"] is True
    assert taken_up({"balance": told | {"amps_known": False}}).relative
    for key in ("pins", "rise_k", "judged", "share"):
        assert taken_up({"balance": {name: value for name, value in told.items() if name != key}}) is None
    assert taken_up({"balance": told | {"wire": told["wire"][:5]}}) is None
    assert taken_up({"balance": told | {"rise_k": [[None] * 6]}}) is None
    assert taken_up(None) is None
    assert taken_up({"method": "rise"}) is None
    assert taken_up({"balance": {"pins": ["1"]}}) is None


def test_ratios_of_two_tests_add_their_uncertainties():
    found = by_ratios((4.0, 2.0, 8.0), (1.0, 0.5, 2.0))
    assert found.value == pytest.approx(0.25)
    assert np.log(found.high / found.value) == pytest.approx(np.sqrt(2.0) * np.log(2.0))
