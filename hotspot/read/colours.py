"""Colours -> temperature: which map, which scale, and one reader for all frames of a session."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from hotspot.doubts import BIT
from hotspot.errors import InputError, refuse
from hotspot.read.bar import MOST_MISFIT, Bar, bar_at, find_bar
from hotspot.read.carrier import CarrierTrouble
from hotspot.read.colour_blocks import halving_of
from hotspot.read.colour_carrier import Carrier
from hotspot.read.colour_curve import Curve
from hotspot.read.colour_drawn import as_drawn
from hotspot.read.colour_image import ColourImage, JpegSteps, Matrix, rgb_to_ycc, with_coding
from hotspot.read.colour_maps import ColourMap, known_map, meeting_notice, named_map, repeats
from hotspot.read.colour_pixels import OFF_LOSSY, ColourPixels, Reading
from hotspot.read.fingerprint import sha256_of
from hotspot.read.printed import printed_mask
from hotspot.read.scale import Scale, read_scale
from hotspot.records import Statement

if TYPE_CHECKING:
    from hotspot.session import Session

OWN_BAR = "bar"
_AGREES = 10.0  # levels: bar and known map closer than this are the same map, not touched since
_LOSSY_SUFFIXES = {".jpg", ".jpeg", ".jpe", ".jfif", ".webp"}
_CLEARLY_NEARER = 0.7  # of the distance by the usual coding of video
_MIDDLING = 2.0  # levels off the map, of a JPEG of quality 75-85
_SAMPLES = 20_000
_BLOCK = 16  # pixels
_MOST_PRINTED = 0.5  # of the picture
_FEWEST_ON_MAP = 0.2  # of the picture; less is a picture in other colours


@dataclass(slots=True)
class ColourReader:
    """Reads every frame of a session through one map and its scale. `doubts` are bits that hold for all pixels;
    `coding` is the range and matrix that a video without a word on them was found to have.
    """

    scale: Scale
    reading: Reading
    source: str  # known, strip or bar
    bar: Bar | None = None
    notices: list[Statement] = field(default_factory=list)
    inputs: dict[str, str] = field(default_factory=dict)
    doubts: int = 0
    coding: tuple[bool, Matrix] | None = None
    printed: np.ndarray | None = None

    def pixels(self, image: ColourImage, file: str) -> ColourPixels:
        """The temperatures of one frame; `file` is its name as the scale table has it.

        Raises CarrierTrouble where the table says that the frame's ends are doubtful.
        """
        if file in self.scale.doubtful:
            raise CarrierTrouble("its row in the scale table is marked doubtful")
        ends = self.scale.of(file)
        doubts = ends.doubts | self.doubts | (BIT["coding_assumed"] if image.assumed else 0)
        return ColourPixels(self.recoded(image), self.reading, replace(ends, doubts=doubts), self.printed)

    def recoded(self, image: ColourImage) -> ColourImage:
        """A frame of a video that does not state its coding, with the one that was found."""
        return image if self.coding is None or not image.assumed else with_coding(image, *self.coding)

    def learn_printed(self, images: Iterable[ColourImage]) -> None:
        """Find out what is printed on all frames, from some of them; the bar counts as printed too."""
        mask = printed_mask(self.reading, (self.recoded(image) for image in images))
        if mask is None or mask.mean() > _MOST_PRINTED:  # all of it is off the map: then the map is wrong
            return
        self.notices.append(Statement("printed_marks", {"share": float(mask.mean())}))
        if self.bar is not None:
            x, y, width, height = self.bar.box
            mask[max(y - 1, 0) : y + height + 1, max(x - 1, 0) : x + width + 1] = True
        self.printed = mask

    def describe(self) -> dict[str, Any]:
        """What was used, for `settings`."""
        said: dict[str, Any] = {
            "colour_map": self.reading.colours.name,
            "colour_map_source": self.source,
            "colour_carrier": "exact" if self.reading.carrier.exact else "lossy",
        }
        if self.bar is not None:
            said["bar"] = list(self.bar.box)
            said["bar_high_end"] = self.bar.high_end
            said["bar_misfit_levels"] = round(self.bar.misfit, 2)
        if self.coding is not None:
            said["video_range"] = "limited" if self.coding[0] else "full"
            said["video_matrix"] = self.coding[1]
        return said | self.scale.describe()


def open_scale(session: Session, first: ColourImage, names: Sequence[str], scale: Scale | None = None) -> ColourReader:
    """Settle map and scale on the first good frame. `names` are the files of the frames in time order; `scale` stands
    in for what the session says of its ends.

    Raises InputError where there is neither a map nor a bar, the map is striped or not there, the bar lies
    outside the picture, the ends of the scale are not given, or the picture is plainly an unstated photo of a screen.
    """
    stated = session.scale
    scale = read_scale(session, names) if scale is None else scale
    inputs = dict(scale.inputs)
    bar = _bar(session, first)
    if stated.map is None or stated.map == OWN_BAR:
        _refuse_untold(session, first, bar, None)
        if bar is None:
            raise _no_bar(stated.map)
        choice = _by_bar(bar)
    else:
        named, path = named_map(session.folder, stated.map, stated.high_end)
        _refuse_untold(session, first, bar, named)
        if path is not None:
            inputs[stated.map] = sha256_of(path)
        choice = _checked(named, "strip" if path else "known", bar, first)
    coding, said_of_coding = _coding(choice.colours, first)
    first = first if coding is None else with_coding(first, *coding)
    _unstriped(choice, first.shape if stated.bar is not None else None)  # before anything is said of it
    colours, carrier = _carried(choice, first, names)
    found = repeats(colours)
    said = list(choice.said)
    if choice.source != "bar" and _share_on_map(colours, first) < _FEWEST_ON_MAP:
        said.append(Statement("colour_map_misfits_picture", {"map": colours.name}))
        choice.doubts |= BIT["map_doubtful"]
    if bar is not None and stated.high_end is None and colours.name.endswith("_r") and stated.map != colours.name:
        values = {"map": colours.name.removesuffix("_r"), "high_end": bar.high_end}
        said.append(Statement("bar_reversed", values))
    notices = [*scale.notices, *meeting_notice(colours, found), *said, *said_of_coding]
    reading = Reading(colours, found, carrier)
    return ColourReader(scale, reading, choice.source, bar, notices, inputs, choice.doubts, coding)


def _unstriped(choice: _Choice, boxed: tuple[int, int] | None) -> None:
    """Raises InputError where colours come back along the map, or there is no ramp of colours in the bar's box; `boxed`
    is the size (rows, columns) of the picture that the box was laid on.
    """
    try:
        repeats(choice.colours)
    except InputError as striped:
        if choice.source == OWN_BAR and boxed is not None:
            mend = (
                "Give x, y, width and height of the bar in pixels, without the digits beside it; if other frames are "
                "of another size, let frames.files name those of one size."
            )
            where = f"a picture of {boxed[1]} x {boxed[0]} pixels"
            found = f"what lies in that box in {where} is no colour bar: its colours come back along it"
            raise refuse("session.toml", "scale.bar", found, mend) from striped
        raise


def _carried(choice: _Choice, first: ColourImage, names: Sequence[str]) -> tuple[ColourMap, Carrier]:
    """The map with the table that the picture was drawn by, and what the carrier did to its colours."""
    suffix = PurePath(names[0].split("#")[0]).suffix.lower() if names else ""
    compressed = first.planes is not None or suffix in _LOSSY_SUFFIXES
    colours, carrier = choice.colours, carrier_of(choice.colours, first, compressed)
    if choice.source == "known":
        colours = as_drawn(colours.name, first, carrier.exact, _off)
        carrier = carrier_of(colours, first, compressed)
    return colours, carrier


def _coding(colours: ColourMap, first: ColourImage) -> tuple[tuple[bool, Matrix] | None, list[Statement]]:
    """Range and matrix of a video that does not state them: the usual ones, unless the picture's colours lie
    clearly nearer to the map by others.
    """
    if not first.assumed:
        return None, []
    ranges = (first.limited_range, not first.limited_range) if "range" in first.assumed else (first.limited_range,)
    other: Matrix = "709" if first.matrix == "601" else "601"
    matrices = (first.matrix, other) if "matrix" in first.assumed else (first.matrix,)
    codings = [(limited, matrix) for limited in ranges for matrix in matrices]
    off = [_off(colours, with_coding(first, *coding)) for coding in codings]
    clearly = min(off) < min(_CLEARLY_NEARER * off[0], off[0] - 1.0)  # a grey map is near by any coding
    best = codings[int(np.argmin(off))] if clearly else codings[0]
    values = {"what": list(first.assumed), "matrix": best[1], "range": "limited" if best[0] else "full"}
    code = "video_coding_assumed" if best == codings[0] else "video_coding_by_colours"
    return best, [Statement(code, values)]


@dataclass(slots=True)
class _Choice:
    """The map to read by, where it is from (known, strip or bar), what to say, bits of doubt."""

    colours: ColourMap
    source: str
    said: list[Statement]
    doubts: int = 0


def _bar(session: Session, first: ColourImage) -> Bar | None:
    stated = session.scale
    # Beside a stated map, high_end may speak of a strip picture; the map itself then tells which end is hot.
    high_end = stated.high_end if stated.map in (None, OWN_BAR) else None
    return find_bar(first, high_end) if stated.bar is None else bar_at(first, stated.bar, high_end)


def _refuse_untold(session: Session, first: ColourImage, bar: Bar | None, named: ColourMap | None) -> None:
    """Raises InputError where the picture is plainly a photo of a screen and the session does not say so."""
    if session.frames.screen is None:
        from hotspot.read.screen_told import refuse_untold

        refuse_untold(first, bar, named)


def _no_bar(stated: str | None):
    if stated is None:
        return refuse(
            "session.toml",
            "scale.map",
            "no map given, and no colour bar found in the picture",
            "Name the camera's colour map, give a picture of its strip, or the box of the bar as scale.bar; if these "
            'are photos of a screen, state screen = "find" under [frames].',
        )
    return refuse(
        "session.toml", "scale.map", "no colour bar found in the picture", "Give its box as scale.bar, or name the map."
    )


def _by_bar(bar: Bar) -> _Choice:
    """The known map where the bar agrees with it, else the bar's own colours."""
    values = {"map": bar.known, "misfit": bar.misfit, "box": list(bar.box)}
    if bar.known is not None and bar.misfit <= _AGREES:
        return _Choice(known_map(bar.known), "known", [Statement("bar_is_known_map", values)])
    code = "bar_own_colours" if bar.known is None else "bar_touched"
    return _Choice(bar.colours, "bar", [Statement(code, values)])


