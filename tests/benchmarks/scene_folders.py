"""Session folders in each carrier, and what bare decoding of the same frames is: shared by run_cost.py and memory.py.

The scene is a row of six warming pins with camera noise, made for exercising carriers and not for judging heat.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

PINS = 6
GAIN, OFFSET = 0.02, -40.0
LOW, HIGH, MAP = 20.0, 80.0, "inferno"
EVERY_S = 2.0


def frame_of(k: int, count: int, size: tuple[int, int]) -> np.ndarray:
    """Frame `k` of `count`, float64 (rows, columns) °C, for size (width, height)."""
    width, height = size
    rows, columns = np.ogrid[:height, :width]
    celsius = 22.0 + np.random.default_rng(k).normal(0.0, 0.05, (height, width))
    warm = 1.0 - np.exp(-4.0 * k / max(1, count))
    for pin, (x, y, radius) in enumerate(places(size)):
        disc = (columns - x) ** 2 + (rows - y) ** 2 <= (1.3 * radius) ** 2
        celsius[disc] += (40.0 if pin == 2 else 20.0) * warm
    return celsius


def places(size: tuple[int, int]) -> list[tuple[float, float, float]]:
    """x, y, radius of the pins [px]."""
    step = size[0] / PINS
    return [((pin + 0.5) * step, size[1] / 2.0, step / 5.0) for pin in range(PINS)]


def write_sheet(folder: Path, frames: str, size: tuple[int, int]) -> None:
    """The session.toml of the scene; `frames` are the lines of [frames]."""
    lines = ['title = "Row of six"', "ambient = 22.0", "[frames]", frames, f"every_s = {EVERY_S}"]
    if "colours" in frames:
        lines += ["[scale]", f"low = {LOW}", f"high = {HIGH}", f'map = "{MAP}"']
    lines += ["[surface]", "emissivity = 0.95", "set_emissivity = 0.95"]
    lines += ["[connector]", 'face = "mating"', 'pin1 = "lock left"']
    for pin, (x, y, radius) in enumerate(places(size)):
        lines += ["[[pin]]", f'name = "{pin + 1}"', f"x = {x:.2f}", f"y = {y:.2f}", f"radius = {radius:.2f}"]
    lines += ["[[stage]]", 'name = "full"', "start_s = 0.0", "amps = 9.0"]
    (folder / "session.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def counts_of(celsius: np.ndarray) -> np.ndarray:
    """uint16 counts of the scene's gain and offset."""
    return np.round((celsius - OFFSET) / GAIN).astype(np.uint16)


def colours_of(celsius: np.ndarray) -> np.ndarray:
    """The frame drawn through the map, uint8 (rows, columns, 3)."""
    import matplotlib

    table = np.round(matplotlib.colormaps[MAP](np.arange(256))[:, :3] * 255).astype(np.uint8)
    return table[np.clip(np.round((celsius - LOW) / (HIGH - LOW) * 255), 0, 255).astype(int)]


@dataclass(frozen=True)
class Kind:
    """A carrier: `keys` of [frames]; `write(folder, frames)`; `decode(folder)`: each frame, by the library alone."""

    keys: str
    write: Callable[[Path, Iterator[np.ndarray]], None]
    decode: Callable[[Path], Iterator[np.ndarray]]


def make(folder: Path, kind: Kind, count: int, size: tuple[int, int]) -> None:
    """A session folder of `count` frames of (width, height)."""
    folder.mkdir(parents=True)
    kind.write(folder, (frame_of(k, count, size) for k in range(count)))
    write_sheet(folder, kind.keys, size)


def link_more(folder: Path, have: int, want: int, suffix: str) -> None:
    """Files `have` to `want` - 1 become hard links to the first ones, over and over."""
    for k in range(have, want):
        os.link(folder / "frames" / f"f{k % have:05d}{suffix}", folder / "frames" / f"f{k:05d}{suffix}")


def _each(suffix: str, save: Callable[[Path, np.ndarray], object]) -> Callable[[Path, Iterator[np.ndarray]], None]:
    def write(folder: Path, frames: Iterator[np.ndarray]) -> None:
        (folder / "frames").mkdir()
        for k, frame in enumerate(frames):
            save(folder / "frames" / f"f{k:05d}{suffix}", frame)

    return write


def _every(suffix: str, load: Callable[[Path], np.ndarray]) -> Callable[[Path], Iterator[np.ndarray]]:
    return lambda folder: (load(path) for path in sorted((folder / "frames").glob(f"*{suffix}")))


def _save_tiff(path: Path, frame: np.ndarray) -> None:
    import tifffile

    tifffile.imwrite(path, frame.astype(np.float32))


