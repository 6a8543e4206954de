"""What `hotspot run` left in a session folder, read back."""

import csv
import json
from pathlib import Path


def results_of(folder: Path) -> tuple[list[dict[str, str]], list[dict[str, str]], dict]:
    """Rows of pins.csv, rows of readings.csv, findings.json."""
    tables = []
    for name in ("pins.csv", "readings.csv"):
        with (folder / "results" / name).open(newline="", encoding="utf-8") as file:
            tables.append(list(csv.DictReader(file)))
    return tables[0], tables[1], json.loads((folder / "results" / "findings.json").read_text("utf-8"))
