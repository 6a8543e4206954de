"""The columns of the tables for machines: one registry, from which tables, docs and tests are made."""

from __future__ import annotations

from typing import NamedTuple


class Column(NamedTuple):
    """A column of a table for machines: name, unit (empty for none), kind, what it means."""

    name: str
    unit: str
    kind: str  # int, float, text
    meaning: str


READINGS: tuple[Column, ...] = (
    Column("frame", "", "int", "number of the frame, from 0 in time order"),
    Column("file", "", "text", "name of the frame's file; name#k for a frame of a stack or a video"),
    Column("time_s", "s", "float", "session time"),
    Column("stage", "", "text", "name of the stage, empty outside every stage"),
    Column("pin", "", "text", "name of the pin"),
    Column("temperature_c", "°C", "float", "mean surface temperature over the pin's face"),
    Column("uncertainty_c", "K", "float", "standard uncertainty (k = 1) of temperature_c"),
    Column("rise_c", "K", "float", "temperature over ambient; empty where the ambient is not known"),
    Column("pixels", "", "float", "sum of weights over the pin's face"),
    Column("clipped", "", "text", "low, high or empty: the side on which the scale clips the pin"),
    Column("shift_px", "px", "float", "how far the frame moved against the first good one; empty if not measured"),
    Column("quality", "", "text", "names of the doubts, joined by ;"),
    Column("common_c", "K", "float", "part of uncertainty_c that moves all like pins of the picture alike"),
    Column("drift_c", "K", "float", "by how much air and camera moved since the start, as seen in the surroundings"),
)

PINS: tuple[Column, ...] = (
    Column("stage", "", "text", "name of the stage"),
    Column("pin", "", "text", "name of the pin"),
    Column("amps", "A", "float", "current through the pin in this stage"),
    Column("last_c", "°C", "float", "temperature at the end of what was recorded of the stage"),
    Column("last_s", "s", "float", "session time of last_c"),
    Column("settled_c", "°C", "float", "temperature that the stage is heading for"),
    Column("settled_low_c", "°C", "float", "lower end of its 95 % interval"),
    Column("settled_high_c", "°C", "float", "upper end of its 95 % interval"),
    Column("time_constant_s", "s", "float", "time constant of the approach"),
    Column("settled", "", "text", "yes, no or empty (cannot be told)"),
    Column("end_c", "°C", "float", "temperature expected at the stage's planned end"),
    Column("end_low_c", "°C", "float", "lower end of its 95 % interval"),
    Column("end_high_c", "°C", "float", "upper end of its 95 % interval"),
    Column("rise_c", "K", "float", "last_c over ambient"),
    Column("over_neighbours_c", "K", "float", "rise over the median rise of the peers"),
    Column("heat_ratio", "", "float", "heat made here against the median of the peers, each at its own load"),
    Column("heat_ratio_low", "", "float", "lower end of its 95 % interval"),
    Column("heat_ratio_high", "", "float", "upper end of its 95 % interval"),
    Column("verdict", "", "text", "normal, watch, hot or unknown"),
    Column("reasons", "", "text", "sentences joined by ' | '"),
    Column("last_clipped", "", "text", "high where last_c is at least so much, for the scale ends there; low: at most"),
)

COMPARE: tuple[Column, ...] = (
    Column("stage", "", "text", "name of the stage"),
    Column("pin", "", "text", "name of the pin"),
    Column("before_rise_c", "K", "float", "rise over ambient before"),
    Column("after_rise_c", "K", "float", "rise over ambient after"),
    Column("expected_rise_c", "K", "float", "the earlier rise carried to the later test's load and soak time"),
    Column("change_c", "K", "float", "after_rise_c - expected_rise_c"),
    Column("change_low_c", "K", "float", "lower end of its 95 % interval"),
    Column("change_high_c", "K", "float", "upper end of its 95 % interval"),
    Column("basis", "", "text", "what the comparison rests on"),
    Column("verdict", "", "text", "better, same, worse or not comparable: of the rise only"),
    Column("before_heat_ratio", "", "float", "heat_ratio before"),
    Column("after_heat_ratio", "", "float", "heat_ratio after"),
    Column("heat_change", "", "float", "heat made at the pin after / before, at equal current"),
    Column("heat_change_low", "", "float", "lower end of its 95 % interval"),
    Column("heat_change_high", "", "float", "upper end of its 95 % interval"),
    Column("repaired", "", "text", "yes, no or empty"),
    Column("smallest_change_c", "K", "float", "change of rise, up or down, from which this row would have shown one"),
    Column("smallest_heat_change", "", "float", "the same of the heat made, as a share of it"),
    Column("session", "", "text", "the later session that the row compares with the first"),
    Column(
        "before_clipped",
        "",
        "text",
        "high where before_rise_c is at least so much, as the scale ends there; low: at most",
    ),
    Column("after_clipped", "", "text", "the same of after_rise_c"),
)


def column_names(columns: tuple[Column, ...]) -> list[str]:
    """The names in the order of the contract."""
    return [column.name for column in columns]
