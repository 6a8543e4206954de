"""Everything this room says can be said: each statement of many findings and comparisons has its values."""

import numpy as np
import pytest
from readings_made import readings_of
from test_before_after import FAULTY, MENDED, made
from test_judge import T, found, heated

from hotspot.reason import judge
from hotspot.reason.before_after import compare
from hotspot.tell.words import say

CASES = [
    {"rises": [30, 31, 62, 33, 30]},
    {"rises": [30, 31, 62, 33, 62]},
    {"rises": [30, 31, 62, 33, 30], "amps": None},
    {"rises": [30, 31, 62, 60, 30, 31], "amps": None},
    {"rises": [30, 31], "amps": None},
    {"rises": [30], "amps": None},
    {"rises": [30, 31, 29], "connector": {"rated": 40.0, "wire_rated": 50.0}},
    {"rises": [4, 30, 5], "amps": {"2": 8.0}},
    {"rises": [4, 4, 5], "amps": {"2": 8.0}},
    {"rises": [30, 55, 90, 31, 30], "amps": {"1": 5.0, "2": 5.0, "3": 10.0, "4": 5.0, "5": 1.0}},
    {"rises": [30, 31, 29], "amps": {"1": 5.0, "2": 1.0, "3": 9.0}},
    {"rises": [30, 31, 29], "amps": 0.0},
    {"rises": [30, 31, 29], "surface": {"emissivity": 0.1}},
    {"rises": [30, 31, 29], "pin": [{"name": "1", "wire": "2.5 mm2", "lead": "AWG 22", "splice": "yellow"},
                                    {"name": "2", "terminal": "red", "wire": "AWG 10", "strands": 0.5},
                                    {"name": "3", "wire": "thick", "strands": 0.9}, {"name": "9"}]},
]  # fmt: skip


def _all_of(findings):
    yield findings.answer
    yield from findings.next
    yield from findings.notices
    yield from (entry["reason"] for entry in findings.not_judged)
    for pin in findings.pins:
        yield from pin.reasons
    for reasons in findings.pin_table["reasons"]:
        yield from reasons


@pytest.mark.parametrize("case", CASES)
def test_findings_can_be_said(case):
    for statement in _all_of(found(**case)):
        sentence = say(statement, "F")
        assert sentence
        assert "nan" not in sentence.split()


def test_findings_without_ambient_can_be_said():
    for values in (heated([30, 31, 62, 30, 29]), {n: np.full(T.size, t) for n, t in (("1", 60.0), ("2", 30.0))}):
        for amps_known in (True, False):
            from readings_made import session_of, span

            spans = (span(T, "equal" if amps_known else None),)
            findings = judge(session_of(), readings_of(T, values), spans, None, lambda *_: None)
            for statement in _all_of(findings):
                assert say(statement)


COMPARED = [
    (made(FAULTY), made(MENDED, digest="b")),
    (made([30, 31, 90, 33]), made([30, 31, 60, 33], digest="b")),
    (made(FAULTY), made(FAULTY, digest="b")),
    (made(FAULTY), made(FAULTY)),
    (made(FAULTY), made([30, 31, 31, 60], digest="b")),
    (made(FAULTY), made(MENDED, amps=10.8, digest="b", camera={})),
    (made(FAULTY), made(MENDED, amps=30.0, digest="b", connector={"face": "wire"})),
    (made(FAULTY, amps=None), made(MENDED, amps=None, digest="b", names=["a", "b", "c", "d"])),
    (made(MENDED, amps=None), made(FAULTY, amps=None, digest="b", stage="other")),
    (made(FAULTY, stage="old"), made(FAULTY[:3], 14.0, digest="b", stage="new")),
    (made(FAULTY, job={"date": "2026-03-12"}), made(FAULTY, amps=0.0, digest="b", job={"date": "2026-03-11"})),
]


@pytest.mark.parametrize("pair", COMPARED)
def test_comparisons_can_be_said(pair):
    comparison = compare(*pair)
    statements = [comparison.sentence, *comparison.basis, *comparison.notices]
    for basis in comparison.table["basis"]:
        statements.extend(basis)
    for statement in statements:
        sentence = say(statement)
        assert "nan" not in sentence.split()
    assert comparison.answer in {"better", "no change", "worse", "cannot tell"}
