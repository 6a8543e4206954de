"""The trend chart: same bytes for the same data, lines and labels that are what the table says, odd input stands."""

import dataclasses
import itertools
import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import pytest
from contrast import contrast, linear_rgb, luminance
from hypothesis import given
from hypothesis import strategies as st
from told_sessions import AMBIENT, analysis

from hotspot.errors import InputError
from hotspot.tell import charts, look, tables
from hotspot.tell.trend_data import broken, chosen, load_text, thinned, trend_data, trend_of

SVG = "{http://www.w3.org/2000/svg}"


def _texts(figure) -> list[str]:
    return [each.text or "" for each in ET.fromstring(look.svg_text(figure)).iter(f"{SVG}text")]


def test_the_same_analysis_gives_the_same_bytes():
    one, two = (charts.trend(analysis()) for _ in range(2))
    assert look.svg_text(one) == look.svg_text(two)
    assert look.png_bytes(one) == look.png_bytes(two)
    assert look.png_bytes(one).startswith(b"\x89PNG")


def test_results_on_disk_give_the_chart_of_the_fresh_analysis(tmp_path):
    told = analysis()
    (tmp_path / "readings.csv").write_text(tables.readings_csv(told), encoding="utf-8")
    types = {"pin": "str", "stage": "str", "clipped": "str", "quality": "str"}
    frame = pd.read_csv(tmp_path / "readings.csv", dtype=types, keep_default_na=False, na_values={"rise_c": [""]})
    again = charts.trend(trend_data(frame, tables.findings_dict(told)))
    # the table keeps four decimals, a pixel is far coarser
    assert _texts(again) == _texts(charts.trend(told))
    np.testing.assert_allclose(trend_of(told).lines[1].celsius, trend_data(frame, {}).lines[1].celsius, atol=6e-5)


def test_lines_stages_events_ambient_and_ratings_are_named():
    texts = _texts(charts.trend(analysis()))
    for wanted in ("Elevator motor plug", "2 hot", "1", "half · 4.5 A", "full · 9 A", "harness moved", "ambient"):
        assert wanted in texts
    assert "rating" in texts
    assert "temperature [°C]" in texts


@pytest.mark.parametrize(
    ("units", "as_rise", "label", "last"),
    [
        ("C", False, "temperature [°C]", 1.0),
        ("F", False, "temperature [°F]", None),
        ("F", True, "rise over ambient [°F]", 1.8),
        ("C", True, "rise over ambient [K]", 1.0),
    ],
)
def test_units_and_rise(units, as_rise, label, last):
    told = analysis()
    figure = charts.trend(told, units=units, as_rise=as_rise)
    assert figure.axes[0].get_ylabel() == label
    rows = told.readings[told.readings["pin"] == "2"].iloc[-1]
    shown = charts.Scale(units, as_rise).of(trend_of(told).lines[1])[-1]
    # 1 K = 1.8 °F of a difference; an absolute value has the offset of 32 too
    expected = rows["rise_c"] * last if as_rise else rows["temperature_c"] * (1.8 if units == "F" else 1)
    assert shown == pytest.approx(expected + (32 if units == "F" and not as_rise else 0))


def test_ratings_that_agree_are_one_line_and_those_out_of_reach_are_said():
    alike = analysis(about={"connector": {"rated": 85.0, "wire_rated": 85.0}})
    assert "rating of housing and wire" in _texts(charts.trend(alike))
    far = _texts(charts.trend(analysis(about={"connector": {"rated": 300.0, "wire_rated": 80.0}})))
    assert "rating 300 °C: off this chart" in far
    assert "wire rating" in far


def test_only_some_pins_and_one_stage():
    data = trend_of(analysis())
    cut = chosen(data, ["1", "3"], "full")
    assert [line.name for line in cut.lines] == ["1", "3"]
    assert cut.lines[0].time_s.min() == 400.0
    assert [band.name for band in cut.stages] == ["full"]
    assert cut.events == ()
    # a pin keeps its style when others are left out
    assert cut.lines[1].place == data.lines[2].place
    with pytest.raises(InputError, match="no pin is called 9"):
        charts.trend(data, only=["9"])
    with pytest.raises(InputError, match=r"no stage is called idle.*half, full"):
        charts.trend(data, within="idle")


def test_a_stage_on_disk_keeps_its_last_reading():
    told = analysis()
    data = trend_data(told.readings, tables.findings_dict(told))
    last = told.readings.loc[told.readings["stage"] == "full", "time_s"].max()
    exact = [dataclasses.replace(band, end_s=last) for band in data.stages]  # just past the last, as rounded
    cut = chosen(dataclasses.replace(data, stages=tuple(exact)), within="full")
    assert cut.lines[0].time_s.max() == cut.ambient[0].max() == last


