"""`hotspot budget FOLDER`: what makes one reading uncertain, term by term."""

from typing import Annotated

import typer

from hotspot.cli.flags import Folder, Quiet, Text


def budget(
    folder: Folder,
    pin: Annotated[str, typer.Option("--pin", help="Name of the pin.")],
    at: Annotated[Text, typer.Option("--at", help="Minutes and seconds, such as 12:30; else the end.")] = None,
    units: Annotated[Text, typer.Option("--units", help="C, F or K; else the session's.")] = None,
    quiet: Quiet = False,
) -> None:
    """Print the uncertainty of one reading term by term, and what drops out of a rise, between pins and between tests.

    Example:  hotspot budget my-test --pin 3 --at 12:30
    """
    from hotspot.cli.progress import teller
    from hotspot.errors import refuse
    from hotspot.pipeline.budget import budget_of
    from hotspot.session import Session
    from hotspot.tell.budget_text import budget_lines
    from hotspot.units import SYMBOL

    if units is not None and units.upper() not in SYMBOL:
        raise refuse("command line", "--units", f"found {units!r}", "Give C, F or K.")
    session = Session.load(folder)
    asked_s = None if at is None else seconds(at)
    found = budget_of(session, pin, float("inf") if asked_s is None else asked_s, teller(quiet))
    for line in budget_lines(found, (units or session.units).upper(), asked_s):
        typer.echo(line)


def seconds(text: str) -> float:
    """`12:30`, `1:02:30` or plain seconds -> seconds. Raises InputError for anything else."""
    from hotspot.errors import refuse

    parts = text.strip().split(":")
    try:
        numbers = [float(part) for part in parts]
        if len(parts) > 3 or any(number < 0 or number != number for number in numbers):
            raise ValueError
    except ValueError:
        raise refuse("command line", "--at", f"found {text!r}", "Give minutes and seconds, such as 12:30.") from None
    total = 0.0
    for number in numbers:
        total = 60.0 * total + number
    return total
