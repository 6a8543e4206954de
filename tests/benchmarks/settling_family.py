"""A quick family of heating curves for the prior of `hotspot.reason.settling`, and the script that makes it.

Each curve is the response of one pin to a constant load: rings around the pin in two layers (inside and
face), a finite housing, a wire of ten nodes, neighbours that heat as well, loss by convection that grows
with the rise to the power 1.25, resistance that grows with temperature, and in some cases a slow body
behind the connector. Ranges are typical of small plastic connectors, from memory, no source. It shares no
code with `hotspot.synthetic`, so a test on that simulator is a test on another family.

    python tests/benchmarks/settling_family.py          # writes hotspot/handbook/settling_prior.toml
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

RINGS = np.array([0.0, 1.5, 3.0, 4.5, 6.5, 9.0, 12.0, 16.0]) * 1e-3  # inner edges [m]; the last is the housing's
N_RING, N_WIRE = 7, 10
CONTACT, BODY = 0, 1
INNER = np.arange(2, 2 + N_RING)
FACE = INNER + N_RING
WIRE = np.arange(2 + 2 * N_RING, 2 + 2 * N_RING + N_WIRE)
BESIDE = WIRE + N_WIRE  # the neighbours' wires, taken together
NODES = BESIDE[-1] + 1
TAUS = np.geomspace(0.04, 12.0, 12)
U = np.geomspace(0.02, 25.0, 160)
COPPER_K, COPPER_C, COPPER_RHO = 390.0, 3.45e6, 1.72e-8  # W/mK, J/m3K, Ohm m; from memory


def _draw(rng: np.random.Generator, n: int) -> dict[str, np.ndarray]:
    """Parameters of `n` connectors, each (n,), SI units."""

    def between(low: float, high: float) -> np.ndarray:
        return np.exp(rng.uniform(np.log(low), np.log(high), n))

    return {
        "k": between(0.2, 0.45), "c": between(1.4e6, 2.3e6), "deep": between(6e-3, 18e-3),
        "face": between(1.2e-3, 4e-3), "stretch": between(0.25, 0.8), "h": between(9.0, 24.0),
        "wire": between(0.5e-6, 6e-6), "length": between(0.15, 0.4), "film": between(8.0, 18.0),
        "pin": between(3e-6, 12e-6), "joint": between(300.0, 3000.0), "ohm": between(1e-3, 8e-3),
        "alpha": rng.uniform(0.002, 0.0039, n), "aim": between(8.0, 90.0), "beside": rng.uniform(0, 6.0, n),
        "body": np.where(rng.random(n) < 0.15, between(0.002, 0.06), 1e-9), "mass": between(20.0, 300.0),
        "recess": between(0.8e-3, 5e-3), "metal": between(1.0, 4.0),
        "wires": between(0.2, 8.0),
    }  # fmt: skip


def _tie(g: np.ndarray, i: int, j: int, value: np.ndarray) -> None:
    """Join nodes i and j with conductance `value` [W/K]."""
    g[:, i, i] += value
    g[:, j, j] += value
    g[:, i, j] -= value
    g[:, j, i] -= value


def _network(p: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Conductances (n, nodes, nodes) [W/K], heat capacities (n, nodes) [J/K], loss areas (n, nodes) [W/K]."""
    n = len(p["k"])
    g, heat, loss = np.zeros((n, NODES, NODES)), np.zeros((n, NODES)), np.zeros((n, NODES))
    edge = RINGS[None, :] * p["stretch"][:, None]
    area = np.pi * np.diff(edge**2, axis=1)
    middle = 0.5 * (edge[:, 1:] + edge[:, :-1])
    for layer, thick in ((INNER, p["deep"]), (FACE, p["face"])):
        for r in range(N_RING):
            heat[:, layer[r]] = p["c"] * area[:, r] * thick
            if r:
                around = 2 * np.pi * edge[:, r] * thick / (middle[:, r] - middle[:, r - 1])
                metal = p["metal"] if layer is INNER else 1.0
                _tie(g, layer[r - 1], layer[r], p["k"] * metal * around)
    rim = 2 * np.pi * edge[:, -1]
    for r in range(N_RING):
        _tie(g, INNER[r], FACE[r], p["k"] * area[:, r] / (p["recess"] + 0.5 * p["face"]))
        loss[:, FACE[r]] = p["h"] * area[:, r]
        loss[:, INNER[r]] = 0.8 * p["h"] * area[:, r]
    loss[:, INNER[-1]] += p["h"] * rim * p["deep"]
    heat[:, CONTACT] = COPPER_C * p["pin"] * p["deep"]
    _tie(g, CONTACT, INNER[0], p["joint"] * 2 * np.pi * np.sqrt(p["pin"] / np.pi) * p["deep"])
    step = p["length"] / N_WIRE
    across = 2 * np.sqrt(np.pi * p["wire"]) * 1.7 * step
    for first, nodes, many in ((CONTACT, WIRE, np.ones(n)), (INNER[3], BESIDE, p["wires"])):
        before = first
        for w in nodes:
            heat[:, w] = COPPER_C * p["wire"] * step * 1.6 * many
            loss[:, w] = p["film"] * across * many
            _tie(g, before, w, COPPER_K * p["wire"] / step * many)
            before = w
    heat[:, BODY] = p["mass"]
    loss[:, BODY] = 0.05 * p["mass"] / 60.0
    _tie(g, BODY, INNER[-1], p["body"])
    return g, heat, loss


