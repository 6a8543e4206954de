"""Half, damaged, absurd and mixed files: noticed or set aside, never quietly short, never a traceback."""

import io
import pickle
import struct
import zlib
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from hotspot.errors import InputError
from hotspot.read import open_recording
from hotspot.session import Session

SHAPE = (24, 32)


def opened(folder: Path, **frames: object):
    frames.setdefault("every_s", 5.0)
    said = {key: value for key, value in frames.items() if value is not None}
    return open_recording(Session.model_validate({"folder": folder, "frames": said}))


def stack(count: int = 5) -> np.ndarray:
    return np.random.default_rng(5).uniform(15.0, 90.0, (count, *SHAPE)).astype(np.float32)


def cut(path: Path, share: float) -> None:
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])


def codes(recording) -> list[str]:
    return [notice.code for notice in recording.notices]


def write_single(path: Path, frame: np.ndarray) -> None:
    import cv2
    import tifffile

    if path.suffix == ".npy":
        np.save(path, frame)
    elif path.suffix == ".tif":
        tifffile.imwrite(path, frame)
    elif path.suffix == ".csv":
        np.savetxt(path, frame, delimiter=",")
    else:
        cv2.imwrite(str(path), frame.astype(np.uint16))


BREAKS = {
    "half": lambda path: cut(path, 0.5),
    "empty": lambda path: path.write_bytes(b""),
    "noise": lambda path: path.write_bytes(np.random.default_rng(1).bytes(2000)),
    "header": lambda path: path.write_bytes(path.read_bytes()[:8]),
}


@pytest.mark.parametrize("harm", BREAKS)
@pytest.mark.parametrize("suffix", [".tif", ".npy", ".csv", ".png"])
@pytest.mark.parametrize("broken", [0, 2])
def test_one_bad_file_never_ends_a_run(tmp_path, suffix, harm, broken):
    frames = stack()
    for k, frame in enumerate(frames):
        write_single(tmp_path / f"f{k}{suffix}", frame)
    BREAKS[harm](tmp_path / f"f{broken}{suffix}")
    keys = {"gain": 1.0, "offset": 0.0} if suffix == ".png" else {}
    recording = opened(tmp_path, **keys)
    good = [k for k in range(5) if k != broken]
    for _ in range(2):  # noticed once, however often it is read
        assert [frame.index for frame in recording.frames()] == good
    assert [(n.code, n.frames) for n in recording.notices] == [("frame_set_aside", (broken,))]
    assert recording.notices[0].values["file"] == f"f{broken}{suffix}"
    assert [frame.time_s for frame in recording.frames()] == [5.0 * k for k in good]


@pytest.mark.parametrize("suffix", [".tif", ".npy", ".csv", ".png"])
def test_nothing_readable_is_refused(tmp_path, suffix):
    for k in range(2):
        (tmp_path / f"f{k}{suffix}").write_bytes(b"")
    with pytest.raises(InputError, match="none of 2 frames can be read"):
        opened(tmp_path)


def test_a_frame_of_another_size_is_set_aside(tmp_path):
    for k, frame in enumerate(stack()):
        np.save(tmp_path / f"f{k}.npy", frame[:, :-1] if k == 3 else frame)
    recording = opened(tmp_path)
    assert [frame.index for frame in recording.frames()] == [0, 1, 2, 4]
    assert recording.notices[0].values["why"] == "it has 31 x 24 pixels, the first good frame 32 x 24"


def test_numbers_that_are_stored_otherwise_are_set_aside(tmp_path):
    from PIL import Image

    for k in range(3):
        Image.fromarray(np.full(SHAPE, 100, np.uint8 if k == 1 else np.uint16)).save(tmp_path / f"f{k}.png")
    recording = opened(tmp_path, gain=1.0, offset=0.0)
    assert [frame.index for frame in recording.frames()] == [0, 2]
    assert "uint8" in recording.notices[0].values["why"]


# Stacks


@pytest.mark.parametrize("contiguous", [True, False])
@pytest.mark.parametrize("compression", [None, "zlib"])
def test_half_a_tiff_of_pages(tmp_path, contiguous, compression):
    import tifffile

    frames = stack()
    with tifffile.TiffWriter(tmp_path / "run.tif") as writer:
        if contiguous:
            writer.write(frames, compression=compression)
        else:
            for frame in frames:
                writer.write(frame, contiguous=False, compression=compression)
    cut(tmp_path / "run.tif", 0.6)
    recording = opened(tmp_path, files="run.tif")
    read = list(recording.frames())
    assert 0 < len(read) < 5
    assert all(np.array_equal(frame.celsius(), frames[frame.index]) for frame in read)
    assert ("frames_missing" if contiguous else "carrier_trouble") in codes(recording)
    assert len(read) + codes(recording).count("frame_set_aside") == len(recording.stamps)


