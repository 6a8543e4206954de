"""How well is an ambient told that nobody stated, and what does it bring to where a stage settles? Made connectors.

    OMP_NUM_THREADS=1 python tests/benchmarks/ambient.py [--cases 60] [--seed 2031]

Made connectors of `hotspot.synthetic` under one load of 25 minutes on a bench that follows the air, which drifts
(sd 1 K). The camera has a bias, wanders (sd 0.25 K, 400 s), jumps at each shutter (sd 0.3 K, every 3 minutes), and
the bench beside the housing is warmed by a tenth of the pins' mean rise, falling off over 12 mm. Three starts:
`at once` (the load comes on with the first frame), `rest` (two minutes cold first), `warm` (filmed from the tenth
minute of the soak on).

Prints per start how many ambients are estimated, |error| against the ambient as that camera would show it [K], how
often 1.96 standard uncertainties hold it; then |error| of the settled temperature from 40 % and from the whole soak
where the ambient was stated once (as it was at the start, to 0.3 K), with and without what the surroundings tell.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np
from heat_cases import MadeFrame, drawn_camera

from hotspot.extract import measure
from hotspot.reason.settling import Settling, settle_stage
from hotspot.reason.settling_series import seen_with_the_camera
from hotspot.records import Extracted, Frame, PinMap, StageSpan
from hotspot.session import Session, Stage
from hotspot.synthetic.camera import Footage, film
from hotspot.synthetic.cases import random_case
from hotspot.synthetic.connector import Load, LoadStage, settled, simulate

SOAK_S, REST_S, EVERY_S = 1500.0, 120.0, 20.0
WANDER_K, WANDER_S, SHUTTER_K, SHUTTER_S = 0.25, 400.0, 0.3, 180.0
WARMED_SHARE, WARMED_MM = 0.1, 12.0
STATED_K = 0.3


@dataclass(frozen=True)
class Shot:
    """One made test: frames with the camera's errors, that error (t,), what the hottest pin settles at over ambient."""

    footage: Footage
    error_k: np.ndarray
    settled_rise_k: float
    rest_s: float

    @property
    def seen_ambient_c(self) -> np.ndarray:
        """The ambient as this camera would show it."""
        return self.footage.ambient_c + self.error_k


def shot(seed: int, rest_s: float) -> Shot:
    """The made test of a seed."""
    rng = np.random.default_rng(seed)
    case = random_case(rng, load_kind=str(rng.choice(["equal", "unequal"])))
    amps = case.load.stages[0].amps
    stages = (LoadStage("full", SOAK_S, amps),)
    if rest_s:
        stages = (LoadStage("rest", rest_s, (0.0,) * len(amps)), *stages)
    solution = simulate(case.spec, Load(stages, case.load.ambient_c, case.load.drift_k), dt=5.0)
    camera = replace(drawn_camera(rng, case), bias_k=0.0, wander_k=0.0)
    footage = film(solution, camera, EVERY_S, seed)
    error = rng.uniform(-2.0, 2.0) + _wander(rng, footage.time_s) + _shutters(rng, footage.time_s)
    warmed = _warmed_bench(footage)
    footage = replace(footage, celsius=footage.celsius + (warmed + error[:, None, None]).astype(np.float32))
    end = float(footage.ambient_c[-1])
    level = float(settled(case.spec, amps, end).face_pin_c[0].max()) - end
    return Shot(footage, error, level, rest_s)


def _wander(rng: np.random.Generator, time_s: np.ndarray) -> np.ndarray:
    cov = np.exp(-np.abs(time_s[:, None] - time_s) / WANDER_S)
    return WANDER_K * np.linalg.cholesky(cov + 1e-9 * np.eye(len(time_s))) @ rng.normal(size=len(time_s))


