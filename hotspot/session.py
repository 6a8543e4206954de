"""The typed description of one test: what the keys of session.toml become.

Every temperature here is in °C, every difference in K; `hotspot.read.session_file` converts from the
file's `units`. What is not known is None, never a plausible default. The descriptions of the fields are
the source of the reference page.
"""

from __future__ import annotations

import datetime
import typing
from collections.abc import Hashable
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic.fields import FieldInfo

Reading = Literal["temperature", "counts", "colours", "table"]
Temp = Annotated[float, Field(json_schema_extra={"converted": "temperature"})]
"""An absolute temperature: °C here, in `units` in the file."""
FramesTemp = Annotated[float, Field(json_schema_extra={"converted": "frames"})]
Positive = Annotated[float, Field(gt=0)]
Emissivity = Annotated[float, Field(gt=0, le=1)]
_Clock = datetime.time | datetime.datetime | datetime.date


def _clock_as_text(value: Any) -> Any:
    """TOML has clock times and dates of its own; inside they are text in ISO form."""
    return value.isoformat() if isinstance(value, _Clock) else value


def _not_blank(value: str) -> str:
    if not value.strip():
        raise ValueError("is blank")
    return value


ClockText = Annotated[str, BeforeValidator(_clock_as_text)]
Name = Annotated[str, AfterValidator(_not_blank)]


class Part(BaseModel):
    """Base of every table of the file: strict types, no unknown keys, no NaN, unchangeable."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, frozen=True)


class Job(Part):
    """[job]: free words for the report and for finding the item again."""

    id: str = Field("", description="order or job number")
    item: str = Field("", description="what was tested")
    customer: str = ""
    technician: str = ""
    date: ClockText = ""
    complaint: str = Field("", description="what the customer said")
    cause: str = Field("", description="what was found to be the cause, once it is known")
    correction: str = Field("", description="what was done about it, or is to be done, after this test")
    changed: str = Field("", description="what was done since the test before")
    notes: str = ""


class Frames(Part):
    """[frames]: which files hold the frames and what their values are."""

    files: str | None = Field(None, description="a glob, one multi-page TIFF, one stack, one video, one CSV")
    reading: Reading | None = Field(None, description="temperature, counts, colours or table")
    unit: Literal["C", "F", "K"] = Field("C", description="unit of the values, and of gain and offset")
    gain: float | None = Field(None, description="counts: temperature = gain * count + offset, in `unit`")
    offset: float | None = Field(None, description="counts: see gain")
    calibration: str | None = Field(
        None, description="counts: a calibration file instead of gain and offset, relative to the session folder"
    )
    size: Annotated[list[Annotated[int, Field(gt=0)]], Field(min_length=2, max_length=2)] | None = Field(
        None, description="width, height: only for a CSV that holds a whole frame in one line"
    )
    time: str = Field("time_s", description="table: heading of the time column")
    columns: dict[str, str] | None = Field(None, description="table: pin -> heading")
    screen: Annotated[list[float], Field(min_length=8, max_length=8)] | Literal["find", "none"] | None = Field(
        None,
        description='a photographed screen: its four corners, x, y, clockwise from the top left; or "find". All other '
        "x, y and boxes are then pixels of the straightened screen, as wide and high as its longer sides. "
        'Pictures that only look like photos of a screen: "none"',
    )
    every_s: Positive | None = Field(
        None,
        description="seconds between frames; absent: frames.csv, a video's time stamps, names, EXIF, file dates",
    )
    start_s: float = Field(0.0, description="session time of the first frame, in seconds")

    @property
    def filmed(self) -> bool:
        """Whether the frames are stated to be photos of a screen."""
        return self.screen not in (None, "none")


class Clock(Part):
    """[clock]: what is added to the clock times of the camera and of the log, in seconds."""

    frames_offset_s: Annotated[float, Field(ge=-4e9, le=4e9)] = Field(
        0.0, description="seconds added to the camera's clock times"
    )
    log_offset_s: Annotated[float, Field(ge=-4e9, le=4e9)] = Field(
        0.0, description="seconds added to the log's clock times"
    )


class Camera(Part):
    """[camera]: its name, its maker's limits of error (rectangular, K) and its pixel noise (K)."""

    name: str = Field("", description="the same words in two sessions mean the same camera")
    accuracy_k: Annotated[float, Field(ge=0)] | None = Field(
        None, description="limits of error that the maker states, K, common to all pins (rectangular)"
    )
    noise_k: Annotated[float, Field(ge=0)] | None = Field(
        None, description="temperature noise of a pixel, K; absent: estimated from the frames"
    )


class Scale(Part):
    """[scale]: how the colours of a picture become temperatures."""

    low: Temp | None = Field(None, description="temperature of the first colour")
    high: Temp | None = Field(None, description="temperature of the last colour; linear between")
    map: str | None = Field(
        None, description='a colour map of matplotlib, or "bar", or a picture file that holds a strip'
    )
    bar: Annotated[list[float], Field(min_length=4, max_length=4)] | None = Field(
        None, description="x, y, width, height in pixels of the colour bar in the frame; absent: found"
    )
    high_end: Literal["top", "bottom", "left", "right"] | None = Field(
        None, description="where the bar's or strip's hot end is; absent: top, or right"
    )
    table: str | None = Field(
        None, description="a CSV of file,low,high, where the camera re-ranged its scale from frame to frame"
    )

    @model_validator(mode="after")
    def _ends(self) -> Scale:
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"low {self.low:g} is not below high {self.high:g}")
        return self


