"""`hotspot chart FOLDER`: redraw the trend from readings.csv."""

from pathlib import Path
from typing import Annotated

import typer

from hotspot.cli.flags import Folder, Quiet, Text


def chart(
    folder: Folder,
    only: Annotated[Text, typer.Option(help="Pins to draw, such as 1,3.")] = None,
    within: Annotated[Text, typer.Option(help="Name of the one stage to draw.")] = None,
    rise: Annotated[bool, typer.Option("--rise", help="Draw the rise over ambient.")] = False,
    units: Annotated[Text, typer.Option(help="C, F or K.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for the two files; default the results.")] = None,
    quiet: Quiet = False,
) -> None:
    """Draw the trend again from the readings of an analysed session.

    Example:  hotspot chart my-test --only 1,3 --within full --rise
    """
    from hotspot.errors import refuse
    from hotspot.read.results import load_results
    from hotspot.tell.charts import trend
    from hotspot.tell.trend_data import trend_data
    from hotspot.tell.write import write_trend
    from hotspot.units import SYMBOL

    if units is not None and units.upper() not in SYMBOL:
        raise refuse("command line", "--units", f"found {units!r}", "Give C, F or K.")
    results = load_results(folder)
    names = [name.strip() for name in only.split(",") if name.strip()] if only else None
    data = trend_data(results.readings, results.findings)
    figure = trend(data, units and units.upper(), names, within, rise)
    for path in write_trend(figure, out or (folder if (folder / "findings.json").is_file() else folder / "results")):
        if not quiet:
            typer.echo(f"Wrote {path}")
