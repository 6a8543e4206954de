"""Made frames on disk, in the carriers that people have: pictures, counts, stacks, videos, a logger's table.

Every function takes where to write and a Footage (or frames in degC) and returns the paths it wrote, in time order.
"""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np

from hotspot.synthetic.camera import Footage
from hotspot.synthetic.draw import DrawnScale, colour_picture


def clock_names(start: datetime.datetime, time_s: np.ndarray, stem: str, suffix: str) -> list[str]:
    """File names that carry the date-time of each frame, to the whole second."""
    return [f"{stem}_{start + datetime.timedelta(seconds=round(float(time))):%Y%m%d_%H%M%S}{suffix}" for time in time_s]


def write_colours(folder: Path, footage: Footage, scale: DrawnScale, names: list[str]) -> list[Path]:
    """One colour picture per frame; PNG or JPEG by the suffix of its name."""
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / name for name in names]
    for path, celsius in zip(paths, footage.celsius, strict=True):
        picture = Image.fromarray(colour_picture(celsius, scale))
        if path.suffix == ".png":
            picture.save(path)
        else:
            picture.save(path, quality=92, subsampling=0)
    return paths


def as_counts(celsius: np.ndarray, gain: float, offset: float) -> np.ndarray:
    """uint16 counts such that degC = gain * count + offset; held at 0 and 65535."""
    return np.clip(np.rint((celsius.astype(float) - offset) / gain), 0, 65535).astype(np.uint16)


def write_counts(folder: Path, footage: Footage, names: list[str], gain: float, offset: float) -> list[Path]:
    """One 16-bit grey picture per frame; PNG or TIFF by the suffix of its name."""
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / name for name in names]
    for path, celsius in zip(paths, footage.celsius, strict=True):
        Image.fromarray(as_counts(celsius, gain, offset)).save(path)
    return paths


def write_float_tiff(path: Path, footage: Footage) -> list[Path]:
    """One TIFF with a page of float32 degC per frame."""
    import tifffile

    with tifffile.TiffWriter(path) as file:
        for celsius in footage.celsius:
            file.write(celsius, photometric="minisblack", metadata=None)
    return [path]


def write_npy(path: Path, footage: Footage) -> list[Path]:
    """One .npy of float32 degC (t, height, width)."""
    np.save(path, footage.celsius)
    return [path]


def write_colour_video(path: Path, footage: Footage, scale: DrawnScale) -> list[Path]:
    """A video of colour pictures (H.264 4:2:0, so lossy), stamped with the frames' own times. Even sides only."""
    pictures = (colour_picture(celsius, scale) for celsius in footage.celsius)
    return _write_video(path, pictures, footage.time_s, ("libx264", "yuv420p", "rgb24"))


def write_count_video(path: Path, footage: Footage, gain: float, offset: float) -> list[Path]:
    """A lossless video (FFV1; .mkv) of 16-bit grey counts, stamped with the frames' own times."""
    pictures = (as_counts(celsius, gain, offset) for celsius in footage.celsius)
    return _write_video(path, pictures, footage.time_s, ("ffv1", "gray16le", "gray16le"))


def _write_video(path: Path, pictures, time_s: np.ndarray, kind: tuple[str, str, str]) -> list[Path]:
    import av

    codec, stored, given = kind
    with av.open(str(path), "w") as container:
        stream = None
        for picture, time in zip(pictures, time_s, strict=True):
            if stream is None:
                stream = container.add_stream(codec, rate=1)
                stream.height, stream.width = picture.shape[:2]
                stream.pix_fmt = stored
                stream.options = {"crf": "12"} if codec == "libx264" else {}
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format=given)
            frame.pts = round(float(time))
            container.mux(stream.encode(frame))
        if stream is not None:
            container.mux(stream.encode())
    return [path]


def write_table(path: Path, footage: Footage, names: list[str] | None = None) -> list[Path]:
    """A logger's CSV: time_s and a column per pin with its true surface temperature, degC to 0.01."""
    names = names or [str(pin + 1) for pin in range(footage.truth_c.shape[1])]
    lines = [",".join(["time_s", *names])]
    for time, row in zip(footage.time_s, footage.truth_c, strict=True):
        lines.append(",".join([f"{time:g}", *(f"{value:.2f}" for value in row)]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    return [path]
