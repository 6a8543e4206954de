"""`hotspot check-camera POINTS.csv`: how far a camera is off at known temperatures."""

from typing import Annotated

import typer

from hotspot.cli.calibrate import Points, PointUnits, Surroundings, unit_of


def check_camera(
    points: Points,
    accuracy: Annotated[float | None, typer.Option(help="The maker's limits, +- in --units, such as 2.")] = None,
    accuracy_percent: Annotated[float | None, typer.Option(help="The maker's limits in % of reading (°C).")] = None,
    surroundings: Surroundings = None,
    units: PointUnits = "C",
) -> None:
    """Say how far a camera's temperatures are off at ice, boiling water or a taped thermocouple, with its interval.

    POINTS.csv holds a line per reading. Columns: kind (ice, boiling, thermocouple or other), reading (what the camera
    showed, in --units), altitude_m or pressure_hpa for boiling, reference and its limits (or standard uncertainty) for
    a thermocouple or other.

    Example:  hotspot check-camera points.csv --accuracy 2 --accuracy-percent 2
    """
    from hotspot.cli.calibrate import around_c
    from hotspot.errors import refuse
    from hotspot.read.points import read_points
    from hotspot.reason.camera_check import check_camera as against
    from hotspot.reason.reference_points import worth
    from hotspot.tell.calibration_text import check_lines, check_words
    from hotspot.units import difference_to_kelvin

    unit = unit_of(units)
    for flag, value in (("--accuracy", accuracy), ("--accuracy-percent", accuracy_percent)):
        if value is not None and not 0 < value < 1000:
            raise refuse("command line", flag, f"found {value:g}", "Give what the maker states, above 0.")
    limits = None if accuracy is None else float(difference_to_kelvin(accuracy, unit))
    share = None if accuracy_percent is None else accuracy_percent / 100.0
    check = against(worth(read_points(points, unit, readings=True), around_c(surroundings, unit)), limits, share)
    for line in [*check_words(check, unit), "", *check_lines(check.places, unit)]:
        typer.echo(line)