class Surface(Part):
    """[surface]: what is looked at, and what the camera was set to."""

    emissivity: Emissivity | None = Field(
        None, description="of what is looked at; a pin can have its own; absent: not known"
    )
    reflected: Temp | None = Field(None, description="reflected apparent temperature; absent: ambient")
    set_emissivity: Emissivity | None = Field(
        None, description="what the camera was set to when it made the frames; absent: not undone"
    )
    set_reflected: Temp | None = Field(None, description="likewise")
    band_um: Annotated[list[Positive], Field(min_length=2, max_length=2)] = Field(
        [8.0, 14.0], description="wavelengths that the camera sees, in micrometres"
    )

    @model_validator(mode="after")
    def _band(self) -> Surface:
        if self.band_um[0] >= self.band_um[1]:
            raise ValueError("band_um: the first wavelength is not below the second")
        return self


class Connector(Part):
    """[connector]: the grid of its pins, the face that the camera sees, and its ratings."""

    rows: Annotated[int, Field(gt=0, le=64)] | None = Field(
        None, description="rows of the grid of pins; needed unless every pin is placed, or the reading is `table`"
    )
    columns: Annotated[int, Field(gt=0, le=64)] | None = Field(None, description="columns of the grid")
    face: Literal["mating", "wire", "housing"] | None = Field(None, description="the side that the camera sees")
    numbering: Literal["row", "column", "snake", "row mirror", "column mirror", "snake mirror"] = Field(
        "row", description="how found pins are named"
    )
    pin1: str = Field("", description="free words printed under every picture: how to know pin 1")
    empty: list[str] = Field([], description="positions without a pin")
    on: str | None = Field(
        None, description="the frame that x and y of the pins are measured on; absent: the first good frame"
    )
    pitch_mm: Positive | None = Field(None, description="distance of neighbouring pins, mm")
    rated: Temp | None = Field(None, description="highest temperature of the housing or terminal")
    wire_rated: Temp | None = Field(None, description="highest temperature of the wire's insulation")


class Pin(Part):
    """[[pin]]: one pin; x and y are pixels, (0, 0) the centre of the top left pixel."""

    name: Name
    x: float | None = Field(None, description="centre in pixels, to the right; absent: the program finds the pins")
    y: float | None = Field(None, description="centre in pixels, downward")
    radius: Positive | None = Field(None, description="radius of the pin's face in pixels")
    wire: str | None = Field(None, description='"2.5 mm2", "AWG 14" or "SAE 14"')
    lead: str | None = Field(None, description="a replacement lead spliced to it")
    terminal: str | None = Field(
        None, description='the wire range that the terminal is made for, such as "1.5-2.5 mm2"'
    )
    splice: str | None = Field(None, description="the same for a splice")
    splice_mm: Positive | None = Field(None, description="where the splice sits, mm from the connector")
    strands: Annotated[float, Field(gt=0, le=1)] | None = Field(
        None, description="share of the strands that are left, where some were cut"
    )
    return_of: list[str] = Field([], description="the pins whose currents this one carries back")
    emissivity: Emissivity | None = Field(None, description="of this pin, where it differs from the surface's")

    @model_validator(mode="after")
    def _both(self) -> Pin:
        if (self.x is None) != (self.y is None):
            raise ValueError("x and y go together: give both or neither")
        return self


class Stage(Part):
    """[[stage]]: one step of the load, [start, end)."""

    name: str = ""
    start_s: float | None = Field(None, description="session time at which it starts, s")
    end_s: float | None = Field(
        None, description="session time at which it ends, s; absent: the start of the next stage, or the last frame"
    )
    start: ClockText | None = Field(None, description="clock time, or a frame's file name")
    end: ClockText | None = Field(None, description="clock time, or a frame's file name")
    amps: dict[str, Annotated[float, Field(ge=0)]] | Annotated[float, Field(ge=0)] | Literal["equal"] | None = Field(
        None,
        description='by pin; one number: the same through every pin; "equal": alike, value not known; pins left out '
        "of the table carry nothing; absent: not known",
    )
    load: Literal["resistive", "motor", "unknown"] = Field("unknown", description="how the current follows `volts`")
    volts: Positive | None = Field(None, description="supply voltage, V")
    supply: Literal["battery", "engine", "charger", "bench"] | None = None

    @model_validator(mode="after")
    def _order(self) -> Stage:
        if self.start_s is not None and self.start is not None:
            raise ValueError("start_s and start say the same thing twice: keep one")
        if self.end_s is not None and self.end is not None:
            raise ValueError("end_s and end say the same thing twice: keep one")
        if self.start_s is not None and self.end_s is not None and self.end_s <= self.start_s:
            raise ValueError(f"ends at {self.end_s:g} s, before or when it starts ({self.start_s:g} s)")
        return self

    def amps_of(self, pin: str) -> float | None:
        """Current through `pin` in A; 0 for a pin left out of the table; None where it is not known."""
        if isinstance(self.amps, dict):
            return self.amps.get(pin, 0.0)
        return self.amps if isinstance(self.amps, float | int) else None

    @property
    def equal(self) -> bool:
        """True where every pin is known to carry the same current, whatever its value."""
        return self.amps == "equal" or isinstance(self.amps, float | int)


