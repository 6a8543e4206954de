"""What session.toml, pins.toml and flags may not say: every problem at once, each with what would mend it."""

from pathlib import Path

import pytest
from session_sheets import problems, write

from hotspot.errors import InputError
from hotspot.read.session_file import load


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('titel = "a"', "titel: is an unknown key. The nearest known key is title."),
        ('[scale]\nmpa = "inferno"', "scale.mpa: is an unknown key. The nearest known key is map."),
        ('[job]\nambient = 3.0', "job.ambient: is an unknown key. ambient belongs at the top of the file, "
         "above the first [table]."),
        ("[frames]\nhigh = 3.0", "frames.high: is an unknown key. high belongs under [scale]."),
        ("[frames]\nemissivity = 0.9", "frames.emissivity: is an unknown key. "
         "emissivity belongs under one of: surface, pin."),
        ("[camera]\nqqq = 1", "camera.qqq: is an unknown key. Take it out; known here: name, accuracy_k, noise_k."),
        ('folder = "x"', "folder: is an unknown key. Take it out."),
    ],
)  # fmt: skip
def test_an_unknown_key_is_refused_with_the_nearest_known_one(folder, text, told):
    assert problems(folder, text) == [f"session.toml: {told}"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("title = 4", 'title: found the number 4, a text in quotes is wanted. Write "4".'),
        ("title = true", "title: found true, a text in quotes is wanted. Put it in quotes."),
        ('ambient = "21.5"', 'ambient: found the text "21.5", a number is wanted. Write 21.5, without quotes.'),
        ('ambient = "21,5"', 'ambient: found the text "21,5", a number is wanted. Write 21.5, without quotes.'),
        ('ambient = "warm"', 'ambient: found the text "warm", a number is wanted. Give a number.'),
        ("ambient = true", "ambient: found true, a number is wanted. Give a number."),
        ("ambient = [1]", "ambient: found a list, a number is wanted. Give a number."),
        ("[connector]\nrows = 1.0\ncolumns = 2",
         "connector.rows: found the number 1.0, a whole number is wanted. Write 1."),
        ('[connector]\nempty = [4]', 'connector.empty.1: found the number 4, a text in quotes is wanted. Write "4".'),
        ('[pin]\nname = "1"', "pin: found a table, a list of tables is wanted. Write [[pin]], with two brackets."),
        ("[[scale]]\nlow = 1.0", "scale: found a list, a table is wanted. Write [scale], with one bracket."),
        ('[surface]\nband_um = "8-14"', 'surface.band_um: found the text "8-14", a list is wanted. '
         "Write it in brackets: [ ... ]."),
        ("[surface]\nband_um = [8.0]", "surface.band_um: found 1 numbers, 2 are wanted. "
         "Write all of them in one [ ] list."),
        ('units = "c"', 'units: found the text "c", known is "C", "F", "K". Write "C".'),
        ('units = "R"', 'units: found the text "R", known is "C", "F", "K". Choose one of them.'),
        ("[[stage]]\namps = true", 'stage 1: amps: found true; a number, a table by pin such as { "1" = 9.0 }, or '
         '"equal" is wanted. Write it one of these ways, or leave it out where it is not known.'),
        ('[[stage]]\nname = "full"\namps = "equl"', 'stage 1 "full": amps: found the text "equl"; a number, '
         'a table by pin such as { "1" = 9.0 }, or "equal" is wanted. '
         "Write it one of these ways, or leave it out where it is not known."),
        ('[[stage]]\namps = { "1" = "x" }', 'stage 1: amps.1: found the text "x", a number is wanted. Give a number.'),
        ('[frames]\nscreen = "fnd"', 'frames.screen: found the text "fnd"; eight numbers, "find" or "none" is wanted. '
         "Write it one of these ways, or leave it out where it is not known."),
        ("[frames]\nscreen = [1, 2]", "frames.screen: found 2 numbers, 8 are wanted. "
         "Write all of them in one [ ] list."),
        ("[[event]]\ntime_s = 3.0", "event 1: what: is missing. Add what to this [[event]]."),
    ],
)  # fmt: skip
def test_a_wrong_type_says_what_was_found_and_what_is_wanted(folder, text, told):
    assert problems(folder, text) == [f"session.toml: {told}"]


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("ambient = nan", "ambient"),
        ("ambient = inf", "ambient"),
        ("[scale]\nlow = nan", "scale.low"),
        ("[surface]\nemissivity = nan", "surface.emissivity"),
        ("[[stage]]\namps = nan", "stage 1: amps"),
        ('[[stage]]\namps = { "1" = nan }', "stage 1: amps.1"),
        ("[frames]\nscreen = [1, 2, 3, 4, 5, 6, 7, nan]", "frames.screen.8"),
        ("[frames]\nevery_s = nan", "frames.every_s"),
    ],
)
def test_nan_in_a_key_is_refused(folder, text, key):
    (told,) = problems(folder, text)
    assert told.startswith(f"session.toml: {key}: found ")
    assert told.endswith(", which is no number. Give a number, or leave the key out if not known.")


