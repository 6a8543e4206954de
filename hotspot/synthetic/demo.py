"""The demo: a load test of a bale elevator's drive plug before and after its terminals were changed. All made up.

Three equal drive motors hang on one six-way plug, each with a feed and a return of its own, so every pin carries
the same current. Before, the contact of pin 4 has four times the resistance of its neighbours; after, it has a new
terminal. Between the tests the barn is 3 K warmer, the load 4 % higher and the camera stands a little elsewhere.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hotspot.synthetic.camera import CameraSpec, Footage, film
from hotspot.synthetic.connector import ConnectorSpec, Load, LoadStage, Solution, simulate
from hotspot.synthetic.draw import DrawnScale
from hotspot.synthetic.write import clock_names, write_colours

PINS = 6
LOOSE_PIN = 3  # from 0: pin "4"
LOOSE_FACTOR = 4.0
EVERY_S = 20.0
SCALE = DrawnScale(10.0, 90.0, "inferno")
_HEALTHY_OHM = np.array([2.05, 2.28, 1.94, 2.10, 2.21, 1.97]) * 1e-3
_REPLUGGED = np.array([1.04, 0.95, 1.02, 1.00, 0.97, 1.06])  # every contact is a little another one when mated again
_PICTURE = (272, 240)


@dataclass(frozen=True)
class Scene:
    """One of the two tests: what is true of it, and what its session.toml says."""

    folder: str
    title: str
    start: datetime.datetime
    contact_ohm: np.ndarray
    ambient_c: float
    amps: float
    camera: CameraSpec
    seed: int
    changed: str
    notes: str


def scenes() -> tuple[Scene, Scene]:
    """The two tests of the demo, before and after."""
    loose = np.where(np.arange(PINS) == LOOSE_PIN, LOOSE_FACTOR, 1.0)
    emissivity = (0.92, 0.93, 0.91, 0.92, 0.93, 0.92)
    before = Scene(
        folder="before",
        title="Bale elevator, drive plug, before the new terminal",
        start=datetime.datetime(2026, 2, 17, 9, 12, 40),
        contact_ohm=_HEALTHY_OHM * loose,
        ambient_c=17.6,
        amps=12.0,
        camera=CameraSpec(*_PICTURE, 5.5, -1.5, (134.0, 93.0), bias_k=0.4, pin_emissivity=emissivity, wires=True),
        seed=20260217,
        changed="",
        notes="Plug cleaned on the outside only. The elevator ran empty, with the brake set for an even load.",
    )
    after = replace(
        before,
        folder="after",
        title="Bale elevator, drive plug, after the new terminal",
        start=datetime.datetime(2026, 2, 19, 14, 5, 10),
        contact_ohm=_HEALTHY_OHM * _REPLUGGED,
        ambient_c=20.6,
        amps=12.5,
        camera=replace(before.camera, px_per_mm=5.4, rotation_deg=1.0, centre_px=(140.0, 89.0), bias_k=0.6),
        seed=20260219,
        changed="New terminals on both sides of pin 4, crimped and pull-tested; the other five as they were.",
        notes="Same bench, same camera settings; the camera stood a hand's breadth further to the left.",
    )
    return before, after


def run(scene: Scene) -> tuple[Solution, Footage]:
    """Simulate and film one test: a minute cold, eight minutes at half load, sixteen at full load."""
    spec = ConnectorSpec(
        rows=1,
        columns=PINS,
        contact_ohm=tuple(scene.contact_ohm),
        wire_mm2=(2.5,) * PINS,
        pitch_mm=6,
        pin_mm=3,
        face_mm=1.8,
        recess_mm=0.8,
        wire_cooling=(0.75, 0.72, 0.68, 0.68, 0.72, 0.75),
    )
    stages = [("cold", 60.0, 0.0), ("half", 480.0, scene.amps / 2), ("full", 960.0, scene.amps)]
    load = Load(tuple(LoadStage(name, s, (amps,) * PINS) for name, s, amps in stages), scene.ambient_c, drift_k=0.3)
    solution = simulate(spec, load)
    return solution, film(solution, scene.camera, EVERY_S, scene.seed)


def write_demo(folder: Path) -> tuple[Path, Path]:
    """Write the two session folders `before` and `after` into `folder` and return their paths.

    Everything is made here: the same version writes the same bytes. OSError where the folder cannot be written.
    """
    before, after = (write_scene(scene, Path(folder), None) for scene in scenes())
    return before, after


def write_scene(scene: Scene, folder: Path, keep: list[int] | None) -> Path:
    """Write one session folder under `folder`, with all frames or those numbered in `keep`."""
    solution, footage = run(scene)
    names = clock_names(scene.start, footage.time_s, "elevator", ".png")
    if keep is not None:
        footage = replace(footage, time_s=footage.time_s[keep], celsius=footage.celsius[keep])
        names = [names[k] for k in keep]
    session = folder / scene.folder
    write_colours(session / "frames", footage, SCALE, names)
    text = session_text(scene, solution, footage, names[0])
    (session / "session.toml").write_text(text, encoding="utf-8", newline="\n")
    return session


def session_text(scene: Scene, solution: Solution, footage: Footage, first: str) -> str:
    """The session.toml of a test, with a comment at each key that may need one."""
    radius = _half(footage.radius_px[0])
    places = zip(footage.x_px, footage.y_px, strict=True)
    pins = "\n".join(_PIN.format(name=k + 1, x=_half(x), y=_half(y), radius=radius) for k, (x, y) in enumerate(places))
    drop_v = solution.contact_w[-1] / scene.amps
    checks = "\n".join(
        _CHECK.format(pin=k + 1, volts=round(float(drop_v[k]), 4), amps=scene.amps) for k in (LOOSE_PIN - 1, LOOSE_PIN)
    )
    bar = list(SCALE.bar(*_PICTURE))
    return _SESSION.format(
        scene=scene, half=scene.amps / 2, pins=pins, checks=checks, bar=bar, scale=SCALE, first=first
    )


def _half(value: float) -> float:
    """To half a pixel, as a person would point."""
    return round(2 * float(value)) / 2


_SESSION = """\
# Made by `hotspot demo`: no such elevator exists. The keys are those of any session.
title = "{scene.title}"
units = "C"

