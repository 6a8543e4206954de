"""`hotspot place FOLDER`: a page to place the pins on by hand, and taking what it saved."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hotspot.cli.flags import Folder, Out, Quiet, Text

if TYPE_CHECKING:
    from hotspot.records import PinMap
    from hotspot.session import Session


def place(
    folder: Folder,
    on: Annotated[Text, typer.Option("--on", help="The frame to place on; absent: the one with most contrast.")] = None,
    pins: Annotated[Text, typer.Option(help="Grid of pins to start with, such as 1x6.")] = None,
    take: Annotated[
        Path | None, typer.Option("--take", help="Check the file that the page saved and put it beside session.toml.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="With --take: over a pins.toml that is there.")] = False,
    no_open: Annotated[bool, typer.Option("--no-open", help="Write the page without opening it.")] = False,
    out: Out = None,
    quiet: Quiet = False,
) -> None:
    """Place pins and areas by hand: writes a page that needs no network; what it saves is taken with --take.

    Example:  hotspot place my-test, then  hotspot place my-test --take pins.toml
    """
    if take is not None:
        _take(folder, take, force, quiet)
        return
    from hotspot.cli.overrides import from_flags
    from hotspot.pipeline.places import to_place
    from hotspot.read.session_file import blocks
    from hotspot.session import Session
    from hotspot.tell.place_page import write_page
    from hotspot.tell.words import say_all

    given = from_flags({"pins": pins})
    session = Session.load(folder, given)
    placing = to_place(session, on)
    path = write_page(session, placing, blocks(folder, given), out or folder / "results")
    opened = not no_open and _shown(path)
    if not quiet:
        how = "Opened" if opened else "Open it in a browser"
        typer.echo(f"Wrote {path}, the pins to be placed on {placing.shown.file}. {how}.")
        for line in say_all(placing.said, session.units):
            typer.echo(line)
        typer.echo(f"When it has saved pins.toml:  hotspot place {folder} --take pins.toml")


def _shown(path: Path) -> bool:
    """Opens the page where somebody sits at a terminal; True where a browser took it."""
    import sys
    import webbrowser

    return sys.stdout.isatty() and webbrowser.open(path.resolve().as_uri())


def _take(folder: Path, file: Path, force: bool, quiet: bool) -> None:
    """Check `file` against the session and put it beside session.toml. Raises InputError."""
    from hotspot.errors import refuse
    from hotspot.pipeline.places import placed_by
    from hotspot.tell.place_page import put_places
    from hotspot.tell.words import say_all

    session, pin_map = placed_by(folder, file)
    there = folder / "pins.toml"
    in_place = there.exists() and there.samefile(file)
    if there.exists() and not in_place and not force:
        raise refuse(there, "", "it is there already", "Use --force to put the new one in its place.")
    if not in_place:
        put_places(file, folder)
    if quiet:
        return
    held = [f"{count} {word}{'s' if count != 1 else ''}" for word, count in _counts(session, pin_map) if count]
    typer.echo(f"{'Checked' if in_place else 'Wrote'} {there}: {' and '.join(held)}.")
    for line in say_all(pin_map.notices, session.units):
        typer.echo(line)
    typer.echo(f"It stands in for [connector], [[pin]] and [[region]] of session.toml. Next:  hotspot run {folder}")


def _counts(session: "Session", pin_map: "PinMap") -> tuple[tuple[str, int], ...]:
    return ("pin", len(pin_map.names)), ("area", len(session.region))
