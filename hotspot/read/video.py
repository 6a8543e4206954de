"""Video: FFV1 and the like with 16-bit grey in Matroska, H.264 and MPEG-4 Part 2 in MP4, with its own time stamps.

Frames are told apart by their presentation time. One forward pass; the decoder's planes are kept as they are.
FFmpeg says of damage only in its log (a slice whose CRC is wrong comes out as a picture all the same), so that
the log is listened to packet by packet, and what it complains of is set aside.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from hotspot.read.carrier import Broken, CarrierTrouble, Contents, File, Options, Raw, check_size, short
from hotspot.records import Statement

_GREY = {"gray": np.uint8, "gray16le": np.uint16, "gray16be": np.uint16}
_DEEP_GREY = ("gray9", "gray10", "gray12", "gray14")
# Matrix coefficients by their number in ITU-T H.273 (07/2021) table 4, which is FFmpeg's AVCOL_SPC too.
_MATRICES = {1: "709", 5: "601", 6: "601", 9: "2020"}
_LIMITED, _FULL = 1, 2  # AVCOL_RANGE_MPEG, AVCOL_RANGE_JPEG
_MOST_LINES_601 = 576  # of standard definition (BT.601-7); taller pictures are taken for BT.709: common practice


def list_frames(file: File, options: Options) -> Contents:
    """Every packet with its time [s from the start of the stream], without decoding.

    Raises CarrierTrouble for a file that is no video or has no frame.
    """
    with _opened(file) as (container, stream, logs):
        _check(stream)
        packets = _packets(container, stream)
        told_s = container.duration / 1_000_000 if container.duration else None
        told, time_base = stream.frames, stream.time_base
        said = [line[2].strip() for line in logs if line[0] <= _error_level()]
        start = container.start_time / 1_000_000 if container.start_time else 0.0
    stamps = sorted(packets)
    if not stamps:
        raise CarrierTrouble("there is no frame in the video")
    times = tuple(float(pts * time_base) for pts in stamps)
    notices = []
    if told > len(stamps):
        notices.append(Statement("frames_missing", {"file": options.name, "found": len(stamps), "told": told}))
    elif told_s is not None and _ends_early(times, start + told_s):
        reached = times[-1] - start
        notices.append(Statement("video_short", {"file": options.name, "reached_s": reached, "told_s": told_s}))
    elif said:
        notices.append(Statement("carrier_trouble", {"file": options.name, "what": said[0][:160]}))
    return Contents(len(stamps), times, tuple(notices), many=True)


def decode(
    file: File,
    wanted: Sequence[int],
    options: Options,  # noqa: ARG001 - one signature for all
) -> Iterator[tuple[int, Raw | Broken]]:
    """Grey as stored (uint8 or uint16), or a ColourImage of the decoder's planes."""
    pending = list(wanted)
    try:
        with _opened(file) as (container, stream, _):
            packets = _packets(container, stream)
        order = {pts: k for k, pts in enumerate(sorted(packets))}
        alone = all(packets.values())
        yield from _in_order(_shown(file, order, set(wanted), alone), pending)
    except CarrierTrouble as trouble:
        yield from ((number, Broken(str(trouble))) for number in tuple(pending))


def _in_order(shown: Iterator[tuple[int, Raw | Broken]], pending: list[int]) -> Iterator[tuple[int, Raw | Broken]]:
    """Shown frames come in rising number; a pending number that was stepped over never came."""
    for number, raw in shown:
        while pending and pending[0] < number:
            yield pending.pop(0), Broken("the decoder gave no picture for it")
        if pending and pending[0] == number:
            yield pending.pop(0), raw
        if not pending:
            return
    while pending:
        yield pending.pop(0), Broken("the decoder gave no picture for it")


def _shown(file: File, order: dict[int, int], wanted: set[int], alone: bool) -> Iterator[tuple[int, Raw | Broken]]:
    """(number, picture) as the decoder shows them, in presentation order.

    `alone`: every packet is a key frame, so that the ones not wanted need not be decoded. Where frames lean on
    each other, damage is carried on until the next key frame: all of them are set aside.
    """
    last = max(wanted)
    with _opened(file) as (container, stream, logs):
        damaged: dict[int, str] = {}
        carried = ""
        for packet in container.demux(stream):
            number = order.get(packet.pts)
            if packet.pts is not None and alone and number not in wanted:
                continue
            before = len(logs)
            frames, why = _decoded_packet(packet)
            why = why or _complaint(logs[before:]) or ("it was cut short" if packet.is_corrupt else "")
            carried = why if why or packet.is_keyframe else carried
            if number is not None and (why or carried):
                damaged[number] = why or carried
            for frame in frames:
                shown = order.get(frame.pts)
                if shown is None or shown not in wanted:
                    continue
                reason = damaged.pop(shown, "") or ("the decoder found it damaged" if frame.is_corrupt else "")
                yield shown, Broken(reason) if reason else _raw(frame)
                if shown >= last:
                    return