def test_a_gap_breaks_the_line_and_clipped_values_get_arrows():
    told = analysis()
    table = told.readings
    table.loc[(table["pin"] == "1") & table["time_s"].between(300, 500), "temperature_c"] = np.nan
    table.loc[(table["pin"] == "2") & (table["time_s"] > 600), "clipped"] = "high"
    gone = (table["pin"] == "3") & table["time_s"].between(300, 500)
    told = dataclasses.replace(told, readings=table[~gone])
    figure = charts.trend(told)
    holes = [np.isnan(np.asarray(line.get_ydata(), float)).any() for line in figure.axes[0].get_lines()]
    assert sum(holes) == 2
    assert "arrows: the scale ends here" in " ".join(_texts(figure))


@pytest.mark.parametrize("count", [0, 1, 12, 40])
@pytest.mark.parametrize("frames", [1, 61])
def test_any_number_of_pins_and_frames_stands(count, frames):
    names = [f"A{i}" for i in range(count)]
    figure = charts.trend(analysis(names, frames=frames, about={"event": []}))
    texts = _texts(figure)
    shown = [name for name in names if name in texts or f"{name} hot" in texts]
    assert shown == names
    heights = sorted(float(t.get_position()[1]) for t in figure.axes[0].texts if t.get_text() in names)
    tall = figure.axes[0].get_position().height * figure.get_figheight() * 72
    span = np.diff(figure.axes[0].get_ylim())[0]
    if len(heights) > 2:
        # labels never lie on each other: at least 4 points apart on paper
        assert np.diff(heights).min() / span * tall > 4


def test_no_stage_no_ambient_and_hostile_words_stand():
    odd = "<script>alert(1)</script> $x^2$ \\frac \u202eright\u202c \u6f22 " + "n" * 300
    told = analysis([odd, "$a$", "b_{1}"], staged=False, about={"title": odd, "event": [{"time_s": 1, "what": odd}]})
    told.readings["rise_c"] = np.nan
    svg = look.svg_text(charts.trend(told))
    assert "<script" not in svg
    assert "ambient" not in _texts(charts.trend(told))
    assert "$a$ hot" in _texts(charts.trend(told))


def test_no_two_pins_share_a_style_and_no_two_hues_a_grey():
    assert len({look.style_of(place) for place in range(280)}) == 280
    for theme in ("light", "dark"):
        light = sorted(luminance(hue) for hue in look.hues(theme))
        # eight different greys, each at least 1.12 times as bright (WCAG contrast) as the one below
        steps = [(b + 0.05) / (a + 0.05) for a, b in itertools.pairwise(light)]
        assert min(steps) > 1.12


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_line_stands_out_from_the_paper_by_wcag(theme):
    papers = (look.PAPER, look.BAND) if theme == "light" else (look.DARK[look.PAPER], look.DARK[look.BAND])
    alarm = look.ALARM if theme == "light" else look.DARK[look.ALARM]
    for hue in (*look.hues(theme), alarm):
        for paper in papers:
            # WCAG 2.2, success criterion 1.4.11: graphical objects at least 3:1
            assert contrast(hue, paper) >= 3.0, (hue, paper)


# CIEDE2000 between any two lines of a chart: 2.3 is about the least difference that is noticed side by side; thin lines
# need more. Tritan sight is rare, and the library calls its matrix an approximation.
APART = {"full": 12.0, "Deuteranomaly": 6.0, "Protanomaly": 6.0, "Tritanomaly": 4.0}


@pytest.mark.published
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("sight", APART)
@pytest.mark.filterwarnings("ignore:.*simulation of tritanomaly")
def test_lines_are_told_apart_with_and_without_full_colour_vision(theme, sight):
    # Machado, Oliveira and Fernandes, A physiologically-based model for simulation of color vision deficiency, 2009,
    # severity 1.0, as colour-science holds its matrices; they act on linear RGB
    from skimage.color import deltaE_ciede2000, rgb2lab

    blindness = pytest.importorskip("colour.blindness", reason="colour-science is not installed (extra dev)")
    seen_as = np.eye(3) if sight == "full" else blindness.matrix_cvd_Machado2009(sight, 1.0)
    alarm = look.ALARM if theme == "light" else look.DARK[look.ALARM]
    seen = []
    for hue in (*look.hues(theme), alarm):
        linear = np.clip(seen_as @ linear_rgb(hue), 0, 1)
        seen.append(rgb2lab(np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)))
    apart = [float(deltaE_ciede2000(one, two)) for one, two in itertools.combinations(seen, 2)]
    assert min(apart) > APART[sight]


