"""report.html, compare.html, marked frames and terminal lines: everything is there, escaped, and needs no network."""

import base64
import dataclasses
import io
import re

import numpy as np
import pandas as pd
import pytest
from contrast import contrast
from page_checked import HOSTILE, TEMPLATES, checked
from PIL import Image
from told_pages import report_page
from told_sessions import analysis, comparison

from hotspot.records import Papers, Photo, Statement
from hotspot.tell import look, marked, recipe, report_parts, tables, terminal

OTHER = Statement("caution_air", {})
JOB = dict.fromkeys(("id", "item", "customer", "technician", "complaint", "changed", "notes"), HOSTILE)


def test_the_report_answers_first_and_holds_everything():
    check = {"pin": "3", "kind": "drop", "stage": "full", "volts": 0.045, "amps": 9.0, "note": "by hand"}
    told = analysis(about={"job": {"item": "auger 3"}, "check": [check], "camera": {"name": "x", "accuracy_k": 2.0}})
    told.readings.loc[told.readings["pin"] == "2", "quality"] = "reads_low;emissivity_unknown"
    page = report_page(told)
    checked(page)
    assert re.findall(r"<h2>(.*?)</h2>", page) == [
        "What to do next",
        "Temperature over time",
        "Where the heat is",
        "Heat made at each pin",
        "What is said of each pin, and why",
        "Stages, loads and settling",
        "How near to its limits",
        "How sure this is",
        "The numbers",
        "The job",
        "How the numbers were made",
    ]
    # the cautions that matter most stand beside what is to be done, the full ones right after, folded
    acts = page[page.index("What to do next") : page.index("Temperature over time")]
    assert acts.index("extinguisher at hand") < acts.index("<details") < acts.index("29 CFR 1910.252")
    assert page.index("Shiny metal") < page.index("What to do next")
    for wanted in (
        "Elevator motor plug",
        "auger 3",
        "Pin 3, drop: 0.045 V, 9 A, stage full, by hand",
        "5:00  harness moved (pin 1)",
        "Stage full, 6:40 to 25:00, 9 A, 24.6 V, ambient 21.0 °C, 41 frames",
        "70.0 (66.0 to 75.0)",
        "4.5 A would be enough",
        "the blur of the camera makes it read low",
        "until 10 or more pixels lie across",
        "maker&#39;s limits of error ±2.0 K",
        "ECMA-287",
        "1" * 64,
        "Written 2026-03-11 14:00",
        "Mating face seen; pin 1: lock left",
        "Rating of the housing or terminal, 85.0 °C: 18.8 K left (between 17.2 K and 20.4 K) at pin 2",
    ):
        assert wanted in page, wanted


def test_rise_ambient_and_load_stand_beside_the_temperatures():
    told = analysis()
    page = report_page(told)
    row = told.findings.pin_table.set_index(["stage", "pin"]).loc[("full", "2")]
    beside = f"{row['last_c']:.1f} °C at 20:00, {row['rise_c']:.1f} K over an ambient of 21.0 °C, at 9 A"
    assert page.count(beside) == 5  # the chart, its label, the pin, the stage, the limit
    assert "the hottest of the frames shown here, 9 A, ambient 21.0 °C" in page
    told = analysis(about={"ambient": None})
    bare = dataclasses.replace(
        told,
        findings=dataclasses.replace(told.findings, pin_table=told.findings.pin_table.assign(rise_c=None, amps=None)),
    )
    assert "ambient and load not known" in report_page(bare)
    assert "None" not in report_page(bare)


