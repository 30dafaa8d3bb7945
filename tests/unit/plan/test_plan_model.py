"""What the plan's models promise: round trip, SI properties, goals, presets."""

from __future__ import annotations

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from bibula.plan.caution_table import known_whats
from bibula.plan.files import parse_plan, plan_text
from bibula.plan.goal import Goal, parse_goal
from bibula.plan.model import (
    Above,
    Below,
    Feature,
    Medium,
    ObjectInStack,
    ObjectLayer,
    Override,
    Piece,
    Plan,
    PlanObject,
    Room,
    SpotTest,
    Stage,
    Start,
    Target,
    starting_card,
)
from bibula.plan.presets import PRESETS, class_of, start_water
from bibula.quantities.values import Value

words = st.text(max_size=30).filter(lambda s: s.strip())
free = st.text(max_size=40)
percents = st.floats(2.0, 100.0)
sides = st.sampled_from(["recto", "verso"])
wheres = st.sampled_from(["recto", "verso", "both"])
air = st.sampled_from(["still", "slow", "fan"])
dates = st.dates().map(lambda d: d.isoformat())
whats = st.sampled_from(known_whats())


def maybe(strategy):
    return st.none() | strategy


layers = st.builds(
    ObjectLayer,
    role=st.sampled_from(["sheet", "lining", "board", "coating", "paste"]),
    card=free,
    grammage_g_m2=st.floats(2.0, 5000.0),
    thickness_mm=st.floats(0.005, 200.0),
    water_content=maybe(st.floats(0.0, 30.0)),
)
starts = st.sampled_from(["drained", "blotted", "rolled", "damp", "soaked", "air-dry"]).map(lambda s: Start(state=s))
media = st.builds(Medium, what=whats, where=wheres, area_share=st.floats(0, 1), name=free)
spot_tests = st.builds(
    SpotTest,
    medium=words,
    agent=st.sampled_from(["water", "alkali", "alcohol", "heat"]),
    result=st.sampled_from(["stable", "bleeds", "unclear"]),
    date=dates,
)
objects = st.builds(
    PlanObject,
    name=words,
    length_m=st.floats(0.005, 20.0),
    width_m=st.floats(0.005, 20.0),
    grammage_g_m2=st.floats(2.0, 5000.0),
    thickness_mm=st.floats(0.005, 200.0),
    fibre=words,
    sizing=free,
    card=free,
    class_=maybe(st.sampled_from(list(PRESETS))),
    start=starts | st.builds(Start, state=st.just("measured"), water_content=st.floats(0.0, 30.0)),
    layers=st.lists(layers, max_size=2).map(tuple),
    media=st.lists(st.builds(Medium, what=whats, where=wheres, area_share=st.floats(0, 1), name=free), max_size=2).map(
        tuple
    ),
    features=st.lists(st.builds(Feature, what=whats, where=wheres), max_size=1).map(tuple),
    tests=st.lists(
        st.builds(
            SpotTest, medium=words, agent=st.sampled_from(["water", "alkali"]), result=st.just("stable"), date=dates
        ),
        max_size=1,
    ).map(tuple),
)
pieces = st.builds(
    Piece,
    card=words,
    name=free,
    pieces=st.integers(1, 50),
    thickness_mm=maybe(st.floats(0.005, 200.0)),
    face=st.sampled_from(["A", "B"]),
    start_rh_percent=maybe(percents),
)
below = st.just(Below(kind="table")) | st.builds(Below, kind=st.just("rack"), air=maybe(air))
below |= st.builds(Below, kind=st.just("suction table"), suction_kpa=st.floats(0.01, 60.0))
above = st.just(Above(kind="board")) | st.builds(
    Above, kind=st.just("damp chamber"), relative_humidity_percent=percents
)
rooms = st.builds(Room, temperature_c=st.floats(0.5, 60.0), relative_humidity_percent=percents, air=air, logger=free)
stages = st.builds(
    Stage,
    name=words,
    duration_s=st.floats(1.0, 1e6),
    stack=st.tuples(pieces, st.builds(ObjectInStack, object=st.just(True), face_up=sides)),
    below=below,
    above=above,
    weight_kg=maybe(st.floats(0.0, 2000.0)),
    room=maybe(rooms),
)
plans = st.builds(
    Plan,
    title=words,
    invented=st.booleans(),
    notes=st.text(alphabet=string.printable, max_size=40) | free,
    units=st.sampled_from(["metric", "inch"]),
    cards=st.lists(free, max_size=2).map(tuple),
    object=objects,
    room=rooms,
    target=st.builds(Target, text=st.just("handleable"), holding_time_s=st.floats(0.0, 1e6)),
    stages=st.lists(stages, min_size=1, max_size=2).map(tuple),
    overrides=st.lists(st.builds(Override, rule=words, reason=words, by=words, date=dates), max_size=1).map(tuple),
)


@settings(max_examples=40, deadline=None)
@given(plans)
def test_any_plan_survives_its_file(plan):
    assert parse_plan(plan_text(plan)) == plan