def test_nan_of_an_override_is_refused_too(folder):
    assert problems(folder, "", ambient=float("nan")) == [
        "command line: ambient: found nan, which is no number. Give a number, or leave the key out if not known."
    ]


@pytest.mark.parametrize("value", ["0", "0.0", "-0.1", "1.01"])
@pytest.mark.parametrize(("key", "shown"), [("emissivity", "surface.emissivity"),
                                            ("set_emissivity", "surface.set_emissivity")])  # fmt: skip
def test_an_emissivity_of_0_or_outside_0_to_1_is_refused(folder, value, key, shown):
    assert problems(folder, f"[surface]\n{key} = {value}") == [
        f"session.toml: {shown}: found {value}, an emissivity is above 0 and at most 1. "
        "Give that of the surface, such as 0.95 for matt tape, or leave it out if not known."
    ]


def test_an_emissivity_of_1_is_taken(folder):
    assert load(write(folder, "[surface]\nemissivity = 1"), {}).surface.emissivity == 1.0


@pytest.mark.parametrize(("low", "high"), [(80, 20), (20, 20)])
def test_a_scale_whose_low_is_not_below_its_high_is_refused(folder, low, high):
    assert problems(folder, f"[scale]\nlow = {low}\nhigh = {high}") == [
        f"session.toml: scale.low: low {low} is not below high {high}. Give low the colder end and high the hotter one."
    ]


def test_a_scale_turned_over_by_a_flag_is_refused(folder):
    (told,) = problems(folder, "[scale]\nhigh = 20.0", scale={"low": 80.0})
    assert told.startswith("command line: scale.low: low 80 is not below high 20.")


def test_a_stage_that_ends_before_it_starts_is_refused(folder):
    assert problems(folder, '[[stage]]\nname = "full"\nstart_s = 10.0\nend_s = 5.0') == [
        'session.toml: stage 1 "full": end_s: ends at 5 s, before or when it starts (10 s). '
        "Give an end_s after start_s."
    ]


def test_repeated_pin_names_are_refused(folder):
    assert problems(folder, '[[pin]]\nname = "1"\n[[pin]]\nname = "2"\n[[pin]]\nname = "1"') == [
        'session.toml: pin 3 "1": name: the name "1" is already that of pin 1. Give every pin a name of its own.'
    ]


def test_names_that_only_look_alike_are_two_pins(folder):
    session = load(write(folder, '[[pin]]\nname = "1"\n[[pin]]\nname = "01"'), {})
    assert [pin.name for pin in session.pin] == ["1", "01"]


