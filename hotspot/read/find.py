"""Which files hold the frames of a session."""

from __future__ import annotations

import glob
import re
from collections import Counter
from pathlib import Path

from hotspot.errors import refuse
from hotspot.read.carrier import SUFFIXES
from hotspot.session import Session

PHOTOS = "photos"
"""The folder of photographs for the report: no frames."""
NEVER = {"session.toml", "log.csv", "frames.csv", "scale.csv", "pins.toml"}
RESULTS = {
    "findings.json": {"readings.csv", "pins.csv", "trend.png", "marked.png", "heat.png", "views.npz"},
    "compare.json": {"compare.csv", "compare.png"},
}
"""Beside a file of that name, files that look like frames but are results."""
_FRAME_SUFFIXES = {suffix for suffixes in SUFFIXES.values() for suffix in suffixes}
_MEND = 'State frames.files, such as "frames/*.tif", relative to the session folder.'


def find_files(session: Session) -> list[Path]:
    """The files in natural order of their names: IMG_2 before IMG_10.

    What frames.files says, else the frame files in `frames/`, else those in the folder itself. Raises
    InputError where there is none, or where nothing says which of several kinds is meant.
    """
    folder = session.folder
    if not folder.is_dir():
        raise refuse(folder, "", "there is no such folder", "Name the folder that holds the session.")
    if session.frames.files is not None:
        return _stated(session, session.frames.files)
    within = folder / "frames" if (folder / "frames").is_dir() else folder
    found = _frames_in(within, session)
    if not found:
        raise refuse(within, "frames.files", f"no frames found; {_held(within)}", _MEND)
    kinds = Counter(_family(path) for path in found)
    if len(kinds) > 1:
        held = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
        raise refuse(within, "frames.files", f"several kinds of frame files lie there ({held})", _MEND)
    return found


def names_of(files: list[Path], folder: Path) -> list[str]:
    """The files' names; where two are alike, their paths below the session folder."""
    twice = {name for name, count in Counter(path.name for path in files).items() if count > 1}
    return [_below(path, folder) if path.name in twice else path.name for path in files]


def _below(path: Path, folder: Path) -> str:
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.as_posix()


def _stated(session: Session, pattern: str) -> list[Path]:
    folder = session.folder
    exact = folder / pattern
    if exact.is_file():
        return [exact]
    if exact.is_dir():
        found = _frames_in(exact, session)
    else:
        hits = (folder / hit for hit in glob.glob(pattern, root_dir=folder, recursive=True))
        found = _natural([hit for hit in hits if hit.is_file() and not _left_out(hit, session)])
    if not found:
        within = exact if exact.is_dir() else exact.parent
        within = within if within.is_dir() else folder
        held = f'nothing matches "{pattern}"; {_held(within)}'
        raise refuse(folder / "session.toml", "frames.files", held, _MEND)
    return found


def _frames_in(within: Path, session: Session) -> list[Path]:
    hits = (path for path in within.iterdir() if path.suffix.lower() in _FRAME_SUFFIXES and path.is_file())
    return _natural([path for path in hits if not _left_out(path, session)])


def _left_out(path: Path, session: Session) -> bool:
    """The session's own files, its results, and what the system hides."""
    folder = session.folder
    if path.name.startswith(".") or any(
        path.name in written and path.with_name(told).is_file() for told, written in RESULTS.items()
    ):
        return True
    if not path.is_relative_to(folder):
        return False
    below = path.relative_to(folder)
    own = {session.scale.map, session.scale.table, session.frames.calibration}
    if below.parts[0] == PHOTOS:  # for the report, unless the pattern names them
        return not (session.frames.files or "").startswith(PHOTOS)
    return below.as_posix() in NEVER | {name for name in own if name} or below.parts[0] == "results"


def _natural(paths: list[Path]) -> list[Path]:
    def key(path: Path) -> list[tuple[int, int, str]]:
        parts = re.split(r"(\d+)", path.as_posix())
        return [(1, int(part), part) if part.isdigit() else (0, 0, part) for part in parts]

    return sorted(paths, key=key)


def _family(path: Path) -> str:
    kind = next(kind for kind, suffixes in SUFFIXES.items() if path.suffix.lower() in suffixes)
    words = {"tiff": "TIFF", "npy": "NumPy", "csv_grid": "CSV", "png": "picture"}  # PNG and JPEG are one to a person
    return words.get(kind, kind)


def _held(within: Path) -> str:
    kinds = Counter(path.suffix.lower() or path.name for path in within.iterdir() if path.is_file())
    if not kinds:
        return f"{within.name or within} holds no files"
    held = ", ".join(f"{count} {suffix}" for suffix, count in kinds.most_common(4))
    return f"{within.name or within} holds {held}"
