"""One pin in one stage of two tests on one footing: rise against rise at the same time, load and ambient."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from hotspot.handbook.criteria import section
from hotspot.physics.statistics import rectangular, root_sum_squares
from hotspot.reason import rise
from hotspot.reason.footing_load import UNCREDITED, carried
from hotspot.reason.stage_ends import LEAST_UNCERTAINTY_K, common_uncertainty
from hotspot.reason.verdicts import bare_metal
from hotspot.records import Results, Statement
from hotspot.session import Session, Stage

if TYPE_CHECKING:
    import pandas as pd

ALIKE_SIZE = 0.1
"""Pins whose size in the picture differs by less than this share lose alike to the camera's blur. Ours."""

LARGE_RADIUS_PX = 5.0
"""Pins from this radius on lose nothing that counts: 10 pixels across, as for `reads_low`."""

COLD_WITHIN_S = 1.0
"""A frame this soon after the load came on still shows a cold connector."""

TIMES_ON_DISK_S, TIMES_ON_DISK_SHARE = 1e-6, 1e-8
"""How far rounding moves times: readings.csv keeps six decimals, findings.json nine digits."""


@dataclass(frozen=True, slots=True)
class Side:
    """One pin in one stage of one test. `rise_k` (n,) over time into the stage `into_s` (n,), outliers NaN."""

    session: Session
    stage: Stage | None
    pin: str
    amps: float | None
    into_s: np.ndarray
    rise_k: np.ndarray
    uncertainty_k: float
    accuracy_k: float
    clipped: np.ndarray  # (n,) 1 at the high end of the scale, -1 at the low end, else 0
    over_k: float  # over_neighbours_c
    settled_k: tuple[float, float] | None  # rise and its standard uncertainty, where it is known
    seen_through: tuple[str, float | None] = ("", None)  # SHA-256 of a calibration file; radius of the pin, px
    shape_only: bool = False
    stage_amps: Mapping[str, float] = field(default_factory=dict)  # of every pin whose current is known
    others_unknown: bool = False  # whether there are pins whose current is not known
    cold_k: float = math.nan  # what the pins read over their ambient before the load; NaN without a cold start
    guessed_k: tuple[float, float] = (0.0, 0.0)  # of an ambient that is an estimate, see `_guessed`

    @property
    def loaded(self) -> bool:
        """Whether any pin is known to carry current in this stage."""
        return any(amps > 0.0 for amps in self.stage_amps.values())

    @property
    def until_s(self) -> float:
        """How far into the stage its readings reach; NaN without any."""
        good = np.flatnonzero(np.isfinite(self.rise_k))
        return float(self.into_s[good[-1]]) if good.size else float("nan")


@dataclass(frozen=True, slots=True)
class Footing:
    """What the two sides come to. K; NaN where it cannot be had. `refused`: why it is not comparable, if so."""

    before_k: float
    after_k: float
    expected_k: float
    uncertainty_k: float
    basis: tuple[Statement, ...]
    refused: Statement | None
    load_known: bool
    clipped: tuple[str, str] = ("", "")  # high or low where the rise before, or after, is a bound


def side_of(results: Results, session: Session, number: int, pin: str) -> Side:
    """The side of `pin` in the stage of that number in findings["stages"]."""
    span = results.findings["stages"][number]
    name = str(span["name"])
    rows = results.readings
    rows = rows[(rows["pin"].astype(str) == pin)].sort_values("time_s", kind="stable")
    times = rows["time_s"].to_numpy(float)
    out = rise.outliers(times, rows["temperature_c"].to_numpy(float))
    inside = (rows["stage"].fillna("").astype(str) == name).to_numpy()
    start, end = float(span["start_s"]), float(span["end_s"])
    slack = TIMES_ON_DISK_S + TIMES_ON_DISK_SHARE * max(abs(start), abs(end))
    inside = inside & (times >= start - slack) & (times <= end + slack)
    u = rows["uncertainty_c"].to_numpy(float)[inside]
    common = common_uncertainty(rows, session)[inside][np.isfinite(u)]
    u = u[np.isfinite(u)]
    line = results.pins
    line = line[(line["pin"].astype(str) == pin) & (line["stage"].fillna("").astype(str) == name)]
    ambient = (rows["temperature_c"] - rows["rise_c"]).to_numpy(float)[inside]
    return Side(
        session=session,
        stage=next((stage for stage in session.stage if stage.name == name), None),
        pin=pin,
        amps=_number(line, "amps"),
        into_s=times[inside] - start,
        rise_k=np.where(out, np.nan, rows["rise_c"].to_numpy(float))[inside],
        uncertainty_k=max(float(np.median(u)) if u.size else LEAST_UNCERTAINTY_K, LEAST_UNCERTAINTY_K),
        accuracy_k=float(np.median(common)) if common.size else rectangular(session.camera.accuracy_k or 0.0),
        clipped=rows["clipped"].fillna("")[inside].map({"low": -1, "high": 1}).fillna(0).to_numpy(int),
        over_k=_nan(_number(line, "over_neighbours_c")),
        settled_k=_settled(line, ambient[np.isfinite(ambient)]),
        seen_through=_seen_through(results, pin),
        shape_only=bool(rows["quality"].fillna("").astype(str).str.contains("few_pixels").any()),
        stage_amps=_stage_amps(results, name),
        others_unknown=bool(_rows(results, name)["amps"].isna().any()),
        cold_k=_cold(results),
        guessed_k=_guessed(results),
    )


