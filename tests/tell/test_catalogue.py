"""Every statement that the program makes has a sentence, and every sentence the values that it needs."""

import ast
import re
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import hotspot
from hotspot.records import Statement
from hotspot.tell import words
from hotspot.tell.cautions import cautions
from hotspot.units import to_celsius

ROOT = Path(hotspot.__file__).parent


def literal_statements() -> list[tuple[str, str, set[str] | None]]:
    """(place, code, keys) of each `Statement("code", ...)` in the source; keys None if not literal."""
    found = []
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Statement" and node.args):
                continue
            for code in _codes(node.args[0]):
                found.append((f"{path.relative_to(ROOT)}:{node.lineno}", code, _keys(node)))
    return found


def _codes(node: ast.expr) -> list[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    return _codes(node.body) + _codes(node.orelse) if isinstance(node, ast.IfExp) else []


def _keys(call: ast.Call) -> set[str] | None:
    values = call.args[1] if len(call.args) > 1 else next((k.value for k in call.keywords if k.arg == "values"), None)
    if values is None:
        return set()
    if isinstance(values, ast.Dict) and all(isinstance(key, ast.Constant) for key in values.keys):
        return {key.value for key in values.keys}
    return None


def test_every_statement_of_the_source_has_a_sentence():
    assert literal_statements(), "the scan finds no statement: it is broken"
    unknown = [f"{place}: {code}" for place, code, _ in literal_statements() if code not in words.catalogue()]
    assert unknown == []


def test_every_statement_gives_what_its_sentence_needs():
    lacking = []
    for place, code, keys in literal_statements():
        needed = set(words.placeholders(words.catalogue().get(code, "")))
        if keys is not None and needed - keys:
            lacking.append(f"{place}: {code} lacks {sorted(needed - keys)}")
    assert lacking == []


def test_sentences_are_finished_and_codes_are_lower_snake():
    for code, template in words.catalogue().items():
        assert code == code.lower(), code
        assert code.replace("_", "a").isalnum(), code
        assert template.strip() == template, code
        assert template, code


def test_a_code_defined_twice_is_an_error(tmp_path, monkeypatch):
    (tmp_path / "catalogue").mkdir()
    for name in ("read.toml", "reason.toml"):
        (tmp_path / "catalogue" / name).write_text('same = "Twice."\n', encoding="utf-8")
    monkeypatch.setattr(resources, "files", lambda _: tmp_path)
    words.catalogue.cache_clear()
    try:
        with pytest.raises(words.CatalogueError, match="'same' is defined twice"):
            words.catalogue()
    finally:
        monkeypatch.undo()
        words.catalogue.cache_clear()


def _say(template: str, units: str = "C", **values) -> str:
    before = words.catalogue
    try:
        words.catalogue = lambda: {"x": template}
        return words.say(Statement("x", values), units)
    finally:
        words.catalogue = before


@pytest.mark.parametrize(
    ("template", "value", "units", "text"),
    [
        ("{x:temp}", 100.0, "C", "100.0 °C"),
        # 100 °C = 212 °F = 373.15 K by the definitions of the scales
        ("{x:temp}", 100.0, "F", "212.0 °F"),
        ("{x:temp}", 0.0, "K", "273.1 K"),
        ("{x:rise}", 10.0, "C", "10.0 K"),
        ("{x:rise}", 10.0, "F", "18.0 °F"),
        ("{x:rise}", -0.01, "C", "0.0 K"),
        ("{x:time}", 65.4, "C", "1:05"),
        ("{x:time}", 59.6, "C", "1:00"),
        ("{x:time}", -5.0, "C", "-0:05"),
        ("{x:time}", 3725.0, "C", "62:05"),
        ("{x:num}", 9.0, "C", "9"),
        ("{x:num}", 0.04512, "C", "0.0451"),
        ("{x:num}", 12345.6, "C", "12346"),
        ("{x:ratio}", 2.94, "C", "2.9"),
        ("{x:ratio}", 1.0, "C", "1.0"),
        ("{x:ratio}", 0.123, "C", "0.12"),
        ("{x:ratio}", 123.0, "C", "120"),
        ("{x:pct}", 0.12, "C", "12 %"),
        ("{x:pct}", 0.003, "C", "0.3 %"),
        ("{x:list}", ["1", "2", "5"], "C", "1, 2 and 5"),
        ("{x:list}", ("01",), "C", "01"),
        ("{x:list}", [], "C", "none"),
        ("{x}", "{y}", "C", "{y}"),
        ("{x}", 3, "C", "3"),
        ("{x:temp}", None, "C", "not known"),
        ("{x:num}", float("nan"), "C", "not known"),
        ("{x:ratio}", float("inf"), "C", "not known"),
        ("{x}", 2.0, "C", "2"),
        ("{x:list}", [3, 4.5], "C", "3 and 4.5"),
        ("{x}", Statement("x", {"x": "inner"}), "C", "inner"),
    ],
)
def test_forms_of_placeholders(template, value, units, text):
    assert _say(template, units, x=value) == text


@pytest.mark.parametrize(
    ("template", "value", "text"),
    [
        ("Look at pin {x:list}.", ["4", "3", "5"], "Look at pins 4, 3 and 5."),
        ("Look at pin {x:list}.", ["4"], "Look at pin 4."),
        ("Pins {x:list} {x:lies|lie} outside.", ["6"], "Pin 6 lies outside."),
        ("Pins {x:list} {x:lies|lie} outside.", ("6", "7"), "Pins 6 and 7 lie outside."),
        ("Pins {x:list} {x:lies|lie} outside.", "6", "Pin 6 lies outside."),
        ("in {x} {x:frame|frames}", 1, "in 1 frame"),
        ("in {x} {x:frame|frames}", 12, "in 12 frames"),
        # no other word is touched
        ("The spin {x:list} and pin-holes {x:list}.", ["1", "2"], "The spin 1 and 2 and pin-holes 1 and 2."),
    ],
)
def test_one_and_many(template, value, text):
    assert _say(template, x=value) == text


@given(st.floats(-60, 400), st.sampled_from("CFK"))
def test_a_temperature_reads_back_to_within_its_last_digit(celsius, unit):
    shown = float(words.temperature(celsius, unit).split()[0])
    assert to_celsius(shown, unit) == pytest.approx(celsius, abs=0.0501)


def test_what_does_not_fit_is_said_plainly():
    with pytest.raises(words.CatalogueError, match="no sentence for the code 'never_defined'"):
        words.say(Statement("never_defined"))
    with pytest.raises(words.CatalogueError, match="needs 'x'"):
        _say("{x:temp}", y=1.0)
    with pytest.raises(words.CatalogueError, match="is no placeholder"):
        words.placeholders("{x:volts}")


def test_cautions_speak_in_the_readers_unit_and_name_their_source():
    said = cautions("F")
    assert len(said) >= 8
    # ECMA-287: 55 °C for bare metal touched for less than 10 s; 55 °C = 131 °F
    assert "131.0 °F" in said[0]
    assert "ECMA-287" in said[0]
    assert all("source" in text or "CFR" in text or "ECMA" in text for text in said[:-1])


TEMPLATES = ROOT / "tell" / "templates"
WORD = r"[A-Za-z]{2}"


@pytest.mark.parametrize("path", sorted(TEMPLATES.glob("*.html")), ids=lambda path: path.name)
def test_no_page_has_words_of_its_own(path):
    page = re.sub(
        r"<style>.*?</style>|<script.*?</script>|<kbd>.*?</kbd>|<code>.*?</code>",
        "",
        path.read_text("utf-8"),
        flags=re.S,
    )
    page = re.sub(r"\{%.*?%\}|\{#.*?#\}|\{\{.*?\}\}", "", page, flags=re.S)
    shown = re.findall(r">([^<>]*)<", page) + re.findall(r'(?:aria-label|alt|title|placeholder)="([^"]*)"', page)
    assert [text for text in shown if re.search(WORD, text)] == []


def asked_for() -> list[tuple[str, str]]:
    """(file, code) of every word that a template, a script or the room `tell` asks the catalogue for by its name."""
    forms = {"*.html": r"\bt\([\"'](\w+)[\"']", "*.js": r"\bphrase\(\"(\w+)\""}
    found = [
        (path.name, code if form == "*.html" else f"js_{code}")
        for form, pattern in forms.items()
        for path in TEMPLATES.glob(form)
        for code in re.findall(pattern, path.read_text("utf-8"))
    ]
    found += [
        (path.name, code)
        for path in (ROOT / "tell").glob("*.py")
        for code in re.findall(r"\btext\(\s*\"(\w+)\"", path.read_text("utf-8"))
    ]
    return [(name, code) for name, code in found if not code.endswith("_")]  # the beginning of a composed one


def test_every_word_that_a_page_asks_for_is_there():
    assert len(asked_for()) > 200
    assert [(name, code) for name, code in asked_for() if code not in words.catalogue()] == []
