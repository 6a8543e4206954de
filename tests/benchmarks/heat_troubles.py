"""How the pin that makes the heat is found when things are less tidy: each trouble scored apart, on its own seeds.

    python tests/benchmarks/heat_troubles.py draught 60000 80

Troubles: `draught` (moving air from one side adds 3 to 15 W/m2K), `perspective` (the face leans by 15 to 35 degrees),
`moving` (a hand that drifts by 6 px and 2 degrees; frames laid on each other by the program), `emissivity` (pins of
0.6 to 0.98), `hidden` (something across a sound pin, not told), `hidden_told` (the same as a region of kind `ignore`),
`faulty_hidden_told` (across the bad pin), `part` (a part on every wire in view, no wire) and `none`.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
from heat_cases import Held, MadeFrame, Seen, as_read, drawn_camera, pins_of, stamped
from heat_made import Tally, judged_pins, table_text, tell

from hotspot.locate import posed, steadying
from hotspot.poses import Pose
from hotspot.records import Frame
from hotspot.session import Region
from hotspot.synthetic.camera import Footage, film
from hotspot.synthetic.cases import Case, random_case
from hotspot.synthetic.connector import simulate
from hotspot.synthetic.handheld import wandering

DRAUGHT, LEAN_DEG = (3.0, 15.0), (15.0, 35.0)
EMISSIVITY, EMISSIVITY_ENDS = (0.85, 0.12), (0.6, 0.98)
REACH_PX, TURN_DEG = 6.0, 2.0
COVER_RADII, COVER_K = 1.6, 2.0
TROUBLES = ("none", "draught", "perspective", "moving", "emissivity")
TROUBLES += ("hidden", "hidden_told", "faulty_hidden_told", "part")
_SAMPLE = 12


def troubled(trouble: str, seed: int) -> Held:
    """The made test of a seed with one trouble of TROUBLES. Raises ValueError for another."""
    if trouble not in TROUBLES:
        raise ValueError(f"{trouble!r} is not one of {TROUBLES}")
    rng = np.random.default_rng(seed)
    case = random_case(rng, "one contact" if trouble == "faulty_hidden_told" else None)
    camera = drawn_camera(rng, case)
    if trouble == "draught":
        case = replace(case, spec=replace(case.spec, draught=float(rng.uniform(*DRAUGHT))))
    elif trouble == "perspective":
        camera = replace(camera, lean_deg=float(rng.uniform(*LEAN_DEG)))
    elif trouble == "emissivity":
        drawn = np.clip(rng.normal(*EMISSIVITY, case.spec.pins), *EMISSIVITY_ENDS)
        camera = replace(camera, pin_emissivity=tuple(drawn))
    solution = simulate(case.spec, case.load, dt=5.0)
    still = replace(camera, noise_k=0.0) if trouble == "moving" else camera
    footage = film(solution, still, float(rng.choice([10.0, 20.0, 30.0])), seed)
    seen = None
    if trouble == "moving":
        seen = _moved(rng, footage, camera.noise_k)
    elif "hidden" in trouble:
        footage, seen = _covered(rng, footage, case, trouble)
    test = as_read(seed, case, footage, rng, seen)
    return with_parts(test) if trouble == "part" else test


def _moved(rng: np.random.Generator, footage: Footage, noise_k: float) -> Seen:
    """The film from a hand, its frames laid on each other as `hotspot run` does."""
    from scipy.ndimage import affine_transform

    count, (rows, columns) = len(footage.time_s), footage.celsius.shape[1:]
    hand, size = wandering(rng, count, REACH_PX, TURN_DEG), (columns, rows)
    frames = []
    for k, (time_s, still) in enumerate(zip(footage.time_s, footage.celsius, strict=True)):
        back = Pose(*hand.similarity(k, size)).inverse()
        turn = np.array([[back.a, back.b], [-back.b, back.a]])
        shown = affine_transform(still, turn, (back.down_px, back.right_px), order=3, mode="nearest")
        shown = shown + rng.normal(0.0, noise_k, shown.shape)
        frames.append(Frame(k, f"{k}", float(time_s), MadeFrame(shown.astype(np.float32))))
    x, y = hand.at(0, footage.x_px, footage.y_px, size)
    pin_map = replace(pins_of(footage), x_px=x, y_px=y)
    steady = steadying([frames[round(k * (count - 1) / (_SAMPLE - 1))] for k in range(_SAMPLE)])
    for _ in steady.over(frames):
        pass
    motion = steady.motion(pin_map)
    return Seen(tuple(posed(frames, motion)), pin_map, (), motion.poses)


def _covered(rng: np.random.Generator, footage: Footage, case: Case, trouble: str) -> tuple[Footage, Seen]:
    """The film with something lukewarm across one pin, sound or faulty, and the box told or not."""
    sound = [pin for pin in range(case.spec.pins) if pin not in case.faulty]
    pin = case.faulty[0] if trouble.startswith("faulty") else int(rng.choice(sound))
    half = COVER_RADII * footage.radius_px[pin]
    rows, columns = (
        slice(max(0, int(np.floor(at - half))), int(np.ceil(at + half)) + 1)
        for at in (footage.y_px[pin], footage.x_px[pin])
    )
    celsius = footage.celsius.copy()
    warm = footage.ambient_c + footage.camera.bias_k + COVER_K * (1.0 - np.exp(-footage.time_s / 300.0))
    shape = celsius[:, rows, columns].shape
    celsius[:, rows, columns] = warm[:, None, None] + rng.normal(0.0, footage.camera.noise_k, shape)
    covered = replace(footage, celsius=celsius)
    box = [float(columns.start), float(rows.start), float(shape[2]), float(shape[1])]
    regions = (Region(name="across", kind="ignore", box=box),) if trouble.endswith("told") else ()
    return covered, Seen(stamped(covered), replace(pins_of(footage), regions=regions), regions)


def with_parts(test: Held) -> Held:
    """The same test with a part on every wire in view."""
    regions, rises = [], {}
    for pin, name in enumerate(test.names):
        regions.append(Region(name=f"part {name}", kind="part", box=[0.0, 0.0, 2.0, 2.0], pin=name))
        rises[f"part {name}"] = test.parts_k[:, pin]
    pictures = replace(test.extracted.rise_pictures, regions=rises)
    session = test.session.model_copy(update={"region": regions})
    return replace(test, session=session, extracted=replace(test.extracted, rise_pictures=pictures))


def main(trouble: str, first: int, count: int) -> Tally:
    """Judge `count` seeds from `first` on."""
    tally = Tally()
    for seed in range(first, first + count):
        test = troubled(trouble, seed)
        tally.add(f"{trouble}: a pin to rank against", judged_pins(test).sum() > 1)
        tell(test, tally, trouble)
    return tally


if __name__ == "__main__":
    print(table_text(main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))))