def test_the_contrast_formula_gives_the_published_figures():
    # WCAG 2.2: black on white 21:1; #767676 on white is the lightest grey that passes 4.5:1 (from memory)
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("ink", ["INK", "SOFT", "ALARM"])
def test_words_pass_wcag_contrast_on_light_and_dark(ink):
    colour = getattr(look, ink)
    for paper in (look.PAPER, look.BAND):
        assert contrast(colour, paper) >= 4.5
        assert contrast(look.DARK[colour], look.DARK[paper]) >= 4.5


@given(st.lists(st.floats(0, 100), min_size=1, max_size=40), st.floats(0.1, 5))
def test_labels_spread_apart_keep_their_order_and_stay_inside(wanted, gap):
    places = look.spread(wanted, gap, 0.0, 100.0)
    order = np.argsort(wanted, kind="stable")
    least = min(gap, 100.0 / max(1, len(wanted) - 1))
    assert np.all(np.diff(np.array(places)[order]) >= least - 1e-9)
    assert min(places) >= -1e-9
    assert max(places) <= 100 + 1e-9


def test_labels_that_do_not_touch_stay_where_they_are():
    assert look.spread([10.0, 50.0, 90.0], 5.0, 0.0, 100.0) == [10.0, 50.0, 90.0]


def test_thinning_keeps_extremes_ends_and_gaps():
    values = np.sin(np.arange(20000) / 50.0)
    values[12345], values[777], values[5000] = 9.0, -9.0, np.nan
    keep = thinned(values)
    assert {0, 777, 5000, 12345, 19999} <= set(keep.tolist())
    assert len(keep) <= 603


def test_broken_puts_nothing_into_an_even_series():
    time = np.arange(5.0)
    assert np.array_equal(broken(time, time)[0], time)
    assert np.isnan(broken(np.array([0.0, 1.0, 2.0, 9.0]), np.ones(4))[1]).sum() == 1


def test_loads_in_words():
    told = [load_text(amps) for amps in ({"1": 9.0, "2": 4.5, "3": 0.0}, {"1": 9.0}, {}, 9.0, "equal", None)]
    assert told == ["4.5–9 A", "9 A", "no load", "9 A", "equal amps", "load not known"]


def test_the_ambient_is_temperature_less_rise():
    assert trend_of(analysis()).ambient[1] == pytest.approx(np.full(61, AMBIENT))


def test_rises_without_an_ambient_are_refused():
    told = analysis()
    told.readings["rise_c"] = np.nan
    with pytest.raises(InputError, match="ambient"):
        charts.trend(told, as_rise=True)


LONG = "Long test of the second bale elevator's drive plug, the six-way one by the gear box, before the new terminal"


def test_a_long_title_and_a_long_event_stay_inside_the_chart():
    told = analysis(about={"title": LONG + " " + LONG, "event": [{"time_s": 1190.0, "what": LONG[:80]}]})
    for form in (charts.WIDE, charts.NARROW):
        figure = charts.trend(told, form=form)
        wide = 72 * form.width_in
        for text in figure.texts:
            left = text.get_position()[0] * wide
            assert left + look.width_of(text.get_text(), text.get_fontsize(), text.get_fontweight()) <= wide
    # near the right end the words go to the left of the line, where they have room
    assert " ".join(LONG[:80].split()) in _texts(charts.trend(told))


@given(st.text("ab cdefgh", min_size=1, max_size=120), st.floats(20, 400))
def test_what_is_fitted_is_no_wider_than_its_room(text, room):
    assert look.width_of(look.fitted(text, room, 9.0), 9.0) <= room
    lines = look.folded(text, room, 9.0, most=3)
    assert len(lines) <= 3
    assert all(look.width_of(line, 9.0) <= room for line in lines)


def test_a_title_is_cut_between_words():
    assert look.fitted(LONG, 300.0, 12.0, "bold").rstrip("…").split()[-1] in LONG.split()
    assert " ".join(look.folded(LONG, 400.0, 12.0)) == LONG


def test_the_narrow_chart_names_every_pin_and_is_the_same_twice():
    one, two = (look.svg_text(charts.trend(analysis(), form=charts.NARROW)) for _ in range(2))
    assert one == two
    texts = _texts(charts.trend(analysis(), form=charts.NARROW))
    assert {"1", "2 hot", "3", "4", "5", "6"} <= set(texts)
