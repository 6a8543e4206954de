"""The handbook of criteria: each section says where it was printed, and something reads it."""

from pathlib import Path

import pytest

import hotspot
from hotspot.handbook.criteria import table

CODE = "".join(path.read_text(encoding="utf-8") for path in Path(hotspot.__file__).parent.rglob("*.py"))


@pytest.mark.parametrize("name", table())
def test_a_section_has_a_source_and_a_reader(name: str) -> None:
    assert table()[name].get("source", "").strip(), "no source: write it, or 'common practice, no source'"
    assert f'section("{name}")' in CODE, "nothing reads it"