def _guessed(results: Results) -> tuple[float, float]:
    """Standard uncertainty [K] of an ambient that is an estimate, whole and of what it moved by since the cold start; 0
    for one that was told."""
    told = (results.findings.get("settings") or {}).get("ambient") or {}
    if "uncertainty_k" not in told:
        return 0.0, 0.0
    return float(told["uncertainty_k"]), float(told.get("drift_unsure_k", told["uncertainty_k"]))


def _rows(results: Results, name: str) -> pd.DataFrame:
    """Lines of pins.csv of that stage."""
    return results.pins[results.pins["stage"].fillna("").astype(str) == name]


def _stage_amps(results: Results, name: str) -> dict[str, float]:
    rows = _rows(results, name).dropna(subset=["amps"])
    return dict(zip(rows["pin"].astype(str), rows["amps"].astype(float), strict=True))


def _cold(results: Results) -> float:
    """What the pins read over their ambient in the first frame, if that came before any load and found them alike: the
    errors of the ambient and of the camera's level together."""
    numbers, table = section("compare"), results.readings
    loaded = set(results.pins.loc[results.pins["amps"].fillna(1.0) > 0.0, "stage"].fillna("").astype(str))
    starts = [float(span["start_s"]) for span in results.findings["stages"] if str(span["name"]) in loaded]
    first = table[table["time_s"] == table["time_s"].min()]
    values = first["rise_c"].dropna().to_numpy(float)
    if not values.size or not starts or float(first["time_s"].iloc[0]) > min(starts) + COLD_WITHIN_S:
        return math.nan
    if np.ptp(values) > numbers["cold_alike_k"] or abs(np.median(values)) > numbers["cold_most_k"]:
        return math.nan
    return float(np.median(values))


def _seen_through(results: Results, pin: str) -> tuple[str, float | None]:
    """The calibration file that counts were read through, and how large the pin was in the picture."""
    file = (results.findings.get("settings") or {}).get("calibration") or {}
    own = next((entry for entry in results.findings.get("pins") or () if str(entry.get("name")) == pin), {})
    return str(file.get("sha256", "")), own.get("radius_px")


def _number(line: pd.DataFrame, column: str) -> float | None:
    value = float(line[column].iloc[0]) if len(line) else math.nan
    return value if math.isfinite(value) else None


def _nan(value: float | None) -> float:
    return math.nan if value is None else value


def _settled(line: pd.DataFrame, ambient: np.ndarray) -> tuple[float, float] | None:
    middle, low, high = (_number(line, f"settled_{end}") for end in ("c", "low_c", "high_c"))
    if middle is None or low is None or high is None or not ambient.size:
        return None
    return middle - float(ambient[-1]), (high - low) / (2.0 * 1.96)


