"""The commands: parse, call the pipeline, tell, exit status. No arithmetic here.

One file per command; heavy libraries are imported inside the commands.
"""

import sys

import typer

from hotspot.cli.budget import budget
from hotspot.cli.calibrate import calibrate
from hotspot.cli.chart import chart
from hotspot.cli.check_camera import check_camera
from hotspot.cli.compare import compare
from hotspot.cli.demo import demo
from hotspot.cli.new import new
from hotspot.cli.place import place
from hotspot.cli.plan import plan
from hotspot.cli.run import run
from hotspot.cli.scale import scale
from hotspot.version import __version__

app = typer.Typer(
    name="hotspot",
    help="Tell which pin of an overheating connector makes the heat, from thermal frames of a load test.\n\n"
    "Example:  hotspot run my-test --pins 1x6 --scale 20:80 --map inferno",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.callback(invoke_without_command=True)
def _top(
    context: typer.Context,
    version: bool = typer.Option(False, "--version", help="Print the version."),
    verbose: bool = typer.Option(False, "-v", help="With --version: the versions of the libraries too."),
) -> None:
    """Options that stand before a command."""
    if version:
        typer.echo(f"hotspot {__version__}")
        if verbose:
            for line in _libraries():
                typer.echo(line)
        raise typer.Exit
    if verbose and context.invoked_subcommand is None:
        raise typer.BadParameter("-v goes with --version")


def _libraries() -> list[str]:
    """Python and every library that the package requires, as installed here."""
    import platform
    import re
    from importlib.metadata import requires, version

    needed = [text for text in requires("hotspot") or [] if "extra ==" not in text]
    names = [re.split(r"[^A-Za-z0-9_.-]", text, maxsplit=1)[0] for text in needed]
    return [f"Python {platform.python_version()}", *(f"{name} {version(name)}" for name in names)]


for command in (plan, new, scale, place, run, compare, chart, demo, budget, calibrate, check_camera):
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
