"""Card files: the same card comes back, and a mistake is named with its line."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.cards.files import card_from_text, card_to_text, read_card, write_card
from bibula.cards.model import PROPERTIES, Card
from bibula.cards.units import OTHER_UNITS, to_si
from bibula.quantities.errors import InputError
from bibula.quantities.toml_places import place_of
from bibula.quantities.values import Value

TEXTS = st.text(st.characters(codec="utf-8"), max_size=30)
DATES = st.just("") | st.dates().map(lambda day: day.isoformat())
KINDS = st.sampled_from(["slab", "blotter", "felt", "interleaf", "paper", "board", "film", "absorbent"])


@st.composite
def values(draw, key):
    prop = PROPERTIES[key]
    origin = draw(st.sampled_from(["measured", "published", "assumed"]))
    source = draw(TEXTS.filter(str.strip)) if origin != "assumed" else ""
    number = draw(st.floats(prop.low, prop.high))
    u = draw(st.floats(0.0, 1e12))
    return Value(number, prop.unit, u, origin, source, draw(DATES), draw(TEXTS))


@st.composite
def cards(draw):
    keys = draw(st.lists(st.sampled_from(list(PROPERTIES)), unique=True, max_size=5))
    held = {key: draw(values(key)) for key in keys}
    pairs = {(keys[0], key): draw(st.floats(-1.0, 1.0)) for key in keys[1:]}
    name = draw(TEXTS.filter(str.strip))
    return Card(name, draw(KINDS), held, draw(TEXTS), draw(DATES), pairs, tuple(draw(st.lists(TEXTS, max_size=3))))


@settings(max_examples=60, deadline=None)
@given(cards())
def test_card_survives_writing_and_reading(card):
    assert card_from_text(card_to_text(card)) == card


@settings(max_examples=30, deadline=None)
@given(cards())
def test_every_field_is_found_in_the_written_text(card):
    text = card_to_text(card)
    lines = text.split("\n")
    for key in card.values:
        for field in ("value", "unit", "note"):
            line, column = place_of(text, (key, field))
            assert column == 1
            assert lines[line - 1].startswith(f"{field} = ")
            assert f"[{key}]" in lines[line - 8 : line]


def test_file_round_trip_leaves_nothing_beside_it(tmp_path):
    card = Card("Gault slab", "slab", {"thickness_m": Value(0.011, "m", 2e-4, "measured", "calliper, 5 places")})
    path = tmp_path / "gault.toml"
    write_card(card, path)
    write_card(card, path)
    assert read_card(path) == card
    assert [item.name for item in tmp_path.iterdir()] == ["gault.toml"]


def test_tables_follow_the_order_of_the_properties():
    held = {key: Value(PROPERTIES[key].high, PROPERTIES[key].unit) for key in reversed(PROPERTIES)}
    text = card_to_text(Card("x", "slab", held))
    assert [line[1:-1] for line in text.splitlines() if line.startswith("[")] == list(PROPERTIES)
    assert all(f"# {prop.meaning}\n" in text for prop in PROPERTIES.values())


def test_a_failed_write_keeps_the_old_file(tmp_path):
    path = tmp_path / "a.toml"
    good = Card("a", "slab", {})
    write_card(good, path)
    with pytest.raises(InputError, match="published value needs its source"):
        write_card(Card("a", "slab", {"thickness_m": Value(0.01, "m", 0.0, "published")}), path)
    with pytest.raises(InputError, match="not a date"):
        write_card(Card("a", "slab", {}, date="yesterday"), path)
    assert read_card(path) == good


def test_writing_into_no_folder_is_one_sentence(tmp_path):
    with pytest.raises(InputError, match=r"cannot be written.*check the folder"):
        write_card(Card("a", "slab", {}), tmp_path / "none" / "a.toml")


@pytest.mark.parametrize(
    ("key", "written", "unit", "si"),
    [
        ("thickness_m", 11, "mm", 0.011),
        ("thickness_m", 120, "um", 120e-6),
        ("density_kg_m3", 0.435, "g/cm3", 435.0),
        ("median_suction_pa", 291.2, "kPa", 291200.0),
        ("gab_monolayer_kg_kg", 3.87, "%", 0.0387),
        ("gab_monolayer_kg_kg", 0.0387, "g/g", 0.0387),
        ("absorption_kg_m2s05", 60.0, "kg/(m2 h^0.5)", 1.0),  # the square root of 3600 s is 60
        ("contact_kg_m2spa", 1.0, "g/(m2 s kPa)", 1e-6),
    ],
)
def test_other_units_become_si(key, written, unit, si):
    text = (
        f'name = "x"\nkind = "slab"\n[{key}]\nvalue = {written}\nu = {written}\nunit = "{unit}"\norigin = "assumed"\n'
    )
    value = card_from_text(text).values[key]
    assert (value.value, value.u, value.unit) == (si, si, PROPERTIES[key].unit)


def test_other_units_belong_to_properties():
    assert set(OTHER_UNITS) <= set(PROPERTIES)
    assert math.isnan(to_si("thickness_m", math.nan, "mm"))


GOOD = """name = "Gault slab"
kind = "slab"
date = 2025-03-09
notes = ["one"]
correlations = [
    {a = "thickness_m", b = "density_kg_m3", r = -0.5},
]

