"""`hotspot scale FOLDER`: the printed ends of the colour scale, frame by frame, into scale.csv."""

from typing import TYPE_CHECKING, Annotated

import typer

from hotspot.cli.flags import Folder, Out, Quiet

if TYPE_CHECKING:
    from pathlib import Path

    from hotspot.read.scale_session import ScaleReading
    from hotspot.records import ScaleRow, Statement


def scale(
    folder: Folder,
    typed: Annotated[
        list[str] | None, typer.Option("--typed", help="Ends as printed: FRAME=LOW:HIGH; repeatable.")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Read anew over a scale.csv with typed rows; these are kept.")
    ] = False,
    out: Out = None,
    quiet: Quiet = False,
) -> None:
    """Read the two ends that a self-ranging camera prints beside its colour bar, by two or three that you type.

    Without --typed it says which frames to type. Rows of scale.csv are read, typed or doubtful; doubtful frames are
    left out of every run until they are confirmed.

    Example:  hotspot scale my-test --typed IMG_0001.jpg=20.9:24.6 --typed IMG_0042.jpg=21.4:87.3
    """
    from hotspot.cli.progress import teller
    from hotspot.errors import refuse
    from hotspot.read.scale_session import look_at_scale, typed_of, typed_rows
    from hotspot.records import ScaleRow
    from hotspot.session import Session
    from hotspot.tell.scale_sheet import write_scale
    from hotspot.tell.words import say_all

    session = Session.load(folder)
    table = folder / (session.scale.table or "scale.csv")
    kept = typed_rows(table)
    if kept and not force:
        raise refuse(table, "", f"it holds {len(kept)} typed rows", "Use --force: they are kept, the others read anew.")
    reading = look_at_scale(session.model_copy(), teller(quiet))
    given = {file: ends for file, ends in kept.items() if file in reading.files} | typed_of(typed or (), reading.files)
    target = out or folder / "results"
    if not given:
        _ask(reading, folder, target)
        return
    rows = reading.read(given)
    strangers = [ScaleRow(file, *ends, "typed") for file, ends in kept.items() if file not in given]
    sheet = write_scale([*rows, *strangers], table, target)
    if not quiet:
        for line in [f"Wrote {table}", *say_all(_summary(rows, folder, sheet)), *say_all(reading.said)]:
            typer.echo(line)


def _ask(reading: "ScaleReading", folder: "Path", target: "Path") -> None:
    """Show the frames that are worth typing, and the command to type them into."""
    from hotspot.records import Statement
    from hotspot.tell.scale_sheet import TO_TYPE, write_sheet
    from hotspot.tell.words import say

    wanted = reading.to_type()
    sheet = write_sheet(wanted, target / TO_TYPE)
    typer.echo(say(Statement("scale_type_these", {"count": len(wanted), "sheet": str(sheet)})))
    typer.echo(f"  hotspot scale {folder} " + " ".join(f"--typed {row.file}=LOW:HIGH" for row in wanted))


def _summary(rows: "list[ScaleRow]", folder: "Path", sheet: "Path") -> "list[Statement]":
    """How many rows are read, typed and doubtful, and what to do next."""
    from collections import Counter

    from hotspot.records import Statement

    count = Counter(row.how for row in rows)
    said = [Statement("scale_done", {how: count[how] for how in ("read", "typed", "doubtful")})]
    first = next((row.file for row in rows if row.how == "doubtful"), rows[0].file)
    said.append(Statement("scale_next", {"sheet": str(sheet), "folder": str(folder), "file": first}))
    return said
