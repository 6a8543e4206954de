"""Made load tests as the judging room gets them: readings and rise pictures of connectors with known truth.

Nothing is written but a cache in the machine's folder for temporary files. What a tester would not know exactly is
not known exactly: currents to 3 %, ambient to 0.3 K, pins' emissivities differ, the camera has a bias and wanders.
"""

from __future__ import annotations

import hashlib
import pickle
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

import hotspot
from hotspot.extract import RiseWatch, measure
from hotspot.poses import Pose
from hotspot.records import Extracted, Frame, PinMap, StageSpan, Stamp
from hotspot.session import Region, Session, Stage
from hotspot.synthetic.camera import CameraSpec, Footage, film
from hotspot.synthetic.cases import Case, random_case
from hotspot.synthetic.connector import COPPER_OHM_M, UPSTREAM_TIME_S, Solution, insulated_diameter_m, simulate

AMPS_LN_SD, AMBIENT_SD_K, EMISSIVITY_SD = 0.03, 0.3, 0.05
WIRE_SPOTS_MM = (8.0, 24.0)
WIRE_SPOT_ERROR = 0.01
"""Relative error of one spot on a wire against the other: emissivity of the insulation, both on the same wire."""
PART_ERROR = 0.05
"""The same of a part against a pin: two surfaces."""


