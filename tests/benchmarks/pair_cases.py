"""Made pairs of load tests of one connector, before and after, with the truth about what changed.

Between the two: current 12 %, air 6 K, film coefficients 8 % (all sd), every contact plugged anew (6 %), clamp 1.5 %
a reading, stages shorter or longer, the camera elsewhere but the same. Nothing is written but a cache in the machine's
folder for temporary files.
"""

from __future__ import annotations

import hashlib
import json
import pickle
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from heat_cases import MadeFrame, apparent_ohm, drawn_camera

from hotspot.extract import RiseWatch, measure
from hotspot.reason.findings import judge
from hotspot.records import Extracted, Frame, PinMap, Results, StageSpan, Stamp
from hotspot.session import Session, Stage
from hotspot.synthetic.camera import CameraSpec, film
from hotspot.synthetic.cases import Case, random_case
from hotspot.synthetic.connector import Solution, simulate
from hotspot.tell.tables import plain

AMPS_LN_SD, AMBIENT_SD_K, FILM_LN_SD, REPLUG_LN_SD = 0.12, 6.0, 0.08, 0.06
CLAMP_LN_SD, AIR_ERROR_K, BIAS_DAY_K = 0.015, 0.3, 0.3
PX_PER_MM = (2.3, 3.0)  # so that the camera may also stand 7 % nearer or farther after
KINDS = ("untouched", "left", "mended")
"""A healthy connector plugged anew; a faulty one plugged anew and nothing else; a faulty one with its pin mended."""


@dataclass(frozen=True)
class Test:
    """One made test before it is judged; `ohm` (n,) apparent resistance, `rise_k` (stages, n) true rise at each
    stage's end."""

    session: Session
    stages: tuple[StageSpan, ...]
    pin_map: PinMap
    extracted: Extracted
    ohm: np.ndarray
    contact_ohm: np.ndarray


@dataclass(frozen=True)
class MadePair:
    """`faulty` are numbers of pins from 0, faulty before. `unmended`: the later test as it would have been had nobody
    mended anything, times and true rises per pin (t,), (t, n); `truth` the same of the later test itself."""

    seed: int
    kind: str
    case: Case
    before: Test
    after: Test
    truth: tuple[np.ndarray, np.ndarray]
    unmended: tuple[np.ndarray, np.ndarray]

    @property
    def faulty(self) -> tuple[int, ...]:
        """Numbers of the pins that were faulty before."""
        return self.case.faulty

    def judged(self) -> np.ndarray:
        """Pins (n,) that carry a tenth of the largest I^2 in some stage."""
        square = np.array([stage.amps for stage in self.case.load.stages]) ** 2
        return (square >= 0.1 * square.max(axis=1, keepdims=True)).any(axis=0)


def pair(seed: int, kind: str, load_kind: str | None = None) -> MadePair:
    """The made pair of a seed, from the cache where it is there."""
    folder = Path(tempfile.gettempdir()) / f"hotspot_pairs_{_digest()}"
    folder.mkdir(exist_ok=True)
    file = folder / f"{seed}_{kind}_{load_kind}.pkl"
    if file.is_file():
        return pickle.loads(file.read_bytes())
    made = _made(seed, kind, load_kind)
    file.write_bytes(pickle.dumps(made))
    return made


def results(test: Test, name: str) -> Results:
    """The test judged, in the form in which results come from disk."""
    found = judge(
        test.session, test.extracted.readings, test.stages, test.pin_map, lambda *_: None,
        pictures=test.extracted.rise_pictures,
    )  # fmt: skip
    readings = test.extracted.readings.copy()
    spans = [{"name": s.name, "start_s": s.start_s, "end_s": s.end_s, "frames": len(s.frames)} for s in test.stages]
    findings = plain(
        {
            "pins": [{"name": pin.name, "verdict": pin.verdict} for pin in found.pins],
            "source_pins": list(found.source_pins),
            "stages": spans,
            "inputs": [{"name": name, "sha256": name}],
            "settings": {"session": test.session.model_dump(mode="json"), **found.settings},
            "version": "0",
        }
    )
    return Results(name, readings, found.pin_table, json.loads(json.dumps(findings)))


def _digest() -> str:
    import hotspot.extract.raster
    import hotspot.extract.rise_pictures
    import hotspot.synthetic.camera
    import hotspot.synthetic.connector
    import hotspot.synthetic.heat

    modules = (
        hotspot.synthetic.connector, hotspot.synthetic.heat, hotspot.synthetic.camera,
        hotspot.extract.raster, hotspot.extract.rise_pictures,
    )  # fmt: skip
    text = b"".join(Path(module.__file__).read_bytes() for module in modules) + Path(__file__).read_bytes()
    return hashlib.sha256(text).hexdigest()[:10]


