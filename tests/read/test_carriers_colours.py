"""Pictures and videos drawn through a colour map reach temperatures; whatever the file, never a traceback."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import HotspotError, InputError
from hotspot.read import open_recording
from hotspot.session import Session

LOW, HIGH = 20.0, 80.0
STEP = (HIGH - LOW) / 255
SCALE = {"low": LOW, "high": HIGH, "map": "inferno"}


def opened(folder: Path, scale: dict | None = None, **frames: object):
    frames.setdefault("every_s", 5.0)
    said = {key: value for key, value in frames.items() if value is not None}
    return open_recording(Session.model_validate({"folder": folder, "frames": said, "scale": scale or {}}))


def truth(count: int = 3) -> np.ndarray:
    rows, columns = np.indices((40, 64))
    return np.stack([LOW + 2 + (rows + columns) * (0.4 + 0.05 * k) for k in range(count)])


def coloured(celsius: np.ndarray, name: str = "inferno") -> np.ndarray:
    import matplotlib

    table = np.round(matplotlib.colormaps[name](np.arange(256))[:, :3] * 255).astype(np.uint8)
    return table[np.round((celsius - LOW) / (HIGH - LOW) * 255).astype(int)]


def write(folder: Path, suffix: str, mode: str = "RGB", name: str = "inferno") -> None:
    from PIL import Image

    for k, picture in enumerate(coloured(truth(), name)):
        image = Image.fromarray(picture)
        if mode == "RGBA":
            image.putalpha(255)
        elif mode != "RGB":
            image = image.convert(mode)
        image.save(folder / f"f{k}{suffix}", **({"quality": 95} if suffix == ".jpg" else {}))


@pytest.mark.parametrize(
    ("suffix", "mode", "within"), [(".png", "RGB", 1.5 * STEP), (".png", "RGBA", 1.5 * STEP), (".jpg", "RGB", 3)]
)
@pytest.mark.parametrize("reading", [None, "colours"])
def test_pictures(tmp_path, suffix, mode, within, reading):
    write(tmp_path, suffix, mode)
    recording = opened(tmp_path, SCALE, reading=reading)
    assert recording.reading == "colours"
    assert recording.settings
    for frame, expected in zip(recording.frames(), truth(), strict=True):
        assert np.abs(frame.celsius() - expected).max() < within
        assert frame.pixels.picture().shape == (40, 64, 3)


@pytest.mark.parametrize(("suffix", "within"), [(".png", 1.5 * STEP), (".jpg", 1.0)])
def test_grey_pictures_by_a_grey_map_or_by_gain_and_offset(tmp_path, suffix, within):
    write(tmp_path, suffix, "L", "gray")
    by_map = opened(tmp_path, {**SCALE, "map": "gray"})
    assert by_map.reading == "colours"
    by_law = opened(tmp_path, gain=STEP, offset=LOW)
    assert by_law.reading == "counts"
    for one, other, expected in zip(by_map.frames(), by_law.frames(), truth(), strict=True):
        assert np.abs(one.celsius() - expected).max() < within
        assert np.abs(other.celsius() - expected).max() < within
    with pytest.raises(InputError, match=r"frames\.reading: uint8 values"):
        opened(tmp_path)


@pytest.mark.parametrize("reading", ["temperature", "counts"])
def test_coloured_pictures_are_no_numbers(tmp_path, reading):
    write(tmp_path, ".png")
    with pytest.raises(InputError, match="coloured picture"):
        opened(tmp_path, reading=reading, gain=1.0, offset=0.0)


def video(path: Path) -> None:
    import av

    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.height, stream.width, stream.pix_fmt = 40, 64, "yuv420p"
        stream.options = {"crf": "12", "bf": "2"}
        stream.codec_context.time_base = Fraction(1, 1000)
        for k, picture in enumerate(coloured(truth())):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = 1500 * k, Fraction(1, 1000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())


def test_video(tmp_path):
    video(tmp_path / "run.mp4")
    recording = opened(tmp_path, SCALE, files="run.mp4", every_s=None)
    assert recording.reading == "colours"
    assert [stamp.time_s for stamp in recording.stamps] == pytest.approx([0.0, 1.5, 3.0], abs=1e-3)
    for frame, expected in zip(recording.frames(), truth(), strict=True):
        assert np.abs(frame.celsius() - expected).mean() < 1.0


def test_a_grey_frame_among_coloured_ones_and_a_deep_one(tmp_path):
    from PIL import Image

    write(tmp_path, ".png")
    Image.fromarray(np.full((40, 64), 30_000, np.uint16)).save(tmp_path / "f1.png")
    recording = opened(tmp_path, SCALE)
    assert [frame.index for frame in recording.frames()] == [0, 2]
    assert "more than 8 bits" in recording.notices[-1].values["why"]


def samples(folder: Path) -> dict[str, dict]:
    """A small file of every carrier, and what must be said to read it."""
    import tifffile

    numbers = truth().astype(np.float32)
    tifffile.imwrite(folder / "a.tif", numbers, compression="zlib", photometric="minisblack")
    tifffile.imwrite(folder / "b.tif", numbers[0])
    np.save(folder / "a.npy", numbers)
    np.savez_compressed(folder / "a.npz", frames=numbers, time_s=np.arange(3.0))
    np.savetxt(folder / "a.csv", numbers[0], fmt="%.3f", delimiter=",", header="time 5 s")
    write(folder, ".png")
    write(folder, ".jpg")
    video(folder / "a.mp4")
    names = ("a.tif", "b.tif", "a.npy", "a.npz", "a.csv", "f0.png", "f0.jpg", "a.mp4")
    return {name: SCALE if name.startswith("f") or name.endswith("mp4") else {} for name in names}


@pytest.mark.parametrize("way", ["flipped", "cut", "zeroed"])
def test_no_harm_to_a_file_ends_in_a_traceback(tmp_path, way):
    """Harmed at random, a file is read, read in part, or refused with words: nothing else is raised."""
    rng = np.random.default_rng(11)
    outcomes = set()
    for name, scale in samples(tmp_path).items():
        whole = (tmp_path / name).read_bytes()
        for trial in range(8):
            data = bytearray(whole)
            place = int(rng.integers(0, len(data) if trial % 2 else min(len(data), 400)))
            if way == "cut":
                del data[place:]
            elif way == "zeroed":
                data[place : place + 40] = bytes(len(data[place : place + 40]))
            else:
                data[place] ^= int(rng.integers(1, 256))
            (tmp_path / name).write_bytes(data)
            try:
                outcomes.add(sum(1 for _ in opened(tmp_path, scale, files=name).frames()))
            except HotspotError as refused:
                outcomes.add(type(refused).__name__)
    assert "InputError" in outcomes
    assert outcomes & {1, 2, 3}, "nothing was read at all: the samples are wrong"
