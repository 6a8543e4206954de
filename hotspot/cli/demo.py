"""`hotspot demo [DIR]`: two made sessions, analysed and compared."""

from pathlib import Path
from typing import Annotated

import typer

from hotspot.cli.flags import Quiet


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to write it.")] = Path("hotspot-demo"),
    quiet: Quiet = False,
) -> None:
    """Write a made-up test before and after a repair, analyse both and compare them.

    Example:  hotspot demo my-demo
    """
    from hotspot.cli.progress import teller
    from hotspot.pipeline import analyse, history
    from hotspot.session import Session
    from hotspot.synthetic.demo import write_demo
    from hotspot.tell.terminal import comparison_summary, summary
    from hotspot.tell.write import write_comparison, write_results

    analyses = []
    for session_folder in write_demo(folder):
        analysis = analyse(Session.load(session_folder), teller(quiet))
        write_results(analysis, session_folder / "results")
        analyses.append(analysis)
        if not quiet:
            typer.echo(summary(analysis, session_folder / "results"))
    told = history(analyses)
    write_comparison(told, folder / "comparison")
    if not quiet:
        typer.echo(comparison_summary(told, folder / "comparison"))
        typer.echo("The frames of this demo are made by a simulator; no real machine was measured.")