def curves(count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Rises of `count` connectors at three places each: times (m,) [s] from 0, rises (3 * count, m) [K].

    Places: the face over the pin, the terminal itself, the face 5 mm aside. The last value is settled.
    """
    rng = np.random.default_rng(seed)
    p = _draw(rng, count)
    g, heat, loss = _network(p)
    power = np.zeros((count, NODES))
    power[:, CONTACT] = p["ohm"]
    power[:, WIRE] = (COPPER_RHO * p["length"] / N_WIRE / p["wire"])[:, None]
    power[:, BESIDE] = power[:, WIRE] * (p["wires"] * np.minimum(p["beside"], 1))[:, None]
    power[:, INNER[3]] = p["beside"] * p["ohm"]
    steady = np.linalg.solve(g + loss[:, :, None] * np.eye(NODES), power[:, :, None])[:, :, 0]
    power *= (p["aim"] / steady[:, FACE[0]])[:, None]
    times = np.concatenate([np.linspace(0, 10, 21), 10 * 1.02 ** np.arange(1, 470)])
    state = np.zeros((count, NODES))
    places = np.array([FACE[0], CONTACT, FACE[3]])
    rises = np.zeros((count, 3, len(times)))
    for i, dt in enumerate(np.diff(times), start=1):
        film = loss * (0.6 + 0.4 * (np.maximum(state, 0.5) / 20.0) ** 0.25)
        warm = power * (1 + p["alpha"][:, None] * state)
        left = g + (film + heat / dt)[:, :, None] * np.eye(NODES)
        state = np.linalg.solve(left, (warm + heat / dt * state)[:, :, None])[:, :, 0]
        rises[:, :, i] = state[:, places]
    return times, rises.reshape(-1, len(times))


def lumped(count: int, seed: int, tails: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Small bodies of one temperature behind a lag, with a slow tail: times (m,) [s], shares (count, m).

    1 - (a e^(-t/a) - b e^(-t/b)) / (a - b), a = 100 s, b / a = 0.003 to 0.4; a share between `tails` of it with 3 to 8
    times a in place of a.
    """
    rng = np.random.default_rng(seed)
    times = np.concatenate([[0.0], np.geomspace(0.02, 6000.0, 900)])
    lag = 100.0 * np.exp(rng.uniform(np.log(0.003), np.log(0.4), count))[:, None]
    tail, slow = rng.uniform(*tails, (count, 1)), 100.0 * rng.uniform(3.0, 8.0, (count, 1))

    def rise(a: np.ndarray | float) -> np.ndarray:
        return 1 - (a * np.exp(-times / a) - lag * np.exp(-times / lag)) / (a - lag)

    return times, (1 - tail) * rise(100.0) + tail * rise(slow)


def shapes(times: np.ndarray, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Weights (n, 12) of 1 - exp(-u / TAUS), u = time over the time to 63.2 %, the curves (n, 160) at U, and the
    numbers (n,) of those kept.

    `shares` (n, m) rise from 0 to 1. Curves that overshoot, or reach 63.2 % outside 25-2500 s, are left out.
    """
    basis = 1 - np.exp(-U[:, None] / TAUS)
    left = np.vstack([basis, 0.01 * np.eye(len(TAUS)), 30 * np.ones((1, len(TAUS)))])
    weights, kept, numbers = [], [], []
    for number, curve in enumerate(shares):
        t63 = np.interp(0.6321206, curve, times)
        if 25.0 < t63 < 2500.0 and np.all(np.diff(curve) > -1e-6):
            numbers.append(number)
            kept.append(np.interp(U * t63, times, curve))
            right = np.concatenate([kept[-1], np.zeros(len(TAUS)), [30.0]])
            weights.append(np.linalg.lstsq(left, right, rcond=None)[0])
    return np.array(weights), np.array(kept), np.array(numbers)


def clusters(curves_at_u: np.ndarray, count: int) -> np.ndarray:
    """Which of `count` kinds each curve (n, 160) is: k-means on the start and the tail, started from quantiles."""
    look = np.stack([curves_at_u[:, np.searchsorted(U, u)] for u in (0.1, 0.2, 0.5, 2.0, 3.0, 5.0)], axis=1)
    look = (look - look.mean(0)) / look.std(0)
    order = np.argsort(look[:, :3].sum(1) - look[:, 3:].sum(1))
    centres = look[order[((np.arange(count) + 0.5) / count * len(order)).astype(int)]]
    for _ in range(100):
        kind = np.argmin(((look[:, None] - centres) ** 2).sum(-1), axis=1)
        centres = np.array([look[kind == k].mean(0) for k in range(count)])
    return kind


def _rows(values: np.ndarray) -> str:
    return "[" + ", ".join(f"{v:.6g}" for v in values) + "]"


LUMPED = {(0.0, 0.03): 0.12, (0.03, 0.18): 0.12}  # tails of small bodies, and how often each is expected
SEEN = np.array([1.0, 0.4, 1.0])  # how often each place of `curves` is what a camera sees: mostly plastic


def main(count: int = 400, seed: int = 11, kinds: int = 3) -> None:
    """Write the numbers into the handbook."""
    times, rises = curves(count, seed)
    weights, kept, numbers = shapes(times, rises / rises[:, -1:])
    kind, seen = clusters(kept, kinds), SEEN[numbers % 3]
    sets = [weights[kind == k] for k in range(kinds)]
    share = [(1 - sum(LUMPED.values())) * seen[kind == k].sum() / seen.sum() for k in range(kinds)]
    sets += [shapes(*lumped(200, seed, tails))[0] for tails in LUMPED]
    share += LUMPED.values()
    lines = [
        "# Shapes of heating curves of small plastic connectors: the prior of hotspot.reason.settling.",
        f"# Made by tests/benchmarks/settling_family.py (seed {seed}) from simulated curves, not from hardware:",
        f"# {len(weights)} curves, time divided by the time to 63.2 % and rise by the settled rise, each fitted",
        "# (ridge 0.01) with sum_k w_k (1 - exp(-u / tau_k)), then split by k-means on start and tail. The last two",
        "# kinds: 200 lumped bodies each.",
        "# Weights are signed: that makes the late start. Per kind: its share, mean and covariance of w. No unit.",
        f"taus = {_rows(TAUS)}",
    ]
    for part, mine in zip(share, sets, strict=True):
        lines += [
            "",
            "[[kind]]",
            f"share = {part:.4f}",
            f"mean = {_rows(mine.mean(0))}",
            "covariance = [",
            *[f"  {_rows(row)}," for row in np.cov(mine.T)],
            "]",
        ]
    out = Path(__file__).resolve().parents[2] / "hotspot" / "handbook" / "settling_prior.toml"
    out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