def on_one_footing(before: Side, after: Side) -> Footing:
    """Carries the earlier rise to the later test's time into the stage and load, and counts what is uncertain of one
    pin; what all pins share from day to day is for `hotspot.reason.footing_day`."""
    before_k, after_k, u_before, u_after, said = _at_the_same_time(before, after)
    factor, u_factor, load = carried(before, after)
    offset, u_offset, cold_said = _level(before, after, factor)
    expected = (before_k - _known(before.cold_k, offset)) * factor + _known(after.cold_k, offset)
    warm, warm_said = _warm_start(before, after, factor)
    alike = _alike(before, after, (expected, after_k))
    uncertainty = root_sum_squares(
        factor * alike * u_before, alike * u_after, factor * LEAST_UNCERTAINTY_K, LEAST_UNCERTAINTY_K,
        u_offset, warm, section("compare")["replug"] * expected, u_factor * before_k,
        section("compare")["change_share"] * (after_k - expected),
    )  # fmt: skip
    settled = any(each.code == "basis_settled" for each in said)
    refused = _refusal(before, after, settled) if math.isfinite(before_k + after_k) else _no_value(before, after)
    if refused is None and not math.isfinite(factor):
        refused = load[0]
    known = load[0].code not in UNCREDITED
    basis = (*said, *load, *_conditions(before, after), *cold_said, *warm_said)
    until = min(before.until_s, after.until_s)
    clipped = ("", "") if settled else (_end_of_scale(before, until), _end_of_scale(after, until))
    return Footing(before_k, after_k, expected, uncertainty, basis, refused, known, clipped)


def _level(before: Side, after: Side, factor: float) -> tuple[bool, float, list[Statement]]:
    """(whether both cold starts tell the level, standard uncertainty of the level [K], what is to be said).

    Where both tests began cold, what the pins read over their ambient then is the error of ambient and camera in that
    test, and drops out; else the ambient's own limits stand for it.
    """
    numbers = section("compare")
    guessed = [word for word, side in (("before", before), ("after", after)) if side.guessed_k[0] > 0.0]
    said = [Statement("basis_ambient_estimated", {"tests": guessed})] if guessed else []
    if not math.isfinite(before.cold_k + after.cold_k):
        ambient = rectangular(numbers["ambient_k"])
        each = [max(ambient, side.guessed_k[0]) for side in (before, after)]
        return False, math.hypot(each[1], factor * each[0]), said
    apart = after.cold_k - factor * before.cold_k
    if abs(apart) > 0.25:
        said.append(Statement("basis_cold", {"before": before.cold_k, "after": after.cold_k}))
    each = [math.hypot(numbers["cold_k"], side.guessed_k[1]) for side in (before, after)]
    return True, math.hypot(each[1], factor * each[0]), said


def _known(value: float, known: bool) -> float:
    return value if known else 0.0


def _alike(before: Side, after: Side, rises: tuple[float, float]) -> float:
    """Share of a side's own uncertainty that is left: same camera, same surface err alike at like rises (emissivity,
    reflections), so only the share by which the rises differ is left."""
    surfaces = [side.session.emissivity_of(side.pin) for side in (before, after)]
    if surfaces[0] != surfaces[1] or not same_camera(before.session, after.session):
        return 1.0
    expected, after_k = rises
    return min(abs(after_k - expected) / max(abs(after_k), abs(expected), 1.0), 1.0) if math.isfinite(expected) else 1.0


def _at_the_same_time(before: Side, after: Side) -> tuple[float, float, float, float, list[Statement]]:
    """(rise before, rise after, their standard uncertainties, what they rest on)."""
    own = [_own(side, before, after) for side in (before, after)]
    ends = (before.until_s, after.until_s)
    until = min(ends)
    if not math.isfinite(until):
        values = [rise.end_value(side.into_s, side.rise_k)[0] for side in (before, after)]
        return values[0], values[1], own[0], own[1], []
    if before.settled_k and after.settled_k and until < 0.5 * max(ends):
        said = [Statement("basis_settled")]
        u = [math.hypot(side.settled_k[1], mine) for side, mine in zip((before, after), own, strict=True)]
        return before.settled_k[0], after.settled_k[0], u[0], u[1], said
    values = [rise.value_at(side.into_s, side.rise_k, until) for side in (before, after)]
    return values[0], values[1], own[0], own[1], [Statement("basis_same_time", {"time": until})]


def _own(side: Side, before: Side, after: Side) -> float:
    """Uncertainty of one side: the same camera in both tests, read through the same calibration and from as near, errs
    alike, so that what its pins have in common (accuracy, calibration, loss to the blur) drops out."""
    if not same_camera(before.session, after.session) or not _seen_alike(before, after):
        return side.uncertainty_k
    return max(math.sqrt(max(side.uncertainty_k**2 - side.accuracy_k**2, 0.0)), LEAST_UNCERTAINTY_K)


