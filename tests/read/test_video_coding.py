"""Range and matrix of a video: from the stream, and the usual ones with a doubt where it is silent."""

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from hotspot.doubts import BIT
from hotspot.read import open_recording
from hotspot.read.colour_image import rgb_to_ycc
from hotspot.session import Session

RANGES = {"limited": 1, "full": 2, None: 0}  # AVCOL_RANGE_*
MATRICES = {"601": 6, "709": 1, "2020": 9, None: 2}  # ITU-T H.273 (07/2021), table 4: SMPTE 170M, BT.709, BT.2020


def field(lines: int) -> np.ndarray:
    return np.tile(np.linspace(0.05, 0.95, 96), (lines, 1))


def film(path: Path, lines: int, told: tuple[str | None, str | None], true: tuple[str, str], name: str) -> None:
    """FFV1 (lossless) with 4:2:0 planes of our own making: what is `true` of them, and what the stream has `told`."""
    from matplotlib import colormaps

    ycc = rgb_to_ycc(colormaps[name](field(lines), bytes=True)[..., :3].astype(float), true[1])
    if true[0] == "limited":
        ycc = (ycc - (0, 128, 128)) * (219 / 255, 224 / 255, 224 / 255) + (16, 128, 128)
    halved = ycc[..., 1:].reshape(lines // 2, 2, 48, 2, 2).mean(axis=(1, 3))
    planes = [np.rint(each).astype(np.uint8) for each in (ycc[..., 0], halved[..., 0], halved[..., 1])]
    with av.open(str(path), "w") as container:
        stream = container.add_stream("ffv1", rate=2)
        stream.width, stream.height, stream.pix_fmt = 96, lines, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 2)
        stream.codec_context.color_range = RANGES[told[0]]
        stream.codec_context.colorspace = MATRICES[told[1]]
        for k in range(3):
            frame = av.VideoFrame(96, lines, "yuv420p")
            for plane, values in zip(frame.planes, planes, strict=True):
                wide = np.zeros((plane.height, plane.line_size), np.uint8)
                wide[:, : plane.width] = values
                plane.update(wide.tobytes())
            frame.pts, frame.time_base = k, Fraction(1, 2)
            frame.color_range, frame.colorspace = RANGES[told[0]], MATRICES[told[1]]
            container.mux(stream.encode(frame))
        container.mux(stream.encode())


def opened(path: Path, name: str):
    scale = {"low": 0.0, "high": 100.0, "map": name}
    return open_recording(
        Session.model_validate({"folder": path.parent, "frames": {"files": path.name}, "scale": scale})
    )


@pytest.mark.parametrize("matrix", ["601", "709", "2020"])
@pytest.mark.parametrize("span", ["limited", "full"])
def test_what_the_stream_says_is_taken_without_a_doubt(tmp_path: Path, span: str, matrix: str) -> None:
    film(tmp_path / "a.mkv", 64, (span, matrix), (span, matrix), "plasma")
    recording = opened(tmp_path / "a.mkv", "plasma")
    frame = next(iter(recording.frames()))
    assert np.abs(frame.celsius() - 100 * field(64)).mean() < 0.3
    assert not frame.pixels.at(np.array([30]), np.array([50]))[1].any()
    assert not [said for said in recording.notices if said.code.startswith("video_coding")]


@pytest.mark.parametrize(("lines", "matrix"), [(64, "601"), (578, "709")])
@pytest.mark.parametrize("name", ["plasma", "gray"])
def test_a_silent_stream_is_taken_as_usual_with_a_doubt(tmp_path: Path, lines: int, matrix: str, name: str) -> None:
    film(tmp_path / "a.mkv", lines, (None, None), ("limited", matrix), name)
    recording = opened(tmp_path / "a.mkv", name)
    assert "video_coding_assumed" in [said.code for said in recording.notices]
    assert (recording.settings["video_range"], recording.settings["video_matrix"]) == ("limited", matrix)
    frame = next(iter(recording.frames()))
    assert np.abs(frame.celsius() - 100 * field(lines)).mean() < 0.4
    assert frame.pixels.at(np.array([30]), np.array([50]))[1][0] & BIT["coding_assumed"]


def test_a_silent_stream_that_the_colours_contradict_is_read_by_the_colours(tmp_path: Path) -> None:
    film(tmp_path / "a.mkv", 64, (None, None), ("full", "709"), "plasma")
    recording = opened(tmp_path / "a.mkv", "plasma")
    assert "video_coding_by_colours" in [said.code for said in recording.notices]
    frame = next(iter(recording.frames()))
    assert np.abs(frame.celsius() - 100 * field(64)).mean() < 0.3
    assert frame.pixels.at(np.array([30]), np.array([50]))[1][0] & BIT["coding_assumed"]
