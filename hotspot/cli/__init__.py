"""The commands: parse, call the pipeline, tell, exit status. No arithmetic here.

One file per command; heavy libraries are imported inside the commands.
"""

import sys

import typer

from hotspot.cli.chart import chart
from hotspot.cli.compare import compare
from hotspot.cli.demo import demo
from hotspot.cli.new import new
from hotspot.cli.run import run
from hotspot.version import __version__

app = typer.Typer(
    name="hotspot",
    help="Tell which pin of an overheating connector makes the heat, from thermal frames of a load test.\n\n"
    "Example:  hotspot run my-test --pins 1x6 --scale 20:80 --map inferno",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"hotspot {__version__}")
        raise typer.Exit


@app.callback()
def _top(
    version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Print the version."),
) -> None:
    """Options that stand before a command."""


for command in (run, compare, chart, new, demo):
    app.command()(command)


def main() -> None:
    """Entry point: an input that cannot be used is one message on stderr and exit status 2."""
    from hotspot.errors import HotspotError

    try:
        app()
    except HotspotError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_status)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
