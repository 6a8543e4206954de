"""Frames as this program reads them, against other libraries reading the same files, and against open data.

Pictures and stacks: Pillow, OpenCV, tifffile, NumPy, PyAV (each file is written by one of them and read back by
another). Open data: two recordings of thermopile arrays, see SOURCE.md in their folders in tests/data.
"""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import InputError
from hotspot.read import open_recording
from hotspot.session import Session

DATA = Path(__file__).parent.parent / "data"
LINES = DATA / "array_32x32_three_frames"
ONE = DATA / "array_24x32_one_frame"
pytestmark = pytest.mark.published


def opened(folder: Path, **frames: object):
    said = {key: value for key, value in frames.items() if value is not None}
    return open_recording(Session.model_validate({"folder": folder, "frames": said}))


def celsius(folder: Path, **frames: object) -> np.ndarray:
    return np.stack([frame.celsius() for frame in opened(folder, every_s=1.0, **frames).frames()])


# Open data


def test_three_frames_from_lines_with_a_title_a_heading_and_inf():
    """expected.csv against NumPy's own reader of it, to the last digit."""
    table = np.genfromtxt(LINES / "expected.csv", delimiter=",", skip_header=2)
    recording = opened(LINES, files="expected.csv", size=[32, 32])
    read = np.stack([frame.celsius() for frame in recording.frames()])
    assert np.array_equal(read, table[:, 2:].reshape(3, 32, 32))
    assert [stamp.time_s for stamp in recording.stamps] == pytest.approx([0.0, 0.125, 0.25], abs=1e-9)
    assert recording.notices == []


def test_three_frames_are_the_same_from_lines_and_from_npy():
    """Their maker wrote the same frames both ways, to 1e-6 (SOURCE.md)."""
    from_lines = celsius(LINES, files="expected.csv", size=[32, 32])
    from_npy = celsius(LINES, files="expected.npy")
    assert np.abs(from_lines - from_npy).max() < 2e-6
    assert np.array_equal(from_npy, np.load(LINES / "expected.npy", allow_pickle=False).astype(float))


@pytest.mark.parametrize("name", ["thermal.csv", "thermal2.csv"])
def test_one_frame_in_one_line(name):
    expected = np.loadtxt(ONE / name, delimiter=",").reshape(24, 32)
    assert np.array_equal(celsius(ONE, files=name, size=[32, 24])[0], expected)
    with pytest.raises(InputError, match=r"frames\.size: .*768 numbers"):
        celsius(ONE, files=name)


def test_one_frame_against_its_own_picture():
    """The hue [degrees] of hues_of_thermal2.png is the temperature; its residual is 0.07 (SOURCE.md)."""
    from matplotlib.colors import rgb_to_hsv
    from PIL import Image

    picture = np.asarray(Image.open(ONE / "hues_of_thermal2.png").convert("RGB"))
    hue = rgb_to_hsv(picture / 255.0)[:, :, 0] * 360.0
    read = celsius(ONE, files="thermal2.csv", size=[32, 24])[0]
    assert hue.shape == read.shape
    assert np.sqrt(np.mean((hue - read) ** 2)) < 0.15
    assert np.abs(hue - read).max() < 0.3


# Grey pictures: written by one library, read by this program and by a third


def grey(dtype: type, seed: int = 4) -> np.ndarray:
    rng = np.random.default_rng(seed)
    if np.issubdtype(dtype, np.integer):
        return rng.integers(0, np.iinfo(dtype).max, (31, 47), dtype=dtype, endpoint=True)
    return rng.uniform(-20, 300, (31, 47)).astype(dtype)


def by_pillow(path: Path, frame: np.ndarray) -> None:
    from PIL import Image

    Image.fromarray(frame).save(path)


def by_cv2(path: Path, frame: np.ndarray) -> None:
    import cv2

    assert cv2.imwrite(str(path), frame)


def by_tifffile(path: Path, frame: np.ndarray) -> None:
    import tifffile

    tifffile.imwrite(path, frame, byteorder=">")