def _seen_alike(before: Side, after: Side) -> bool:
    (file, radius), (later_file, later_radius) = before.seen_through, after.seen_through
    if file != later_file:
        return False
    if None in (radius, later_radius) or min(radius, later_radius) >= LARGE_RADIUS_PX:
        return True
    return abs(math.log(later_radius / radius)) <= ALIKE_SIZE


def same_camera(before: Session, after: Session) -> bool:
    """Whether both tests name the same camera."""
    return bool(before.camera.name) and before.camera.name == after.camera.name


def _conditions(before: Side, after: Side) -> list[Statement]:
    """What differs between the tests, or is not known, said and never passed over."""
    said = []
    first, second = before.session, after.session
    if not same_camera(first, second):
        named = first.camera.name and second.camera.name
        said.append(Statement("basis_camera_differs" if named else "basis_camera_unknown"))
    supplies = [side.stage.supply if side.stage else None for side in (before, after)]
    if supplies[0] != supplies[1]:
        said.append(Statement("basis_supply_differs", {"before": supplies[0] or "?", "after": supplies[1] or "?"}))
    faces = (first.connector.face, second.connector.face)
    if (faces[0] is None) != (faces[1] is None):
        said.append(Statement("basis_face_unknown"))
    if first.emissivity_of(before.pin) != second.emissivity_of(after.pin):
        said.append(Statement("basis_surface_differs"))
    return said


def _warm_start(before: Side, after: Side, factor: float) -> tuple[float, list[Statement]]:
    """Standard uncertainty [K] from two stages that began at different rises for their loads, and its sentence."""
    starts = [rise.start_value(side.into_s, side.rise_k) for side in (before, after)]
    levels = [side.cold_k if math.isfinite(side.cold_k) else 0.0 for side in (before, after)]
    apart = abs((starts[1] - levels[1]) - factor * (starts[0] - levels[0]))
    if not apart > section("compare")["steady_k"]:
        return 0.0, []
    until = min(before.until_s, after.until_s)
    left = apart * math.exp(-until / section("compare")["time_constant_s"])
    said = Statement("basis_warm_start", {"before": starts[0], "after": starts[1]})
    return rectangular(left), [said]


def _is_bound(side: Side, until_s: float | None) -> bool:
    """Whether a reading that the rise at `until_s` into the stage is taken from is clipped; None: any reading."""
    return bool(_clipped_near(side, until_s).any())


def _end_of_scale(side: Side, until_s: float) -> str:
    """`high` or `low` where the rise at `until_s` into the stage is a bound, else empty."""
    hit = _clipped_near(side, until_s)
    hit = hit[hit != 0]
    return "" if not hit.size else ("high" if hit[-1] > 0 else "low")


def _clipped_near(side: Side, until_s: float | None) -> np.ndarray:
    """`clipped` of the readings that the rise at `until_s` is taken from; None: of all."""
    if until_s is None or not side.into_s.size:
        return side.clipped
    usual = float(np.median(np.diff(side.into_s))) if side.into_s.size > 1 else 0.0
    return side.clipped[np.abs(side.into_s - until_s) <= max(rise.WINDOW_S, usual)]


def _refusal(before: Side, after: Side, settled: bool) -> Statement | None:
    faces = (before.session.connector.face, after.session.connector.face)
    if None not in faces and faces[0] != faces[1]:
        return Statement("refused_face", {"before": faces[0], "after": faces[1]})
    until = None if settled else min(before.until_s, after.until_s)
    if _is_bound(before, until) or _is_bound(after, until):
        return Statement("refused_clipped")
    if bare_metal(before.session, before.pin) or bare_metal(after.session, after.pin):
        return Statement("refused_bare_metal")
    if before.shape_only or after.shape_only:
        return Statement("refused_shape_only")
    idle = [side.amps == 0.0 for side in (before, after)]
    if idle[0] != idle[1] or (all(idle) and before.loaded != after.loaded and not _any_unknown(before, after)):
        return Statement("refused_unloaded")
    return None


def _any_unknown(before: Side, after: Side) -> bool:
    return before.others_unknown or after.others_unknown


def _no_value(before: Side, after: Side) -> Statement:
    """Why a rise is missing: no reading at all, or no ambient to take it over."""
    if not before.into_s.size or not after.into_s.size:
        return Statement("refused_no_readings")
    missing = [which for which, side in (("before", before), ("after", after)) if not np.isfinite(side.rise_k).any()]
    return Statement("refused_no_ambient", {"tests": missing}) if missing else Statement("refused_no_readings")
