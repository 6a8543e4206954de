"""Every carrier, from the file to the tables, through `hotspot run`."""

import json
from importlib import import_module
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hotspot.columns import PINS, READINGS, column_names
from hotspot.read.carrier import SUFFIXES

COUNT = 12


def readings(folder: Path) -> pd.DataFrame:
    text = {"pin": str, "file": str, "stage": str, "clipped": str, "quality": str}
    return pd.read_csv(
        folder / "results" / "readings.csv",
        dtype=text,
        keep_default_na=False,
        na_values={name: [""] for name in ("temperature_c", "uncertainty_c", "rise_c", "pixels", "shift_px")},
    )


def float_tiffs(folder: Path, frames: np.ndarray) -> str:
    import tifffile

    (folder / "frames").mkdir()
    for k, frame in enumerate(frames):
        tifffile.imwrite(folder / "frames" / f"f{k:03d}.tif", frame.astype(np.float32))
    return 'files = "frames/*.tif"'


def paged_tiff(folder: Path, frames: np.ndarray) -> str:
    import tifffile

    with tifffile.TiffWriter(folder / "test.tif") as writer:
        for frame in frames:  # one by one: separate series, which a whole-file read returns one page of
            writer.write(frame.astype(np.float32))
    return 'files = "test.tif"'


def counts_tiff(folder: Path, frames: np.ndarray) -> str:
    import tifffile

    (folder / "frames").mkdir()
    for k, frame in enumerate(frames):
        tifffile.imwrite(folder / "frames" / f"f{k:03d}.tif", np.round((frame + 40.0) / 0.02).astype(np.uint16))
    return 'files = "frames/*.tif"\nreading = "counts"\ngain = 0.02\noffset = -40.0'


def png16(folder: Path, frames: np.ndarray) -> str:
    import cv2

    (folder / "frames").mkdir()
    for k, frame in enumerate(frames):
        cv2.imwrite(str(folder / "frames" / f"f{k:03d}.png"), np.round((frame + 40.0) / 0.02).astype(np.uint16))
    return 'files = "frames/*.png"\nreading = "counts"\ngain = 0.02\noffset = -40.0'


def png8(folder: Path, frames: np.ndarray) -> str:
    from PIL import Image

    (folder / "frames").mkdir()
    for k, frame in enumerate(frames):
        Image.fromarray(np.round(frame / 0.4).astype(np.uint8)).save(folder / "frames" / f"f{k:03d}.png")
    return 'files = "frames/*.png"\nreading = "counts"\ngain = 0.4\noffset = 0.0'


def csv_matrices(folder: Path, frames: np.ndarray) -> str:
    (folder / "frames").mkdir()
    for k, frame in enumerate(frames):
        lines = [";".join(f"{value:.3f}".replace(".", ",") for value in row) for row in frame]
        (folder / "frames" / f"f{k:03d}.csv").write_text("\n".join(["bench frame", *lines]) + "\n")
    return 'files = "frames/*.csv"\nreading = "temperature"'


def npy_stack(folder: Path, frames: np.ndarray) -> str:
    np.save(folder / "stack.npy", frames.astype(np.float32))
    return 'files = "stack.npy"'


def npz_stack(folder: Path, frames: np.ndarray) -> str:
    np.savez_compressed(folder / "stack.npz", frames=frames.astype(np.float32))
    return 'files = "stack.npz"'


def fahrenheit_npy(folder: Path, frames: np.ndarray) -> str:
    np.save(folder / "stack.npy", (frames * 1.8 + 32.0).astype(np.float32))
    return 'files = "stack.npy"\nunit = "F"'


def coloured(frames: np.ndarray) -> np.ndarray:
    import matplotlib

    table = np.round(matplotlib.colormaps["inferno"](np.arange(256))[:, :3] * 255).astype(np.uint8)
    return table[np.clip(np.round((frames - 20.0) / 60.0 * 255), 0, 255).astype(int)]


def pictures(folder: Path, frames: np.ndarray, suffix: str, **options: object) -> str:
    from PIL import Image

    (folder / "frames").mkdir()
    for k, picture in enumerate(coloured(frames)):
        Image.fromarray(picture).save(folder / "frames" / f"f{k:03d}{suffix}", **options)
    return f'files = "frames/*{suffix}"\nreading = "colours"'


def png_pictures(folder: Path, frames: np.ndarray) -> str:
    return pictures(folder, frames, ".png")