@pytest.mark.parametrize(
    ("write", "suffix", "dtype"),
    [
        (by_pillow, ".png", np.uint8),
        (by_pillow, ".png", np.uint16),
        (by_cv2, ".png", np.uint8),
        (by_cv2, ".png", np.uint16),
        (by_pillow, ".tif", np.uint16),
        (by_pillow, ".tif", np.float32),
        (by_cv2, ".tif", np.uint16),
        (by_cv2, ".tif", np.float32),
        (by_tifffile, ".tif", np.uint16),
        (by_tifffile, ".tif", np.float32),
    ],
)
def test_grey_frames(tmp_path, write, suffix, dtype):
    import cv2

    frame = grey(dtype)
    write(tmp_path / f"a{suffix}", frame)
    counts = {"reading": "counts", "gain": 1.0, "offset": 0.0}
    read = celsius(tmp_path, **({} if dtype == np.float32 else counts))[0]
    assert np.array_equal(read, cv2.imread(str(tmp_path / f"a{suffix}"), cv2.IMREAD_UNCHANGED).astype(float))
    assert np.array_equal(read, frame.astype(float))


def test_tiff_pages_against_cv2(tmp_path):
    import cv2
    import tifffile

    frames = np.stack([grey(np.float32, seed) for seed in range(4)])
    with tifffile.TiffWriter(tmp_path / "run.tif") as writer:
        for frame in frames:
            writer.write(frame, contiguous=False)
    done, pages = cv2.imreadmulti(str(tmp_path / "run.tif"), flags=cv2.IMREAD_UNCHANGED)
    assert done
    assert np.array_equal(celsius(tmp_path, files="run.tif"), np.stack(pages).astype(float))


# Coloured pictures


def image_of(path: Path):
    from hotspot.read.carrier import Broken, Options, carrier_of

    ((_, raw),) = carrier_of(path).decode(path, [0], Options(path.name))
    assert not isinstance(raw, Broken), raw
    return raw


@pytest.mark.parametrize("mode", ["RGB", "P", "RGBA"])
def test_png_pictures_against_cv2(tmp_path, mode):
    import cv2
    from PIL import Image

    colours = np.random.default_rng(1).integers(0, 255, (31, 47, 3), dtype=np.uint8)
    Image.fromarray(colours).convert(mode).save(tmp_path / "a.png")
    seen = cv2.imread(str(tmp_path / "a.png"), cv2.IMREAD_COLOR)[:, :, ::-1]
    assert np.array_equal(image_of(tmp_path / "a.png").as_rgb(), seen)


def test_sixteen_bit_colour_png_is_rounded(tmp_path):
    import cv2

    colours = np.random.default_rng(1).integers(0, 65535, (31, 47, 3), dtype=np.uint16)
    cv2.imwrite(str(tmp_path / "a.png"), colours[:, :, ::-1])
    assert np.abs(image_of(tmp_path / "a.png").as_rgb() - colours / 257.0).max() <= 0.51


@pytest.mark.parametrize("quality", [50, 95])
def test_jpeg_pictures_against_cv2(tmp_path, quality):
    """Two builds of the same codec may differ by a rounding; here by at most one level."""
    import cv2
    from PIL import Image

    ramp = np.linspace(0, 255, 64 * 48).reshape(48, 64).astype(np.uint8)
    Image.fromarray(np.dstack([ramp, 255 - ramp, ramp.T.reshape(48, 64)])).save(tmp_path / "a.jpg", quality=quality)
    seen = cv2.imread(str(tmp_path / "a.jpg"), cv2.IMREAD_COLOR)[:, :, ::-1]
    assert np.abs(image_of(tmp_path / "a.jpg").as_rgb().astype(int) - seen).max() <= 1


def test_jpeg_that_is_turned_by_its_exif_against_cv2(tmp_path):
    import cv2
    from PIL import Image

    image = Image.fromarray(np.arange(48 * 64, dtype=np.uint8).reshape(48, 64)).convert("RGB")
    exif = image.getexif()
    exif[0x0112] = 6
    image.save(tmp_path / "a.jpg", quality=100, exif=exif)
    seen = cv2.imread(str(tmp_path / "a.jpg"), cv2.IMREAD_COLOR)[:, :, ::-1]
    read = image_of(tmp_path / "a.jpg").as_rgb()
    assert read.shape == (64, 48, 3)
    assert np.abs(read.astype(int) - seen).max() <= 1


def test_grey_jpeg_is_a_grey_array(tmp_path):
    import cv2
    from PIL import Image

    Image.fromarray(grey(np.uint8)).save(tmp_path / "a.jpg")
    assert np.array_equal(image_of(tmp_path / "a.jpg"), cv2.imread(str(tmp_path / "a.jpg"), cv2.IMREAD_GRAYSCALE))


