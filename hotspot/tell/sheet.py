"""The commented session.toml that `hotspot new` leaves for the person to finish, and what will be missing."""

from __future__ import annotations

import json

from hotspot.records import Seen, Statement

ASSUMED_CLOCKS = ("file date", "none")


CAMERA_TO_CONNECTOR = (
    "[camera]",
    '# name = "shop camera"    # the same words in two sessions mean the same camera',
    "# accuracy_k = 2.0       # limits of error as its maker states them",
    "",
    "[surface]",
    "# emissivity = 0.95      # of what is looked at: matt tape or paint about 0.95",
    "# set_emissivity = 0.95  # what the camera was set to",
    "",
    "[connector]",
    "# rows = 1               # needed, unless every pin is placed below",
    "# columns = 6",
    '# face = "mating"        # mating, wire or housing: which side the camera sees',
    '# pin1 = "lock left"     # how to know pin 1; stands under every picture',
    "# rated = 105.0          # highest temperature of the housing or terminal",
    "",
    "# wire_rated = 125.0     # of the wire's insulation",
    "",
)
PIN_TO_JOB = (
    '# wire = "2.5 mm2"       # or "AWG 14"; terminal = "1.5-2.5 mm2" the wires that its terminal is made for',
    "",
    "# [[stage]]              # one block per load step",
    '# name = "full"',
    '# start_s = 0.0          # or start = "14:20:30", or the name of the first frame of the stage',
    "# end_s = 1500.0         # absent: the start of the next stage, or the last frame",
    '# amps = 9.0             # the same through every pin; or { "1" = 9.0, "2" = 4.5 }; or "equal"',
    "",
    "# [[check]]              # what you measured by hand",
    '# pin = "1"',
    '# kind = "drop"          # volts across the mated pair under load',
    '# stage = "full"',
    "# volts = 0.045",
    "",
    "# [[event]]              # marked on the chart",
    "# time_s = 840.0",
    '# what = "harness moved"',
    "",
    "# [job]                  # free words for the report",
    '# item = ""',
    '# complaint = ""',
    '# cause = ""             # what was found, and correction = "" what was done about it',
    '# changed = ""           # what was done since the test before',
    "",
    "# Every other key: docs/reference/session-keys.md",
    "",
)


def sheet_text(seen: Seen) -> str:
    """A valid session.toml with what was seen filled in and the rest as comments."""
    parts = [
        "# What was seen in the frames is filled in. Lines that begin with # are for you: take the # away and",
        "# put your own value in. Every temperature in this file is in `units`.",
        'title = ""',
        'units = "C"              # C, F or K',
        "# ambient = 21.5         # temperature of the air, away from the connector",
        "",
        "[frames]",
        f"files = {json.dumps(seen.files, ensure_ascii=False)}      # {what_was_seen(seen)}",
        f'reading = "{seen.reading}"',
        *(_table(seen) if seen.headings else [*_screen(seen), *_values(seen), *_clock(seen)]),
        "",
        *_scale(seen),
        *CAMERA_TO_CONNECTOR,
        "# [[pin]]                # one block per pin, if you want to place them yourself",
        '# name = "1"',
        *_place(seen),
        *PIN_TO_JOB,
    ]
    return "\n".join(parts)


def what_was_seen(seen: Seen) -> str:
    """`76 frames of 320 x 240 pixels`, or the rows and columns of a logger's table."""
    if seen.headings:
        return f"{seen.count} rows, a column of times and {seen.columns} of values"
    others = "".join(f" and {columns} x {rows}" for columns, rows in seen.other_sizes)
    return f"{seen.count} frame{'' if seen.count == 1 else 's'} of {seen.columns} x {seen.rows}{others} pixels"


def _table(seen: Seen) -> list[str]:
    pins = ", ".join(f"{quoted(str(k))} = {quoted(name)}" for k, name in enumerate(seen.headings[1:], 1))
    return [
        f"time = {quoted(seen.headings[0])}",
        'unit = "C"               # of the values in the table',
        f"columns = {{ {pins} }}      # pin = column: correct the names of the pins, take out what is no pin",
    ]


def quoted(text: str) -> str:
    """Text as a TOML string."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _place(seen: Seen) -> list[str]:
    if seen.headings:
        return []
    across, down = f"{seen.columns / 2:.0f}", f"{seen.rows / 2:.0f}"
    return [
        f"# x = {across:<19}# centre in pixels, x to the right, y down",
        f"# y = {down}",
        "# radius = 5",
    ]


def missing(seen: Seen) -> list[Statement]:
    """What will not be measurable as things stand, while the test can still be repeated."""
    said = []
    if seen.filmed:
        said.append(Statement("new_filmed"))
    elif seen.reading == "colours" and seen.bar_box is None:
        said.append(Statement("new_no_bar"))
    if seen.reading == "colours":
        said.append(Statement("new_scale_moves" if seen.ends_move else "new_scale_ends"))
    if seen.reading == "counts":
        said.append(Statement("new_counts"))
    if seen.clock in ASSUMED_CLOCKS:
        said.append(Statement("new_clock_assumed", {"source": seen.clock}))
    if seen.count < 3:
        said.append(Statement("new_few_frames", {"count": seen.count}))
    if not seen.headings and min(seen.rows, seen.columns) < 60:
        said.append(Statement("new_small_frames", {"columns": seen.columns, "rows": seen.rows}))
    if seen.other_sizes:
        others = [f"{columns} x {rows}" for columns, rows in seen.other_sizes]
        said.append(Statement("new_sizes", {"first": f"{seen.columns} x {seen.rows}", "others": others}))
    if seen.unreadable:
        said.append(Statement("new_unreadable", {"count": seen.unreadable}))
    said += [Statement("new_no_ambient"), Statement("new_no_stages")]
    return said if seen.headings else [*said, Statement("new_no_pins")]


def _values(seen: Seen) -> list[str]:
    if seen.reading == "counts":
        return ["# gain = 0.02            # temperature = gain * count + offset", "# offset = -40.0"]
    if seen.values is None:
        return []
    low, high = seen.values
    return [f'unit = "C"               # of the values in the files (first frame: {low:.1f} to {high:.1f})']


def _screen(seen: Seen) -> list[str]:
    if not seen.filmed:
        return []
    return ['screen = "find"          # photos of a screen: all x, y are pixels of the straightened screen']


def _clock(seen: Seen) -> list[str]:
    if seen.clock == "none":
        return ["# every_s = 5.0          # needed: nothing says when the frames were taken"]
    step = "" if seen.step_s is None else f", about {seen.step_s:.3g} s apart"
    return [f"# every_s = 5.0          # seconds between frames; as it stands: {seen.clock}{step}"]


def _scale(seen: Seen) -> list[str]:
    if seen.reading != "colours":
        return []
    lines = ["[scale]"]
    if seen.ends_move:
        lines.append("# The camera moved its scale: hotspot scale FOLDER reads the ends of each frame into scale.csv.")
    lines += ["# low = 20.0             # temperature of the first colour", "# high = 80.0            # of the last"]
    if seen.filmed:
        lines.append('map = "bar"              # only the bar on the screen tells what its colours mean')
    elif seen.bar_box is None:
        lines.append('# map = "inferno"        # a colour map of matplotlib, or a picture file holding a strip')
    else:
        box = ", ".join(f"{value:.0f}" for value in seen.bar_box)
        known = f"; it looks like {seen.bar_map}" if seen.bar_map else ""
        lines += [f'map = "bar"              # the colour bar in the picture{known}', f"bar = [{box}]"]
    return [*lines, ""]