def test_complaint_cause_and_correction_stand_with_the_answer_and_the_notes_and_photographs_with_the_job():
    job = {"complaint": "plug hot", "cause": "loose socket", "correction": "new pair", "changed": "cleaned"}
    pixels = np.full((40, 60, 3), 200, np.uint8)
    photo = Photo("pin 2 browned.jpg", base64.b64decode(marked.data_uri(pixels).split(",")[1]), 60, 40)
    told = dataclasses.replace(analysis(about={"job": job}), papers=Papers("# Seen\n\nPin 2 *browned*.", (photo,)))
    page = report_page(told)
    checked(page)
    answer = page[page.index('class="answer') : page.index("What to do next")]
    for word, said in (("complaint", "plug hot"), ("cause found", "loose socket"), ("correction", "new pair")):
        assert f'<dt>{word}</dt><dd dir="auto">{said}</dd>' in answer
    assert "changed before this test" in answer
    rest = page[page.index("<h2>The job") :]
    assert rest.index("<h3>Notes</h3>") < rest.index("<h4>Seen</h4>") < rest.index("<em>browned</em>")
    assert 'alt="Photograph: pin 2 browned"' in rest
    content = tables.findings_dict(told)
    assert (content["notes"], content["photos"]) == ("# Seen\n\nPin 2 *browned*.", ["pin 2 browned.jpg"])
    assert "<h3>Notes</h3>" not in report_page(analysis())


def test_published_criteria_of_a_steady_reading_are_folded_and_not_among_what_was_noticed():
    steady = Statement("steady_too_short", {"criteria": ("A", "B"), "pins": (), "lasted_s": 60.0, "stage": ""})
    told = analysis()
    page = report_page(dataclasses.replace(told, notices=(*told.notices, steady)))
    noticed = page[page.index("<h3>Noticed") : page.index("<h2>The numbers")]
    assert "too short to call" not in noticed
    assert page.index("What published criteria call steady") < page.index("too short to call") < page.index("Noticed")


def test_columns_that_nothing_fills_are_left_out():
    told = analysis()
    page = report_page(told)
    assert "heads for [°C]" in page
    assert "Heads for: " in page
    # the fixture has no planned end in any row
    assert "at the planned end" not in page
    assert "At the planned end" not in page
    bare = told.findings.pin_table.assign(heat_ratio=None)
    told = dataclasses.replace(told, findings=dataclasses.replace(told.findings, pin_table=bare))
    assert "times the others" not in report_page(told)
    assert "Heat: " not in report_page(told)


def test_a_column_is_left_out_of_the_stage_that_has_nothing_in_it():
    told = analysis()
    table = told.findings.pin_table
    table.loc[table["stage"] == "half", "heat_ratio"] = None
    half, full = report_parts.stage_tables(told)
    assert "heat, times the others'" not in half["heads"]
    assert "heat, times the others'" in full["heads"]
    assert all(len(row["cells"]) == len(half["heads"]) for row in half["rows"])


def test_how_the_numbers_were_made_is_in_plain_words():
    told = analysis(about={"frames": {"every_s": 20.0}})
    settings = {"clock": "names", "reading": "colours", "low_c": 20.0, "high_c": 80.0, "bar_misfit_levels": 1.5}
    told = dataclasses.replace(told, settings={**settings, "heat": {"method": "picture", "misfit": 0.02}})
    assert dict(recipe.made(told)) == {
        "times of the frames": "read from the file names",
        "files hold": "pictures, read back through their colour scale",
        "colour scale": "20.0 °C to 80.0 °C",
        "heat at each pin": "from the warmth of the plastic around the pins",
    }
    assert dict(recipe.stated(told))["frames: every s"] == "20"
    page = report_page(told)
    assert "misfit" not in page
    assert page.index("How the numbers were made") < page.index("<summary>What session.toml states")


def test_the_recipe_is_in_the_readers_unit_and_has_a_line_for_each_item():
    pins = [{"name": "A", "x": 18.0, "y": 24.0, "return_of": ["B", "C"]}, {"name": "B"}, {"name": "C"}]
    about = {"units": "F", "pin": pins, "scale": {"low": 20.0, "high": 80.0}, "frames": {"columns": {"A": "TC1"}}}
    pairs = dict(recipe.stated(analysis(about=about)))
    assert pairs["ambient"] == "69.8 °F"
    assert pairs["scale: low"] == "68.0 °F"
    assert pairs["connector: rated"] == "185.0 °F"
    assert pairs["pin 1"] == "name A, x 18, y 24, return of B and C"
    assert pairs["frames: columns"] == "A: TC1"
    assert not [name for name in pairs if "event" in name or "stage" in name]