def _decoded_packet(packet) -> tuple[list, str]:
    import av

    try:
        return packet.decode(), ""
    except av.error.EOFError:
        return [], ""
    except (av.error.FFmpegError, ValueError) as error:
        return [], f"it cannot be decoded ({short(error)})"


def _complaint(lines: Sequence[tuple[int, str, str]]) -> str:
    bad = [text.strip() for level, _, text in lines if level <= _error_level()]
    return f"damaged: {bad[0][:120]}" if bad else ""


def _error_level() -> int:
    import av

    return av.logging.ERROR


@contextmanager
def _opened(file: File):
    """(container, its first video stream, FFmpeg's log lines, growing). Raises CarrierTrouble."""
    import av

    before = av.logging.get_level(), av.logging.get_skip_repeated()
    av.logging.set_level(av.logging.WARNING)
    av.logging.set_skip_repeated(False)  # else a second frame with the same damage goes unsaid
    source = file if not hasattr(file, "open") else str(file)
    if source is file:
        file.seek(0)
    try:
        with av.logging.Capture() as logs:
            try:
                container = av.open(source)
            except (av.error.FFmpegError, ValueError) as error:
                raise CarrierTrouble(f"it is no whole video ({short(error)})") from error
            with container:
                if not container.streams.video:
                    raise CarrierTrouble("there is no picture in the video")
                stream = container.streams.video[0]
                if stream.codec_context is None:
                    raise CarrierTrouble("nothing here can decode its kind of video")
                stream.codec_context.thread_count = 1  # log lines are caught in the thread that reads
                yield container, stream, logs
    finally:
        av.logging.set_level(before[0])
        av.logging.set_skip_repeated(before[1])


def _check(stream) -> None:
    check_size(stream.codec_context.height, stream.codec_context.width)


def _packets(container, stream) -> dict[int, bool]:
    """Presentation time of each packet [ticks of the stream] -> whether it is a key frame."""
    import av

    found: dict[int, bool] = {}
    try:
        for packet in container.demux(stream):
            if packet.pts is not None and packet.size:
                found[packet.pts] = packet.is_keyframe
    except av.error.FFmpegError as error:
        if not found:
            raise CarrierTrouble(f"it is no whole video ({short(error)})") from error
    return found


def _ends_early(times: tuple[float, ...], told_end: float) -> bool:
    """More time is promised after the last frame than the longest gap between frames explains."""
    longest = max((b - a for a, b in zip(times, times[1:], strict=False)), default=told_end / 2)
    return told_end - times[-1] > 2.0 * longest


def _raw(frame) -> Raw | Broken:
    from hotspot.read.colour_image import ColourImage

    name = frame.format.name
    try:
        if name in _GREY or name.startswith(_DEEP_GREY):
            return _plane(frame, 0, np.uint8 if name == "gray" else np.uint16, name.endswith("be"))
        parts = frame.format.components
        if name.startswith("yuv") and len(parts) == 3 and all(part.bits == 8 for part in parts):
            planes = (_plane(frame, k, np.uint8, False) for k in range(3))
            return ColourImage.from_planes(*planes, *_coding(frame))
        return ColourImage.from_rgb(frame.to_ndarray(format="rgb24"))
    except (ValueError, TypeError) as error:
        return Broken(f"a picture of kind {name} cannot be read ({short(error)})")


def _coding(frame) -> tuple[bool, str, tuple[str, ...]]:
    """Whether the range is limited, the matrix, and which of `range` and `matrix` the stream does not state."""
    stated, full = int(frame.color_range), frame.format.name.startswith("yuvj")
    matrix = _MATRICES.get(int(frame.colorspace))
    silent = [] if full or stated in (_LIMITED, _FULL) else ["range"]
    if matrix is None:
        silent.append("matrix")
        matrix = "601" if frame.height <= _MOST_LINES_601 else "709"
    return not (full or stated == _FULL), matrix, tuple(silent)


def _plane(frame, number: int, dtype: type, big: bool) -> np.ndarray:
    """One plane as an array of its own, without the padding at the ends of lines."""
    plane = frame.planes[number]
    kind = np.dtype(dtype).newbyteorder(">" if big else "<")
    lines = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
    return lines[:, : plane.width * kind.itemsize].copy().view(kind)