def test_models_are_frozen_and_strict(make):
    sheet = make()
    with pytest.raises(ValidationError):
        sheet.name = "other"
    with pytest.raises(ValidationError):
        make(grammage_g_m2="120")
    with pytest.raises(ValidationError):
        make(grammage_g_m2=float("inf"))


def test_si_is_read_from_properties(make):
    sheet = make()
    assert sheet.grammage_kg_m2 == pytest.approx(0.12)
    assert sheet.thickness_m == pytest.approx(0.00018)
    assert sheet.area_m2 == pytest.approx(0.12474)


def test_load_is_weight_over_area():
    # 10 kg on 40 x 60 cm: 10 * 9.80665 / 0.24 = 408.6 Pa (computed independently)
    stage = Stage(name="a", duration_s=60.0, stack=(ObjectInStack(object=True),), weight_kg=10.0)
    assert stage.load_pa(0.24) == pytest.approx(408.61, abs=0.01)
    spot = stage.model_copy(update={"weight_area_m2": 0.12})
    assert spot.load_pa(0.24) == pytest.approx(817.22, abs=0.01)


def test_one_sheet_where_no_layers_are_given(make):
    (sheet,) = make().layers_or_sheet
    assert (sheet.role, sheet.card, sheet.grammage_g_m2) == ("sheet", "rag paper (starting card)", 120.0)


@pytest.mark.parametrize(
    ("fibre", "card"),
    [
        ("rag", "rag paper"),
        ("kozo", "Japanese paper"),
        ("bleached wood pulp", "wood-pulp paper"),
        ("hemp", "rag paper"),
    ],
)
def test_starting_card_follows_fibre(fibre, card):
    assert starting_card(fibre) == f"{card} (starting card)"


@pytest.mark.parametrize(
    ("text", "goal"),
    [
        ("in balance within 2 % of dry mass", Goal("balance", 0.02)),
        ("In balance with the room", Goal("balance", 0.01)),
        ("handleable", Goal("handleable", 0.35)),
        ("10 % moisture", Goal("moisture", 0.1)),
    ],
)
def test_goal_in_words(text, goal):
    assert parse_goal(text) == goal


@pytest.mark.parametrize("text", ["dry", "in balance within 40 %", "0.1 moisture", "200 % moisture"])
def test_goal_not_understood(text):
    with pytest.raises(ValueError, match=r"goal|outside"):
        parse_goal(text)


@pytest.mark.parametrize("key", list(PRESETS))
def test_presets_are_ordered_bands(key):
    preset = PRESETS[key]
    for low, high in (preset.grammage_g_m2, preset.thickness_mm, preset.drained, preset.blotted):
        assert 0 < low < high
    assert preset.blotted[0] < preset.drained[0]
    assert preset.blotted[1] < preset.drained[1]


def test_start_water_falls_from_soaked_to_dry(make):
    states = ["soaked", "drained", "rolled", "blotted", "damp", "air-dry"]
    x = [start_water(make(start=Start(state=s))).value for s in states]
    assert x == sorted(x, reverse=True)


def test_damp_start_is_the_published_end_of_humidifying(make):
    x = start_water(make(start=Start(state="damp")))
    # Sugarman & Vitale 1992: 81 +- 5 % solids; (1/0.76 - 1/0.86) / 2 = 0.0765 (computed independently)
    assert x.value == pytest.approx(0.2346, abs=1e-4)
    assert x.u == pytest.approx(0.0765, abs=1e-3)
    assert x.source == "Sugarman1992"


def test_weighed_start_takes_off_the_air_dry_water(make):
    # 20 g at rest with 6 % water hold 18.868 g dry; 45 g wet is X = 1.385 (computed independently)
    sheet = make(air_dry_mass_g=20.0, air_dry_rh_percent=50.0, start=Start(state="measured", mass_g=45.0, u_mass_g=0.5))
    x = start_water(sheet, Value(0.06, "kg/kg", 0.01, "measured", "isotherm"))
    assert x.value == pytest.approx(1.385, abs=1e-9)
    # u: sqrt((0.5/18.868)^2 + (2.385*0.01/1.06)^2) = 0.03477 (computed independently)
    assert x.u == pytest.approx(0.0348, abs=1e-4)
    assert x.origin == "measured"


def test_wet_weight_alone_says_nothing(make):
    with pytest.raises(ValidationError, match="air-dry mass"):
        make(start=Start(state="measured", mass_g=45.0, u_mass_g=0.5))


@pytest.mark.parametrize(
    ("fibre", "grammage", "name"),
    [
        ("kozo", 9.0, "tissue"),
        ("wood pulp", 120.0, "machine paper"),
        ("rag", 300.0, "etching"),
        ("rag", 900.0, "board"),
    ],
)
def test_class_is_guessed(make, fibre, grammage, name):
    assert class_of(make(fibre=fibre, grammage_g_m2=grammage)) == name


def test_override_needs_reason_and_name():
    for missing in ("reason", "by", "date"):
        fields = {"rule": "x", "reason": "r", "by": "b", "date": "2026-03-02", missing: " "}
        with pytest.raises(ValidationError, match=r"empty|not a date"):
            Override.model_validate(fields)