def test_what_a_reason_says_already_is_not_said_twice():
    told = analysis()
    weak = Statement("unloaded", {"amps_needed": 4.5})
    entry = {"pin": "6", "reason": weak, "amps_needed": 4.5}
    told = dataclasses.replace(told, findings=dataclasses.replace(told.findings, not_judged=(entry,)))
    assert terminal.summary(told).count("4.5 A") == 1
    assert report_page(told).count("4.5 A would be enough") == 1


def test_the_report_in_fahrenheit():
    page = report_page(analysis(about={"units": "F"}))
    # 85 °C = 185 °F
    assert "185.0 °F" in page
    assert "at the end [°F]" in page
    assert " °C" not in page.split("<footer>")[0]


@pytest.mark.parametrize(
    "told",
    [
        analysis(about={"title": HOSTILE, "job": JOB, "event": [{"time_s": 1.0, "what": HOSTILE}]}),
        analysis([f"A{i}" for i in range(44)]),
        analysis(frames=1),
        analysis(["only"], frames=1, staged=False),
        analysis([], frames=0, staged=False, about={"event": []}),
        analysis([HOSTILE, "$a$"], staged=False, about={"title": ""}),
        dataclasses.replace(analysis(staged=False), snapshots=(), pin_map=None, stages=()),
    ],
    ids=["hostile", "44 pins", "1 frame", "1 pin 1 frame", "nothing", "hostile pin", "logger without stages"],
)
def test_odd_input_still_gives_an_honest_page(told):
    page = report_page(told)
    checked(page)
    assert page.count("<script") == 1
    assert "<script>alert" not in page
    assert "49" not in re.findall(r"<h1.*?>(.*?)</h1>", page)[0]
    assert terminal.summary(told).strip()


def test_every_ink_of_a_page_passes_wcag_on_its_grounds():
    # WCAG 2.2, 1.4.3: words 4.5:1, by its own formula; screen in light, screen in dark, print
    styles = (TEMPLATES / "base.html").read_text(encoding="utf-8")
    found = re.findall(r":root \{ \{\{ (light|dark)\|safe \}\} ([^}]*)\}", styles)
    assert [theme for theme, _ in found] == ["light", "dark", "light"]
    for theme, more in found:
        inks = dict(re.findall(r"--(\w+): (#\w{6})", look.css_variables(theme) + more))
        for ink in ("ink", "soft", "alarm", "calm", "amber"):
            for ground in ("paper", "wash"):
                assert contrast(inks[ink], inks[ground]) >= 4.5, (theme, ink, ground)


@pytest.mark.parametrize("pins", [12, 40, 200])
def test_a_page_of_an_hours_test_stays_small(pins):
    told = analysis([str(k) for k in range(pins)], frames=181)
    # noise is what compresses worst; sixty frames to look through, and as much of photographs as a report takes
    noise = np.random.default_rng(5).normal(20.0, 5.0, (60, 160)).astype(np.float32)
    slides = tuple(dataclasses.replace(told.snapshots[-1], index=k, time_s=60.0 * k, celsius=noise) for k in range(60))
    photos = tuple(Photo(f"{k}.jpg", bytes(25_000), 640, 480) for k in range(12))
    inputs = {f"f{k:05d}.tiff": f"{k:064x}" for k in range(5000)}
    told = dataclasses.replace(told, inputs=inputs, slides=slides, papers=Papers("seen " * 200, photos))
    page = report_page(told)
    assert len(page.encode()) < 1_500_000
    assert "The 5000 files read" in page
    assert page.count('<td class="digest">') == 200
    # with 200 pins, noise and a dozen photographs the frames have to be fewer
    assert 20 <= page.count('class="laid"') <= 60 if pins == 200 else page.count('class="laid"') == 60


