"""Writes a calibration file, whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hotspot.errors import refuse
from hotspot.tell.calibration_text import calibration_toml

if TYPE_CHECKING:
    from hotspot.calibration import Calibration


def write_calibration(made: Calibration, path: Path, over: bool) -> None:
    """Raises InputError where the file is there already (unless `over`) or cannot be written."""
    if path.exists() and not over:
        raise refuse(path, "", "it is there already", "Use --force to write over it.")
    aside = path.with_name(f".{path.name}.new")
    try:
        aside.write_text(calibration_toml(made), encoding="utf-8", newline="\n")
        aside.replace(path)
    except OSError as error:
        raise refuse(path, "", f"cannot be written ({error.strerror})", "Name a place that you may write to.") from None
