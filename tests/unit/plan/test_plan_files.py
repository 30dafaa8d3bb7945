"""A plan file is read and written without loss, and a mistake in it is one sentence with its place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import tomlkit

from bibula.plan.fields import format_duration, format_size, parse_duration, parse_size
from bibula.plan.files import card_paths, logger_path, parse_plan, plan_text, read_plan, write_plan
from bibula.plan.model import Piece
from bibula.plan.rules import check_plan, stops
from bibula.quantities.errors import InputError

MISTAKES = [
    # (what stands in the good file, what the user wrote, line, column, field, words of the sentence)
    ("grammage_g_m2 = 250", "gramage_g_m2 = 250", 8, 1, "object.gramage_g_m2", "did you mean 'grammage_g_m2'"),
    ('size = "420 x 297 mm"', "length_m = 420\nwidth_m = 0.297", 7, 1, "object.length_m", "millimetres"),
    ('size = "420 x 297 mm"', 'size = "420 x 297"', 7, 1, "object.size", "is not a size"),
    ('duration = "30 min"', "duration = 30", 20, 1, "stage[1].duration", "has no unit"),
    ('duration = "1 d"', 'duration = "1 dy"', 29, 1, "stage[2].duration", "is not a time"),
    ("percent = 50", "percent = 0.5", 16, 1, "room.relative_humidity_percent", "write 50 if you mean 50 %"),
    ("percent = 50", "percent = 120", 16, 1, "room.relative_humidity_percent", "is not possible"),
    ("= 250", "= -250", 8, 1, "object.grammage_g_m2", "-250 g/m2 is outside"),
    ("= 0.4", "= 0.0004", 9, 1, "object.thickness_mm", "looks like metres"),
    ("= 0.4", "= nan", 9, 1, "object.thickness_mm", "finite number"),
    ("weight_kg = 3", 'weight_kg = "3 kg"', 36, 1, "stage[2].weight_kg", "the unit, kg, is already in the key"),
    ('above = "board"', 'above = "bord"', 35, 1, "stage[2].above.kind", "choose one of room, board"),
    ('start = "blotted"', 'start = "dripping"', 11, 1, "object.start.state", "choose one of drained"),
    ('what = "printing ink"', 'what = "iron gal ink"', 12, 12, "object.media[1].what", "did you mean 'iron-gall ink'"),
    ('fibre = "rag"', 'fibre = ""', 10, 1, "object.fibre", "is empty"),
    ('name = "Harbour view"\n', "", 5, 1, "object.name", "'name' is missing"),
    ("temperature_c = 20", "temperature_c = -4", 15, 1, "room.temperature_c", "frost"),
    ('above = "board"', 'above = "damp chamber"', 35, 1, "stage[2].above.kind", "needs its humidity"),
    ('id = "s1", reuse = true', 'id = "s1"', 31, 38, "stage[2].stack[1].id", "was used in an earlier stage"),
    ('id = "s1", reuse = true', 'id = "s7", reuse = true', 31, 38, "stage[2].stack[1].id", "no earlier stage has it"),
    ("weight_kg = 3", "weight_kg = 3\npressure_pa = 10", 37, 1, "stage[2].pressure_pa", "given twice"),
    (
        'card = "slab (starting card)", id = "s1" }',
        'crad = "slab", id = "s1" }',
        22,
        7,
        "stage[1].stack[1].crad",
        "'card'",
    ),
]


@pytest.mark.parametrize(("good", "bad", "line", "column", "field", "words"), MISTAKES)
def test_mistake_is_named_with_its_place(plan_toml, good, bad, line, column, field, words):
    assert plan_toml.count(good) >= 1
    with pytest.raises(InputError) as caught:
        parse_plan(plan_toml.replace(good, bad, 1), "p.toml")
    place = caught.value.place
    assert (place.file, place.line, place.column, place.field) == ("p.toml", line, column, field)
    assert words in caught.value.sentence()
    assert "\n" not in caught.value.sentence()


def test_stage_without_object_is_refused(plan_toml):
    bad = plan_toml.replace("    { object = true },\n", "", 1)
    with pytest.raises(InputError, match="does not hold the object") as caught:
        parse_plan(bad)
    assert caught.value.place.line == 21


@pytest.mark.parametrize(
    ("good", "bad", "line"), [("[room]", "[room", 14), ('fibre = "rag"', "fibre = rag", 10), ('= "1 d"', '= "1 d', 29)]
)
def test_broken_syntax_names_its_line(plan_toml, good, bad, line):
    with pytest.raises(InputError) as caught:
        parse_plan(plan_toml.replace(good, bad, 1), "p.toml")
    assert caught.value.place.line == line


def test_several_mistakes_are_counted(plan_toml):
    bad = plan_toml.replace("= 250", "= -1").replace("= 0.4", "= -1").replace("percent = 50", "percent = 0.4")
    with pytest.raises(InputError, match="and 2 more mistakes in this file") as caught:
        parse_plan(bad)
    assert caught.value.place.line == 8


def test_windows_line_ends_do_not_shift_the_place(plan_toml):
    bad = plan_toml.replace("= 0.4", "= -1").replace("\n", "\r\n")
    with pytest.raises(InputError) as caught:
        parse_plan(bad)
    assert (caught.value.place.line, caught.value.place.column) == (9, 1)


def test_missing_file_and_wrong_coding_are_sentences(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        read_plan(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes('title = "x"\nnotes = "caf\xe9"\n'.encode("latin-1"))
    with pytest.raises(InputError, match="UTF-8") as caught:
        read_plan(tmp_path / "latin.toml")
    assert caught.value.place.line == 2


def test_written_plan_reads_back_equal(plan_toml, tmp_path):
    plan = parse_plan(plan_toml)
    write_plan(plan, tmp_path / "p.toml")
    assert read_plan(tmp_path / "p.toml") == plan
    assert [p.name for p in tmp_path.iterdir()] == ["p.toml"]


def test_written_plan_is_plain_toml_with_a_schema_line(plan_toml):
    text = plan_text(parse_plan(plan_toml))
    assert text.startswith("#:schema ../schemas/plan.schema.json\n")
    assert 'size = "420 x 297 mm"' in text
    assert 'duration = "30 min"' in text
    assert tomlkit.parse(text)["title"] == "Invented plan"


def test_paths_lie_beside_the_plan_file(plan_toml, tmp_path):
    text = plan_toml.replace("invented = true", 'invented = true\ncards = ["cards/own.toml"]')
    text = text.replace("percent = 50", 'percent = 50\nlogger = "room.csv"')
    plan = parse_plan(text)
    assert card_paths(plan, tmp_path / "p.toml") == (tmp_path / "cards" / "own.toml",)
    assert logger_path(plan, tmp_path / "p.toml") == tmp_path / "room.csv"


def test_dates_may_be_toml_dates(plan_toml):
    text = plan_toml + '\n[[override]]\nrule = "x"\nreason = "y"\nby = "A. Person"\ndate = 2026-03-02\n'
    assert parse_plan(text).overrides[0].date == "2026-03-02"


def test_reused_piece_may_not_bring_water(plan_toml):
    bad = plan_toml.replace('id = "s1", reuse = true', 'id = "s1", reuse = true, start_water_g = 3')
    with pytest.raises(InputError, match="keeps the water it took up"):
        parse_plan(bad)


def test_unknown_card_is_not_the_plans_business(plan_toml):
    plan = parse_plan(plan_toml.replace("slab (starting card)", "nobody knows it"))
    assert isinstance(plan.stages[0].stack[0], Piece)
    assert plan.stages[0].stack[0].card == "nobody knows it"


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("30 min", 1800.0), ("1 d 12 h", 129600.0), ("90.5 s", 90.5), ("2h", 7200.0), ("1 week", 604800.0)],
)
def test_time_in_words(text, seconds):
    assert parse_duration(text) == seconds
    assert parse_duration(format_duration(seconds)) == seconds


@pytest.mark.parametrize("text", ["", "min", "30", "30 minutos", "3 h ago", "-1 h", "1 h, 2 min"])
def test_no_time_in_these_words(text):
    with pytest.raises(ValueError, match=re.escape(text) or "^$"):
        parse_duration(text)


@pytest.mark.parametrize(
    ("text", "length", "width"),
    [
        ("420 x 297 mm", 0.42, 0.297),
        ("42 cm × 0.297 m", 0.42, 0.297),
        ("16 1/2 x 11 3/4 in", 0.4191, 0.29845),  # 1 in = 25.4 mm exactly
        ('10 x 8"', 0.254, 0.2032),
        ("3/4 x 1/2 in", 0.01905, 0.0127),
    ],
)
def test_size_in_words(text, length, width):
    assert parse_size(text) == pytest.approx((length, width), abs=1e-15)
    assert parse_size(format_size(length, width)) == (length, width)


def test_the_example_of_the_docs_is_a_good_plan():
    page = (Path(__file__).parents[3] / "docs" / "plans.md").read_text(encoding="utf-8")
    example, override = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    plan = parse_plan(example + override)
    assert stops(check_plan(plan)) == ()
    assert plan.overrides[0].rule == "iron-gall-damp"
