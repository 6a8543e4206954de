"""README, guide and reference: their commands are run as they stand there, and the reference is made from the code."""

import re
import shlex
import shutil
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
GUIDES = sorted((TOP / "docs" / "guide").glob("*.md"))
WITH_COMMANDS = [page for page in GUIDES if page.stem != "python"]
FENCE = re.compile(r"^ *```\n(.*?)^ *```", re.MULTILINE | re.DOTALL)


def commands(page: Path) -> list[str]:
    """Lines of the fenced blocks of a page that call the program."""
    lines = [line.strip() for block in FENCE.findall(page.read_text(encoding="utf-8")) for line in block.splitlines()]
    return [line for line in lines if line.startswith("hotspot ")]


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=lambda page: page.stem)
def test_every_command_of_a_guide_runs(page, demo, tmp_path, monkeypatch, hotspot_cli):
    found = commands(page)
    assert found, f"{page.name} shows no command"
    monkeypatch.chdir(tmp_path)
    for name, source in (("my-test", "before"), ("my-test-after", "after")):
        shutil.copytree(demo.folder / source / "frames", tmp_path / name / "frames")
        if not any(line.startswith("hotspot new") for line in found):
            shutil.copy(demo.folder / source / "session.toml", tmp_path / name / "session.toml")
    for line in found:
        called = hotspot_cli(*shlex.split(line)[1:])
        assert called.status == 0, f"{line}: {called.err}"
        if line.startswith("hotspot new"):  # "fill the file in": what the demo's person filled in
            for name, source in (("my-test", "before"), ("my-test-after", "after")):
                shutil.copy(demo.folder / source / "session.toml", tmp_path / name / "session.toml")


def test_the_two_commands_of_the_readme_are_what_ci_runs_and_what_the_demo_test_runs():
    blocks = FENCE.findall((TOP / "README.md").read_text(encoding="utf-8"))
    assert len(blocks) == 2
    assert all(len(block.strip().splitlines()) == 1 for block in blocks)
    assert blocks[0].strip().endswith("&& .venv/bin/hotspot demo")
    assert blocks[1].strip().endswith("&& .venv/bin/pytest -n auto")
    pattern = re.search(r"grep -m1 -E '(.*?)' README.md", (TOP / ".ci" / "run").read_text(encoding="utf-8"))[1]
    assert [block for block in blocks if re.search(pattern, block.strip())] == [blocks[1]]


def test_links_inside_the_pages_lead_somewhere():
    for page in [TOP / "README.md", TOP / "DEVELOPERS.md", *GUIDES]:
        text = page.read_text(encoding="utf-8")
        named = re.findall(r"`((?:docs|hotspot|tests|sample_images|calibration)/[^`\s*]*)`", text)
        missing = [name for name in named if not (TOP / name).exists() and "<" not in name]
        assert not missing, f"{page.name} names {missing}"


def test_the_reference_is_what_the_code_says(monkeypatch):
    monkeypatch.syspath_prepend(str(TOP / "docs"))
    from make_reference import HERE, pages

    stored = {page.name: page.read_text(encoding="utf-8") for page in HERE.glob("*.md")}
    made = pages()
    assert sorted(stored) == sorted(made)
    old = [name for name, text in made.items() if text != stored[name]]
    assert not old, f"{old}: run python docs/make_reference.py"


def test_the_version_names_the_libraries(hotspot_cli):
    plain, more = hotspot_cli("--version"), hotspot_cli("--version", "-v")
    assert plain.out.startswith("hotspot ")
    assert more.out.startswith(plain.out)
    for name in ("Python", "numpy", "opencv-python-headless", "scikit-image"):
        assert re.search(rf"^{name} \d+\.", more.out, re.MULTILINE)


def test_the_python_of_the_guide_runs(demo, tmp_path, monkeypatch, capsys):
    text = (TOP / "docs" / "guide" / "python.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    for name, source in (("my-test", "before"), ("my-test-after", "after")):
        shutil.copytree(demo.folder / source, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(compile(block, "python.md", "exec"), names)  # noqa: S102 - the page is ours
    told = capsys.readouterr().out
    assert told.splitlines()[0] == "hot ('4',)"
    assert set(names["change"].table["pin"]) == set("123456")


CAUTIONS = (
    ("ECMA-287", "burns, with the source of the limits"),
    ("extinguisher", "fire watch"),
    ("1910.252", "how long to watch, with its source"),
    ("fuse", "fused leads"),
    ("1926.441", "battery and its gas, with the source"),
    ("belts", "moving parts"),
    ("exhaust", "an engine that runs"),
    ("lowest rating", "when to stop"),
    ("local codes", "what stands above all of this"),
)


@pytest.mark.parametrize(("word", "about"), CAUTIONS, ids=[about for _, about in CAUTIONS])
def test_each_caution_stands_where_a_test_begins_and_in_every_report(word, about):
    from hotspot.tell.cautions import cautions

    first = " ".join((TOP / "docs" / "guide" / "first-test.md").read_text(encoding="utf-8").split())
    assert word in first[: first.index("0. Plan the test")], about
    assert any(word in caution for caution in cautions()), about


def test_the_guide_gives_the_limits_that_the_program_gives():
    from hotspot.tell.cautions import TOUCH

    first = (TOP / "docs" / "guide" / "first-test.md").read_text(encoding="utf-8")
    for celsius in (TOUCH["metal_10s"], TOUCH["plastic_10s"], TOUCH["metal_1s"], TOUCH["plastic_1s"]):
        assert f"{celsius:.0f} °C ({celsius * 1.8 + 32:.0f} °F)" in first