[thickness_m]
value = 11
unit = "mm"
u = 0.2
origin = "measured"
source = "calliper"

[density_kg_m3]
value = 1180.0
unit = "kg/m3"
u = 20.0
origin = "assumed"
"""


def test_the_good_text_is_good():
    card = card_from_text(GOOD)
    assert (card["thickness_m"], card.date, card.correlations) == (
        0.011,
        "2025-03-09",
        {("thickness_m", "density_kg_m3"): -0.5},
    )


MISTAKES = [
    ('kind = "slab"', 'kind = "slate"', 2, "kind", "use one of slab"),
    ('kind = "slab"\n', "", 1, "kind", "kind is missing"),
    ('name = "Gault slab"', 'name = " "', 1, "name", "name is empty"),
    ('name = "Gault slab"', "name = 3", 1, "name", "must be text"),
    ("date = 2025-03-09", 'date = "9 March"', 3, "date", "not a date"),
    ('notes = ["one"]', 'notes = "one"', 4, "notes", "list of sentences"),
    ('notes = ["one"]', 'formt = "one"', 4, "formt", "did you mean 'format'"),
    ('notes = ["one"]', 'format = "bibula card 9"', 4, "format", "not known here"),
    ('a = "thickness_m"', 'a = "thikness_m"', 6, "correlations.0.a", "gives no 'thikness_m'"),
    ('a = "thickness_m"', 'a = "density_kg_m3"', 6, "correlations.0", "makes no sense"),
    ("r = -0.5", "r = -5", 6, "correlations.0.r", "from -1 to 1"),
    ("r = -0.5", "q = -0.5", 6, "correlations.0.q", "use a, b and r"),
    ("value = 11\n", 'value = "11"\n', 10, "thickness_m.value", "must be a number"),
    ("value = 11\n", "value = nan\n", 10, "thickness_m.value", "must be a number"),
    ("value = 11\n", "value = true\n", 10, "thickness_m.value", "must be a number"),
    ("value = 11\n", "value = 11000\n", 10, "thickness_m.value", "outside 1e-06 to 0.2"),
    ('unit = "mm"', 'unit = "inch"', 11, "thickness_m.unit", "use m, cm, mm or um"),
    ("u = 0.2\n", "u = -0.2\n", 12, "thickness_m.u", "is negative"),
    ("u = 0.2\n", "", 9, "thickness_m.u", "uncertainty u is missing"),
    ('origin = "measured"', 'origin = "guessed"', 13, "thickness_m.origin", "measured, published, assumed"),
    ('source = "calliper"', "", 9, "thickness_m.source", "name the readings"),
    ('source = "calliper"', 'sourc = "calliper"', 14, "thickness_m.sourc", "did you mean 'source'"),
    ("[density_kg_m3]", "[densty_kg_m3]", 16, "densty_kg_m3", "did you mean 'density_kg_m3'"),
]


@pytest.mark.parametrize(("old", "new", "line", "field", "words"), MISTAKES)
def test_a_mistake_is_named_with_its_line(old, new, line, field, words):
    assert old in GOOD
    with pytest.raises(InputError) as caught:
        card_from_text(GOOD.replace(old, new, 1), "gault.toml")
    error = caught.value
    assert (error.place.file, error.place.line, error.place.field) == ("gault.toml", line, field)
    assert error.place.column
    assert words in str(error)
    assert str(error).startswith(f"gault.toml, line {line}, column ")
    assert "\n" not in str(error)


def test_a_property_that_is_no_table_is_named():
    with pytest.raises(InputError, match=r"line 3.*must be a table.*\[thickness_m\]"):
        card_from_text('name = "x"\nkind = "slab"\nthickness_m = 0.01\n')


@pytest.mark.parametrize(
    ("content", "words"), [(b"\xff\xfe", "not UTF-8"), (b"name = \n", "line 1, column 8: this is not valid TOML")]
)
def test_unreadable_content_is_one_sentence(tmp_path, content, words):
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_card(path)
    assert words in str(caught.value)


def test_missing_file_is_one_sentence(tmp_path):
    with pytest.raises(InputError, match=r"cannot be read.*check the path"):
        read_card(tmp_path / "none.toml")
