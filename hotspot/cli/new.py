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
    from hotspot.errors import refuse
    from hotspot.read.first_look import look
    from hotspot.tell.cautions import cautions
    from hotspot.tell.sheet import missing, sheet_text
    from hotspot.tell.words import say_all

    path = folder / "session.toml"
    if path.exists() and not force:
        raise refuse(path, "", "it is there already", "Use --force to write over it.")
    seen = look(folder)
    aside = path.with_name(".session.toml.new")
    aside.write_text(sheet_text(seen), encoding="utf-8", newline="\n")
    aside.replace(path)
    if quiet:
        return
    typer.echo(f"Wrote {path}: {seen.count} frames of {seen.columns} x {seen.rows} pixels. Finish it in an editor.")
    for heading, lines in (("Not measurable yet:", say_all(missing(seen))), ("Before a test:", cautions())):
        typer.echo("\n" + heading)
        for line in lines:
            typer.echo(f"- {line}")