PINS = '[[pin]]\nname = "lamp"\n[[pin]]\nname = "motor"\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[[pin]]\nname = "lamp"\nreturn_of = ["moter"]\n[[pin]]\nname = "motor"',
         'pin 1 "lamp": return_of.1: no pin is called "moter". The nearest name is "motor".'),
        ('[[pin]]\nname = "lamp"\nreturn_of = ["lamp"]',
         'pin 1 "lamp": return_of.1: pin "lamp" cannot return its own current. Name the other pins.'),
        (PINS + '[[stage]]\nname = "full"\namps = { "moter" = 9.0 }',
         'stage 1 "full": amps.moter: no pin is called "moter". The nearest name is "motor".'),
        (PINS + '[[region]]\nname = "w"\nkind = "wire"\nbox = [0, 0, 3, 3]\npin = "9"',
         'region 1 "w": pin: no pin is called "9". Known: "lamp", "motor".'),
        (PINS + '[[event]]\ntime_s = 3.0\nwhat = "wiggle"\npin = "lmp"',
         'event 1: pin: no pin is called "lmp". The nearest name is "lamp".'),
        (PINS + '[[check]]\npin = "lamps"\nkind = "drop"',
         'check 1: pin: no pin is called "lamps". The nearest name is "lamp".'),
        (PINS + '[[stage]]\nname = "full"\n[[check]]\npin = "lamp"\nkind = "drop"\nstage = "ful"',
         'check 1: stage: no stage is called "ful". The nearest name is "full".'),
        (PINS + '[[check]]\npin = "lamp"\nkind = "drop"\nstage = "full"',
         'check 1: stage: no stage is called "full". No [[stage]] has a name: add one, or take this out.'),
        ('[connector]\nrows = 1\ncolumns = 4\nempty = ["4"]\n[[stage]]\namps = { "4" = 9.0 }',
         'stage 1: amps.4: no pin is called "4". Known: "1", "2", "3".'),
        ('[connector]\nrows = 1\ncolumns = 4\nempty = ["9"]',
         'connector.empty.1: "9" is no place of the 1 x 4 grid. Places are 1 to 4.'),
        ('[connector]\nrows = 1\ncolumns = 1\nempty = ["1"]',
         "connector.empty: leaves no pin at all. Name only places without a pin."),
        ("[connector]\nrows = 2", "connector.columns: is missing beside rows. Give both rows and columns of the pins."),
        ("[connector]\nrows = 1\ncolumns = 1\n" + PINS,
         "pin: 2 pins without x and y, but the grid has 1 places. "
         "Correct rows and columns, or take the surplus pins out."),
        ('[[region]]\nname = "w"\nkind = "wire"\nbox = [0, 0, 0, 3]',
         'region 1 "w": box: box: width and height must be above 0. Write box = [x, y, width, height].'),
    ],
)  # fmt: skip
def test_names_that_do_not_exist_are_refused_with_the_nearest(folder, text, told):
    assert problems(folder, text) == [f"session.toml: {told}"]


def test_numbers_of_the_grid_are_names_of_pins(folder):
    text = '[connector]\nrows = 1\ncolumns = 4\n[[stage]]\namps = { "1" = 9.0, "4" = 9.0 }\n'
    assert load(write(folder, text), {}).stage[0].amps_of("4") == 9.0


def test_a_single_pin_of_a_grid_may_be_described(folder):
    text = (
        '[connector]\nrows = 1\ncolumns = 4\n[[pin]]\nname = "3"\nwire = "2.5 mm2"\n[[check]]\npin = "1"\nkind = "fit"'
    )
    assert load(write(folder, text), {}).pin_named("3").wire == "2.5 mm2"


def test_pins_of_a_table_are_those_of_its_columns(folder):
    text = '[frames]\nreading = "table"\ncolumns = { "1" = "TC1" }\n[[stage]]\namps = { "2" = 9.0 }'
    assert problems(folder, text) == ['session.toml: stage 1: amps.2: no pin is called "2". Known: "1".']


def test_pins_of_a_table_without_columns_are_not_known_before_it_is_read(folder):
    text = '[frames]\nreading = "table"\n[[stage]]\namps = { "TC1" = 9.0 }'
    assert load(write(folder, text), {}).stage[0].amps_of("TC1") == 9.0