[job]
id = "1180"
item = "bale elevator 2, drive plug"
technician = "day shift"
date = "{scene.start:%Y-%m-%d}"
complaint = "plug too hot to hold after ten minutes"
changed = "{scene.changed}"
notes = "{scene.notes}"

[frames]
files = "frames/*.png"     # times are in the file names
reading = "colours"        # pictures drawn through a colour map, with a scale beside them

[camera]
name = "workshop camera"   # the same words in both sessions: the same camera
accuracy_k = 2.0           # from its data sheet
noise_k = 0.07

[scale]
low = {scale.low_c}                 # the figures at the two ends of the bar
high = {scale.high_c}
map = "{scale.map}"
bar = {bar}   # where the bar is in the picture: x, y, width, height

[surface]
emissivity = 0.93          # black filled plastic
set_emissivity = 0.95      # what the camera was set to

[connector]
rows = 1
columns = 6
face = "housing"           # the camera looks at the side of the housing; the wires leave downwards
pin1 = "the end with the notch, left in the picture"
on = "{first}"  # the picture on which the pins below were pointed at
pitch_mm = 6.0
rated = 105.0              # of the housing
wire_rated = 105.0         # of the wires' insulation

{pins}
[[stage]]                  # before 60 s: cold, nothing switched on
name = "half"
start_s = 60.0
end_s = 540.0
amps = {half}                 # the same through every pin: three motors, each with its own feed and return
load = "motor"
volts = 24.0
supply = "battery"

[[stage]]
name = "full"
start_s = 540.0
end_s = 1500.0
amps = {scene.amps}
load = "motor"
volts = 24.0
supply = "battery"

[[region]]                 # bare bench, away from the plug: stands for the air
name = "bench"
kind = "ambient"
box = [20, 14, 60, 30]

{checks}
[[event]]
time_s = 900.0
what = "clamp meter put round each wire in turn"

[compare]
matters_k = 3.0
"""

_PIN = """\
[[pin]]
name = "{name}"
x = {x}
y = {y}
radius = {radius}
wire = "2.5 mm2"
"""

_CHECK = """\
[[check]]                  # measured across the mated pair at the end of the full load
pin = "{pin}"
kind = "drop"
stage = "full"
volts = {volts}
amps = {amps}
"""
