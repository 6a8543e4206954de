"""The handbook of emissivities: every row with a source, ranges in order, what must not be in it."""

from pathlib import Path

from hotspot import physics
from hotspot.handbook.emissivity import sources, surfaces, surfaces_like


def test_every_row_has_its_source_and_a_range() -> None:
    for row in surfaces():
        assert 0 < row.low <= row.high <= 1
        assert row.source in sources().values()
        assert row.band in {"total", "long wave", "8-14"}
    assert len({row.name for row in surfaces()}) == len(surfaces())


def test_how_far_each_source_was_seen_is_said() -> None:
    assert {source.read for source in sources().values()} <= {"page", "quoted", "memory"}
    used = {row.source for row in surfaces()}
    equations = "".join(path.read_text(encoding="utf-8") for path in Path(physics.__path__[0]).glob("*.py"))
    idle = {key for key, source in sources().items() if source not in used and f"Source: [{key}]" not in equations}
    assert idle == {"codata"}


def test_lookup_by_words() -> None:
    assert [row.name for row in surfaces_like("Copper OXIDISED")] == ["copper, oxidised", "copper, black oxidised"]
    assert surfaces_like("unobtainium") == ()


def test_bright_metal_lies_below_what_a_camera_can_read() -> None:
    """Kutz Table 19 and Ede agree on polished copper near 0.03; paints and tape lie at 0.9 and above."""
    (polished,) = surfaces_like("copper polished highly")
    assert polished.low <= 0.03 <= polished.high
    assert all(row.low >= 0.9 for row in surfaces() if not row.metal)
