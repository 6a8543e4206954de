"""The registry of reasons to doubt a number.

Each row is the only source for the bit used on pixels and readings, for the name in the `quality`
column, for the sentence that a person reads and for what to do about it. To add a doubt, add a row.
"""

from collections.abc import Iterable
from typing import NamedTuple


class Doubt(NamedTuple):
    """One reason: `name` in tables, `sentence` for people, `remedy` what they can do."""

    name: str
    sentence: str
    remedy: str


REGISTRY: tuple[Doubt, ...] = (
    Doubt(
        "clipped_low",
        "The scale does not reach this low: the true value is at most the one shown.",
        "Lower the bottom end of the camera's scale and repeat the test.",
    ),
    Doubt(
        "clipped_high",
        "The scale does not reach this high: the true value is at least the one shown.",
        "Raise the top end of the camera's scale and repeat the test.",
    ),
    Doubt(
        "no_value",
        "Some pixels under the pin hold no value; the mean is over the rest.",
        "Look at the frame: a dead pixel, a blank cell or a gap in the file.",
    ),
    Doubt(
        "outside_picture",
        "The pin lies partly or wholly outside the picture.",
        "Check x, y and radius of the pin, or keep the camera still.",
    ),
    Doubt(
        "few_pixels",
        "Fewer than 3 pixels lie across the pin: its shape can be seen, its temperature cannot.",
        "Go closer or use the camera's full resolution.",
    ),
    Doubt(
        "reads_low",
        "3 to 9 pixels lie across the pin: the blur of the camera makes it read low.",
        "Go closer, until 10 or more pixels lie across each pin.",
    ),
    Doubt(
        "emissivity_unknown",
        "The emissivity of the surface is not known; the value is what the camera gave.",
        "Put matt tape or paint on the part (never on live bare metal) and state surface.emissivity.",
    ),
    Doubt(
        "bare_metal",
        "At an emissivity of 0.3 or less the camera mostly sees reflections.",
        "Put matt tape or paint on the part, with the power off, and test again.",
    ),
    Doubt(
        "off_map",
        "The colour lies far from the colour map: something is printed there, or the map is wrong.",
        "Move the printed marks off the pins, or check scale.map.",
    ),
    Doubt(
        "ambiguous_colour",
        "The colour occurs more than once in the colour map.",
        "Choose a map of the camera whose lightness only rises.",
    ),
    Doubt(
        "scale_doubtful",
        "The ends of the scale of this frame are not certain.",
        "Check the row of this frame in the scale table.",
    ),
    Doubt(
        "clock_assumed",
        "The time of the frame was assumed, not recorded.",
        "State frames.every_s, or add frames.csv with file and time_s.",
    ),
    Doubt(
        "clock_mended",
        "The time of the frame ran backwards or was doubled.",
        "Check the camera's clock and the order of the files.",
    ),
    Doubt(
        "outlier",
        "The value jumps away from the ones before and after it and back.",
        "Look at the frame or the logger's contact; the value is left in, but does not decide.",
    ),
    Doubt(
        "beyond_calibration",
        "The count lies outside the range that the calibration was made for.",
        "Extend the calibration with a reference point at that temperature.",
    ),
    Doubt(
        "reflected_hotter",
        "What is reflected is hotter than the surface itself.",
        "Shield the part from lamps and hot bodies, and state surface.reflected.",
    ),
    Doubt(
        "printed_over",
        "Something is printed on the picture there: a digit, a cross, the clock, a logo.",
        "Switch the marks off in the camera, or move them off the pins.",
    ),
    Doubt(
        "map_doubtful",
        "The picture does not bear out the colour map that was stated.",
        "Check scale.map against the colour bar in the picture.",
    ),
    Doubt(
        "coding_assumed",
        "The video does not say how its colours are coded: the usual coding was assumed.",
        "Keep the colour bar in the picture, or record single pictures instead of a video.",
    ),
    Doubt(
        "place_carried",
        "The picture shows too little to tell where the pin is: its place is taken from the frames around.",
        "Nothing, if the camera stood still; else hold it still until the connector has warmed up.",
    ),
    Doubt(
        "not_laid_on",
        "The frame could not be laid on the others: something is in the way, or the camera looked elsewhere.",
        "Look at the frame; the readings of such frames are left out.",
    ),
    Doubt(
        "blur_assumed",
        "The pin is small, and no sharp edge shows the camera's blur: how low it reads rests on an assumed blur.",
        "Go closer, until 10 or more pixels lie across each pin, or have something with a sharp hot edge in view.",
    ),
    Doubt(
        "glare",
        "Light is reflected by the photographed screen there: its colours are paler than any of the bar's.",
        "Turn the screen away from lamps and windows, or shade it.",
    ),
    Doubt(
        "moving_stripes",
        "Stripes move over the photographed screen: the screen and the filming camera beat.",
        "Film from a little farther away, or with another frame rate; better, take the frames from the camera itself.",
    ),
    Doubt(
        "ambient_estimated",
        "The ambient was neither stated nor measured: its rise is over an estimate from the cold start.",
        "State `ambient`, log it, or mark a region of that kind.",
    ),
    Doubt(
        "end_touched",
        "A few pixels of the pin are at the end of the scale, or nearly: a small spot may lie beyond it.",
        "Move that end of the camera's scale farther out and repeat the test.",
    ),
    Doubt(
        "covered",
        "Something lies over the pin, such as a loose wire: it is not the pin that the picture shows there.",
        "Move that thing aside and repeat the test.",
    ),
)

BIT: dict[str, int] = {doubt.name: 1 << place for place, doubt in enumerate(REGISTRY)}
BY_NAME: dict[str, Doubt] = {doubt.name: doubt for doubt in REGISTRY}


def bits(names: Iterable[str]) -> int:
    """Names -> one integer. Raises KeyError for a name that is not registered."""
    together = 0
    for name in names:
        together |= BIT[name]
    return together


def names(value: int) -> list[str]:
    """One integer -> names in the registry's order."""
    return [doubt.name for doubt in REGISTRY if value & BIT[doubt.name]]


def joined(value: int) -> str:
    """One integer -> the text of the `quality` column: names joined by `;`."""
    return ";".join(names(value))
