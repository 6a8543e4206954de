"""`hotspot plan`: the load test before it is run."""

from pathlib import Path
from typing import Annotated

import typer

from hotspot.cli.flags import AsJson, Text, Units


def plan(
    folder: Annotated[Path | None, typer.Argument(help="A folder with a session.toml; frames are not needed.")] = None,
    pins: Annotated[Text, typer.Option(help="Grid of pins, such as 1x6.")] = None,
    amps: Annotated[Text, typer.Option(help="Full currents: 9 through every pin, or 1=12,2=4.5.")] = None,
    rated: Annotated[Text, typer.Option(help="Highest temperature of housing or terminal.")] = None,
    units: Units = None,
    as_json: AsJson = False,
) -> None:
    """Plan a load test: which stages to run and for how long, what to measure and photograph, when to stop.

    Example:  hotspot plan --pins 1x6 --amps 1=12,2=12,3=4 --rated 105
    """
    from hotspot.cli.overrides import from_flags
    from hotspot.errors import refuse
    from hotspot.reason.load_plan import pin_names
    from hotspot.reason.load_plan import plan as planned
    from hotspot.session import Session
    from hotspot.tell.plan_text import plan_dict, plan_text
    from hotspot.tell.tables import json_text

    given = from_flags({"pins": pins, "amps": amps, "rated": rated, "units": units})
    session = Session.load(folder, given)
    if not pin_names(session):
        found = "neither rows and columns nor pins are stated"
        raise refuse("command line", "--pins", found, "Give --pins, such as 1x6, or a folder with a session.toml.")
    told = planned(session)
    typer.echo(json_text(plan_dict(told, session.units)) if as_json else plan_text(told, session.units), nl=False)
