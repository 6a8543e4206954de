"""The logged runs as readings tables; the maker of such tables lies with the tests of the reasoning room."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "reason"))

from readings_made import DATA, logged, readings_of, session_of  # noqa: E402

__all__ = ["DATA", "logged", "readings_of", "session_of"]
