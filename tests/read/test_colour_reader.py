"""From colours to temperature: map, scale and doubts together."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from hotspot.doubts import BIT
from hotspot.errors import InputError
from hotspot.read.colour_image import ColourImage
from hotspot.read.colour_maps import known_map
from hotspot.read.colours import open_scale
from hotspot.session import Session

DATA = Path(__file__).parent.parent / "data"
LOW, HIGH = 20.0, 90.0


def drawn(place: np.ndarray, name: str = "inferno") -> np.ndarray:
    """A field of places 0-1 drawn through a map, uint8 RGB."""
    from matplotlib import colormaps

    return colormaps[name](np.rint(place * 255) / 255, bytes=True)[:, :, :3]


def field(size: tuple[int, int] = (60, 80)) -> np.ndarray:
    rows, columns = np.indices(size)
    return 0.1 + 0.5 * columns / size[1] + 0.3 * np.exp(-((rows - 30) ** 2 + (columns - 40) ** 2) / 200.0)


def read(image: ColourImage, name: str = "f.png", **scale):
    scale = {"low": LOW, "high": HIGH, "map": "inferno"} | scale
    reader = open_scale(Session(scale=scale), image, [name])
    rows, columns = np.indices(image.shape)
    values = reader.pixels(image, name).at(rows.ravel(), columns.ravel())
    return reader, *(part.reshape(image.shape) for part in values)


@pytest.mark.parametrize("name", ["inferno", "jet", "turbo", "gray", "nipy_spectral", "hot", "rainbow"])
def test_a_lossless_drawing_comes_back_to_its_step(name: str) -> None:
    place = field()
    _, celsius, doubt, uncertainty = read(ColourImage.from_rgb(drawn(place, name)), map=name)
    step = (HIGH - LOW) / 255
    error = np.abs(celsius - (LOW + place * (HIGH - LOW))) / step
    # Half a step from drawing; more where 8 bits make one colour of several entries (four of jet's are 0, 0, 255).
    assert error.max() <= {"jet": 2.0, "gray": 1.0}.get(name, 0.5) + 0.01
    assert np.sqrt((error**2).mean()) <= (0.45 if name in ("jet", "gray") else 0.3)
    assert not doubt.any()
    assert uncertainty.min() >= step / np.sqrt(12) - 1e-9


def test_values_do_not_depend_on_what_else_is_asked() -> None:
    image = ColourImage.from_rgb(drawn(field(), "turbo"))
    reader, celsius, _, _ = read(image, map="turbo")
    alone = reader.pixels(image, "f.png").at(np.array([30, 7]), np.array([40, 3]))[0]
    np.testing.assert_allclose(alone, [celsius[30, 40], celsius[7, 3]])


def test_printed_marks_are_off_the_map_and_empty() -> None:
    rgb = drawn(field())
    rgb[5:8, 10:20] = (0, 255, 0)
    _, celsius, doubt, _ = read(ColourImage.from_rgb(rgb))
    assert (doubt[5:8, 10:20] == BIT["off_map"]).all()
    assert np.isnan(celsius[5:8, 10:20]).all()
    assert np.isnan(celsius).sum() == 30


def test_a_fixed_end_clips_and_a_moving_end_does_not(tmp_path: Path) -> None:
    place = np.clip(field() * 1.4 - 0.1, 0.0, 1.0)
    image = ColourImage.from_rgb(drawn(place))
    _, _, doubt, _ = read(image)
    np.testing.assert_array_equal(doubt & BIT["clipped_high"] > 0, np.rint(place * 255) == 255)
    np.testing.assert_array_equal(doubt & BIT["clipped_low"] > 0, np.rint(place * 255) == 0)
    (tmp_path / "scale.csv").write_text("file,low,high\nf.png,20,90\ng.png,20,95\n")
    session = Session(folder=tmp_path, scale={"map": "inferno"})
    reader = open_scale(session, image, ["f.png", "g.png"])
    where = np.nonzero(place == 1.0)
    celsius, doubt, _ = reader.pixels(image, "g.png").at(*where)
    assert not doubt.any()
    np.testing.assert_allclose(celsius, 95.0)
    assert "scale.csv" in reader.inputs


def test_a_frame_without_a_scale_gives_nothing(tmp_path: Path) -> None:
    image = ColourImage.from_rgb(drawn(field()))
    (tmp_path / "scale.csv").write_text("file,low,high\nf.png,20,90\n")
    reader = open_scale(Session(folder=tmp_path, scale={"map": "inferno"}), image, ["f.png", "g.png"])
    celsius, doubt, _ = reader.pixels(image, "g.png").at(np.array([3]), np.array([4]))
    assert np.isnan(celsius).all()
    assert doubt[0] == BIT["scale_doubtful"]


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        ({"map": None}, "no colour bar found"),
        ({"map": "bar"}, "no colour bar found"),
        ({"map": "nosuch"}, "neither a known map nor a file"),
        ({"map": "prism"}, "repeat over"),
        ({"low": None}, "scale.low"),
        ({"map": "bar", "bar": [70.0, 0.0, 20.0, 50.0]}, "does not lie in the picture"),
    ],
)
def test_what_cannot_be_read_is_refused(scale, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(ColourImage.from_rgb(drawn(field())), **scale)


def test_another_map_than_stated_is_said() -> None:
    reader, _, doubt, _ = read(ColourImage.from_rgb(drawn(field(), "jet")))
    assert [said.code for said in reader.notices] == ["colour_map_misfits_picture"]
    assert (doubt & BIT["off_map"] > 0).mean() > 0.8


def test_the_meeting_ends_are_doubted() -> None:
    place = np.tile(np.linspace(0, 1, 256), (20, 1))
    reader, celsius, doubt, _ = read(ColourImage.from_rgb(drawn(place, "twilight")), map="twilight")
    assert "colour_map_ends_meet" in [said.code for said in reader.notices]
    assert (doubt[:, [0, -1]] & BIT["ambiguous_colour"] > 0).all()
    assert not (doubt[:, 40:200] & BIT["ambiguous_colour"]).any()
    assert np.isnan(celsius[:, [0, -1]]).all()
    np.testing.assert_allclose(celsius[:, 40:200], LOW + place[:, 40:200] * (HIGH - LOW), atol=0.3)


def test_the_window_screenshot_names_its_own_bar_and_gives_its_cells_back() -> None:
    """tests/data/picture_inferno_bar_window: scale 20-40 °C; field x 147-540, y 142-507; cells 12-13 px, flat."""
    image = ColourImage.from_rgb(np.asarray(Image.open(DATA / "picture_inferno_bar_window/live_view_screenshot.png")))
    reader, celsius, doubt, _ = read(image, map=None, low=20.0, high=40.0)
    assert reader.describe()["colour_map"] == "inferno"
    assert reader.describe()["bar"] == [568, 141, 17, 368]
    inside = celsius[142:508, 147:541]
    assert not np.isnan(inside).any()
    assert inside.min() == pytest.approx(20.3, abs=0.1)  # printed in the data set's description
    assert inside.max() == pytest.approx(34.5, abs=0.1)
    cells = np.array([[_cell(celsius, row, column) for column in range(32)] for row in range(24)])
    within, value = cells[..., 1], cells[..., 0]
    assert within.max() < 1e-9  # each cell is one colour
    # Independently: the nearest of matplotlib's 256 colours, by plain search.
    table = known_map("inferno").rgb
    picture = image.as_rgb().astype(float)
    for row in range(24):
        for column in range(32):
            y, x = _centre(row, column)
            nearest = np.argmin(((table - picture[y, x]) ** 2).sum(axis=1))
            assert value[row, column] == pytest.approx(20 + nearest / 255 * 20, abs=0.1)


def _centre(row: int, column: int) -> tuple[int, int]:
    return round(140 + (row + 0.5) * 369 / 24), round(145 + (column + 0.5) * 397 / 32)


def _cell(celsius: np.ndarray, row: int, column: int) -> tuple[float, float]:
    y, x = _centre(row, column)
    around = celsius[y - 3 : y + 4, x - 3 : x + 4]
    return float(around.mean()), float(np.ptp(around))


def test_hues_of_an_array_come_back_through_a_strip(tmp_path: Path) -> None:
    """tests/data/array_24x32_one_frame: hue in degrees = temperature in °C; refused without a map."""
    import colorsys

    folder = DATA / "array_24x32_one_frame"
    truth = np.loadtxt(folder / "thermal2.csv", delimiter=",").reshape(24, 32)
    image = ColourImage.from_rgb(np.asarray(Image.open(folder / "hues_of_thermal2.png")))
    hues = np.rint(255 * np.array([colorsys.hsv_to_rgb(degree / 360, 1, 1) for degree in range(361)]))
    Image.fromarray(np.repeat(hues[None].astype(np.uint8), 8, 0)).save(tmp_path / "hues.png")
    session = Session(folder=tmp_path, scale={"low": 0.0, "high": 360.0, "map": "hues.png"})
    reader = open_scale(session, image, ["hues_of_thermal2.png"])
    rows, columns = np.indices(image.shape)
    celsius, _, _ = reader.pixels(image, "").at(rows.ravel(), columns.ravel())
    assert np.abs(celsius.reshape(24, 32) - truth).max() <= 0.3
    assert list(reader.inputs) == ["hues.png"]
    with pytest.raises(InputError, match="no map given, and no colour bar found"):
        open_scale(Session(scale={"low": 0.0, "high": 360.0}), image, ["hues_of_thermal2.png"])
