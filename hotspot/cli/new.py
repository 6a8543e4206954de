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
    from hotspot.tell.cautions import vital
    from hotspot.tell.sheet import missing, sheet_text, what_was_seen
    from hotspot.tell.terminal import listed
    from hotspot.tell.words import say_all

    path = folder / "session.toml"
    if path.exists() and not force:
        raise refuse(path, "", "it is there already", "Use --force to write over it.")
    seen = look(folder)
    aside = path.with_name(".session.toml.new")
    try:
        aside.write_text(sheet_text(seen), encoding="utf-8", newline="\n")
        aside.replace(path)
    except OSError as error:
        found = f"cannot be written ({error.strerror or error})"
        raise refuse(path, "", found, "It must be a folder that you may write to.") from error
    if quiet:
        return
    typer.echo(f"Wrote {path}: {what_was_seen(seen)}. Finish it in an editor.")
    typer.echo("\nBefore a test (all cautions: docs/guide/first-test.md, and every report):")
    typer.echo(listed(vital()), nl=False)
    typer.echo("\nNot measurable yet:")
    typer.echo(listed(say_all(missing(seen))), nl=False)