def _checked(named: ColourMap, source: str, bar: Bar | None, first: ColourImage) -> _Choice:
    """The stated map, unless the picture's own bar shows other colours and the picture is drawn in them."""
    if bar is None:
        return _Choice(named, source, [])
    own = bar.colours
    misfit = min(_distance(named, own), _distance(named, own.reversed()))
    values = {"map": named.name, "bar_map": bar.known or "none of the known ones", "misfit": misfit}
    if misfit <= _AGREES:
        return _Choice(named, source, [Statement("bar_confirms_map", values)])
    if _off(named, first) <= _off(own, first) + 1.0:
        return _Choice(named, source, [Statement("bar_unlike_map", values)], BIT["map_doubtful"])
    turned = _distance(named, own.reversed()) < _distance(named, own)
    if misfit <= MOST_MISFIT:
        return _Choice(own.reversed() if turned else own, "bar", [Statement("map_touched", values)])
    return _Choice(own, "bar", [Statement("bar_of_another_map", values)], BIT["map_doubtful"])


def _distance(one: ColourMap, other: ColourMap) -> float:
    """Mean distance of two maps along the scale, levels of RGB."""
    places = np.linspace(0.0, 1.0, 64)
    colours = [
        np.stack([np.interp(places, each.places, each.rgb[:, k]) for k in range(3)], axis=1) for each in (one, other)
    ]
    return float(np.sqrt(((colours[0] - colours[1]) ** 2).sum(axis=1)).mean())