def test_marked_frames_are_the_first_middle_and_last_of_each_stage():
    told = analysis()
    shots = marked.chosen_snapshots(told)
    assert [shot.index for shot in shots] == [0, 10, 19, 20, 40, 60]
    pictures = marked.marked_frames(told)
    assert pictures[-1].caption == "full · 20:00 · f0060.tiff"
    sheet = marked.contact_sheet(told, pictures)
    assert look.png_bytes(sheet) == look.png_bytes(marked.contact_sheet(told, marked.marked_frames(told)))
    raw = base64.b64decode(marked.data_uri(pictures[0].pixels).split(",")[1])
    assert Image.open(io.BytesIO(raw)).size == pictures[0].pixels.shape[1::-1]


def test_the_hot_pin_is_drawn_where_it_is_warm():
    told = analysis()
    last = marked.marked_frames(told)[-1].pixels.astype(float)
    left, right, bottom, top = marked.view((60, 160), told.findings.pins)
    wide = last.shape[1] * 0.86
    hot = told.findings.pins[1]
    column = round((hot.x_px - left) / (right - left) * wide)
    row = round((hot.y_px - top) / (bottom - top) * last.shape[0])
    patch = last[row - 3 : row + 4, column - 3 : column + 4].mean()
    assert patch > last[-8:, :8].mean() + 120


def test_a_frame_with_colours_of_its_own_is_shown_as_it_is():
    told = analysis()
    green = np.zeros((60, 160, 3), np.uint8)
    green[..., 1] = 180
    shots = tuple(dataclasses.replace(shot, picture=green) for shot in told.snapshots)
    told = dataclasses.replace(told, snapshots=shots)
    assert marked.marked_frames(told)[0].pixels[2, 2].tolist() == [0, 180, 0]
    assert "as the camera drew them" in marked.words_under(told)


def test_an_empty_or_flat_frame_has_a_scale():
    shot = analysis().snapshots[0]
    empty = dataclasses.replace(shot, celsius=np.full((4, 4), np.nan, np.float32))
    flat = dataclasses.replace(shot, celsius=np.full((4, 4), 21.0, np.float32))
    assert marked.common_scale([empty]) == (0.0, 1.0)
    assert marked.common_scale([flat]) == (20.5, 21.5)


def test_terminal_lines(tmp_path):
    text = terminal.summary(analysis(), tmp_path / "results")
    lines = text.splitlines()
    assert lines[0] == "Elevator motor plug"
    assert re.match(r"  2    hot      66\.\d °C, 45\.\d K over ambient at 20:00", lines[4])
    assert "Not judged: Pin 6: " in text
    assert str(tmp_path / "results" / "report.html") in text
    assert max(map(len, lines[:-2])) <= terminal.WIDTH
    changed = terminal.comparison_summary([comparison()])
    assert "rise 46.0 to 18.4 K (46.0 expected), change -27.6 (-30.0 to -24.0) K, repaired: yes" in changed


def test_terminal_in_fahrenheit_agrees_with_celsius():
    celsius, fahrenheit = (terminal.summary(analysis(about={"units": unit})) for unit in "CF")
    hot_c = float(re.search(r"hot +([\d.]+) °C", celsius)[1])
    hot_f = float(re.search(r"hot +([\d.]+) °F", fahrenheit)[1])
    assert hot_f == pytest.approx(hot_c * 1.8 + 32, abs=0.15)


def test_many_warnings_are_counted_not_poured_out():
    told = analysis()
    many = tuple(dataclasses.replace(told.notices[0], frames=(i,)) for i in range(30))
    text = terminal.summary(dataclasses.replace(told, notices=many))
    assert "... and 22 more in findings.json" in text


def test_tables_with_missing_text_do_not_stop_the_page():
    told = analysis()
    told.readings["quality"] = pd.Series([None] * len(told.readings), dtype="object")
    assert report_parts.doubt_rows(told) == []


def test_pins_left_out_for_one_reason_are_told_together():
    entries = [
        {"pin": "1", "reason": "Bare metal.", "amps_needed": None},
        {"pin": "2", "reason": "Carries 1 A.", "amps_needed": 4.5},
        {"pin": "3", "reason": "Bare metal.", "amps_needed": None},
    ]
    told = report_parts.not_judged_texts(entries)
    assert told == ["Pins 1 and 3: Bare metal.", "Pin 2: Carries 1 A. 4.5 A would be enough."]
