"""The rooms and arrows of the house, read from the imports."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "hotspot"
ROOMS = {"read", "locate", "extract", "reason", "tell"}
COMMON = {
    "session",
    "records",
    "columns",
    "poses",
    "views",
    "placing",
    "calibration",
    "doubts",
    "errors",
    "units",
    "version",
}
MAY = {
    "read": COMMON,
    "locate": COMMON,
    "extract": COMMON | {"physics", "handbook"},
    "reason": COMMON | {"physics", "handbook"},
    "tell": COMMON | {"handbook"},
    "physics": {"handbook"},
    "handbook": {"errors"},
    "synthetic": {"physics", "records", "session"},
    "session": {"read"},  # Session.load, inside the function only
    "records": {"session", "poses", "views"},
    "columns": set(),
    "views": {"columns", "records"},
    "placing": {"records", "session"},
    "calibration": {"handbook"},
    "poses": {"records"},  # for types only
    "units": set(),
    "errors": set(),
    "doubts": set(),
    "version": set(),
}
LATE = {"cv2", "pandas", "scipy", "skimage", "matplotlib", "av", "PIL", "tifffile", "numpy"}


def sources() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(tree: ast.AST) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.add(node.module)
            if node.module == "hotspot":
                found |= {f"hotspot.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


@pytest.mark.parametrize("path", sources(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_follow_the_arrows(path: Path) -> None:
    room = room_of(path)
    if room not in MAY:  # the entry points and the pipeline know every room
        assert room in {"__init__", "__main__", "cli", "pipeline"}
        return
    own = {name.split(".")[1] for name in imported(ast.parse(path.read_text())) if name.startswith("hotspot.")}
    assert own - MAY[room] - {room, "__version__"} == set()


@pytest.mark.parametrize("path", sources(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_files_and_functions_fit(path: Path) -> None:
    text = path.read_text()
    assert len(text.splitlines()) <= 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            doc = ast.get_docstring(node, clean=False)
            length = node.end_lineno - node.lineno + 1 - (len(doc.splitlines()) if doc else 0)
            assert length <= 50, f"{node.name} has {length} lines"


def test_help_needs_no_heavy_library() -> None:
    import subprocess
    import sys

    code = (
        "import sys\n"
        "from hotspot.cli import main\n"
        "sys.argv = ['hotspot', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', sorted(set(sys.modules) & {LATE | {'rich'}!r}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("LOADED []")
