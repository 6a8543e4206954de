"""`hotspot run FOLDER`: the main job."""

from typing import TYPE_CHECKING, Annotated

import typer

from hotspot.cli.flags import AsJson, Folder, Out, Quiet, Text, Units

if TYPE_CHECKING:
    from pathlib import Path

    from hotspot.errors import InputError, PinsNotFound
    from hotspot.records import Analysis


def run(
    folder: Folder,
    out: Out = None,
    check: Annotated[bool, typer.Option("--check", help="Exit status 1 when a pin is hot.")] = False,
    pins: Annotated[Text, typer.Option(help="Grid of pins, such as 1x6.")] = None,
    scale: Annotated[Text, typer.Option(help="Ends of the colour scale, such as 20:80.")] = None,
    map: Annotated[Text, typer.Option("--map", help="Colour map: a matplotlib name, bar, or a strip picture.")] = None,
    stage: Annotated[list[str] | None, typer.Option(help="A stage in seconds, such as full=0:300; repeatable.")] = None,
    amps: Annotated[Text, typer.Option(help="Amperes: 9, equal, or 1=9,2=4.5.")] = None,
    ambient: Annotated[Text, typer.Option(help="Ambient temperature, in the session's units.")] = None,
    rated: Annotated[Text, typer.Option(help="Highest temperature of housing or terminal.")] = None,
    emissivity: Annotated[Text, typer.Option(help="Emissivity of what is looked at.")] = None,
    files: Annotated[Text, typer.Option(help="Which files hold the frames: a glob.")] = None,
    reading: Annotated[Text, typer.Option(help="temperature, counts, colours or table.")] = None,
    unit: Annotated[Text, typer.Option(help="Unit of the values in the files: C, F or K.")] = None,
    gain: Annotated[Text, typer.Option(help="Counts: temperature = gain * count + offset.")] = None,
    offset: Annotated[Text, typer.Option(help="Counts: temperature = gain * count + offset.")] = None,
    size: Annotated[Text, typer.Option(help="Width x height of a frame that stands in one CSV line.")] = None,
    every: Annotated[Text, typer.Option(help="Seconds between frames.")] = None,
    start: Annotated[Text, typer.Option(help="Session time of the first frame, in seconds.")] = None,
    frames_offset: Annotated[Text, typer.Option(help="Seconds to add to the camera's clock times.")] = None,
    log_offset: Annotated[Text, typer.Option(help="Seconds to add to the log's clock times.")] = None,
    units: Units = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Analyse one load test: a temperature per pin over time, what stands out, charts and a report.

    Example:  hotspot run my-test --pins 1x6 --scale 20:80 --map inferno
    """
    given = {key: value for key, value in locals().items() if key not in ("folder", "out", "check", "as_json")}
    from hotspot.cli.overrides import from_flags
    from hotspot.cli.progress import teller
    from hotspot.errors import InputError, PinsNotFound
    from hotspot.pipeline import analyse
    from hotspot.session import Session
    from hotspot.tell.terminal import summary
    from hotspot.tell.write import write_results

    target = out or folder / "results"
    try:
        analysis = analyse(Session.load(folder, from_flags(given)), teller(quiet))
        write_results(analysis, target)
    except PinsNotFound as error:
        raise _with_earlier(_with_picture(error, folder, target), target) from None
    except InputError as error:
        raise _with_earlier(error, target) from None
    if not quiet or as_json:
        typer.echo(_findings_as_json(analysis) if as_json else summary(analysis, target))
    if check and any(pin.verdict == "hot" for pin in analysis.findings.pins):
        raise typer.Exit(1)


def _with_picture(error: "PinsNotFound", folder: "Path", target: "Path") -> "InputError":
    """The refusal, saying where the picture to place the pins on was written, and how to place them on a page."""
    from dataclasses import replace

    from hotspot.errors import InputError
    from hotspot.tell.place_picture import write_place_picture

    path = write_place_picture(error.shown, target)
    more = f"{path} shows it enlarged, with its pixels counted. Or place them on a page:  hotspot place {folder}"
    return InputError([replace(one, mend=f"{one.mend} {more}") for one in error.problems])


def _with_earlier(error: "InputError", target: "Path") -> "InputError":
    """The refusal, saying in its last line that the results that lie there are those of an earlier run."""
    from hotspot.errors import InputError
    from hotspot.tell.words import text

    if not any((target / name).is_file() for name in ("report.html", "findings.json")):
        return error
    return InputError(error.problems, text("terminal_earlier", folder=str(target)))


def _findings_as_json(analysis: "Analysis") -> str:
    from hotspot.tell.tables import findings_dict, json_text

    return json_text(findings_dict(analysis))