def _load_tiff(path: Path) -> np.ndarray:
    import tifffile

    return tifffile.imread(path)


def _save_count_png(path: Path, frame: np.ndarray) -> None:
    import cv2

    cv2.imwrite(str(path), counts_of(frame))


def _load_count_png(path: Path) -> np.ndarray:
    import cv2

    return cv2.imread(str(path), cv2.IMREAD_UNCHANGED)


def _save_csv(path: Path, frame: np.ndarray) -> None:
    rows = (";".join(f"{value:.2f}".replace(".", ",") for value in row) for row in frame)
    path.write_text("\n".join(["bench frame", *rows]) + "\n", encoding="utf-8")


def _load_csv(path: Path) -> np.ndarray:
    import pandas as pd

    return pd.read_csv(path, sep=";", decimal=",", skiprows=1, header=None).to_numpy()


def _save_picture(path: Path, frame: np.ndarray) -> None:
    from PIL import Image

    Image.fromarray(colours_of(frame)).save(path, quality=92)


def _load_picture(path: Path) -> np.ndarray:
    from PIL import Image

    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGB"))


def _write_npy(folder: Path, frames: Iterator[np.ndarray]) -> None:
    np.save(folder / "stack.npy", np.stack([frame.astype(np.float32) for frame in frames]))


def _decode_npy(folder: Path) -> Iterator[np.ndarray]:
    return (np.array(frame) for frame in np.load(folder / "stack.npy", mmap_mode="r"))


def _write_pages(folder: Path, frames: Iterator[np.ndarray]) -> None:
    import tifffile

    with tifffile.TiffWriter(folder / "pages.tif") as writer:
        for frame in frames:
            writer.write(frame.astype(np.float32), photometric="minisblack", metadata=None)


def _decode_pages(folder: Path) -> Iterator[np.ndarray]:
    import tifffile

    with tifffile.TiffFile(folder / "pages.tif") as tif:
        for page in tif.pages:
            yield page.asarray()


def _video(name: str, codec: str, forms: tuple[str, str], draw: Callable[[np.ndarray], np.ndarray]):
    def write(folder: Path, frames: Iterator[np.ndarray]) -> None:
        import av

        with av.open(str(folder / name), "w") as container:
            stream = None
            for k, frame in enumerate(frames):
                if stream is None:
                    stream = container.add_stream(codec, rate=1)
                    stream.height, stream.width = frame.shape
                    stream.pix_fmt = forms[0]
                    stream.options = {"crf": "18"} if codec == "libx264" else {}
                    stream.codec_context.time_base = Fraction(1, 1000)
                picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(draw(frame)), format=forms[1])
                picture.pts, picture.time_base = round(k * EVERY_S * 1000), Fraction(1, 1000)
                container.mux(stream.encode(picture))
            container.mux(stream.encode())

    return write


def _decode_video(name: str) -> Callable[[Path], Iterator[np.ndarray]]:
    def decode(folder: Path) -> Iterator[np.ndarray]:
        import av

        with av.open(str(folder / name)) as container:
            for frame in container.decode(video=0):
                yield frame.to_ndarray()

    return decode


_COUNTS = f'\nreading = "counts"\ngain = {GAIN}\noffset = {OFFSET}'
_COLOURS = '\nreading = "colours"'
_DEGREES = '\nreading = "temperature"'

KINDS: dict[str, Kind] = {
    "float TIFF": Kind('files = "frames/*.tif"', _each(".tif", _save_tiff), _every(".tif", _load_tiff)),
    "multi-page TIFF": Kind('files = "pages.tif"', _write_pages, _decode_pages),
    "16-bit PNG": Kind(
        'files = "frames/*.png"' + _COUNTS, _each(".png", _save_count_png), _every(".png", _load_count_png)
    ),
    "CSV": Kind('files = "frames/*.csv"' + _DEGREES, _each(".csv", _save_csv), _every(".csv", _load_csv)),
    "npy stack": Kind('files = "stack.npy"', _write_npy, _decode_npy),
    "JPEG map": Kind('files = "frames/*.jpg"' + _COLOURS, _each(".jpg", _save_picture), _every(".jpg", _load_picture)),
    "PNG map": Kind('files = "frames/*.png"' + _COLOURS, _each(".png", _save_picture), _every(".png", _load_picture)),
    "H.264 map": Kind(
        'files = "test.mp4"' + _COLOURS,
        _video("test.mp4", "libx264", ("yuv420p", "rgb24"), colours_of),
        _decode_video("test.mp4"),
    ),
    "FFV1 gray16": Kind(
        'files = "test.mkv"' + _COUNTS,
        _video("test.mkv", "ffv1", ("gray16le", "gray16le"), counts_of),
        _decode_video("test.mkv"),
    ),
}
