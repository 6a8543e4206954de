"""Docstrings held against the code: names that exist, units that agree with names, errors that are told, sources."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "hotspot"
FILES = sorted(PACKAGE.rglob("*.py"))
UNITS = {
    "s": "s",
    "k": "K",
    "c": "°C",
    "m": "m",
    "mm": "mm",
    "mm2": "mm2",
    "m2": "m2",
    "um": "µm",
    "px": "px",
    "pa": "Pa",
    "deg": "degrees",
    "days": "days",
}
TICKED = re.compile(r"`([a-z][a-z0-9]*(?:_[a-z0-9]+)+)(?:\([^`]*\))?`(?: ?\[([^\]]{1,12})\])?")


def functions(tree: ast.AST) -> list[ast.FunctionDef]:
    """Functions and methods that others may call; what lies inside a function is its own matter."""
    found = []
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            found += functions(node)
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            found.append(node)
    return found


def public() -> list:
    return [
        pytest.param(path, node, id=f"{path.relative_to(PACKAGE)}:{node.name}")
        for path in FILES
        for node in functions(ast.parse(path.read_text(encoding="utf-8")))
    ]


@pytest.fixture(scope="module")
def names() -> set[str]:
    """Every name that the code itself uses: arguments, attributes, variables, keys and columns in its strings."""
    found: set[str] = set()
    for path in FILES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {id(node.body[0].value) for node in ast.walk(tree) if _has_docstring(node)}
        for node in ast.walk(tree):
            if isinstance(node, ast.arg):
                found.add(node.arg)
            elif isinstance(node, ast.Attribute):
                found.add(node.attr)
            elif isinstance(node, ast.Name):
                found.add(node.id)
            elif isinstance(node, ast.FunctionDef | ast.ClassDef):
                found.add(node.name)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
                found |= set(re.findall(r"[A-Za-z_][A-Za-z0-9_]*", node.value))
    return found | {path.stem for path in FILES}


def _has_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node) is not None


@pytest.mark.parametrize(("path", "node"), public())
def test_a_public_function_is_told_truly(path: Path, node: ast.FunctionDef, names: set[str]) -> None:
    text = ast.get_docstring(node)
    assert text, "a public function without a docstring"
    for name, unit in TICKED.findall(text):
        assert name in names, f"`{name}` is nowhere in the code"
        suffix = name.rsplit("_", 1)[1]
        if unit and suffix in UNITS and "," not in unit and "(" not in unit:
            assert UNITS[suffix] in unit.split(), f"`{name}` is told in {unit}"
    raised = {_raised(inner) for inner in ast.walk(node) if isinstance(inner, ast.Raise)} - {None}
    if path.parent.name == "cli":
        return  # what a command's docstring says is its help; how it refuses is told once, in cli/__init__.py
    untold = {error for error in raised if error not in text and not (error == "InputError" and "refusal" in text)}
    assert not untold, f"raises {untold} and does not say so"


def _raised(node: ast.Raise) -> str | None:
    """The name of the error: `refuse(...)` makes an InputError; a bare raise hands on another's, and what a private
    function makes is some error that must be told."""
    if not isinstance(node.exc, ast.Call):
        return None
    name = ast.unparse(node.exc.func).rsplit(".", 1)[-1]
    return "InputError" if name == "refuse" else "Raises" if name.startswith("_") else name


EQUATIONS = [param for param in public() if param.values[0].parent.name == "physics"]


@pytest.mark.parametrize(("path", "node"), EQUATIONS)
def test_an_equation_names_its_source_and_its_units(path: Path, node: ast.FunctionDef) -> None:
    text = ast.get_docstring(node)
    known = tomllib.loads((PACKAGE / "handbook" / "sources.toml").read_text(encoding="utf-8"))
    keys = re.findall(r"Source: \[([a-z0-9_]+)\]", text)
    assert keys, "names no source"
    assert set(keys) <= set(known)
    for argument in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs):
        name = argument.arg
        unit_in_name = re.search(r"_(s|k|c|m|m2|m3|mm2|um|pa|kg_m3|j_kgk|w_m2k|w_mk|m_k)$", name)
        plain = name in {"amps", "celsius", "self"}
        assert unit_in_name or plain or f"`{name}`" in text, f"nobody says what {name} is"
