"""Objects, a room and a plan text that the plan's tests share. All invented."""

from __future__ import annotations

import pytest

from bibula.plan.model import Feature, Medium, PlanObject, Room, SpotTest, Start

PLAN_TEXT = """\
#:schema ../schemas/plan.schema.json
title = "Invented plan"
invented = true

[object]
name = "Harbour view"
size = "420 x 297 mm"
grammage_g_m2 = 250
thickness_mm = 0.4
fibre = "rag"
start = "blotted"
media = [{ what = "printing ink", where = "recto" }]

[room]
temperature_c = 20
relative_humidity_percent = 50

[[stage]]
name = "on a slab"
duration = "30 min"
stack = [
    { card = "slab (starting card)", id = "s1" },
    { card = "interleaf (starting card)", id = "n1" },
    { object = true },
]

[[stage]]
name = "under weight"
duration = "1 d"
stack = [
    { card = "slab (starting card)", id = "s1", reuse = true },
    { card = "interleaf (starting card)", id = "n1", reuse = true },
    { object = true },
]
above = "board"
weight_kg = 3
"""


def thing(**changes: object) -> PlanObject:
    """An invented sheet with some fields changed."""
    fields: dict[str, object] = {
        "name": "Invented sheet",
        "length_m": 0.42,
        "width_m": 0.297,
        "grammage_g_m2": 120.0,
        "thickness_mm": 0.18,
        "fibre": "rag",
        "start": Start(state="blotted"),
    }
    return PlanObject.model_validate({**fields, **changes})


@pytest.fixture
def plan_toml() -> str:
    return PLAN_TEXT


@pytest.fixture
def room() -> Room:
    return Room(temperature_c=20.0, relative_humidity_percent=50.0)


@pytest.fixture
def make():
    return thing


@pytest.fixture
def etching() -> PlanObject:
    return thing(
        name="Invented etching",
        grammage_g_m2=250.0,
        thickness_mm=0.4,
        media=(Medium(what="printing ink", where="recto"),),
        features=(Feature(what="plate mark", where="recto"),),
    )


@pytest.fixture
def letter() -> PlanObject:
    return thing(
        name="Invented letter", start=Start(state="air-dry"), media=(Medium(what="iron-gall ink", where="both"),)
    )


@pytest.fixture
def stamped() -> PlanObject:
    """A letter whose stamp has been tested; the result is filled in by the test."""
    return thing(
        media=(Medium(what="stamp ink", where="recto", name="red stamp"),),
        tests=(SpotTest(medium="red stamp", agent="water", result="stable", place="lower edge", date="2026-03-02"),),
    )