@dataclass(frozen=True)
class Held:
    """One made test. `truth` (n,): apparent resistance [ohm] of each pin, contact and one decay length of wire."""

    seed: int
    case: Case
    session: Session
    stages: tuple[StageSpan, ...]
    pin_map: PinMap
    extracted: Extracted
    truth: np.ndarray
    ohm: np.ndarray  # (n,) the same, whatever `truth` is replaced by
    spots_k: np.ndarray  # (stages, pins, 2) rises of the two spots on each wire
    parts_k: np.ndarray  # (stages, pins) rises of a part on each wire, where the warm body sits or would sit

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the pins."""
        return self.pin_map.names


class MadeFrame:
    """A made frame as the reader would hand it on."""

    def __init__(self, celsius: np.ndarray) -> None:
        self.celsius, self.shape = celsius, celsius.shape

    def at(self, rows, columns):
        """Temperatures, no doubts, nothing added by the carrier."""
        return self.celsius[rows, columns].astype(float), np.zeros(len(rows), np.uint32), np.zeros(len(rows))

    def grey(self, rows=None, columns=None):
        """What steadying looks at."""
        return self.celsius if rows is None else self.celsius[rows, columns]

    def picture(self):
        """No colours."""
        return


def held(seed: int, kind: str | None = None, load_kind: str | None = None, camera: CameraSpec | None = None) -> Held:
    """The made test of a seed, from the cache where it is there. `camera` replaces the drawn one."""
    folder = Path(tempfile.gettempdir()) / f"hotspot_heat_cases_{_sources_digest()}"
    folder.mkdir(exist_ok=True)
    file = folder / f"{seed}_{kind}_{load_kind}_{hash(camera) if camera else 0:x}.pkl"
    if file.is_file():
        return pickle.loads(file.read_bytes())
    made = _made(seed, kind, load_kind, camera)
    file.write_bytes(pickle.dumps(made))
    return made


def _sources_digest() -> str:
    """Of everything that a made test depends on, so that a change there makes it anew."""
    package = Path(hotspot.__file__).parent
    files = [package / "records.py", package / "session.py", package / "poses.py", package / "doubts.py"]
    files += [path for room in ("synthetic", "extract", "physics", "handbook") for path in (package / room).glob("*.*")]
    text = b"".join(path.read_bytes() for path in sorted(files)) + Path(__file__).read_bytes()
    return hashlib.sha256(text).hexdigest()[:10]


def _made(seed: int, kind: str | None, load_kind: str | None, camera: CameraSpec | None) -> Held:
    rng = np.random.default_rng(seed)
    case = random_case(rng, kind, load_kind)
    solution = simulate(case.spec, case.load, dt=5.0)
    footage = film(solution, camera or drawn_camera(rng, case), float(rng.choice([10.0, 20.0, 30.0])), seed)
    return as_read(seed, case, footage, rng)


@dataclass(frozen=True)
class Seen:
    """How a test is seen where it is not plainly: frames with their poses, pins, and regions of the session."""

    frames: tuple[Frame, ...]
    pin_map: PinMap
    regions: tuple[Region, ...] = ()
    poses: Mapping[int, Pose] = field(default_factory=dict)


def stamped(footage: Footage) -> tuple[Frame, ...]:
    """The frames of a film as the reader would hand them on."""
    pairs = enumerate(zip(footage.time_s, footage.celsius, strict=True))
    return tuple(Frame(k, f"{k}", float(time_s), MadeFrame(celsius)) for k, (time_s, celsius) in pairs)


def pins_of(footage: Footage) -> PinMap:
    """The pins where they are."""
    count = len(footage.x_px)
    names = tuple(str(pin + 1) for pin in range(count))
    return PinMap(names, footage.x_px, footage.y_px, footage.radius_px, ("given",) * count)


def as_read(seed: int, case: Case, footage: Footage, rng: np.random.Generator, seen: Seen | None = None) -> Held:
    """What the judging room gets of a film."""
    seen = seen or Seen(stamped(footage), pins_of(footage))
    solution, names = footage.solution, seen.pin_map.names
    stages = _stages(rng, case, footage.time_s, names)
    ambient = (footage.time_s, footage.ambient_c + rng.normal(0.0, AMBIENT_SD_K))
    rows, columns = case.spec.rows, case.spec.columns
    session = Session.model_validate({"connector": {"rows": rows, "columns": columns}}, strict=False)
    session = session.model_copy(update={"region": list(seen.regions)})
    stamps = [Stamp(frame.index, frame.file, frame.time_s) for frame in seen.frames]
    watch = RiseWatch(session, seen.pin_map, stages, stamps, ambient, seen.poses)
    extracted = measure(session, watch.over(seen.frames), seen.pin_map, stages, ambient, {})
    extracted = replace(extracted, rise_pictures=watch.pictures())
    ohm = apparent_ohm(solution)
    views = _spots(rng, solution, stages), _parts(rng, solution, stages)
    return Held(seed, case, session, stages, seen.pin_map, extracted, ohm, ohm, *views)


def drawn_camera(rng: np.random.Generator, case: Case, px_per_mm: tuple[float, float] = (2.2, 3.2)) -> CameraSpec:
    """A shop's camera over a connector, turned and near as it happens, whose pins' emissivities differ."""
    return CameraSpec(
        width=200,
        height=150,
        px_per_mm=float(rng.uniform(*px_per_mm)),
        rotation_deg=float(rng.uniform(-8.0, 8.0)),
        noise_k=float(rng.uniform(0.05, 0.1)),
        bias_k=float(rng.uniform(-2.0, 2.0)),
        wander_k=0.15,
        pin_emissivity=tuple(np.clip(rng.normal(0.92, EMISSIVITY_SD, case.spec.pins), 0.75, 0.99)),
    )


def _stages(rng: np.random.Generator, case: Case, time_s: np.ndarray, names: tuple[str, ...]) -> tuple[StageSpan, ...]:
    """The stages with currents as a clamp reads them; a pin keeps its error through the test."""
    stages, start = [], 0.0
    error = np.exp(rng.normal(0.0, AMPS_LN_SD, len(names)))
    for number, stage in enumerate(case.load.stages):
        end = start + stage.seconds
        last = number == len(case.load.stages) - 1
        inside = (time_s >= start) & ((time_s < end) | last)
        amps = {name: float(a * e) for name, a, e in zip(names, stage.amps, error, strict=True)}
        frames = tuple(int(k) for k in np.flatnonzero(inside))
        stages.append(StageSpan(stage.name, start, end, frames, Stage(name=stage.name, amps=amps)))
        start = end
    return tuple(stages)


def _spots(rng: np.random.Generator, solution: Solution, stages: tuple[StageSpan, ...]) -> np.ndarray:
    """Rises (stages, pins, 2) of two spots on each wire at the ends of the stages."""
    nodes = (np.arange(solution.wire_c.shape[2]) + 0.5) * solution.spec.wire_m * 1e3 / solution.wire_c.shape[2]
    out = np.empty((len(stages), solution.spec.pins, 2))
    for number, span in enumerate(stages):
        at = int(np.abs(solution.time_s - span.end_s).argmin())
        rise = solution.wire_c[at] - solution.ambient_c[at]
        for pin in range(solution.spec.pins):
            out[number, pin] = np.interp(WIRE_SPOTS_MM, nodes, rise[pin])
    error = np.exp(rng.normal(0.0, WIRE_SPOT_ERROR, out.shape[1:]))
    return out * error + rng.normal(0.0, 0.05, out.shape)


def _parts(rng: np.random.Generator, solution: Solution, stages: tuple[StageSpan, ...]) -> np.ndarray:
    """Rises (stages, pins) of a part on each wire at the ends of the stages: as warm as its wire, or the warm body."""
    spec, body = solution.spec, np.zeros(solution.spec.pins)
    nodes = (np.arange(solution.wire_c.shape[2]) + 0.5) * spec.wire_m / solution.wire_c.shape[2]
    top = max(max(stage.amps) for stage in solution.load.stages)
    out = np.empty((len(stages), spec.pins))
    for number, (span, stage) in enumerate(zip(stages, solution.load.stages, strict=True)):
        target = np.array(spec.upstream_k) * (max(stage.amps) / top) ** 2
        body = target + (body - target) * np.exp(-stage.seconds / UPSTREAM_TIME_S)
        at = int(np.abs(solution.time_s - span.end_s).argmin())
        rise = solution.wire_c[at] - solution.ambient_c[at]
        along = np.array([np.interp(spec.upstream_m, nodes, wire) for wire in rise])
        out[number] = np.where(np.array(spec.upstream_k) > 0, body, along)
    return out * np.exp(rng.normal(0.0, PART_ERROR, spec.pins)) + rng.normal(0.0, 0.1, out.shape)


def apparent_ohm(solution: Solution) -> np.ndarray:
    """Contact and one decay length of wire (n,), ohm: rho lambda tanh(L / lambda) / A with lambda = sqrt(k A / h P)."""
    spec = solution.spec
    area = np.array(spec.wire_mm2) * 1e-6
    outer = np.array([insulated_diameter_m(mm2) for mm2 in spec.wire_mm2])
    still = 1.32 * (25.0 / outer) ** 0.25 + 5.8  # at a rise of 25 K
    film_w = (still + spec.draught) * np.array(spec.wire_cooling)
    decay = np.sqrt(390.0 * area / (film_w * np.pi * outer))
    wire = COPPER_OHM_M * 1.1 * decay * np.tanh(spec.wire_m / decay) / area
    return np.array(spec.contact_ohm) + wire
