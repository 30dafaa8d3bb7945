"""Charts and sections: reproducible, labelled, escaped, with words for those who do not see them."""

import re
from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_forecast import ODD_NAME, STACK, large, picture, sample

from bibula.report.charts import VARIABLES, draw
from bibula.report.curves import charts
from bibula.report.formatting import brief
from bibula.report.section import CLOSE, ROOMY, _width, describe, draw_section, pictures_of, share

SIZES = ("wide", "narrow", "print", "half")


def _texts(svg):
    drawing = ET.fromstring(svg)  # noqa: S314 - made by our own code a moment ago
    return ["".join(e.itertext()) for e in drawing.iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize("size", SIZES)
def test_the_same_chart_gives_the_same_bytes(size):
    chart = charts(sample())[0]
    first = draw(chart, size)
    draw(charts(sample())[2], size)
    assert draw(chart, size) == first


def test_a_page_chart_has_real_text_role_and_words():
    svg = draw(charts(sample())[0])
    assert 'role="img"' in svg
    assert 'aria-label="Water in the sheet against time' in svg
    assert "sheet water, g/m²" in _texts(svg)
    assert "3 felt, overnight" in _texts(svg)


def test_a_print_chart_has_outlines_and_fixed_colours():
    svg = draw(charts(sample())[0], "print")
    assert _texts(svg) == []
    assert "var(--" not in svg


def test_a_page_chart_leaves_every_colour_to_the_style():
    svg = re.sub(r"var\(--chart-[a-z0-9-]+, #[0-9a-f]{6}\)", "", draw(charts(sample())[1]))
    assert not any(colour in svg for colour in VARIABLES)
    assert re.findall(r"(?:fill|stroke): #[0-9a-f]{6}", svg) == []


def test_every_milestone_in_time_has_its_letter_once():
    letters = [t for t in _texts(draw(charts(sample())[0])) if re.fullmatch("[A-F]", t)]
    assert sorted(letters) == ["A", "B", "C", "D", "E"]


def test_dollar_signs_in_names_are_no_formula():
    f = sample()
    odd = replace(f, stage_names=("$x_1$", "a", "b"), layers_by_stage=())
    assert "1 $x_1$" in _texts(draw(charts(odd)[0]))


def test_two_drawings_never_share_an_id():
    drawings = [draw(c, s) for c in charts(sample()) for s in ("wide", "narrow")]
    drawings += [draw_section(sample(), w, key=f"s{w}") for w in (352, 840)]
    ids = [i for svg in drawings for i in re.findall(r'\bid="([^"]+)"', svg)]
    assert len(ids) == len(set(ids))


def test_every_pattern_and_clip_a_drawing_uses_is_in_it():
    for svg in (draw(charts(sample())[0]), draw_section(sample())):
        assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= set(re.findall(r'\bid="([^"]+)"', svg))


def test_a_section_shows_share_thickness_side_and_outline():
    texts = _texts(draw_section(sample(), 840))
    for words in ("93 %", "0.12 mm", "recto", "verso", "after 20 min", "table"):
        assert words in texts
    assert any("thickness not to scale" in t for t in texts)


@given(st.floats(0.0, 60 * 86400.0))
def test_a_heading_of_a_picture_never_reaches_the_next(seconds):
    for measure, words in ((CLOSE, brief(seconds)), (ROOMY, f"after {brief(seconds)}")):
        assert _width(words, bold=True) <= measure.column + measure.gap - 1.5  # `_width` is a little wide


def test_no_side_is_labelled_where_the_forecast_does_not_say():
    f = sample()
    silent = replace(f, pictures=tuple(replace(p, recto_up=None) for p in f.pictures))
    assert "recto" not in _texts(draw_section(silent, 840))


def test_recto_down_puts_verso_on_top():
    f = sample()
    turned = replace(f, pictures=(replace(f.pictures[0], recto_up=False),))
    texts = _texts(draw_section(turned, 840))
    assert texts.index("verso") < texts.index("recto")


def test_hatching_gets_denser_with_water():
    def steps(fill):
        shown = replace(sample(), pictures=(picture(60.0, "s", STACK[3:4], paper=fill),))
        drawn = Counter(re.findall(r"#section-w(\d)", draw_section(shown)))
        return [int(step) for step, count in drawn.items() if count > 1]  # once in the key

    assert [steps(fill) for fill in (0.0, 0.1, 0.3, 0.5, 0.7, 0.95)] == [[], [1], [2], [3], [4], [5]]


def test_a_layers_share_is_the_mean_over_its_thickness():
    layer = sample().pictures[0].layers[1]
    z = np.array([0.006, 0.0061, 0.015])
    uneven = replace(layer, z_m=z, fill=np.array([[1.0, 1.0, 0.0]]))
    # The nodes stand for 0.05, 4.5 and 4.45 mm of nine.
    assert share(uneven) == round(100 * 4.55 / 9.0)


def test_each_picture_reads_its_own_row_of_a_shared_table():
    f = sample()
    rows = np.vstack([np.full(9, 0.1), np.full(9, 0.5), np.full(9, 0.9)])
    shared = tuple(replace(p, layers=tuple(replace(x, fill=rows) for x in p.layers)) for p in f.pictures)
    read = pictures_of(replace(f, pictures=shared))
    assert [share(p.layers[0]) for p in read] == [10, 50, 90]


def test_two_objects_in_a_stack_are_two_outlines():
    names = (STACK[0], STACK[3], STACK[5], STACK[3])
    svg = draw_section(replace(sample(), pictures=(picture(60.0, "s", names, paper=0.5),)))
    assert svg.count("stroke-width: 3") == 3  # the table and two objects


def test_names_are_escaped():
    odd = ((ODD_NAME, "paper", 0.2),)
    svg = draw_section(replace(sample(), pictures=(picture(60.0, ODD_NAME, odd, paper=0.5),)), 840)
    assert ODD_NAME in _texts(svg)


def test_the_section_in_words_names_every_layer():
    f = sample()
    words = describe(f)
    assert all(x.name in words for p in f.pictures for x in p.layers)


@pytest.mark.parametrize("width", [320, 684, 840])
def test_a_large_stack_stays_inside_its_drawing(width):
    svg = draw_section(large(), width)
    height = float(re.search(r'viewBox="0 0 \S+ (\d+)"', svg)[1])
    for x, y, w, h in re.findall(r'<rect x="([\d.]+)" y="([\d.-]+)" width="([\d.]+)" height="([\d.]+)"', svg):
        assert float(x) + float(w) <= width + 0.5
        assert float(y) + float(h) <= height + 0.5


def test_no_pictures_no_drawing():
    assert draw_section(replace(sample(), pictures=())) == ""
