"""JPEG pictures, and what Pillow decodes for the PNG carrier too: one frame per file."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence

import numpy as np

from hotspot.read.carrier import Broken, CarrierTrouble, Contents, File, Options, Raw, check_size, short

_GREY_MODES = {"L": np.uint8, "I;16": np.uint16, "I;16B": np.uint16, "I": np.int32, "F": np.float32}


def list_frames(file: File, options: Options) -> Contents:  # noqa: ARG001 - one signature for all
    """One picture is one frame; nothing is opened."""
    return Contents(1)


def decode(
    file: File,
    wanted: Sequence[int],
    options: Options,  # noqa: ARG001 - one signature for all
) -> Iterator[tuple[int, Raw | Broken]]:
    """The picture as a person sees it: turned as its EXIF orientation says, alpha laid on white."""
    for number in wanted:
        try:
            yield number, decoded(file)
        except CarrierTrouble as trouble:
            yield number, Broken(str(trouble))


def decoded(file: File) -> Raw:
    """Grey (rows, columns) as stored, or a ColourImage. Raises CarrierTrouble with the reason."""
    from PIL import Image, ImageOps

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # check_size is stricter
        try:
            with Image.open(file) as image:
                check_size(image.height, image.width)
                image.load()
                return _raw(ImageOps.exif_transpose(image))
        except CarrierTrouble:
            raise
        # Pillow raises whatever its decoders meet: OSError, SyntaxError, ValueError, struct.error, EOFError.
        except Exception as error:
            raise CarrierTrouble(f"the picture is damaged ({short(error)})") from error


def _raw(image) -> Raw:
    from hotspot.read.colour_image import ColourImage

    if image.mode in _GREY_MODES and "transparency" not in image.info:
        return np.asarray(image).astype(_GREY_MODES[image.mode], copy=False)
    seen = image.has_transparency_data
    return ColourImage.from_rgb(np.asarray(image.convert("RGBA" if seen else "RGB")))
