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
    out: Annotated[Path | None, typer.Option("--out", help="File to write: .png or .svg; default both.")] = None,
    quiet: Quiet = False,
) -> None:
    """Draw the trend again from the readings of an analysed session.

    Example:  hotspot chart my-test --only 1,3 --within full --rise
    """
    from hotspot.tell.redraw import redraw

    names = [name.strip() for name in only.split(",") if name.strip()] if only else None
    for path in redraw(folder, out, {"only": names, "within": within, "rise": rise, "units": units}):
        if not quiet:
            typer.echo(f"Wrote {path}")
