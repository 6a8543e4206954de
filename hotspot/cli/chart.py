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
    """Draw the trend again from the readings of an analysed session; the report's own chart stays as it is.

    Example:  hotspot chart my-test --only 1,3 --within full --rise
    """
    from hotspot.errors import refuse
    from hotspot.read.results import load_results, true_results
    from hotspot.tell.charts import trend
    from hotspot.tell.trend_data import name_of, trend_data
    from hotspot.tell.write import write_trend
    from hotspot.units import SYMBOL

    if units is not None and units.upper() not in SYMBOL:
        raise refuse("command line", "--units", f"found {units!r}", "Give C, F or K.")
    results = load_results(folder)
    names = [name.strip() for name in only.split(",") if name.strip()] if only else None
    data = trend_data(results.readings, results.findings)
    unit = units and units.upper()
    figure = trend(data, unit, names, within, rise)
    beside = (folder / "findings.json").is_file()
    name = name_of(unit if unit != data.units else None, names, within, rise)
    paths = write_trend(figure, out or (folder if beside else folder / "results"), name)
    if quiet:
        return
    for path in paths:
        typer.echo(f"Wrote {path}")
    session = folder.resolve().parent if beside else folder
    if (session / "results").is_dir() and true_results(session, str(results.findings.get("version"))) is None:
        typer.echo("The frames or session.toml are no longer those of these readings: the chart shows the earlier")
        typer.echo(f"ones. Analyse again first: hotspot run {session}")
