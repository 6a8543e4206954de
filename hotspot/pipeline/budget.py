"""How sure one reading is."""

from __future__ import annotations

from typing import Any

from hotspot.pipeline.analysis import analyse
from hotspot.pipeline.of_table import is_table
from hotspot.pipeline.sample import Progress
from hotspot.session import Session


def budget_of(session: Session, pin: str, at_s: float, progress: Progress | None = None) -> Any:
    """The uncertainty of the reading of `pin` nearest to `at_s`, term by term (`ReadingBudget` of
    hotspot.extract.reading_budget). Raises InputError for a logger's table and for a pin without a reading.
    """
    from hotspot.errors import refuse

    budget = None if is_table(session) else analyse(session, progress).budget
    if budget is None:
        found = "the session is a logger's table, whose uncertainty is its noise and camera.accuracy_k"
        raise refuse(session.folder, "frames.reading", found, "Name a session of frames.")
    try:
        return budget.at(pin, at_s)
    except KeyError:
        names = budget.series.pin_map.names
        found, mend = f"no reading of a pin {pin!r}", f"The pins are {', '.join(names)}."
        if pin in names:
            found, mend = (
                f"pin {pin!r} has no reading in any frame",
                "Its quality in readings.csv tells why: hotspot run.",
            )
        raise refuse("command line", "--pin", found, mend) from None
