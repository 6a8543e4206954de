"""session.toml as a test writes it, and the messages that it gives."""

from pathlib import Path

import pytest

from hotspot.errors import InputError
from hotspot.read.session_file import load


def write(folder: Path, text: str, name: str = "session.toml") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def problems(folder: Path, text: str, **overrides: object) -> list[str]:
    """The message lines without the folder in front."""
    with pytest.raises(InputError) as refused:
        load(write(folder, text), overrides)
    return [str(problem).replace(f"{folder}/", "") for problem in refused.value.problems]
