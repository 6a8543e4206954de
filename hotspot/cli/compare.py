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
    """Put two tests of one connector on one footing and say what changed.

    Example:  hotspot compare before after --out comparison
    """
    from hotspot.cli.progress import teller
    from hotspot.errors import refuse
    from hotspot.pipeline import as_results
    from hotspot.pipeline import compare as on_one_footing
    from hotspot.tell.tables import compare_dict, json_text
    from hotspot.tell.terminal import comparison_summary
    from hotspot.tell.write import write_comparison

    if len(sessions) != 2:
        raise refuse("command line", "sessions", f"found {len(sessions)} folders", "Give two: before and after.")
    pairs = dict(_pair(text) for text in match or [])
    before, after = (as_results(folder, teller(quiet)) for folder in sessions)
    comparison = on_one_footing(before, after, pairs or None)
    target = out or sessions[1] / "comparison"
    write_comparison(comparison, target)
    if as_json:
        typer.echo(json_text(compare_dict(comparison)))
    elif not quiet:
        typer.echo(comparison_summary(comparison, target))


def _pair(text: str) -> tuple[str, str]:
    from hotspot.errors import refuse

    before, equals, after = text.partition("=")
    if not equals:
        raise refuse("command line", "--match", f"found {text!r}", "Write BEFORE=AFTER, such as 3=C.")
    return before.strip(), after.strip()
