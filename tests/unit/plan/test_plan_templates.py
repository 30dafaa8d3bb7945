"""Every template makes a valid plan for different objects; every caution file row is whole."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from bibula.plan.exposure import contacts, kind_of
from bibula.plan.files import parse_plan, plan_text
from bibula.plan.model import Piece, Start
from bibula.plan.schema import plan_schema, schema_text
from bibula.plan.templates import DEFAULT_KIT, EQUIPMENT, apply_template, find_template, list_templates
from bibula.quantities.errors import InputError

KEYS = [t.key for t in list_templates()]
OBJECTS = {
    "etching": {"grammage_g_m2": 280.0, "thickness_mm": 0.45},
    "letter": {"start": Start(state="air-dry"), "sizing": "gelatin"},
    "tissue": {"fibre": "kozo", "grammage_g_m2": 8.0, "thickness_mm": 0.03, "length_m": 0.1, "width_m": 0.05},
    "map": {"fibre": "wood pulp", "length_m": 3.2, "width_m": 1.4, "start": Start(state="drained")},
}
SCHEMA = Path(__file__).parents[3] / "schemas" / "plan.schema.json"


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("name", OBJECTS)
def test_template_makes_a_plan_that_survives_its_file(make, room, key, name):
    plan = apply_template(key, make(**OBJECTS[name]), room)
    assert parse_plan(plan_text(plan)) == plan
    jsonschema.validate(tomllib.loads(plan_text(plan)), plan_schema())


@pytest.mark.parametrize("key", KEYS)
def test_non_woven_lies_between_absorbent_and_object(make, room, key):
    for stage in apply_template(key, make(), room).stages:
        for contact in contacts(stage, {}):
            if contact.pieces:
                assert contact.pieces[0][1] not in {"slab", "blotter", "felt"}


@pytest.mark.parametrize("template", list_templates(), ids=KEYS)
def test_roles_and_equipment_are_known(template):
    assert set(template.roles) <= set(DEFAULT_KIT)
    assert set(template.needs) <= set(EQUIPMENT)


def test_kit_names_the_cards(make, room):
    plan = apply_template("slab-open", make(), room, kit={"slab": "Own slab, lot 2"})
    slabs = [x.card for s in plan.stages for x in s.stack if isinstance(x, Piece) and kind_of(x, {}) == "slab"]
    assert set(slabs) == {"Own slab, lot 2"}


def test_unknown_kit_role_is_refused(make, room):
    with pytest.raises(InputError, match="unknown role 'slap'"):
        apply_template("slab-open", make(), room, kit={"slap": "x"})


def test_unknown_template_names_the_nearest():
    with pytest.raises(InputError, match="did you mean 'blotters'"):
        find_template("bloters")


def test_flipping_turns_the_object(make, room):
    plain, turned = (apply_template("screens", make(), room, flipped=f) for f in (False, True))
    assert [s.face_up for s in plain.stages] == ["recto", "verso"]
    assert [s.face_up for s in turned.stages] == ["verso", "recto"]


def test_weights_follow_the_area(make, room):
    plan = apply_template("blotters", make(length_m=0.8, width_m=0.6), room)
    assert plan.stages[1].load_pa(0.48) == pytest.approx(300.0, rel=0.01)  # kg rounded to 0.1


def test_published_schema_is_current():
    assert SCHEMA.read_text(encoding="utf-8") == schema_text(), "run: python -m bibula.plan.schema"
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text()))


def test_schema_refuses_what_the_reader_refuses(plan_toml):
    good = tomllib.loads(plan_toml)
    jsonschema.validate(good, plan_schema())
    for key, value in (("grammage_g_m2", -1), ("fibre", 3), ("unheard", 1), ("start", "dripping")):
        bad = {**good, "object": {**good["object"], key: value}}
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(bad, plan_schema())


def test_plan_files_of_this_repository_are_read_and_valid():
    """Demo plans, where there are any, carry the schema line's promise."""
    root = Path(__file__).parents[3]
    for file in (root / "src" / "bibula" / "demo").rglob("*plan*.toml"):
        text = file.read_text(encoding="utf-8")
        parse_plan(text, str(file))
        jsonschema.validate(tomllib.loads(text), plan_schema())
