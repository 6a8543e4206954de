"""`hotspot calibrate POINTS.csv`: fit a calibration file to reference readings."""

from pathlib import Path
from typing import Annotated

import typer

from hotspot.cli.flags import Quiet, Text

Points = Annotated[Path, typer.Argument(help="Reference readings: kind, reading and more columns.", show_default=False)]
Surroundings = Annotated[
    float | None, typer.Option("--surroundings", help="What the surface looked at reflected, in --units; else 23 °C.")
]
PointUnits = Annotated[str, typer.Option("--units", help="C, F or K: of the temperatures in the file and printed.")]


def unit_of(units: str) -> str:
    """C, F or K from a flag. Raises InputError for anything else."""
    from hotspot.errors import refuse
    from hotspot.units import SYMBOL

    if units.upper() not in SYMBOL:
        raise refuse("command line", "--units", f"found {units!r}", "Give C, F or K.")
    return units.upper()


def around_c(surroundings: float | None, unit: str) -> float:
    """Reflected temperature [°C] from the flag; a workshop's where it is not given. Raises InputError."""
    from hotspot.errors import refuse
    from hotspot.units import to_celsius

    celsius = 23.0 if surroundings is None else float(to_celsius(surroundings, unit))
    if not -60.0 <= celsius <= 200.0:
        raise refuse("command line", "--surroundings", f"found {surroundings:g}", "Give the temperature of the room.")
    return celsius


def calibrate(
    points: Points,
    kind: Annotated[str, typer.Option(help="linear, sakuma-hattori or table.")] = "linear",
    out: Annotated[Path | None, typer.Option("--out", help="The calibration file to write.")] = None,
    camera: Annotated[str, typer.Option(help="The camera's name, as in session.toml.")] = "",
    date: Annotated[Text, typer.Option(help="Day of the readings, such as 2026-03-11.")] = None,
    valid_days: Annotated[int | None, typer.Option(help="For how many days it is to be trusted.")] = None,
    surroundings: Surroundings = None,
    units: PointUnits = "C",
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
    quiet: Quiet = False,
) -> None:
    """Fit a calibration to readings of ice, boiling water or taped thermocouples, and say how far to trust it.

    POINTS.csv holds a line per reading. Columns: kind (ice, boiling, thermocouple or other), reading (the count that
    the frames hold), altitude_m or pressure_hpa for boiling, reference and its limits (or standard uncertainty) for a
    thermocouple or other. Two lines of it: kind,reading,altitude_m then ice,2012, and boiling,6891,240.

    Example:  hotspot calibrate points.csv --kind linear --camera "shop camera" --out bench.toml
    """
    import datetime
    from dataclasses import replace

    from hotspot.calibration import KINDS
    from hotspot.errors import refuse
    from hotspot.read.points import read_points
    from hotspot.reason.calibrating import fit
    from hotspot.reason.reference_points import worth
    from hotspot.tell.calibration_text import residual_lines, trust_words
    from hotspot.tell.words import say_all
    from hotspot.tell.write_calibration import write_calibration

    unit = unit_of(units)
    if kind not in KINDS:
        raise refuse("command line", "--kind", f"found {kind!r}", f"Give {', '.join(KINDS)}.")
    try:
        day = datetime.date.fromisoformat(date) if date else None
    except ValueError:
        raise refuse("command line", "--date", f"found {date!r}", "Give year-month-day, such as 2026-03-11.") from None
    fitted = fit(worth(read_points(points, unit), around_c(surroundings, unit)), kind, str(points))
    made = replace(fitted.calibration, camera=camera, date=day, valid_days=valid_days)
    if out is not None:
        write_calibration(made, out, force)
    if quiet:
        return
    known = fitted.references
    rows = zip(known.points, known.celsius, known.standard_k, fitted.residual_k, strict=True)
    for line in [*residual_lines(rows, unit), "", trust_words(made, unit), *say_all(fitted.said, unit)]:
        typer.echo(line)
    typer.echo(f"Wrote {out}" if out is not None else "Nothing was written: name a file with --out.")
