"""Every carrier of temperatures and counts: what is written comes back exactly, and in time order."""

import hashlib
import io
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read import open_recording
from hotspot.session import Session

SHAPE = (6, 8)


def session(folder: Path, *, scale: dict | None = None, **frames: object) -> Session:
    frames.setdefault("every_s", 5.0)
    said = {"frames": {key: value for key, value in frames.items() if value is not None}, "scale": scale or {}}
    return Session.model_validate({"folder": folder, **said})


def stack(count: int = 4, shape: tuple[int, int] = SHAPE) -> np.ndarray:
    return np.random.default_rng(5).uniform(15.0, 90.0, (count, *shape)).astype(np.float32)


def read(folder: Path, indices=None, **frames: object) -> np.ndarray:
    return np.stack([frame.celsius() for frame in open_recording(session(folder, **frames)).frames(indices)])


def refusal(folder: Path, **frames: object) -> str:
    with pytest.raises(InputError) as caught:
        list(open_recording(session(folder, **frames)).frames())
    return str(caught.value)


def tiffs(folder: Path, frames: np.ndarray, **options: object) -> None:
    import tifffile

    for k, frame in enumerate(frames):
        tifffile.imwrite(folder / f"f{k}.tif", frame, **options)


# Temperatures


@pytest.mark.parametrize("compression", [None, "zlib", "lzw"])
def test_float_tiffs_one_per_frame(tmp_path, compression):
    frames = stack()
    tiffs(tmp_path, frames, compression=compression)
    assert np.array_equal(read(tmp_path), frames.astype(np.float64))


@pytest.mark.parametrize("contiguous", [True, False])
def test_float_tiff_of_many_pages_however_they_were_written(tmp_path, contiguous):
    import tifffile

    frames = stack(7)
    with tifffile.TiffWriter(tmp_path / "run.tif") as writer:
        for frame in frames:
            writer.write(frame, contiguous=contiguous)
    assert np.array_equal(read(tmp_path, files="run.tif"), frames)
    assert np.array_equal(read(tmp_path, [5, 2], files="run.tif"), frames[[2, 5]])
    recording = open_recording(session(tmp_path, files="run.tif"))
    assert [stamp.file for stamp in recording.stamps] == [f"run.tif#{k}" for k in range(7)]
    assert recording.reading == "temperature"


@pytest.mark.parametrize("dtype", [np.float32, np.uint16])
def test_a_tiff_of_three_frames_that_its_writer_took_for_colours(tmp_path, dtype):
    """Three planes kept apart in one page: what a writer makes of a stack of three when it is told nothing."""
    import tifffile

    frames = (stack(3) * 10).astype(dtype)
    tifffile.imwrite(tmp_path / "run.tif", frames, photometric="rgb", planarconfig="separate")
    keys = {"reading": "temperature"} if dtype == np.uint16 else {}
    assert np.array_equal(read(tmp_path, files="run.tif", **keys), frames)
    assert np.array_equal(read(tmp_path, [1], files="run.tif", **keys), frames[1:2])


def test_tiff_thumbnails_are_no_frames(tmp_path):
    import tifffile

    frames = stack(2)
    with tifffile.TiffWriter(tmp_path / "run.tif") as writer:
        for frame in frames:
            writer.write(frame)
            writer.write(frame[::2, ::2], subfiletype=1)
    assert np.array_equal(read(tmp_path, files="run.tif"), frames)


@pytest.mark.parametrize("order", ["C", "F"])
@pytest.mark.parametrize("dtype", ["<f4", ">f8", "<f2"])
def test_npy_stack(tmp_path, order, dtype):
    frames = np.asarray(stack(), dtype=dtype, order=order)
    np.save(tmp_path / "run.npy", frames)
    assert np.array_equal(read(tmp_path, files="run.npy"), frames.astype(float))
    assert np.array_equal(read(tmp_path, [3], files="run.npy"), frames[3:].astype(float))


@pytest.mark.parametrize("save", [np.savez, np.savez_compressed])
def test_npz_stack_with_its_own_times(tmp_path, save):
    frames = stack()
    save(tmp_path / "run.npz", frames=frames, time_s=[100.0, 100.5, 102.0, 103.0])
    recording = open_recording(session(tmp_path, files="run.npz", every_s=None))
    assert np.array_equal([frame.celsius() for frame in recording.frames()], frames)
    assert [stamp.time_s for stamp in recording.stamps] == [0.0, 0.5, 2.0, 3.0]


def test_single_npy_files_in_natural_order(tmp_path):
    frames = stack(12)
    for k, frame in enumerate(frames):
        np.save(tmp_path / f"f{k}.npy", frame)
    recording = open_recording(session(tmp_path))
    assert [stamp.file for stamp in recording.stamps] == [f"f{k}.npy" for k in range(12)]
    assert np.array_equal([frame.celsius() for frame in recording.frames()], frames)