def test_every_fault_is_told_at_once_also_one_that_needs_two_sound_keys(folder):
    text = """
units = "X"
titel = "a"
[scale]
mpa = "inferno"
low = 80.0
high = 20.0
[surface]
emissivity = 0
[[pin]]
name = "1"
radius = -1.0
[[pin]]
name = "1"
[[stage]]
start_s = 10.0
end_s = 5.0
lod = "motor"
"""
    keys = {line.split(": ", 1)[1].split(":")[0] for line in problems(folder, text)}
    assert keys == {"units", "titel", "scale.mpa", "scale.low", "surface.emissivity", "pin 1", 'pin 2 "1"', "stage 1"}
    assert len(problems(folder, text)) == 9


def test_what_only_follows_from_another_fault_is_not_told(folder):
    assert problems(folder, '[[pin]]\nname = 1\n[[pin]]\nname = "2"\n[[stage]]\namps = { "1" = 9.0 }') == [
        'session.toml: pin 1: name: found the number 1, a text in quotes is wanted. Write "1".'
    ]


def test_more_than_twelve_problems_are_counted_in_the_last_line(folder):
    with pytest.raises(InputError) as refused:
        load(write(folder, "".join(f"zz{k}q = 1\n" for k in range(30))), {})
    lines = str(refused.value).splitlines()
    assert len(lines) == 12
    assert lines[-1] == "... and 19 more problems; mend these first."


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[scale]\nlow = 20,5\n", "line 2, column 9: is not valid TOML (Expected newline or end of document after a "
         "statement): low = 20,5. Write numbers with a point, not a comma."),
        ("[scale]\nmap = inferno\n", "line 2, column 7: is not valid TOML (Invalid value): map = inferno. "
         'Put text in quotes: key = "text".'),
        ("[scale]\nlow = 1\n[scale]\n", "line 3, column 7: is not valid TOML (Cannot declare ('scale',) twice): "
         "[scale]. The key or [table] is there twice: keep one; a list of tables is written [[pin]]."),
        ('[frames]\nfiles = "C:\\data"\n', "Write paths with / instead of \\."),
    ],
)  # fmt: skip
def test_broken_toml_tells_line_and_column(folder, text, told):
    (line,) = problems(folder, text)
    if told.startswith("line 2, column 7"):  # the parser's column and words differ between Python versions
        assert line.startswith("session.toml: line 2, column ")
        assert line.endswith('map = inferno. Put text in quotes: key = "text".')
    else:
        assert line.startswith("session.toml: line ")
        assert line.endswith(told)


def test_a_file_that_is_not_utf_8_is_refused_with_its_line(folder):
    (folder / "session.toml").write_bytes(b'title = "x"\n[job]\nnotes = "chaud\xe9"\n')
    with pytest.raises(InputError, match=r"line 3 holds the byte 0xe9, which is not UTF-8\. Save it as UTF-8"):
        load(folder, {})


def test_utf_16_is_refused_and_a_utf_8_mark_is_passed_over(folder):
    (folder / "session.toml").write_bytes('title = "x"'.encode("utf-16"))
    with pytest.raises(InputError, match=r"is UTF-16 text\. Save it as UTF-8 in the editor\."):
        load(folder, {})
    (folder / "session.toml").write_bytes(b"\xef\xbb\xbf" + b'title = "x"')
    assert load(folder, {}).title == "x"


def test_a_missing_folder_and_a_file_in_its_place_are_refused(folder):
    with pytest.raises(InputError, match=r"nowhere: there is no such folder\. Name the folder that holds the frames\."):
        load(folder / "nowhere", {})
    write(folder, "")
    with pytest.raises(InputError, match=r"is a file, not a folder\. Name the folder it lies in: "):
        load(folder / "session.toml", {})


def test_a_session_toml_that_is_a_folder_is_refused(folder):
    (folder / "session.toml").mkdir()
    with pytest.raises(InputError, match=r"session\.toml: cannot be read"):
        load(folder, {})