def test_half_an_npy_stack_keeps_its_gaps(tmp_path):
    np.save(tmp_path / "run.npy", stack())
    cut(tmp_path / "run.npy", 0.5)
    recording = opened(tmp_path, files="run.npy")
    assert [frame.index for frame in recording.frames()] == [0, 1]
    assert codes(recording) == ["frames_missing"] + ["frame_set_aside"] * 3
    assert recording.notices[0].values == {"file": "run.npy", "found": 2, "told": 5}


def test_an_npz_with_a_changed_byte(tmp_path):
    np.savez(tmp_path / "run.npz", frames=stack())
    data = bytearray((tmp_path / "run.npz").read_bytes())
    data[len(data) // 2] ^= 0xFF
    (tmp_path / "run.npz").write_bytes(data)
    assert codes(opened(tmp_path, files="run.npz")) == ["carrier_trouble"]


def test_half_an_npz_is_refused(tmp_path):
    np.savez(tmp_path / "run.npz", frames=stack())
    cut(tmp_path / "run.npz", 0.5)
    with pytest.raises(InputError, match="no whole .npz"):
        opened(tmp_path, files="run.npz")


class Trap:
    """Unpickling it would make a file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self):
        return (Path.touch, (self.path,))


@pytest.mark.parametrize("suffix", [".npy", ".npz"])
def test_pickled_arrays_are_never_opened(tmp_path, suffix):
    trapped = np.array([Trap(tmp_path / "sprung")], dtype=object)
    (np.save if suffix == ".npy" else np.savez)(tmp_path / f"run{suffix}", trapped)
    with pytest.raises(InputError, match="pickled objects, which are never opened"):
        opened(tmp_path, files=f"run{suffix}")
    (tmp_path / "plain.npy").write_bytes(pickle.dumps(Trap(tmp_path / "sprung")))
    with pytest.raises(InputError, match="no NumPy array"):
        opened(tmp_path, files="plain.npy")
    assert not (tmp_path / "sprung").exists()


@pytest.mark.parametrize("arrays", [{"a": 0, "b": 1}, {}])
def test_an_npz_must_say_which_array_holds_the_frames(tmp_path, arrays):
    np.savez(tmp_path / "run.npz", time_s=[0.0], **{name: stack() for name in arrays})
    with pytest.raises(InputError, match="one array of frames"):
        opened(tmp_path, files="run.npz")


# Headers that claim what no camera makes


def png_header(width: int, height: int) -> bytes:
    head = b"IHDR" + struct.pack(">IIBBBBB", width, height, 16, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))


def tiff_header(width: int, height: int) -> bytes:
    tags = [(256, 4, width), (257, 4, height), (258, 3, 32), (259, 3, 1), (262, 3, 1), (273, 4, 8)]
    tags += [(277, 3, 1), (278, 4, height), (279, 4, 100), (339, 3, 3)]
    packed = b"".join(struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in tags)
    return b"II*\0" + struct.pack("<IH", 8, len(tags)) + packed + bytes(104)


def npy_header(*shape: int) -> bytes:
    head = f"{{'descr': '<f4', 'fortran_order': False, 'shape': {shape}, }}".encode().ljust(117) + b"\n"
    return b"\x93NUMPY\x01\x00" + struct.pack("<H", len(head)) + head + bytes(100)


ABSURD = {
    "x.png": png_header(100_000, 100_000),
    "x.tif": tiff_header(100_000, 100_000),
    "x.npy": npy_header(100_000, 100_000),
    "y.npy": npy_header(10**12, 24, 32),
}


@pytest.mark.parametrize("name", ABSURD)
def test_an_absurd_header_is_set_aside_without_taking_memory(tmp_path, name):
    import tracemalloc

    (tmp_path / name).write_bytes(ABSURD[name])
    tracemalloc.start()
    with pytest.raises(InputError, match="it claims"):
        opened(tmp_path, files=name)
    assert tracemalloc.get_traced_memory()[1] < 30_000_000
    tracemalloc.stop()


# Video


def ffv1(path: Path, frames: np.ndarray, times: list[float], **options: str) -> None:
    import av

    with av.open(str(path), "w") as container:
        stream = container.add_stream("ffv1", rate=10)
        stream.height, stream.width = frames.shape[1:]
        stream.pix_fmt = "gray16le"
        stream.options = {"level": "3", "g": "1", "slicecrc": "1", **options}
        stream.codec_context.time_base = Fraction(1, 1000)
        for frame, time in zip(frames, times, strict=True):
            picture = av.VideoFrame.from_ndarray(frame, format="gray16le")
            picture.pts, picture.time_base = round(time * 1000), Fraction(1, 1000)
            container.mux(stream.encode(picture))
        container.mux(stream.encode())


TIMES = [0.0, 0.1, 0.2, 0.35, 0.5, 0.71, 1.003, 1.1]


def noise16() -> np.ndarray:
    return np.random.default_rng(2).integers(0, 60_000, (8, *SHAPE), dtype=np.uint16)


COUNTS = {"reading": "counts", "gain": 1.0, "offset": 0.0, "files": "run.mkv", "every_s": None}


def test_half_a_matroska_is_noticed(tmp_path):
    frames = noise16()
    ffv1(tmp_path / "run.mkv", frames, TIMES)
    cut(tmp_path / "run.mkv", 0.5)
    recording = opened(tmp_path, **COUNTS)
    read = list(recording.frames())
    assert np.array_equal([frame.celsius() for frame in read], frames[: len(read)])
    assert 0 < len(read) < 8
    (notice,) = recording.notices
    assert notice.code == "video_short"
    assert notice.values["told_s"] == pytest.approx(1.2, abs=0.1)
    assert notice.values["reached_s"] == pytest.approx(TIMES[len(read) - 1])


@pytest.mark.parametrize("indices", [None, [1, 3, 5]])
def test_a_damaged_slice_sets_its_own_frame_aside(tmp_path, indices):
    frames = noise16()
    ffv1(tmp_path / "run.mkv", frames, TIMES)
    data = bytearray((tmp_path / "run.mkv").read_bytes())
    data[len(data) // 2] ^= 0xFF
    (tmp_path / "run.mkv").write_bytes(data)
    recording = opened(tmp_path, **COUNTS)
    read = list(recording.frames(indices))
    (notice,) = recording.notices
    assert notice.code == "frame_set_aside"
    assert "CRC" in notice.values["why"]
    (bad,) = notice.frames
    assert [frame.index for frame in read] == [k for k in (indices or range(8)) if k != bad]
    assert all(np.array_equal(frame.celsius(), frames[frame.index]) for frame in read)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5])
def test_a_video_without_its_index_is_refused(tmp_path, share):
    import av

    with av.open(str(tmp_path / "run.mp4"), "w") as container:
        stream = container.add_stream("libx264", rate=5)
        stream.height, stream.width, stream.pix_fmt = 24, 32, "yuv420p"
        for frame in (noise16() >> 8).astype(np.uint8):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(frame, format="gray")))
        container.mux(stream.encode())
    cut(tmp_path / "run.mp4", share)
    with pytest.raises(InputError, match="none of 1 frames can be read: it is no whole video"):
        opened(tmp_path, files="run.mp4")


def h264(path: Path, options: dict[str, str]) -> None:
    import av

    with av.open(str(path), "w", options=options) as container:
        stream = container.add_stream("libx264", rate=5)
        stream.height, stream.width, stream.pix_fmt = 120, 160, "yuv420p"
        stream.options = {"g": "5", "bf": "2", "crf": "20"}
        rng = np.random.default_rng(9)
        for _ in range(30):
            picture = rng.integers(0, 255, (120, 160, 3), dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())


def decoded(path: Path) -> list:
    from hotspot.read import video
    from hotspot.read.carrier import Options

    contents = video.list_frames(path, Options("x"))
    return list(video.decode(path, range(contents.count), Options("x")))


def test_half_an_mp4_whose_index_comes_first(tmp_path):
    from hotspot.read.carrier import Broken

    path = tmp_path / "x.mp4"
    h264(path, {"movflags": "faststart"})
    whole = decoded(path)
    assert [number for number, _ in whole] == list(range(30))
    cut(path, 0.5)
    half = decoded(path)
    good = [number for number, raw in half if not isinstance(raw, Broken)]
    assert len(good) < 20
    for number in good:
        assert np.array_equal(half[number][1].planes[0], whole[number][1].planes[0])


def test_damage_in_frames_that_lean_on_each_other_is_carried_to_the_next_key_frame(tmp_path):
    from hotspot.read.carrier import Broken

    path = tmp_path / "x.mp4"
    h264(path, {})
    whole = decoded(path)
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 64] = bytes(64)
    path.write_bytes(data)
    harmed = decoded(path)
    assert [number for number, _ in harmed] == list(range(30))
    assert 1 <= sum(isinstance(raw, Broken) for _, raw in harmed) <= 12
    for (_, before), (_, after) in zip(whole, harmed, strict=True):
        assert isinstance(after, Broken) or np.array_equal(before.planes[0], after.planes[0])


def test_the_reason_is_the_same_in_every_run():
    from hotspot.read.carrier import short

    error = OSError(f"cannot identify image file {io.BytesIO()!r}\nmore")
    assert short(error) == "cannot identify image file this"
