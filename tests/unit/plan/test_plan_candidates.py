"""The sensible stacks for an object, with reasons, in the order the rules give."""

from __future__ import annotations

from bibula.plan.candidates import candidates
from bibula.plan.model import Feature, Medium, Override, Start


def keys(found, refused=False):
    return [c.template.key for c in found if (c.refused is not None) is refused]


def test_etching_goes_to_felt_and_never_under_a_hard_board(etching, room):
    found = candidates(etching, room)
    assert set(keys(found)[:3]) == {"felts", "hard-soft", "slab-felt"}
    assert {"slab-both", "blotters", "air-stream"} <= set(keys(found, refused=True))
    best = found[0]
    assert any("felt on the face" in r.text and r.because == "plate mark" for r in best.reasons_for)


def test_pastel_keeps_its_face_open(make, room):
    pastel = make(
        media=(Medium(what="pastel", where="recto"),),
        tests=[{"medium": "pastel", "agent": "water", "result": "stable"}],
    )
    found = candidates(pastel, room)
    assert {"suction", "rack", "slab-open"} <= set(keys(found))
    assert {"felts", "blotters", "slab-both", "screens"} <= set(keys(found, refused=True))


def test_transparent_paper_goes_hard_soft(make, room):
    sheet = make(start=Start(state="damp"), features=(Feature(what="tracing paper", where="both"),))
    assert keys(candidates(sheet, room))[0] == "hard-soft"


def test_lined_work_goes_to_the_drying_board(make, room):
    sheet = make(features=(Feature(what="lined work", where="verso"),))
    found = {c.template.key: c for c in candidates(sheet, room)}
    assert found["stretch"].rule_score == max(c.rule_score for c in found.values())
    assert any("curl" in r.text for r in found["slab-open"].reasons_against)


def test_dry_objects_are_offered_humidifying(letter, make, room):
    plain = make(start=Start(state="air-dry"))
    assert set(keys(candidates(plain, room))) == {"damp-chamber", "damp-slab"}
    assert keys(candidates(letter, room)) == []


def test_refusal_names_the_rule_and_an_override_lifts_it(letter, room):
    (chamber,) = [c for c in candidates(letter, room) if c.template.key == "damp-chamber"]
    assert chamber.refused is not None
    assert chamber.refused.rule == "iron-gall-damp"
    why = Override(rule="iron-gall-damp", reason="whole treatment", by="A. Person", date="2026-03-02")
    freed = candidates(letter, room, overrides=(why,))
    assert "damp-chamber" in keys(freed)
    assert freed[0].plan.overrides == (why,)


def test_kit_limits_what_is_offered(make, room):
    kit = {"slab": "Own slab", "interleaf": "Own non-woven", "rack": ""}
    found = candidates(make(), room, kit)
    assert {c.template.key for c in found} == {"slab-both", "slab-open", "rack"}


def test_work_on_the_back_turns_the_object(make, room):
    sheet = make(
        media=(Medium(what="dye", where="verso"),), tests=[{"medium": "dye", "agent": "water", "result": "stable"}]
    )
    (open_slab,) = [c for c in candidates(sheet, room) if c.template.key == "slab-open"]
    assert open_slab.plan.stages[0].face_up == "verso"


def test_scores_are_the_sum_of_the_stated_reasons(etching, room):
    for c in candidates(etching, room):
        assert c.rule_score == sum(r.points for r in (*c.reasons_for, *c.reasons_against))
        assert all(r.source for r in (*c.reasons_for, *c.reasons_against))
