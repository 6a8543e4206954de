"""session.toml, pins.toml and flags -> a Session in °C, or every problem at once, each with what would mend it."""

from pathlib import Path

import pytest
from session_sheets import problems, write

from hotspot.errors import InputError
from hotspot.read.session_file import known_keys, load
from hotspot.session import Session


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


WHOLE = """
title = "Auger"
units = "F"
ambient = 68.0
[job]
date = 2026-03-11
[frames]
files = "frames/*.png"
reading = "counts"
unit = "K"
gain = 0.04
offset = 200.0
screen = "find"
[scale]
low = 32.0
high = 212.0
[surface]
emissivity = 0.95
reflected = 50.0
set_reflected = 59.0
[connector]
rows = 1
columns = 3
rated = 221.0
wire_rated = 257.0
[[pin]]
name = "01"
return_of = ["NA", "3"]
[[pin]]
name = "NA"
[[pin]]
name = "3"
[[stage]]
name = "full"
start = 14:20:30
end_s = 1500
amps = { "01" = 9, "NA" = 4.5 }
[compare]
matters_k = 3.0
"""


def test_a_whole_session_comes_in_celsius_and_keeps_its_names(folder):
    session = load(write(folder, WHOLE), {})
    assert session.folder == folder
    assert session.units == "F"
    assert session.ambient == pytest.approx(20.0)
    assert (session.scale.low, session.scale.high) == pytest.approx((0.0, 100.0))
    assert (session.surface.reflected, session.surface.set_reflected) == pytest.approx((10.0, 15.0))
    assert (session.connector.rated, session.connector.wire_rated) == pytest.approx((105.0, 125.0))
    assert [pin.name for pin in session.pin] == ["01", "NA", "3"]
    assert session.stage[0].amps == {"01": 9.0, "NA": 4.5}


def test_values_of_frames_and_differences_are_not_converted(folder):
    session = load(write(folder, WHOLE), {})
    assert (session.frames.gain, session.frames.offset, session.frames.unit) == (0.04, 200.0, "K")
    assert session.compare.matters_k == 3.0


def test_toml_clock_times_and_dates_become_text(folder):
    session = load(write(folder, WHOLE), {})
    assert session.stage[0].start == "14:20:30"
    assert session.job.date == "2026-03-11"


def test_kelvin(folder):
    session = load(write(folder, 'units = "K"\nambient = 293.15\n'), {})
    assert session.ambient == pytest.approx(20.0)


def test_session_load_is_the_way_in(folder):
    assert Session.load(write(folder, "ambient = 21.5\n")).ambient == 21.5


def test_without_a_session_file_the_overrides_are_enough(folder):
    session = load(folder, {"connector": {"rows": 1, "columns": 6}, "scale": {"low": 20.0}})
    assert (session.connector.rows, session.connector.columns, session.scale.low) == (1, 6, 20.0)
    assert session.folder == folder


def test_overrides_stand_above_the_file_key_by_key_and_lists_as_a_whole(folder):
    write(folder, '[scale]\nlow = 20.0\nhigh = 80.0\n[[stage]]\nname = "a"\n[[stage]]\nname = "b"\n')
    session = load(folder, {"scale": {"low": 30.0}, "stage": [{"name": "c"}], "ambient": 22.0})
    assert (session.scale.low, session.scale.high, session.ambient) == (30.0, 80.0, 22.0)
    assert [stage.name for stage in session.stage] == ["c"]


def test_a_table_above_a_list_of_tables_stands_above_every_item(folder):
    write(folder, '[[stage]]\nname = "a"\nstart_s = 0.0\namps = 5.0\n[[stage]]\nname = "b"\nstart_s = 60.0\n')
    stages = load(folder, {"stage": {"amps": 7.0}}).stage
    assert [(stage.name, stage.start_s, stage.amps) for stage in stages] == [("a", 0.0, 7.0), ("b", 60.0, 7.0)]
    (folder / "session.toml").write_text("")
    assert [(stage.name, stage.amps) for stage in load(folder, {"stage": {"amps": 7.0}}).stage] == [("", 7.0)]
    (folder / "session.toml").write_text("stage = [3]\n")
    with pytest.raises(InputError, match="stage"):
        load(folder, {"stage": {"amps": 7.0}})


def test_overrides_are_in_the_files_unit(folder):
    session = load(write(folder, 'units = "F"\n'), {"scale": {"low": 32.0}})
    assert session.scale.low == pytest.approx(0.0)


def test_a_unit_on_the_command_line_changes_what_is_read_not_what_was_written(folder):
    write(folder, "ambient = 20.0\n[scale]\nhigh = 80.0\n")
    session = load(folder, {"units": "F", "scale": {"low": 50.0}})
    assert session.units == "F"
    assert (session.ambient, session.scale.low, session.scale.high) == pytest.approx((20.0, 10.0, 80.0))
    assert session.beside_units == "C"


def test_without_a_file_the_unit_on_the_command_line_is_that_of_everything(folder):
    session = load(folder, {"units": "F", "ambient": 68.0})
    assert session.ambient == pytest.approx(20.0)
    assert session.beside_units == "F"


def test_pins_toml_stands_in_for_connector_pins_and_regions(folder):
    write(folder, '[connector]\nrows = 1\ncolumns = 2\nrated = 105.0\n[[pin]]\nname = "1"\n[scale]\nlow = 20.0\n')
    places = '[connector]\nrows = 2\ncolumns = 3\n[[pin]]\nname = "A"\nx = 1.0\ny = 2.0\n'
    write(folder, places + '[[region]]\nname = "case"\nkind = "ambient"\nbox = [0, 0, 4, 4]\n', "pins.toml")
    session = load(folder, {})
    assert (session.connector.rows, session.connector.columns, session.connector.rated) == (2, 3, None)
    assert [pin.name for pin in session.pin] == ["A"]
    assert [region.name for region in session.region] == ["case"]
    assert session.scale.low == 20.0


def test_a_fault_of_pins_toml_is_told_with_its_name(folder):
    write(folder, '[[pin]]\nname = "A"\nx = 1.0\n', "pins.toml")
    assert problems(folder, "") == [
        'pins.toml: pin 1 "A": x: x and y go together: give both or neither. '
        "Add the one that is missing, or take both out and let the pins be found."
    ]


def test_what_does_not_belong_in_pins_toml_is_refused(folder):
    write(folder, "[scale]\nlow = 3.0\n", "pins.toml")
    assert problems(folder, "") == [
        "pins.toml: scale: does not belong here. "
        "pins.toml holds [connector], [[pin]] and [[region]] only; move it to session.toml."
    ]


def test_a_fault_of_a_flag_is_told_as_the_command_lines(folder):
    assert problems(folder, "[scale]\nlow = 80.0\n", scale={"high": "x"}) == [
        'command line: scale.high: found the text "x", a number is wanted. Give a number.'
    ]


def test_known_keys_are_those_of_the_file_only():
    keys = [name for name, _ in known_keys()]
    assert {"title", "scale.low", "pin.radius", "stage.amps", "clock.log_offset_s", "frames.every_s"} <= set(keys)
    assert not {"folder", "file_units"} & set(keys)
