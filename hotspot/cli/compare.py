"""`hotspot compare BEFORE AFTER`: is it really fixed?"""

from pathlib import Path
from typing import Annotated

import typer

from hotspot.cli.flags import AsJson, Quiet


def compare(
    sessions: Annotated[list[Path], typer.Argument(help="Session or results folders, the earliest first.")],
    out: Annotated[
        Path | None, typer.Option("--out", help="Where the comparison goes; default AFTER/comparison.")
    ] = None,
    match: Annotated[list[str] | None, typer.Option(help="BEFORE=AFTER names of a pin; repeatable.")] = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Put two tests of one connector on one footing and say what changed; with more, each against the first.

    Example:  hotspot compare before after --out comparison
    """
    from hotspot.cli.progress import teller
    from hotspot.errors import refuse
    from hotspot.pipeline import as_results, history
    from hotspot.tell.tables import history_dict, json_text
    from hotspot.tell.terminal import comparison_summary
    from hotspot.tell.write import write_comparison

    if len(sessions) < 2:
        raise refuse("command line", "sessions", "found one folder", "Give at least two, the earliest first.")
    pairs = dict(_pair(text) for text in match or [])
    told = history([as_results(folder, teller(quiet)) for folder in sessions], pairs or None)
    target = out or sessions[-1] / "comparison"
    write_comparison(told, target)
    if as_json:
        typer.echo(json_text(history_dict(told)))
    elif not quiet:
        typer.echo(comparison_summary(told, target))


def _pair(text: str) -> tuple[str, str]:
    from hotspot.errors import refuse

    before, equals, after = text.partition("=")
    if not equals:
        raise refuse("command line", "--match", f"found {text!r}", "Write BEFORE=AFTER, such as 3=C.")
    return before.strip(), after.strip()