def jpeg_pictures(folder: Path, frames: np.ndarray) -> str:
    return pictures(folder, frames, ".jpg", quality=92)


def video(folder: Path, frames: np.ndarray, codec: str, name: str) -> str:
    from fractions import Fraction

    import av

    with av.open(str(folder / name), "w") as container:
        stream = container.add_stream(codec, rate=1)
        stream.height, stream.width = frames.shape[1:3]
        stream.pix_fmt = "gray16le" if codec == "ffv1" else "yuv420p"
        if codec == "mpeg4":
            stream.bit_rate = 8_000_000  # the default starves small frames
        if codec == "libx264":
            stream.options = {"crf": "16"}
        stream.codec_context.time_base = Fraction(1, 1000)
        for k, frame in enumerate(frames):
            form = "gray16le" if codec == "ffv1" else "rgb24"
            picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(frame), format=form)
            picture.pts, picture.time_base = k * 10_000, Fraction(1, 1000)
            container.mux(stream.encode(picture))
        container.mux(stream.encode())
    return f'files = "{name}"'


def ffv1(folder: Path, frames: np.ndarray) -> str:
    counts = np.round((frames + 40.0) / 0.02).astype(np.uint16)
    return video(folder, counts, "ffv1", "test.mkv") + '\nreading = "counts"\ngain = 0.02\noffset = -40.0'


def h264(folder: Path, frames: np.ndarray) -> str:
    return video(folder, coloured(frames), "libx264", "test.mp4") + '\nreading = "colours"'


def mpeg4(folder: Path, frames: np.ndarray) -> str:
    return video(folder, coloured(frames), "mpeg4", "test.mp4") + '\nreading = "colours"'


CARRIERS = {
    float_tiffs: 0.01,
    paged_tiff: 0.01,
    counts_tiff: 0.02,
    png16: 0.02,
    png8: 0.25,
    csv_matrices: 0.01,
    npy_stack: 0.01,
    npz_stack: 0.01,
    fahrenheit_npy: 0.01,
    png_pictures: 0.24,  # one step of the map: half for its 256 colours, half for rounding them to bytes
    jpeg_pictures: 1.2,
    ffv1: 0.02,
    h264: 1.5,
    mpeg4: 2.5,
}
HOLDS = {
    "tiff": float_tiffs,
    "png": png16,
    "picture": jpeg_pictures,
    "npy": npy_stack,
    "csv_grid": csv_matrices,
    "video": ffv1,
}


@pytest.mark.parametrize("kind", SUFFIXES)
def test_every_carrier_is_a_module_and_has_a_case_here(kind):
    module = import_module(f"hotspot.read.{kind}")
    assert callable(module.list_frames)
    assert callable(module.decode)
    assert HOLDS[kind] in CARRIERS, "write a case that goes through the command"


COLOURS = '\n[scale]\nlow = 20.0\nhigh = 80.0\nmap = "inferno"'


@pytest.mark.parametrize(("carrier", "within_k"), CARRIERS.items(), ids=lambda v: getattr(v, "__name__", v))
def test_a_carrier_reaches_the_tables(carrier, within_k, tmp_path, warm_row, sheet, hotspot_cli):
    frames = warm_row(COUNT)
    keys = carrier(tmp_path, frames)
    sheet(tmp_path, keys, COLOURS if 'reading = "colours"' in keys else "")
    called = hotspot_cli("run", tmp_path)
    assert called.status == 0, called.err

    table = readings(tmp_path)
    assert list(table.columns) == column_names(READINGS)
    assert len(table) == COUNT * 4
    truth = np.array([[frame[24, x] for x in (18, 38, 58, 78)] for frame in frames])
    found = table.pivot_table(index="frame", columns="pin", values="temperature_c").to_numpy()
    assert np.abs(found - truth).max() <= within_k
    assert table["time_s"].unique() == pytest.approx(10.0 * np.arange(COUNT))
    assert (table["uncertainty_c"] > 0).all()

    findings = json.loads((tmp_path / "results" / "findings.json").read_text())
    assert findings["hottest_pin"] == "3"
    assert findings["source_pins"] == ["3"]
    pins = pd.read_csv(tmp_path / "results" / "pins.csv", dtype={"pin": str}, keep_default_na=False)
    assert list(pins.columns) == column_names(PINS)
    for name in ("trend.png", "trend.svg", "report.html"):
        assert (tmp_path / "results" / name).stat().st_size > 1000