class Region(Part):
    """[[region]]: an area that is not a pin; box is x, y, width, height in pixels."""

    name: Name
    kind: Literal["ambient", "reference", "part", "wire", "splice", "ignore"] = Field(description="what the area shows")
    box: Annotated[list[float], Field(min_length=4, max_length=4)] = Field(description="x, y, width, height in pixels")
    pin: str | None = Field(None, description="which pin a wire, splice or part belongs to")
    at_mm: Annotated[float, Field(ge=0)] | None = Field(
        None, description="a wire spot's distance from the entry into the connector, mm"
    )

    @model_validator(mode="after")
    def _size(self) -> Region:
        if self.box[2] <= 0 or self.box[3] <= 0:
            raise ValueError("box: width and height must be above 0")
        return self


class Check(Part):
    """[[check]]: what was measured by hand."""

    pin: str
    kind: Literal["drop", "ohms", "pull", "fit", "look"] = Field(
        description="drop: volts across the mated pair under load"
    )
    stage: str | None = Field(None, description="the stage in which it was measured")
    volts: float | None = Field(None, description="V")
    amps: Annotated[float, Field(ge=0)] | None = Field(None, description="A")
    ohms: Annotated[float, Field(ge=0)] | None = Field(None, description="ohm")
    note: str = ""


class Event(Part):
    """[[event]]: something that happened, marked on the chart."""

    time_s: float = Field(description="session time, s")
    what: str
    pin: str | None = None


class Compare(Part):
    """[compare]: the change of rise that would matter, in K."""

    matters_k: Positive | None = Field(
        None, description="a change of rise that would matter, K; absent: the larger of 3 K and 10 % of the rise"
    )


class Session(Part):
    """One timed load test of one connector. `folder` is where its files lie.

    `file_units` is the unit that its files were written in, where `units` was overridden since.
    """

    folder: Path = Field(default=Path("."), exclude=True)
    file_units: Literal["C", "F", "K"] | None = Field(default=None, exclude=True)
    title: str = Field("", description="what the report is headed with")
    units: Literal["C", "F", "K"] = Field("C", description="unit of the temperatures here and in what people read")
    ambient: Temp | None = Field(None, description="air temperature; absent: the log's, a region's, or an estimate")
    job: Job = Job()
    frames: Frames = Frames()
    clock: Clock = Clock()
    camera: Camera = Camera()
    scale: Scale = Scale()
    surface: Surface = Surface()
    connector: Connector = Connector()
    pin: list[Pin] = []
    stage: list[Stage] = []
    region: list[Region] = []
    check: list[Check] = []
    event: list[Event] = []
    compare: Compare = Compare()

    @classmethod
    def load(cls, folder: str | Path | None, overrides: dict[str, Any] | None = None) -> Session:
        """Read `folder`/session.toml; `overrides` are nested keys that stand above the file's. None: only those.

        Raises hotspot.errors.InputError with every problem found.
        """
        from hotspot.read.session_file import load

        return load(None if folder is None else Path(folder), overrides or {})

    @property
    def beside_units(self) -> Literal["C", "F", "K"]:
        """Unit of the temperatures in log.csv and scale.csv: that of the file, whatever people want to read."""
        return self.file_units or self.units

    def pin_named(self, name: str) -> Pin | None:
        """What the session says of a pin, or None."""
        return next((pin for pin in self.pin if pin.name == name), None)

    def emissivity_of(self, pin: str) -> float | None:
        """The pin's own emissivity, else the surface's, else None (not known)."""
        own = self.pin_named(pin)
        return own.emissivity if own and own.emissivity is not None else self.surface.emissivity


def is_temperature(model: type[Part], name: str) -> bool:
    """Whether the field `name` holds an absolute temperature: °C here, in `units` in the file and for people."""
    field = model.model_fields[name]
    return _marked_temp(field) or _is_temp(typing.cast(Hashable, field.annotation))


def _marked_temp(field: FieldInfo) -> bool:
    return isinstance(field.json_schema_extra, dict) and field.json_schema_extra.get("converted") == "temperature"


@cache
def _is_temp(annotation: Any) -> bool:
    """True for the type Temp, also where it stands in `Temp | None`."""
    if typing.get_origin(annotation) is Annotated:
        marks = [mark for mark in typing.get_args(annotation)[1:] if isinstance(mark, FieldInfo)]
        return any(_marked_temp(mark) for mark in marks)
    return any(_is_temp(inner) for inner in typing.get_args(annotation) if not isinstance(inner, str))
