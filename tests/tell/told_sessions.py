"""Small analyses and comparisons made by hand, for tests of what is told. Nothing here was measured."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from hotspot.columns import COMPARE, PINS, READINGS, column_names
from hotspot.records import Analysis, Comparison, Findings, PinFinding, PinMap, Results, Snapshot, StageSpan, Statement
from hotspot.session import Session

SAID = Statement("caution_bare_metal", {})
AMBIENT = 21.0


NEAR = (
    Statement(
        "limit_rated_left",
        {
            "pin": "2",
            "limit": 85.0,
            "away": 18.8,
            "low": 17.2,
            "high": 20.4,
            "where": Statement("limit_where", {"last": 66.2, "at": 1200.0, "rise": 45.2, "ambient": 21.0, "amps": 9.0}),
        },
    ),
)


def amplitude(place: int) -> float:
    """The rise that a pin is heading for: the second pin is far above the rest."""
    return 46.0 if place == 1 else 14.0 + 6.0 * np.exp(-abs(place - 1) / 2.0)


def readings(names: list[str], times: np.ndarray, stages: tuple[StageSpan, ...]) -> pd.DataFrame:
    """A first-order warm-up of each pin."""
    rows = []
    for frame, time in enumerate(times):
        stage = next((s.name for s in stages if s.start_s <= time < s.end_s), "")
        for place, name in enumerate(names):
            rise = amplitude(place) * (1 - np.exp(-time / 300.0))
            told = (frame, f"f{frame:04d}.tiff", time, stage, name, AMBIENT + rise, 0.8, rise)
            rows.append((*told, 78.5, "", 0.2, "", 0.0, np.nan))
    table = pd.DataFrame(rows, columns=column_names(READINGS))
    return table.astype({"pin": "object", "stage": "object", "clipped": "object", "quality": "object"})


def pin_table(table: pd.DataFrame, stages: tuple[StageSpan, ...], names: list[str]) -> pd.DataFrame:
    """A row per stage and pin with everything that can be empty left empty for the last pin."""
    rows = []
    for stage in stages:
        for place, name in enumerate(names):
            here = table[(table["pin"] == name) & (table["stage"] == stage.name)]
            row = dict.fromkeys(column_names(PINS))
            row |= {"stage": stage.name, "pin": name, "settled": "", "verdict": verdict_of(place, names)}
            row["reasons"] = (SAID,) if place == 1 else ()
            if len(here) and place != len(names) - 1:
                last = here.iloc[-1]
                row |= {
                    "amps": 9.0,
                    "last_c": last["temperature_c"],
                    "last_s": last["time_s"],
                    "settled": "no",
                }
                row |= {
                    "settled_c": 70.0,
                    "settled_low_c": 66.0,
                    "settled_high_c": 75.0,
                    "rise_c": last["rise_c"],
                }
                row |= {
                    "heat_ratio": 2.9 if place == 1 else 1.0,
                    "heat_ratio_low": 0.8,
                    "heat_ratio_high": 4.4,
                }
                row |= {"over_neighbours_c": last["rise_c"] - 15.0, "time_constant_s": 300.0}
            rows.append(row)
    return pd.DataFrame(rows, columns=column_names(PINS)).astype({"reasons": "object"})


def verdict_of(place: int, names: list[str]) -> str:
    """The second pin is hot, the third on watch, the last not judged."""
    if place == 1:
        return "hot"
    if place == len(names) - 1 and place:
        return "unknown"
    return "watch" if place == 2 else "normal"


def snapshots(stages: tuple[StageSpan, ...], times: np.ndarray, names: list[str]) -> tuple[Snapshot, ...]:
    """First, middle and last frame of each stage: warm discs on a cool ground, 60 x 160 pixels."""
    rows, columns = np.indices((60, 160))
    found = []
    for stage in stages:
        chosen = sorted({stage.frames[i] for i in (0, len(stage.frames) // 2, -1)}) if stage.frames else []
        for frame in chosen:
            field = np.full((60, 160), AMBIENT)
            for place in range(len(names)):
                x, y = centre(place, len(names))
                rise = amplitude(place) * (1 - np.exp(-times[frame] / 300.0))
                field += rise * np.exp(-((rows - y) ** 2 + (columns - x) ** 2) / 90.0)
            file = f"f{frame:04d}.tiff"
            found.append(Snapshot(frame, file, float(times[frame]), stage.name, field.astype(np.float32)))
    return tuple(found)


def centre(place: int, count: int) -> tuple[float, float]:
    """Two rows of pins over the 160 x 60 picture."""
    across = -(-count // 2)
    return 20.0 + (place % across) * 120.0 / max(1, across - 1), 18.0 + 24.0 * (place // across)


def analysis(
    names: list[str] | None = None,
    frames: int = 61,
    staged: bool = True,
    about: dict | None = None,
    folder: Path | None = None,
) -> Analysis:
    """One test: a stage `half` and a stage `full`, or none at all; `about` is merged into the session."""
    names = names if names is not None else ["1", "2", "3", "4", "5", "6"]
    times = np.arange(frames) * 20.0
    session = Session.model_validate(
        {"title": "Elevator motor plug", "ambient": AMBIENT, "stage": stage_keys(names) if staged else []}
        | {"connector": {"rows": 2, "columns": 3, "face": "mating", "pin1": "lock left", "rated": 85.0}}
        | {"event": [{"time_s": 300.0, "what": "harness moved", "pin": names[0] if names else None}]}
        | (about or {})
    )
    stages = spans(session, times)
    table = readings(names, times, stages)
    placed = [centre(place, len(names)) for place in range(len(names))]
    pins = tuple(
        PinFinding(name, verdict_of(i, names), (SAID,) if i == 1 else (), *placed[i], 6.0, "given")
        for i, name in enumerate(names)
    )
    left_out = ({"pin": names[-1], "reason": SAID, "amps_needed": 4.5},) if len(names) > 2 else ()
    findings = Findings(
        answer=SAID,
        verdict="hot" if len(names) > 1 else "unknown",
        hottest_pin=names[1] if len(names) > 1 else None,
        source_pins=(names[1],) if len(names) > 1 else (),
        not_judged=left_out,
        pins=pins,
        next=(Statement("caution_moving", {}),),
        pin_table=pin_table(table, stages, names),
        limits=NEAR if names else (),
    )
    x, y = (np.array([p[axis] for p in placed]) for axis in (0, 1))
    pin_map = PinMap(tuple(names), x, y, np.full(len(names), 6.0), ("given",) * len(names))
    return Analysis(
        session=session,
        readings=table,
        ambient=pd.DataFrame({"time_s": times, "ambient_c": np.full(frames, AMBIENT)}),
        stages=stages,
        findings=findings,
        notices=(Statement("caution_air", {}, (3, 4)), Statement("caution_air", {}, (3, 4))),
        inputs={"session.toml": "0" * 64, "f0000.tiff": "1" * 64},
        settings={"clock": "every_s", "peers": np.float64(1.5)},
        version="0.0.0",
        pin_map=pin_map,
        snapshots=snapshots(stages, times, names),
    )


def stage_keys(names: list[str]) -> list[dict]:
    """Half load on all, then full load on all but the last pin."""
    full = dict.fromkeys(names[:-1], 9.0)
    return [
        {"name": "half", "start_s": 0.0, "end_s": 400.0, "amps": 4.5},
        {"name": "full", "start_s": 400.0, "end_s": 1500.0, "amps": full, "volts": 24.6},
    ]


def spans(session: Session, times: np.ndarray) -> tuple[StageSpan, ...]:
    """The session's stages laid on the frames; one nameless stage where there is none."""
    if not session.stage:
        last = float(times[-1]) + 1e-6 if len(times) else 1.0
        return (StageSpan("", 0.0, last, tuple(range(len(times)))),)
    return tuple(
        StageSpan(s.name, s.start_s, s.end_s, tuple(np.flatnonzero((times >= s.start_s) & (times < s.end_s))), s)
        for s in session.stage
    )


