"""JPEG pictures, and what Pillow decodes for the PNG carrier too: one frame per file."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from hotspot.read.carrier import Broken, CarrierTrouble, Contents, File, Options, Raw, check_size, short

if TYPE_CHECKING:
    from hotspot.read.colour_image import JpegSteps

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
    return one_by_one(file, wanted, decoded)


def one_by_one(file: File, wanted: Sequence[int], decoded: Callable[[File], Raw]) -> Iterator[tuple[int, Raw | Broken]]:
    """`decoded(file)` for every wanted number of a file of one frame; its trouble becomes a Broken."""
    for number in wanted:
        try:
            yield number, decoded(file)
        except CarrierTrouble as trouble:
            yield number, Broken(str(trouble))


def decoded(file: File) -> Raw:
    """Grey (rows, columns) as stored, or a ColourImage. Raises CarrierTrouble with the reason."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    from hotspot.read.colour_image import ColourImage

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # check_size is stricter
        try:
            with Image.open(file) as image:
                check_size(image.height, image.width)
                own = _own_steps(image)
                image.load()
                if own is not None:
                    return ColourImage.from_jpeg(np.asarray(image), own)
                return _raw(ImageOps.exif_transpose(image))
        except CarrierTrouble:
            raise
        except UnidentifiedImageError as error:
            raise CarrierTrouble("it is empty, or not a picture, whatever its name says") from error
        # Pillow raises whatever its decoders meet: OSError, SyntaxError, ValueError, struct.error, EOFError.
        except Exception as error:
            raise CarrierTrouble(f"the picture is damaged ({short(error)})") from error


def _own_steps(image) -> JpegSteps | None:
    """How a JPEG in Y, Cb, Cr holds its planes, and `image` set to be decoded to these; None for any other kind.

    One that must be turned (EXIF orientation, tag 0x0112) is read as RGB, and so are rare samplings.
    """
    from hotspot.read.colour_image import JpegSteps

    if image.format != "JPEG" or image.mode != "RGB" or image.info.get("adobe_transform") == 0:
        return None
    if image.getexif().get(0x0112, 1) != 1:
        return None
    own, *chroma = image.layer
    across, down = own[1:3]
    if len(chroma) != 2 or any(layer[1:3] != (1, 1) for layer in chroma) or not {across, down} <= {1, 2}:
        return None
    tables = [np.reshape(image.quantization[layer[3]], (8, 8)).astype(np.float32) for layer in (*chroma, own)]
    image.draft("YCbCr", None)
    return JpegSteps((down, across), (tables[0], tables[1]), tables[2]) if image.mode == "YCbCr" else None


def _raw(image) -> Raw:
    from hotspot.read.colour_image import ColourImage

    if image.mode in _GREY_MODES and "transparency" not in image.info:
        return np.asarray(image).astype(_GREY_MODES[image.mode], copy=False)
    seen = image.has_transparency_data
    return ColourImage.from_rgb(np.asarray(image.convert("RGBA" if seen else "RGB")))
