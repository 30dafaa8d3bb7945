"""Ranking stacks: what must never come first, what is refused with its source, what is said."""

from __future__ import annotations

from functools import cache

import pytest
from bench_plans import cards, thing

from bibula.forecast.propose import Proposal, propose
from bibula.plan.model import Feature, Medium, PlanObject, Room
from bibula.plan.objects import ObjectLayer

INK = Medium(what="printing ink", where="recto")
HARD = {"hard-soft", "slab-both"}


def etching(grammage: float) -> PlanObject:
    mark = (Feature(what="plate mark", where="recto"),)
    return thing(grammage_g_m2=grammage, thickness_mm=grammage / 600.0, media=(INK,), features=mark, start="blotted")


def lined_map() -> PlanObject:
    lining = {"role": "lining", "card": "Japanese paper (starting card)", "grammage_g_m2": 30.0, "thickness_mm": 0.08}
    layers = (
        ObjectLayer.model_validate(lining),
        ObjectLayer(role="sheet", card="wood-pulp paper (starting card)", grammage_g_m2=110.0, thickness_mm=0.15),
    )
    lined = (Feature(what="lined work", where="verso"),)
    return thing(grammage_g_m2=140.0, thickness_mm=0.23, layers=layers, media=(INK,), features=lined, start="blotted")


@cache
def proposal(which: str, grammage: float = 250.0, humidity: float = 50.0) -> Proposal:
    things = {
        "etching": lambda: etching(grammage),
        "map": lined_map,
        "letter": lambda: thing(media=(Medium(what="iron-gall ink", where="both"),), start="air-dry"),
    }
    return propose(things[which](), Room(temperature_c=20.0, relative_humidity_percent=humidity), cards(), members=4)


@pytest.mark.parametrize(("grammage", "humidity"), [(180.0, 40.0), (250.0, 50.0), (350.0, 65.0), (250.0, 35.0)])
def test_nothing_hard_on_a_plate_mark_ranks_first(grammage: float, humidity: float) -> None:
    found = proposal("etching", grammage, humidity)
    first = found.ranked[0].candidate
    assert first.template.key not in HARD
    assert not any("a hard face takes relief out" in r.text for r in first.reasons_against)
    for number, stage in enumerate(first.plan.stages):
        over = [x.card for x in stage.stack[stage.object_index + 1 :]]
        assert "slab (starting card)" not in over, (first.template.key, number)


def test_the_damp_chamber_is_refused_for_iron_gall_ink_with_its_source() -> None:
    refused = dict(proposal("letter").refused)
    name = next(n for n in refused if "damp chamber" in n)
    assert refused[name].level == "stop"
    assert refused[name].source.strip()
    assert "damp chamber, then blotters" not in [r.candidate.template.name for r in proposal("letter").ranked]


def test_a_lined_map_is_told_of_both_sides_and_of_curl() -> None:
    for ranked in proposal("map").ranked:
        spoken = " ".join(r.text for r in ranked.physics)
        assert "by the recto" in spoken
        assert "by the verso" in spoken
        assert "curl" in spoken


def test_a_one_sided_stack_curls_the_more_for_a_lined_object() -> None:
    one_sided = [r for r in proposal("map").ranked if r.recto_share and not 0.35 <= r.recto_share.median <= 0.65]
    assert one_sided
    assert all(any("a lined object curls the more" in x.text for x in r.physics) for r in one_sided)


def test_candidates_stand_in_order_with_their_reasons_added_up() -> None:
    ranked = [r for r in proposal("etching").ranked if not r.failed]
    assert [r.score for r in ranked] == sorted((r.score for r in ranked), reverse=True)
    for r in ranked:
        assert r.score == pytest.approx(r.candidate.rule_score + sum(x.points for x in r.physics))


def test_what_cannot_be_known_is_said() -> None:
    assert any("surface texture" in line for line in proposal("etching").unknowable)


def test_a_room_outside_the_models_range_fails_with_a_sentence() -> None:
    icy = propose(etching(250.0), Room(temperature_c=1.0, relative_humidity_percent=20.0), cards(), members=4)
    failed = [r.failed for r in icy.ranked if r.failed]
    assert failed
    assert all(line.endswith(".") for line in failed)
