"""Every code that this room says has a sentence, and every sentence asks only for values that are given."""

import re
import tomllib
from pathlib import Path

import hotspot

ROOT = Path(hotspot.__file__).parent
CODE = re.compile(r'Statement\(\s*"([a-z_]+)"(?! \+)')


def _sentences(name):
    return tomllib.loads((ROOT / "tell" / "catalogue" / f"{name}.toml").read_text(encoding="utf-8"))


def test_every_literal_code_has_a_sentence():
    files = (
        "reason",
        "compare",
        "checks",
        "plan",
        "settling",
        "calibration",
        "small_pins",
        "found_stages",
        "limits",
        "ambient",
    )
    known = {code: text for file in files for code, text in _sentences(file).items()}
    said = set()
    for path in (ROOT / "reason").glob("*.py"):
        said |= set(CODE.findall(path.read_text(encoding="utf-8")))
    said -= {"answer_cannot_", "compare_cannot_"}  # beginnings of composed codes, below
    assert len(said) > 20
    assert said - set(known) == set()


def test_every_combination_of_a_composed_code_has_a_sentence():
    known = _sentences("reason")
    for tail in ("", "_at_least", "_alone"):
        assert f"rises_more{tail}" in known
        assert f"rises_more_from_start{tail}" in known
    for key in ("rated", "wire_rated"):
        for form in (f"over_{key}", f"over_{key}_at_least", f"heads_over_{key}", f"may_pass_{key}"):
            assert form in known
    near = _sentences("limits")
    for key in ("rated", "wire_rated", "rise"):
        for form in ("left", "left_bound", "passed", "passed_bound"):
            assert f"limit_{key}_{form}" in near
    comparing = _sentences("compare")
    for refused in [code for code in comparing if code.startswith("refused_") and "_no_pin" not in code]:
        assert "compare_cannot_" + refused.removeprefix("refused_") in comparing
    for base in ("answer_source", "answer_source_ratio"):
        for tail in ("", "_in_stage", "_and_others", "_in_stage_and_others"):
            assert base + tail in known


def test_sentences_use_known_forms_only():
    forms = {"", "temp", "rise", "time", "num", "ratio", "pct", "list"}
    for name in ("reason", "compare"):
        for code, sentence in _sentences(name).items():
            assert set(re.findall(r"\{[a-z_]+:?([a-z]*)\}", sentence)) <= forms, code
            assert sentence[-1] in ".?" or sentence == "{answer} {by_hand}", code  # two whole sentences