def results(name: str, told: Analysis, cooler: float = 1.0) -> Results:
    """An analysis as if read back from disk; `cooler` scales the second pin's rise."""
    from hotspot.tell.tables import findings_dict

    table = told.readings.copy()
    scale = np.where(table["pin"] == "2", cooler, 1.0)
    table["rise_c"] = table["rise_c"] * scale
    table["temperature_c"] = AMBIENT + table["rise_c"]
    return Results(name, table, told.findings.pin_table, findings_dict(told))


def comparison(names: list[str] | None = None) -> Comparison:
    """Pin 2 mended, the others the same."""
    names = names or ["1", "2", "3", "4"]
    rows = []
    for place, name in enumerate(names):
        row = dict.fromkeys(column_names(COMPARE))
        row |= {
            "stage": "full",
            "pin": name,
            "before_rise_c": amplitude(place),
            "basis": (SAID,),
            "repaired": "",
        }
        after = amplitude(place) * (0.4 if place == 1 else 1.0)
        row |= {
            "after_rise_c": after,
            "expected_rise_c": amplitude(place),
            "change_c": after - amplitude(place),
        }
        row |= {"change_low_c": -30.0 if place == 1 else -1.0, "change_high_c": -24.0 if place == 1 else 1.0}
        row |= {"verdict": "better" if place == 1 else "same", "smallest_change_c": 2.5}
        if place == 1:
            row |= {"heat_change": 0.36, "heat_change_low": 0.2, "heat_change_high": 0.5, "repaired": "yes"}
        rows.append(row)
    told = analysis(names)
    return Comparison(
        before=results("before", told),
        after=results("after", told, 0.4),
        table=pd.DataFrame(rows, columns=column_names(COMPARE)),
        answer="fixed",
        sentence=SAID,
        smallest_change_k=2.5,
        basis=(SAID,),
        notices=(Statement("caution_air", {}),),
        inputs={"before/readings.csv": "2" * 64},
        version="0.0.0",
    )
