"""TIFF: a page is a frame, one per file or many. Read page by page: a whole-file read returns one page of many
where the pages were written one by one, and quietly fewer of a damaged file.
"""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from hotspot.read.carrier import Broken, CarrierTrouble, Contents, File, Options, Raw, check_count, check_size, short
from hotspot.records import Statement

_PALETTE = 3  # PhotometricInterpretation: TIFF 6.0, section 5
_SEPARATE = 2  # PlanarConfiguration: TIFF 6.0, section 8
_REDUCED = 1  # NewSubfileType, bit 0: a reduced-resolution copy (TIFF 6.0, section 8)


def list_frames(file: File, options: Options) -> Contents:
    """Pages that are no thumbnails. Where the file says that it holds more, those count too: a gap stays a gap.

    Raises CarrierTrouble for a file without a page.
    """
    with _opened(file) as (tif, said):
        found = len(_pages(tif)) * _planes(tif)
        told = max(found, _told(tif))
        check_count(told)
    notices = []
    if told > found:
        notices.append(Statement("frames_missing", {"file": options.name, "found": found, "told": told}))
    elif said:
        notices.append(Statement("carrier_trouble", {"file": options.name, "what": said[0]}))
    return Contents(told, None, tuple(notices), many=told > 1)


def decode(
    file: File,
    wanted: Sequence[int],
    options: Options,  # noqa: ARG001 - one signature for all
) -> Iterator[tuple[int, Raw | Broken]]:
    """Grey (rows, columns) as stored, or a ColourImage."""
    try:
        with _opened(file) as (tif, _):
            pages, planes = _pages(tif), _planes(tif)
            for number in wanted:
                if number >= len(pages) * planes:
                    yield number, Broken("the file ends before this page")
                    continue
                page, plane = divmod(number, planes)
                yield number, _read_page(tif, pages[page], plane)
    except CarrierTrouble as trouble:
        for number in wanted:
            yield number, Broken(str(trouble))


@contextmanager
def _opened(file: File):
    """(TiffFile, what its library logged, growing). Raises CarrierTrouble for what is no TIFF or has no page."""
    import tifffile

    with _overheard() as said:
        try:
            tif = tifffile.TiffFile(file)
        except Exception as error:  # damage ends in whatever parsing raises: TiffFileError, struct.error, KeyError
            raise CarrierTrouble(f"it is no whole TIFF ({short(error)})") from error
        with tif:
            if len(tif.pages) == 0:
                raise CarrierTrouble("it is no whole TIFF (it has no page)")
            yield tif, said


class _Overhearing(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        # "<tifffile.TiffPages @8> invalid page offset 10000": the object's name says nothing to a person.
        self.said.append(re.sub(r"<tifffile\.[^>]*> *", "", record.getMessage()).splitlines()[0][:160])


@contextmanager
def _overheard():
    logger = logging.getLogger("tifffile")
    handler, passes_on = _Overhearing(), logger.propagate
    logger.addHandler(handler)
    logger.propagate = False
    try:
        yield handler.said
    finally:
        logger.removeHandler(handler)
        logger.propagate = passes_on


def _pages(tif) -> Sequence[int]:
    """Numbers of the pages that are frames. Tags are read one by one only where the second page is a thumbnail."""
    every = range(len(tif.pages))
    if len(every) < 2 or not _is_thumbnail(tif, 1):
        return every
    return [number for number in every if not _is_thumbnail(tif, number)] or every


def _planes(tif) -> int:
    """Frames in a page: one, but for numbers of more than 8 bits in planes kept apart. That is what a writer
    makes of a stack of three or four frames when it takes them for red, green and blue.
    """
    page = tif.pages.first
    apart = page.planarconfig == _SEPARATE and page.dtype is not None and page.dtype.itemsize > 1
    return max(1, page.samplesperpixel) if apart else 1


def _is_thumbnail(tif, number: int) -> bool:
    try:
        return bool(tif.pages[number].subfiletype & _REDUCED)
    except Exception:  # a damaged page stays a frame, which is then set aside with the reason
        return False


def _told(tif) -> int:
    """Number of pages by the writer's own note in the first page's description; 0 where it keeps none."""
    first = tif.pages.first
    try:
        if first.is_shaped:
            shape = json.loads(first.shaped_description)["shape"]
            return int(np.prod(shape)) // (int(np.prod(first.shape)) // _planes(tif))
        found = re.match(r"ImageJ=.*?^images=(\d+)", first.description, re.DOTALL | re.MULTILINE)
        return int(found[1]) if found else 0
    except (ValueError, KeyError, TypeError, ZeroDivisionError):
        pass
    return 0


def _read_page(tif, number: int, plane: int) -> Raw | Broken:
    from hotspot.read.colour_image import ColourImage

    page = None
    try:
        page = tif.pages[number]
        check_size(page.imagelength, page.imagewidth)
        ends = [a + n for a, n in zip(page.dataoffsets, page.databytecounts, strict=False)]
        if ends and max(ends) > tif.filehandle.size:
            return Broken("the file ends within this page")
        array = page.asarray()
        if array.ndim == 3 and _planes(tif) > 1:
            return array[plane]
        if page.photometric == _PALETTE and page.colormap is not None:
            return ColourImage.from_rgb(np.moveaxis(page.colormap[:, array], 0, -1))
        if array.ndim == 3 and array.shape[2] in (3, 4) and array.dtype in (np.uint8, np.uint16):
            return ColourImage.from_rgb(array)
    except CarrierTrouble as trouble:
        return Broken(str(trouble))
    except Exception as error:  # codecs raise classes of their own, without a common base
        if page is not None and "imagecodecs" in str(error):
            return Broken(f"its compression ({page.compression.name}) needs the package imagecodecs")
        return Broken(f"the page is damaged ({short(error)})")
    array = array[:, :, 0] if array.ndim == 3 and array.shape[2] == 1 else array
    if array.ndim != 2 or array.dtype.kind not in "iuf":
        return Broken(f"a page of shape {array.shape} and type {array.dtype} is no frame")
    return array