@pytest.mark.parametrize(("unit", "per_k", "zero"), [("F", 1.8, 32.0), ("K", 1.0, 273.15)])
def test_units_of_the_values(tmp_path, unit, per_k, zero):
    frames = stack().astype(float)
    np.save(tmp_path / "run.npy", frames * per_k + zero)
    assert read(tmp_path, files="run.npy", unit=unit) == pytest.approx(frames, abs=1e-9)


def test_values_that_are_not_finite_are_no_values(tmp_path):
    frames = stack(1)
    frames[0, 1, 2:5] = np.nan, np.inf, -np.inf
    np.save(tmp_path / "run.npy", frames)
    (frame,) = open_recording(session(tmp_path, files="run.npy")).frames()
    celsius, doubts, uncertainty = frame.pixels.at(np.array([1, 1, 1, 1]), np.array([1, 2, 3, 4]))
    assert np.isnan(celsius).tolist() == [False, True, True, True]
    assert doubts.tolist() == [0] + [BIT["no_value"]] * 3
    assert (uncertainty == 0).all()
    assert frame.pixels.picture() is None
    with pytest.raises(IndexError):
        frame.pixels.at(np.array([-1]), np.array([0]))


# Counts


def counts(count: int = 3, dtype=np.uint16) -> np.ndarray:
    top = np.iinfo(dtype).max
    return np.random.default_rng(7).integers(1, top, (count, *SHAPE)).astype(dtype)


def write_counts(folder: Path, values: np.ndarray, suffix: str) -> None:
    from PIL import Image

    if suffix == ".tif":
        tiffs(folder, values)
        return
    for k, frame in enumerate(values):
        Image.fromarray(frame).save(folder / f"f{k}{suffix}")


@pytest.mark.parametrize(("suffix", "dtype"), [(".png", np.uint16), (".png", np.uint8), (".tif", np.uint16)])
@pytest.mark.parametrize("reading", [None, "counts"])
def test_counts_by_gain_and_offset(tmp_path, suffix, dtype, reading):
    values = counts(dtype=dtype)
    write_counts(tmp_path, values, suffix)
    keys = {"reading": reading, "gain": 0.02, "offset": -40.0}
    assert read(tmp_path, **keys) == pytest.approx(0.02 * values - 40.0, abs=1e-9)


def test_a_count_is_known_to_half_a_step_and_its_ends_are_bounds(tmp_path):
    values = counts(1)
    values[0, 0, :2] = 0, 65535
    write_counts(tmp_path, values, ".png")
    for gain, ends in ((0.018, ("clipped_low", "clipped_high")), (-0.018, ("clipped_high", "clipped_low"))):
        (frame,) = open_recording(session(tmp_path, gain=gain, offset=32.0, unit="F")).frames()
        celsius, doubts, uncertainty = frame.pixels.at(np.zeros(3, int), np.arange(3))
        assert celsius[0] == pytest.approx(0.0, abs=1e-12)
        assert uncertainty == pytest.approx(np.full(3, 0.01 / np.sqrt(12.0)))
        assert doubts.tolist() == [BIT[ends[0]], BIT[ends[1]], 0]


def test_counts_in_a_csv_are_whole_steps_too(tmp_path):
    (tmp_path / "f.csv").write_text("100,101\n102,103\n")
    recording = open_recording(session(tmp_path, reading="counts", gain=0.1, offset=0.0))
    (frame,) = recording.frames()
    assert frame.celsius() == pytest.approx(np.array([[10.0, 10.1], [10.2, 10.3]]))
    assert frame.pixels.at(np.zeros(1, int), np.zeros(1, int))[2] == pytest.approx([0.1 / np.sqrt(12)])


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({}, "frames.reading"),
        ({"reading": "counts"}, "frames.gain and frames.offset"),
        ({"reading": "counts", "gain": 0.1}, "frames.offset"),
        ({"reading": "counts", "gain": 0.0, "offset": 1.0}, "frames.gain"),
        ({"reading": "counts", "calibration": "bench.toml"}, "frames.calibration"),
        ({"reading": "colours"}, "more than 8 bits"),
        ({"reading": "table"}, "pictures"),
        ({"screen": "find", "gain": 1.0, "offset": 0.0}, "frames.screen"),
    ],
)
def test_counts_that_nobody_explained_are_refused(tmp_path, keys, said):
    write_counts(tmp_path, counts(), ".png")
    assert said in refusal(tmp_path, **keys)


def test_floats_with_gain_and_offset_are_asked_about(tmp_path):
    np.save(tmp_path / "run.npy", stack())
    assert "frames.reading" in refusal(tmp_path, files="run.npy", gain=0.1, offset=0.0)


def test_whole_degrees_are_uncertain_by_their_step(tmp_path):
    tiffs(tmp_path, np.full((1, *SHAPE), 68, np.uint16))
    (frame,) = open_recording(session(tmp_path, reading="temperature", unit="F")).frames()
    celsius, _, uncertainty = frame.pixels.at(np.zeros(1, int), np.zeros(1, int))
    assert celsius == pytest.approx([20.0])
    assert uncertainty == pytest.approx([1 / 1.8 / np.sqrt(12)])


