"""The scale table, and the sheets of what is printed at the ends of the bar with what was read."""

from __future__ import annotations

import contextlib
import csv
import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from hotspot.errors import refuse
from hotspot.records import ScaleRow, Statement
from hotspot.tell.words import say

SHEET, TO_TYPE = "scale-check.png", "scale-to-type.png"
MOST_ROWS = 400  # of a sheet: doubtful ones first, the rest spread evenly over the test
_ACROSS, _GAP, _TEXT_PX, _CAPTION_PX = 4, 6, 13, 34
_LARGE = 2  # times that prints are enlarged
_ORDER = {"doubtful": 0, "typed": 1, "read": 2}
_INK = {"doubtful": (190, 60, 0), "typed": (0, 70, 140), "read": (20, 20, 20)}


def table_text(rows: Sequence[ScaleRow]) -> str:
    """scale.csv: file, low, high, how; a row per frame in time order."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["file", "low", "high", "how"])
    writer.writerows([row.file, row.low, row.high, row.how] for row in rows)
    return out.getvalue()


def write_scale(rows: Sequence[ScaleRow], table: Path, out: Path) -> Path:
    """Write the table and, into `out`, the sheet; gives the sheet. Raises InputError where that cannot be."""
    sheet = write_sheet(rows, out / SHEET)
    _put(table, table_text(rows).encode())
    return sheet


def write_sheet(rows: Sequence[ScaleRow], path: Path) -> Path:
    """Write all prints with what was read, doubtful ones first. Raises InputError where that cannot be."""
    from PIL import Image

    made = io.BytesIO()
    Image.fromarray(sheet(rows)).save(made, format="PNG")
    _put(path, made.getvalue())
    return path


def _put(path: Path, content: bytes) -> None:
    aside = path.with_name(f".{path.name}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        aside.write_bytes(content)
        aside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            aside.unlink(missing_ok=True)
        raise refuse(path, "", f"cannot be written ({error.strerror})", "Check the folder.") from error


def sheet(rows: Sequence[ScaleRow]) -> np.ndarray:
    """uint8 (rows, columns, 3): the prints at the cold and the hot end of each frame, and under them its words."""
    from PIL import Image, ImageDraw, ImageFont

    shown = _shown([row for row in rows if row.prints is not None])
    pairs = [_pair(row.prints) for row in shown]
    high = max((len(pair) for pair in pairs), default=1) + _CAPTION_PX
    wide = max([*(pair.shape[1] for pair in pairs), 260])
    across = min(_ACROSS, max(len(shown), 1))
    down = -(-len(shown) // across)
    page = Image.new("RGB", (across * (wide + _GAP), max(down, 1) * (high + _GAP)), "white")
    draw, font = ImageDraw.Draw(page), ImageFont.load_default(size=_TEXT_PX)
    for k, (row, pair) in enumerate(zip(shown, pairs, strict=True)):
        x, y = k % across * (wide + _GAP), k // across * (high + _GAP)
        page.paste(Image.fromarray(pair), (x, y))
        for line, text in enumerate(_caption(row)):
            place = (x + 2, y + len(pair) + 1 + line * (_TEXT_PX + 3))
            draw.text(place, text, fill=_INK.get(row.how, _INK["read"]), font=font)
    return np.asarray(page)


def _shown(rows: Sequence[ScaleRow]) -> list[ScaleRow]:
    order = sorted(range(len(rows)), key=lambda k: (_ORDER.get(rows[k].how, 3), k))
    first = [k for k in order if rows[k].how != "read"][:MOST_ROWS]
    rest = [k for k in order if rows[k].how == "read"]
    room = min(MOST_ROWS - len(first), len(rest))
    spread = sorted({rest[round(k * (len(rest) - 1) / max(room - 1, 1))] for k in range(room)})
    return [rows[k] for k in (*first, *spread)]


def _pair(prints: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """Both prints beside each other, the cold end left, enlarged, as grey RGB."""
    high = max(len(one) for one in prints)
    padded = [np.pad(one, ((0, high - len(one)), (0, 3)), constant_values=255) for one in prints]
    both = np.hstack(padded).repeat(_LARGE, axis=0).repeat(_LARGE, axis=1)
    return np.repeat(both[:, :, None], 3, axis=2)


def _caption(row: ScaleRow) -> tuple[str, str]:
    read = f"{row.low or '-'} : {row.high or '-'}" if row.low or row.high else ""
    why = f"{row.how}: {say(Statement(row.why, {}))}" if row.why else row.how if read else ""
    return f"{row.file}   {read}", why
