"""`hotspot new FOLDER`: look at the frames and write a session.toml for the person to finish."""

from typing import Annotated

import typer

from hotspot.cli.flags import Folder, Quiet


def new(
    folder: Folder,
    force: Annotated[bool, typer.Option("--force", help="Write over an existing session.toml.")] = False,
    quiet: Quiet = False,
) -> None:
    """Look at a folder of frames, write a commented session.toml, and say what will not be measurable.

    Example:  hotspot new my-test
    """
    from hotspot.read.first_look import look
    from hotspot.tell.sheet import missing, write_sheet

    seen = look(folder)
    path = write_sheet(folder, seen, replace=force)
    if not quiet:
        typer.echo(f"Wrote {path}")
        for line in missing(seen):
            typer.echo(f"- {line}")