# Which files


def test_frames_in_a_folder_of_their_own_come_first(tmp_path):
    (tmp_path / "frames").mkdir()
    tiffs(tmp_path / "frames", stack(2))
    np.save(tmp_path / "other.npy", stack(5))
    assert len(open_recording(session(tmp_path)).stamps) == 2


def test_the_sessions_own_files_are_no_frames(tmp_path):
    (tmp_path / "results").mkdir()
    for name in ("log.csv", "frames.csv", "scale.csv", "results/readings.csv", ".hidden.csv"):
        (tmp_path / name).write_text("1,2\n3,4\n")
    (tmp_path / "a.csv").write_text("20.5,21\n22,23\n")
    for files in (None, "*.csv", "**/*.csv"):
        recording = open_recording(session(tmp_path, files=files))
        assert [stamp.file for stamp in recording.stamps] == ["a.csv"]


@pytest.mark.parametrize(
    ("files", "said"),
    [
        (None, "no frames found; empty holds no files"),
        ("*.png", 'nothing matches "*.png"; empty holds no files'),
        ("gone/x.npy", 'nothing matches "gone/x.npy"'),
    ],
)
def test_an_empty_folder_is_refused(tmp_path, files, said):
    (tmp_path / "empty").mkdir()
    assert said in refusal(tmp_path / "empty", files=files)


def test_a_missing_folder_is_refused(tmp_path):
    assert "there is no such folder" in refusal(tmp_path / "gone")


def test_two_kinds_of_frames_are_asked_about(tmp_path):
    tiffs(tmp_path, stack(2))
    np.save(tmp_path / "run.npy", stack())
    assert "several kinds" in refusal(tmp_path)
    assert len(read(tmp_path, files="*.tif")) == 2


def test_content_stands_above_the_suffix(tmp_path):
    np.save(tmp_path / "x.npy", stack())
    (tmp_path / "x.npy").rename(tmp_path / "run.tif")
    assert np.array_equal(read(tmp_path, files="run.tif"), stack())


def test_names_that_are_alike_are_told_apart_by_their_folders(tmp_path):
    for part in "ab":
        (tmp_path / part).mkdir()
        np.save(tmp_path / part / "1.npy", stack(1)[0])
    recording = open_recording(session(tmp_path, files="*/1.npy"))
    assert [stamp.file for stamp in recording.stamps] == ["a/1.npy", "b/1.npy"]
    assert len(list(recording.frames())) == 2
    assert set(recording.inputs) == {"a/1.npy", "b/1.npy"}


def test_inputs_carry_the_hash_of_every_file(tmp_path):
    tiffs(tmp_path, stack(3))
    recording = open_recording(session(tmp_path))
    list(recording.frames())
    assert recording.inputs == {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in tmp_path.iterdir()}
    np.save(tmp_path / "run.npy", stack())
    digest = hashlib.sha256((tmp_path / "run.npy").read_bytes()).hexdigest()
    assert open_recording(session(tmp_path, files="run.npy")).inputs == {"run.npy": digest}


def test_frames_csv_that_turns_a_stack_round(tmp_path):
    np.save(tmp_path / "run.npy", stack(3))
    (tmp_path / "frames.csv").write_text("file,time_s\nrun.npy#0,20\nrun.npy#1,10\nrun.npy#2,0\n")
    recording = open_recording(session(tmp_path, files="run.npy", every_s=None))
    assert [stamp.file for stamp in recording.stamps] == ["run.npy#2", "run.npy#1", "run.npy#0"]
    assert np.array_equal([frame.celsius() for frame in recording.frames()], stack(3)[::-1])


@pytest.mark.parametrize("save", [np.save, np.savez_compressed])
def test_memory_does_not_grow_with_the_number_of_frames(tmp_path, save):
    peaks = []
    for count in (20, 200):
        name = f"run{count}" + (".npy" if save is np.save else ".npz")
        save(tmp_path / name, stack(count, (120, 160)))
        tracemalloc.start()
        recording = open_recording(session(tmp_path, files=name))
        held = sum(1 for _ in recording.frames())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert held == count
    one_frame = 120 * 160 * 4
    assert peaks[1] - peaks[0] < 6 * one_frame, peaks


def test_a_bytes_buffer_stands_in_for_a_file(tmp_path):
    """A one-frame file is read once and decoded from memory: the carriers must take both."""
    from hotspot.read import npy
    from hotspot.read.carrier import Options

    buffer = io.BytesIO()
    np.save(buffer, stack(1)[0])
    ((number, raw),) = npy.decode(buffer, [0], Options("x.npy"))
    assert number == 0
    assert np.array_equal(raw, stack(1)[0])
