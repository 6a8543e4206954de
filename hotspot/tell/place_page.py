"""The page on which a person places pins and areas: one file, no network, the frame and its temperatures inside."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from hotspot.errors import refuse
from hotspot.placing import Placing
from hotspot.records import Snapshot
from hotspot.session import Session
from hotspot.tell import pages, words
from hotspot.tell.marked import MAP
from hotspot.tell.write import put
from hotspot.units import SYMBOL, from_celsius

NAME = "place.html"
PLACES = "pins.toml"
NOTHING = -32768
"""Stands in the temperatures for a pixel that has none."""
_FINEST = 0.01
_LEVELS = 64000


def write_page(session: Session, placing: Placing, blocks: Mapping[str, Any], out: Path) -> Path:
    """Write `NAME` into the folder `out`; what else lies there stays. Raises InputError where it cannot be written.

    `blocks` are connector, pin and region as the session's files have them: what the page does not change stays so.
    """
    return put(out, {NAME: page(session, placing, blocks).encode("utf-8", "backslashreplace")}, (NAME,))[0]


def put_places(file: Path, folder: Path) -> Path:
    """A copy of `file` as pins.toml of the session folder, byte for byte, whole or not at all. Raises InputError."""
    aside = folder / f".{PLACES}.new"
    try:
        aside.write_bytes(file.read_bytes())
        return aside.replace(folder / PLACES)
    except OSError as error:
        aside.unlink(missing_ok=True)
        what = error.strerror or str(error)
        raise refuse(
            folder / PLACES, "", f"cannot be written ({what})", "It must be a folder that you may write to."
        ) from None


def page(session: Session, placing: Placing, blocks: Mapping[str, Any]) -> str:
    """The page as text. The same session and frame give the same text."""
    title = session.title or session.folder.resolve().name
    return pages.render(
        "place.html",
        title=words.text("ui_title", title=title),
        file=placing.shown.file,
        folder=str(session.folder),
        said=words.say_all(placing.said, session.units),
        kinds=KINDS,
        start=json.dumps(start(session, placing, blocks), ensure_ascii=True).replace("<", "\\u003c"),
    )


KINDS = ("ambient", "reference", "part", "wire", "splice", "ignore")
"""Kinds of region; what each shows stands in the catalogue."""


def start(session: Session, placing: Placing, blocks: Mapping[str, Any]) -> dict[str, Any]:
    """What the page begins with, as JSON takes it: the frame, its temperatures in the reader's unit, the places."""
    shot = placing.shown
    boxes = [[round(float(side), 2) for side in region.box] for region in placing.regions]
    return {
        "file": shot.file,
        "width": shot.celsius.shape[1],
        "height": shot.celsius.shape[0],
        "symbol": SYMBOL[session.units],
        "values": _values(from_celsius(shot.celsius.astype(float), session.units)),
        "picture": _picture(shot),
        "words": {code.removeprefix("js_"): said for code, said in words.catalogue().items() if code.startswith("js_")},
        "connector": dict(blocks["connector"]),
        "pins": _pins(placing, blocks["pin"]),
        "areas": [{**area, "box": box} for area, box in zip(blocks["region"], boxes, strict=True)],
    }


def _pins(placing: Placing, stated: list[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The tables of the pins in order of numbering, with their places on the shown frame where they have one."""
    if placing.pins is None:
        return [dict(pin) for pin in stated]
    own = {pin["name"]: pin for pin in stated}
    where = zip(placing.pins.names, placing.pins.x_px, placing.pins.y_px, placing.pins.radius_px, strict=True)
    return [
        {"name": name} | dict(own.get(name, {})) | {"x": _px(x), "y": _px(y), "radius": _px(radius)}
        for name, x, y, radius in where
    ]


def _px(value: float) -> float:
    return round(float(value), 2)


def _values(shown: np.ndarray) -> dict[str, Any]:
    """Temperatures as whole numbers of 16 bits: value = middle + step * number, row by row; `NOTHING` where none."""
    there = np.isfinite(shown)
    low, high = (float(shown[there].min()), float(shown[there].max())) if there.any() else (0.0, 0.0)
    middle, step = (low + high) / 2, max(_FINEST, (high - low) / _LEVELS)
    whole = np.full(shown.shape, NOTHING, dtype="<i2")
    whole[there] = np.rint((shown[there] - middle) / step)
    return {"middle": middle, "step": step, "whole": base64.b64encode(whole.tobytes()).decode("ascii")}


def _picture(shot: Snapshot) -> str:
    """The frame as the camera drew it, else in our colours with the hottest and coldest hundredth at the ends."""
    from matplotlib import colormaps
    from PIL import Image

    pixels = shot.picture
    if pixels is None:
        there = shot.celsius[np.isfinite(shot.celsius)]
        low, high = np.percentile(there, (0.5, 99.5)) if there.size else (0.0, 1.0)
        part = np.clip((shot.celsius - low) / max(float(high - low), 0.1), 0.0, 1.0)
        pixels = colormaps[MAP](np.ma.masked_invalid(part), bytes=True)[..., :3]
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")
