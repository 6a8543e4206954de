"""The exceptions that a person may meet, each with its exit status and a message that says what would mend it.

HotspotError
    InputError      the input cannot be used (exit 2); carries every problem found, not only the first
        PinsNotFound    the pins could not be found; carries the frame on which a person can place them
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

MOST_LINES = 12


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the input: which file, which key, what was found, what would mend it."""

    file: str
    key: str
    found: str
    mend: str

    def __str__(self) -> str:
        where = f"{self.file}: {self.key}" if self.key else self.file
        return f"{where}: {self.found}. {self.mend}"


class HotspotError(Exception):
    """Base of what a person may meet; `exit_status` is what the command ends with."""

    exit_status = 2


class InputError(HotspotError):
    """The input cannot be used. Holds all problems; the text shows at most twelve lines of them, then `last`."""

    def __init__(self, problems: Problem | Iterable[Problem], last: str = "") -> None:
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.last = last
        super().__init__(self.text())

    def text(self) -> str:
        """The message, at most `MOST_LINES` lines; what does not fit is counted in the last one. `last` comes after."""
        lines = [" ".join(str(p).split()) for p in self.problems]
        if len(lines) > MOST_LINES:
            rest = len(lines) - (MOST_LINES - 1)
            lines = [*lines[: MOST_LINES - 1], f"... and {rest} more problems; mend these first."]
        return "\n".join([*lines, *([self.last] if self.last else [])])


class PinsNotFound(InputError):
    """The grid of pins was not found. `shown` is the frame (a hotspot.records.Snapshot) to place them on."""

    def __init__(self, problem: Problem, shown: Any) -> None:
        self.shown = shown
        super().__init__(problem)


def refuse(file: object, key: str, found: str, mend: str) -> InputError:
    """One problem as an exception: ``raise refuse(path, "scale.low", "found 90, above high", "...")``."""
    return InputError(Problem(str(file), key, found, mend))
