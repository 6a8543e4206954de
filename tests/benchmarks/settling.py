"""How well is a cut test carried to its level? Made connectors of `hotspot.synthetic`, and the real logged runs.

    OMP_NUM_THREADS=1 python tests/benchmarks/settling.py [--cases 150] [--seed 2027 ...]

Prints, over all seeds together and per share seen of a 25-min soak: median and 95th percentile of |error| of the
settled temperature [K], how often the 95 % interval holds it, median half-width [K], how many are refused; the same for
connectors twice as slow; the logged runs of tests/data/two_heater_steps; the cost of one call.

The prior comes from tests/benchmarks/settling_family.py, another simulator that shares no code with this one. Here the
hottest pin of each case is read at irregular frames (10-60 s apart) with noise, a slow wander, and an ambient that
drifts (sd 1 K over the soak) and is followed by a thermometer of 0.1 K noise (`air once`: read once, at the start). The
truth is the steady state of the simulator at the ambient of the last frame seen.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from hotspot.reason.settling import Settling, settle_stage
from hotspot.synthetic.cases import Case, random_case
from hotspot.synthetic.connector import UPSTREAM_TIME_S, Model, settled
from hotspot.synthetic.heat import Stepper

SOAK_S = 1500.0
STEP_S = 5.0
WHITE_K = 0.08
WANDER_K, WANDER_S = 0.25, 400.0
AIR_K = 0.1  # noise of the thermometer that follows the ambient
SHARES = (0.2, 0.3, 0.4, 0.6, 1.0)
RUNS = Path(__file__).resolve().parents[1] / "data" / "two_heater_steps"
ON_ITS_PLATEAU = "H1_000to050_rep04"  # started warm: to be refused, see its test


@dataclass(frozen=True, slots=True)
class Soak:
    """One pin's face under a constant load: times (n,) [s], true °C (n,), ambient (n,) and its settled rise [K]."""

    time_s: np.ndarray
    celsius: np.ndarray
    ambient_c: np.ndarray
    settled_rise_k: float

    def truth_c(self, time_s: float) -> float:
        """What it is heading for at the ambient of that moment [°C]."""
        return self.settled_rise_k + float(np.interp(time_s, self.time_s, self.ambient_c))


def soaks(count: int, seed: int, slower: float = 1.0) -> list[Soak]:
    """The hottest pin of `count` made connectors; heat capacities times `slower`."""
    rng = np.random.default_rng(seed)
    return [_soak(random_case(rng, load_kind=str(rng.choice(["equal", "unequal"]))), slower) for _ in range(count)]


def _soak(case: Case, slower: float) -> Soak:
    spec, load = case.spec, case.load
    amps = np.array(load.stages[0].amps)
    model = Model(spec)
    model.network.capacity *= slower
    stepper = Stepper(model.network, STEP_S, load.ambient_c)
    times = np.arange(0.0, SOAK_S + 1, STEP_S)
    ambient = load.ambient_c + load.drift_k * times / SOAK_S
    nodes = np.full(model.network.n, float(load.ambient_c))
    cells = model.face.ravel()[spec.pin_cells]
    faces = [nodes[cells].mean(axis=1)]
    for at, air in zip(times[1:], ambient[1:], strict=True):
        body = np.array(spec.upstream_k) * -np.expm1(-at / (UPSTREAM_TIME_S * slower))
        nodes = stepper.step(nodes, model.heat(amps, air), (air, model.bodies(body, air)))
        faces.append(nodes[cells].mean(axis=1))
    faces = np.array(faces)
    pin = int(np.argmax(faces[-1]))
    level = settled(spec, tuple(amps), float(ambient[-1])).face_pin_c[0, pin] - ambient[-1]
    return Soak(times, faces[:, pin], ambient, float(level))