def _shutters(rng: np.random.Generator, time_s: np.ndarray) -> np.ndarray:
    return SHUTTER_K * rng.normal(size=int(time_s[-1] // SHUTTER_S) + 1)[(time_s // SHUTTER_S).astype(int)]


def _warmed_bench(footage: Footage) -> np.ndarray:
    """K (t, height, width) that the bench rises by beside the housing."""
    camera, spec = footage.camera, footage.solution.spec
    rows, columns = np.indices((camera.height, camera.width), dtype=float)
    angle = np.deg2rad(camera.rotation_deg)
    x, y = columns - camera.middle[0], rows - camera.middle[1]
    along = np.abs(x * np.cos(angle) + y * np.sin(angle)) / camera.px_per_mm - spec.shape[1] / 2
    across = np.abs(-x * np.sin(angle) + y * np.cos(angle)) / camera.px_per_mm - spec.shape[0] / 2
    away = np.hypot(np.maximum(along, 0.0), np.maximum(across, 0.0))
    share = np.where(away > 0, WARMED_SHARE * np.exp(-away / WARMED_MM), 0.0)
    rise = (footage.truth_c - footage.ambient_c[:, None]).mean(axis=1)
    return rise[:, None, None] * share


def measured(made: Shot, from_s: float, until_s: float, ambient: float | None) -> Extracted:
    """The readings of the frames between two times, as `hotspot run` makes them."""
    footage = made.footage
    names = tuple(str(pin + 1) for pin in range(footage.solution.spec.pins))
    kept = np.flatnonzero((footage.time_s >= from_s) & (footage.time_s <= until_s))
    frames = [Frame(int(k), f"{k}", float(footage.time_s[k]), MadeFrame(footage.celsius[k])) for k in kept]
    pin_map = PinMap(names, footage.x_px, footage.y_px, footage.radius_px, ("given",) * len(names))
    start = made.rest_s if from_s < made.rest_s else from_s
    inside = tuple(int(k) for k in kept if footage.time_s[k] >= start)
    stage = Stage(name="full", amps=9.0) if from_s <= made.rest_s else Stage(name="full")
    session = Session.model_validate({} if ambient is None else {"ambient": ambient})
    return measure(session, frames, pin_map, (StageSpan("full", start, until_s, inside, stage),), None, {})


def estimates(shots: list[Shot], from_s: float) -> tuple[np.ndarray, np.ndarray, int]:
    """(error at the end [K], standard uncertainty [K]) of what was estimated, and how many were not."""
    error, unsure, none = [], [], 0
    for made in shots:
        found = measured(made, from_s, float(made.footage.time_s[-1]), None)
        told = found.settings["ambient"]
        if told["origin"] != "cold start":
            none += 1
            continue
        error.append(float(found.ambient["ambient_c"].iloc[-1] - made.seen_ambient_c[-1]))
        unsure.append(told["uncertainty_k"])
    return np.array(error), np.array(unsure), none


def settlings(shots: list[Shot], share: float, followed: bool) -> list[tuple[Settling, float]]:
    """(answer for the hottest pin, truth [°C] as the camera would show it) from a share of the soak, one ambient."""
    out = []
    for seed, made in enumerate(shots):
        footage, until = made.footage, made.rest_s + share * SOAK_S
        stated = float(footage.ambient_c[0] + np.random.default_rng(seed).normal(0.0, STATED_K))
        readings = measured(made, 0.0, until, stated).readings
        pin = str(int(np.argmax(footage.truth_c[-1])) + 1)
        own = readings[readings["pin"] == pin]
        time_s, read = own["time_s"].to_numpy(float), own["temperature_c"].to_numpy(float)
        drift = own["drift_c"].to_numpy(float)
        air = seen_with_the_camera(stated, drift, time_s) if followed and np.isfinite(drift).all() else stated
        found = settle_stage(time_s, read, None, None, air, made.rest_s, made.rest_s + SOAK_S)
        last = int(np.searchsorted(footage.time_s, time_s[-1]))
        # a pin's emissivity scales what the camera sees of its rise: taken from the frame itself
        seen = (read[-1] - made.seen_ambient_c[last]) / (footage.truth_c[last, int(pin) - 1] - footage.ambient_c[last])
        out.append((found, float(made.seen_ambient_c[last] + seen * made.settled_rise_k)))
    return out


def settled_line(name: str, answers: list[tuple[Settling, float]]) -> str:
    """One line of the table."""
    good = [(f, truth) for f, truth in answers if f.settled_c is not None]
    error = np.array([abs(f.settled_c - truth) for f, truth in good])
    held = sum(f.low_c <= truth <= f.high_c for f, truth in good)
    half = np.median([0.5 * (f.high_c - f.low_c) for f, _ in good])
    codes = [f.reason.code.removeprefix("settling_") for f, _ in answers if f.reason is not None]
    why = ", ".join(f"{code} {codes.count(code)}" for code in sorted(set(codes)))
    line = f"{name:32s} {len(good)}/{len(answers)} predicted"
    return (
        f"{line}  |error| {np.median(error):.2f} / {np.quantile(error, 0.95):.2f}"
        f"  held {held}/{len(good)}  half {half:.2f}  refused: {why or 'none'}"
    )


def main() -> None:
    """Print the tables."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("--cases", type=int, default=60)
    ask.add_argument("--seed", type=int, default=2031)
    asked = ask.parse_args()
    seeds = [asked.seed * 1000 + k for k in range(asked.cases)]
    at_once, rested = ([shot(seed, rest_s) for seed in seeds] for rest_s in (0.0, REST_S))
    for name, shots, from_s in (("at once", at_once, 0.0), ("rest", rested, 0.0), ("warm", at_once, 600.0)):
        error, unsure, none = estimates(shots, from_s)
        line = f"ambient, {name:8s} {len(error)}/{len(error) + none} estimated"
        if len(error):
            held = int((np.abs(error) <= 1.96 * unsure).sum())
            line += f"  |error| {np.median(np.abs(error)):.2f} / {np.quantile(np.abs(error), 0.95):.2f}"
            line += f"  held {held}/{len(error)}  standard uncertainty {np.median(unsure):.2f}"
        print(line)
    for share in (0.4, 1.0):
        for followed in (False, True):
            name = f"settled from {share:.0%}, {'surroundings' if followed else 'one number only'}"
            print(settled_line(name, settlings(at_once, share, followed)))


if __name__ == "__main__":
    main()