# Video


def write_video(path: Path, frames: list[np.ndarray], times: list[float], spec: dict) -> None:
    import av

    with av.open(str(path), "w") as container:
        stream = container.add_stream(spec["codec"], rate=30)
        stream.height, stream.width = frames[0].shape[:2]
        stream.pix_fmt = spec["to"]
        stream.options = spec.get("options", {})
        stream.codec_context.time_base = Fraction(1, 1000)
        for frame, time in zip(frames, times, strict=True):
            picture = av.VideoFrame.from_ndarray(frame, format=spec["from"])
            picture.pts, picture.time_base = round(time * 1000), Fraction(1, 1000)
            container.mux(stream.encode(picture))
        container.mux(stream.encode())


TIMES = [0.0, 0.1, 0.2, 0.35, 0.5, 0.71, 1.003, 1.1]


@pytest.mark.parametrize("seed", [1, 2])
def test_ffv1_of_sixteen_bits_is_exact_and_keeps_its_own_times(tmp_path, seed):
    frames = [grey(np.uint16, seed + k) for k in range(8)]
    write_video(tmp_path / "run.mkv", frames, TIMES, {"codec": "ffv1", "to": "gray16le", "from": "gray16le"})
    recording = opened(tmp_path, files="run.mkv", reading="counts", gain=1.0, offset=0.0)
    assert np.array_equal([frame.celsius() for frame in recording.frames()], frames)
    assert [stamp.time_s for stamp in recording.stamps] == pytest.approx(TIMES, abs=1e-9)
    assert [stamp.file for stamp in recording.stamps] == [f"run.mkv#{k}" for k in range(8)]
    assert np.array_equal([frame.celsius() for frame in recording.frames([6, 1])], [frames[1], frames[6]])
    assert recording.notices == []


@pytest.mark.parametrize(("codec", "options"), [("libx264", {"bf": "2", "crf": "18"}), ("mpeg4", {"bf": "1"})])
def test_mp4_against_cv2(tmp_path, codec, options):
    """Every frame once, in order; colours as OpenCV's own decoder gives them, to its rounding of chroma."""
    import cv2

    rows, columns = np.indices((48, 64))
    frames = [np.dstack([rows * 5, columns * 3, np.full_like(rows, 20 * k)]).astype(np.uint8) for k in range(8)]
    path = tmp_path / "run.mp4"
    write_video(path, frames, TIMES, {"codec": codec, "to": "yuv420p", "from": "rgb24", "options": options})

    from hotspot.read import video
    from hotspot.read.carrier import Options

    contents = video.list_frames(path, Options("run.mp4"))
    assert contents.times_s == pytest.approx(TIMES, abs=1e-3)
    assert contents.notices == ()
    capture = cv2.VideoCapture(str(path))
    for number, (place, image) in enumerate(video.decode(path, range(8), Options("run.mp4"))):
        assert place == number
        done, seen = capture.read()
        assert done
        assert np.abs(image.as_rgb().astype(int) - seen[:, :, ::-1]).mean() < 3.0
        assert image.planes[1].shape == (24, 32)
        assert image.limited_range
    assert capture.read()[0] is False
    capture.release()
    ((only, image),) = video.decode(path, [5], Options("run.mp4"))
    assert only == 5
    assert image.planes[0].shape == (48, 64)


def test_a_stack_of_pictures_in_npy(tmp_path):
    colours = np.random.default_rng(1).integers(0, 255, (3, 31, 47, 3), dtype=np.uint8)
    np.save(tmp_path / "run.npy", colours)
    from hotspot.read import npy
    from hotspot.read.carrier import Options

    assert npy.list_frames(tmp_path / "run.npy", Options("x")).count == 3
    read = [image.as_rgb() for _, image in npy.decode(tmp_path / "run.npy", range(3), Options("x"))]
    assert np.array_equal(read, colours)


def test_the_data_is_as_it_came():
    """Their folders hold the licence and the origin of every file."""
    for folder in (LINES, ONE):
        source = (folder / "SOURCE.md").read_text()
        assert "MIT" in source
        assert "commit" in source
        assert (folder / "LICENSE_upstream.txt").stat().st_size > 500