def frames_of(soak: Soak, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Readings at irregular frames: (times, °C), with white noise and a wander that is 0 at the start."""
    gaps = rng.uniform(10.0, 60.0) * rng.uniform(0.8, 1.2, 400)
    at = np.concatenate([[0.0], np.cumsum(gaps)])
    at = at[at <= SOAK_S]
    cov = np.exp(-np.abs(at[:, None] - at) / WANDER_S)
    wander = WANDER_K * np.linalg.cholesky(cov + 1e-9 * np.eye(len(at))) @ rng.normal(size=len(at))
    wander = (wander - wander[0]) * np.minimum(1.0, at / 200.0) + wander[0]
    return at, np.interp(at, soak.time_s, soak.celsius) + wander + rng.normal(0.0, WHITE_K, len(at))


def predicted(soak: Soak, share: float, seed: int) -> tuple[Settling, float]:
    """The answer from the first `share` of the soak with the ambient followed, and the truth [°C]."""
    rng = np.random.default_rng(seed)
    at, read = frames_of(soak, rng)
    at, read = at[at <= share * SOAK_S], read[at <= share * SOAK_S]
    ambient = np.interp(at, soak.time_s, soak.ambient_c) + rng.normal(0.0, AIR_K, len(at))
    return settle_stage(at, read, None, None, ambient, 0.0, SOAK_S), soak.truth_c(float(at[-1]))


def predicted_unwatched(soak: Soak, share: float, seed: int) -> tuple[Settling, float]:
    """The same with the ambient read once, at the start."""
    at, read = frames_of(soak, np.random.default_rng(seed))
    at, read = at[at <= share * SOAK_S], read[at <= share * SOAK_S]
    return settle_stage(at, read, None, None, float(soak.ambient_c[0]), 0.0, SOAK_S), soak.truth_c(float(at[-1]))


@dataclass(frozen=True, slots=True)
class Score:
    """Of one row: |error| [K] and half-width [K] of what was predicted, whether held, and refusals by code."""

    error: np.ndarray
    half: np.ndarray
    held: np.ndarray
    refused: dict[str, int]

    def line(self, name: str) -> str:
        """One line of the table."""
        count = len(self.error) + sum(self.refused.values())
        codes = ", ".join(f"{code.removeprefix('settling_')} {many}" for code, many in sorted(self.refused.items()))
        head = f"{name:26s} {count:4d}  {len(self.error):4d} predicted"
        if not len(self.error):
            return f"{head}; refused: {codes}"
        return (
            f"{head}  |error| {np.median(self.error):.2f} / {np.quantile(self.error, 0.95):.2f}"
            f"  held {int(self.held.sum())}/{len(self.held)} = {self.held.mean():.3f}"
            f"  half {np.median(self.half):.2f}  refused {1 - len(self.error) / count:.3f} ({codes})"
        )


def score(answers: list[tuple[Settling, float]]) -> Score:
    """Answers with their truths -> Score."""
    good = [(found, truth) for found, truth in answers if found.settled_c is not None]
    codes = [found.reason.code for found, _ in answers if found.settled_c is None and found.reason is not None]
    table = np.array([(f.settled_c, f.low_c, f.high_c, truth) for f, truth in good]).reshape(-1, 4)
    middle, low, high, truth = table.T
    refused = {code: codes.count(code) for code in set(codes)}
    return Score(np.abs(middle - truth), 0.5 * (high - low), (low <= truth) & (truth <= high), refused)


def real_runs(share: float = 0.4) -> list[tuple[Settling, float, float]]:
    """(answer from the first `share` of a logged run, its end [°C], its rise [K]); the run that began warm left out.

    The end is the median of the last 100 s, the start that of readings 3 to 22.
    """
    out = []
    for path in sorted(RUNS.glob("H?_*.csv.gz")):
        if path.name.startswith(ON_ITS_PLATEAU):
            continue
        table = np.loadtxt(path, delimiter=",", skiprows=1)
        t, y = table[:, 0], table[:, 1 if path.name.startswith("H1") else 2]
        seen = t <= share * t[-1]
        end = float(np.median(y[t > t[-1] - 100]))
        found = settle_stage(t[seen], y[seen], None, None, None, 0.0, float(t[-1]))
        out.append((found, end, abs(end - float(np.median(y[2:22])))))
    return out


def real_line() -> str:
    """The line of the logged runs."""
    runs = real_runs()
    good = [(found, end, rise) for found, end, rise in runs if found.end_c is not None]
    error = np.array([abs(found.end_c - end) / rise for found, end, rise in good])
    half = np.array([0.5 * (found.end_high_c - found.end_low_c) / rise for found, _, rise in good])
    held = np.array([found.end_low_c <= end <= found.end_high_c for found, end, _ in good])
    return (
        f"logged runs, end from 40 %: {len(runs)}; median error {np.median(error):.4f} of the rise; "
        f"held {held.sum()}/{len(held)} = {held.mean():.3f}; median half-width {np.median(half):.4f} of the rise; "
        f"refused {len(runs) - len(good)}/{len(runs)}"
    )


def cost_s(cases: list[Soak]) -> np.ndarray:
    """Processor seconds per call, on whole soaks (set OMP_NUM_THREADS=1: threads that wait are counted too)."""
    out = []
    for k, soak in enumerate(cases[:40]):
        at, read = frames_of(soak, np.random.default_rng(k))
        begun = time.process_time()
        settle_stage(at, read, None, None, float(soak.ambient_c[-1]), 0.0, SOAK_S)
        out.append(time.process_time() - begun)
    return np.array(out)


def main() -> None:
    """Print the table."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("--cases", type=int, default=150)
    ask.add_argument("--seed", type=int, nargs="+", default=[2027])
    asked = ask.parse_args()
    for name, slower in (("as drawn", 1.0), ("twice as slow", 2.0)):
        cases = [(seed + k, soak) for seed in asked.seed for k, soak in enumerate(soaks(asked.cases, seed, slower))]
        for share in SHARES:
            answers = [predicted(soak, share, seed) for seed, soak in cases]
            print(score(answers).line(f"{name}, {share:.0%} seen"), flush=True)
        answers = [predicted_unwatched(soak, 0.4, seed) for seed, soak in cases]
        print(score(answers).line(f"{name}, 40%, air once"), flush=True)
    cost = cost_s([soak for _, soak in cases]) * 1e3
    print(real_line())
    print(f"processor time per pin and stage: median {np.median(cost):.1f} ms, worst {cost.max():.1f} ms")


if __name__ == "__main__":
    main()
