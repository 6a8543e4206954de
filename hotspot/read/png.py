"""PNG: grey of 8 or 16 bits as it is stored, or a coloured picture. One frame per file.

Colour of 16 bits goes through OpenCV: Pillow quietly gives 8 bits of it, cut rather than rounded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from hotspot.read import picture
from hotspot.read.carrier import Broken, CarrierTrouble, File, Options, Raw, check_size

list_frames = picture.list_frames
_RGB, _GREY_ALPHA, _RGBA = 2, 4, 6  # colour types: ISO/IEC 15948 (PNG), table 11.1


def decode(
    file: File,
    wanted: Sequence[int],
    options: Options,  # noqa: ARG001 - one signature for all
) -> Iterator[tuple[int, Raw | Broken]]:
    """Grey (rows, columns), uint8 or uint16, or a ColourImage."""
    return picture.one_by_one(file, wanted, _decoded)


def _decoded(file: File) -> Raw:
    depth, colour = _header(file)
    if depth == 16 and colour in (_RGB, _GREY_ALPHA, _RGBA):
        return _deep_colour(file)
    return picture.decoded(file)


def _header(file: File) -> tuple[int, int]:
    """Bit depth and colour type of the first chunk, IHDR; (0, 0) where there is none."""
    head = file.getvalue()[:33] if not hasattr(file, "open") else file.read_bytes()[:33]
    if len(head) < 26 or head[12:16] != b"IHDR":
        return 0, 0
    check_size(int.from_bytes(head[20:24], "big"), int.from_bytes(head[16:20], "big"))
    return head[24], head[25]


def _deep_colour(file: File) -> Raw:
    import cv2

    from hotspot.read.colour_image import ColourImage

    picture.decoded(file)  # finds damage that OpenCV passes over
    data = file.getvalue() if not hasattr(file, "open") else file.read_bytes()
    array = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if array is None or array.ndim != 3:
        raise CarrierTrouble("the picture is damaged")
    order = [2, 1, 0, 3][: array.shape[2]]
    return ColourImage.from_rgb(array[:, :, order])