def _made(seed: int, kind: str, load_kind: str | None) -> MadePair:
    rng = np.random.default_rng(seed)
    case = random_case(rng, "healthy" if kind == "untouched" else "one contact", load_kind)
    camera = drawn_camera(rng, case, PX_PER_MM)
    sound = np.array(case.spec.contact_ohm)
    for pin, size in zip(case.faulty, case.sizes, strict=True):
        sound[pin] /= size
    replug = np.exp(rng.normal(0.0, REPLUG_LN_SD, sound.size))
    cooling, load = np.exp(rng.normal(0.0, FILM_LN_SD)), _later_load(rng, case)
    left = replace(
        case.spec,
        contact_ohm=tuple(np.array(case.spec.contact_ohm) * replug),
        natural=case.spec.natural * cooling,
        wire_cooling=tuple(cooling * np.array(case.spec.wire_cooling)),
    )
    spec = replace(left, contact_ohm=tuple(sound * replug)) if kind == "mended" else left
    solutions = [simulate(case.spec, case.load, dt=5.0), simulate(spec, load, dt=5.0)]
    unmended = simulate(left, load, dt=5.0) if kind == "mended" else solutions[1]
    later = replace(
        camera,
        px_per_mm=camera.px_per_mm * float(rng.uniform(0.93, 1.07)),
        rotation_deg=float(rng.uniform(-8.0, 8.0)),
        bias_k=camera.bias_k + float(rng.normal(0.0, BIAS_DAY_K)),
    )
    step = float(rng.choice([10.0, 20.0, 30.0]))
    tests = [
        _test(rng, solution, look, (step, seed * 2 + k))
        for k, (solution, look) in enumerate(zip(solutions, (camera, later), strict=True))
    ]
    return MadePair(seed, kind, case, *tests, _truth(solutions[1]), _truth(unmended))


def _truth(solution: Solution) -> tuple[np.ndarray, np.ndarray]:
    return solution.time_s, solution.face_pin_c - solution.ambient_c[:, None]


def _later_load(rng: np.random.Generator, case: Case):
    factor, longer = np.exp(rng.normal(0.0, AMPS_LN_SD)), rng.uniform(0.75, 1.2)
    stages = tuple(
        replace(stage, seconds=round(stage.seconds * longer), amps=tuple(round(factor * a, 2) for a in stage.amps))
        for stage in case.load.stages
    )
    ambient = round(case.load.ambient_c + rng.normal(0.0, AMBIENT_SD_K), 1)
    return replace(case.load, stages=stages, ambient_c=ambient, drift_k=round(rng.normal(0.0, 1.0), 2))


def _test(rng: np.random.Generator, solution: Solution, camera: CameraSpec, taken: tuple[float, int]) -> Test:
    footage = film(solution, camera, *taken)
    spec = solution.spec
    names = tuple(str(pin + 1) for pin in range(spec.pins))
    stages = _stages(rng, solution, footage.time_s, names)
    session = Session.model_validate(
        {
            "connector": {"rows": spec.rows, "columns": spec.columns, "face": "mating"},
            "camera": {"name": "shop camera", "accuracy_k": 2.0},
            "surface": {"emissivity": 0.92, "set_emissivity": 0.95},
            "stage": [{"name": s.name, "start_s": s.start_s, "end_s": s.end_s, "amps": s.stage.amps} for s in stages],
        },
        strict=False,
    )
    ambient = (footage.time_s, footage.ambient_c + rng.normal(0.0, AIR_ERROR_K))
    pin_map = PinMap(names, footage.x_px, footage.y_px, footage.radius_px, ("given",) * len(names))
    stamps = [Stamp(k, f"{k}", float(time_s)) for k, time_s in enumerate(footage.time_s)]
    frames = [Frame(s.index, s.file, s.time_s, MadeFrame(c)) for s, c in zip(stamps, footage.celsius, strict=True)]
    watch = RiseWatch(session, pin_map, stages, stamps, ambient)
    extracted = measure(session, watch.over(frames), pin_map, stages, ambient, {})
    extracted = replace(extracted, rise_pictures=watch.pictures())
    return Test(session, stages, pin_map, extracted, apparent_ohm(solution), np.array(spec.contact_ohm))


def _stages(
    rng: np.random.Generator, solution: Solution, time_s: np.ndarray, names: tuple[str, ...]
) -> tuple[StageSpan, ...]:
    """The stages with currents as a clamp reads them."""
    stages, start = [], 0.0
    last = len(solution.load.stages) - 1
    for number, stage in enumerate(solution.load.stages):
        end = start + stage.seconds
        inside = (time_s >= start) & ((time_s < end) | (number == last))
        error = np.exp(rng.normal(0.0, CLAMP_LN_SD, len(names)))
        amps = {name: float(a * e) for name, a, e in zip(names, stage.amps, error, strict=True)}
        told = Stage(name=stage.name, amps=amps)
        stages.append(StageSpan(stage.name, start, end, tuple(int(k) for k in np.flatnonzero(inside)), told))
        start = end
    return tuple(stages)
