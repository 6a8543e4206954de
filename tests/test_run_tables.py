"""A logger's tables of real boards through `hotspot run`: which heater was driven is known, and must be named.

Data: two heaters on one small board, logged in steps of the drive (tests/data/two_heater_steps/SOURCE.md).
"""

import gzip
import json
from pathlib import Path

import pytest

DATA = Path(__file__).parent / "data" / "two_heater_steps"
COLD_RUNS = sorted(p.name.removesuffix(".gz") for p in DATA.rglob("H?_000to*_run?.csv.gz"))
SHEET = """
[frames]
files = "{name}"
reading = "table"
columns = {{ "1" = "T1_C", "2" = "T2_C" }}
[[stage]]
name = "driven"
start_s = 0.0
"""


def findings_of(folder: Path, name: str, hotspot_cli) -> dict:
    source = DATA / f"{name}.gz"
    (folder / name).write_bytes(gzip.decompress(source.read_bytes()))
    (folder / "session.toml").write_text(SHEET.format(name=name))
    called = hotspot_cli("run", folder)
    assert called.status == 0, called.err
    return json.loads((folder / "results" / "findings.json").read_text())


@pytest.mark.published
@pytest.mark.parametrize("name", COLD_RUNS)
def test_the_driven_heater_is_the_source(name, tmp_path, hotspot_cli):
    findings = findings_of(tmp_path, name, hotspot_cli)
    assert findings["source_pins"] == [name[1]]


@pytest.mark.published
def test_a_repeat_that_starts_hot_is_not_called_a_rise(tmp_path, hotspot_cli):
    findings = findings_of(tmp_path, "H1_000to050_rep04.csv", hotspot_cli)
    assert findings["source_pins"] == []


def test_a_table_without_headings_is_refused_until_mapped(tmp_path, hotspot_cli):
    (tmp_path / "log1.csv").write_text("0,20,299.5\n1,20,299.6\n2,20,299.7\n3,20,300.2\n")
    (tmp_path / "session.toml").write_text('[frames]\nfiles = "log1.csv"\nreading = "table"\n')
    called = hotspot_cli("run", tmp_path)
    assert called.status == 2
    assert "log1.csv" in called.err
    assert "columns" in called.err
    assert not (tmp_path / "results").exists()
