"""`hotspot demo [DIR]`: two made sessions, analysed and compared."""

from pathlib import Path
from typing import Annotated

import typer

from hotspot.cli.flags import AsJson, Quiet

WRITTEN = ("before", "after", "comparison")


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to write it.")] = Path("hotspot-demo"),
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Write a made-up test before and after a repair, analyse both and compare them.

    Example:  hotspot demo my-demo
    """
    from hotspot.cli.progress import teller
    from hotspot.errors import refuse
    from hotspot.pipeline import analyse, history
    from hotspot.session import Session
    from hotspot.synthetic.demo import write_demo
    from hotspot.tell.tables import findings_dict, history_dict, json_text
    from hotspot.tell.terminal import comparison_summary, summary
    from hotspot.tell.write import write_comparison, write_results

    _must_be_free(folder)
    try:
        sessions = write_demo(folder)
    except OSError as error:
        found = f"the demo cannot be written there ({error.strerror or error})"
        raise refuse(folder, "", found, "Name another folder: hotspot demo FOLDER.") from error
    analyses = []
    for session_folder in sessions:
        analysis = analyse(Session.load(session_folder), teller(quiet))
        write_results(analysis, session_folder / "results")
        analyses.append(analysis)
        if not (quiet or as_json):
            typer.echo(summary(analysis, session_folder / "results"))
    told = history(analyses)
    write_comparison(told, folder / "comparison")
    if as_json:
        before, after = map(findings_dict, analyses)
        typer.echo(json_text({"before": before, "after": after, "comparison": history_dict(told)}))
    elif not quiet:
        typer.echo(comparison_summary(told, folder / "comparison"))
        typer.echo("The frames of this demo are made by a simulator; no real machine was measured.")


def _must_be_free(folder: Path) -> None:
    """The demo goes into a folder of its own, or over an earlier demo: never among somebody's frames."""
    from hotspot.errors import refuse

    if folder.exists() and not folder.is_dir():
        raise refuse(folder, "", "is a file, not a folder", "Name another folder: hotspot demo FOLDER.")
    others = [] if not folder.is_dir() else [path.name for path in folder.iterdir() if path.name not in WRITTEN]
    if others:
        found = f"holds other things already, such as {sorted(others)[0]}"
        raise refuse(folder, "", found, "Name a new folder: hotspot demo FOLDER.")