def carrier_of(colours: ColourMap, image: ColourImage, compressed: bool | None) -> Carrier:
    """What the carrier did to the colours of `image`, told by how far they lie off the map. A picture that is not
    `compressed` by its file's kind may still have been made from one that was: half a level off is exact.
    """
    carrier = _carrier_by_distance(colours, image, compressed)
    if carrier.exact:
        return replace(carrier, dither=_dither(colours, image))
    if image.jpeg is not None:
        return replace(carrier, stepped=True)
    luma_led = Curve(rgb_to_ycc(colours.rgb, image.matrix), colours.places, carrier.weight, 7)
    halving, missed = halving_of(image, luma_led)
    return replace(carrier, halving=halving, missed=carrier.missed if missed is None else missed)


def _dither(colours: ColourMap, image: ColourImage) -> float:
    """Standard deviation of an exact picture's own noise, a share of the scale: in half of its blocks it is less.

    From second differences along rows, so that gradients leave none; rounding's own 1/12 is taken off.
    """
    rgb = image.as_rgb()
    rows, columns = (size // _BLOCK * _BLOCK for size in rgb.shape[:2])
    if not rows or not columns:
        return 0.0
    rgb = rgb[:rows, :columns].reshape(-1, 3)
    steps = Curve(colours.rgb, colours.places).place_of(rgb.astype(float)).reshape(rows, columns) / colours.widths.min()
    bends = (steps[:, :-2] - 2.0 * steps[:, 1:-1] + steps[:, 2:]) ** 2 / 6.0
    bends = np.pad(bends, ((0, 0), (1, 1)), mode="edge").reshape(rows // _BLOCK, _BLOCK, columns // _BLOCK, _BLOCK)
    noise = np.sqrt(max(float(np.median(bends.mean(axis=(1, 3)))) - 1.0 / 12.0, 0.0))
    return float(noise * colours.widths.min())


def _carrier_by_distance(colours: ColourMap, image: ColourImage, compressed: bool | None) -> Carrier:
    off = _residuals(colours, image)
    near = off[off.max(axis=1) < OFF_LOSSY / 2]
    film = image.planes is not None
    by_tables = 0.0 if image.jpeg is None else _off_by_tables(image.jpeg)
    if not len(near):
        return Carrier(not compressed, film=film)
    if not compressed and float(np.mean(near.max(axis=1) < 1.0)) > 0.8:
        return Carrier(True)
    if np.ptp(rgb_to_ycc(colours.rgb)[:, 1:]) < 20.0:  # a grey map has no chroma to go by: as a middling JPEG
        return Carrier(False, by_tables or _MIDDLING, film)
    return Carrier(False, max(float(np.percentile(np.hypot(near[:, 1], near[:, 2]), 90)), by_tables), film)


def _off_by_tables(jpeg: JpegSteps) -> float:
    """How far chroma usually lies off the map in a JPEG of these tables, in levels: it grows with the root of the
    steps. Fitted on simulated pictures (eight maps, quality 50-95); a picture compressed before lies farther off.
    """
    return 0.3 + 0.62 * float(np.sqrt(np.mean([table[0, 0] for table in jpeg.chroma])))


def _residuals(colours: ColourMap, image: ColourImage) -> np.ndarray:
    """Distances (n, 3) to the map, levels of Y, Cb, Cr, of pixels spread evenly over the picture."""
    rows, columns = image.shape
    places = np.unique(np.linspace(0, rows * columns - 1, min(_SAMPLES, rows * columns)).astype(np.intp))
    ycc = image.ycc_at(places // columns, places % columns)
    curve = Curve(rgb_to_ycc(colours.rgb, image.matrix), colours.places)
    return np.abs(ycc - curve.colours_at(curve.place_of(ycc)))


def _off(colours: ColourMap, image: ColourImage) -> float:
    off = np.sqrt((_residuals(colours, image) ** 2).sum(axis=1))
    return float(np.minimum(off, OFF_LOSSY).mean())


def _share_on_map(colours: ColourMap, image: ColourImage) -> float:
    return float((_residuals(colours, image).max(axis=1) < OFF_LOSSY / 2).mean())
