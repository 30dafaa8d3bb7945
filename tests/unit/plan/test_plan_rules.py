"""What must not be done to which object is refused, warned of, and set aside only on the record."""

from __future__ import annotations

import pytest

from bibula.cards.model import Card
from bibula.plan.caution_table import find_rule, general_rules, groups, known_whats
from bibula.plan.exposure import AGENTS, Exposure, exposures, start_wetness
from bibula.plan.model import Feature, Medium, ObjectInStack, Override, Piece, Room, SpotTest, Stage, Start
from bibula.plan.rules import _stages, carried, check_plan, refuse, stops, unused_overrides
from bibula.plan.templates import apply_template, list_templates
from bibula.quantities.errors import InputError


def rules_of(plan, level=None, cards=None):
    return {c.rule for c in check_plan(plan, cards) if level is None or c.level == level}


def override(rule):
    return Override(rule=rule, reason="whole treatment follows", by="A. Person", date="2026-03-02")


def with_overrides(plan, *rules):
    return plan.model_copy(update={"overrides": tuple(override(r) for r in rules)})


# --- the table itself


def test_every_rule_hangs_on_an_exposure_that_exists():
    for group in groups():
        for rule in group.rules:
            assert rule.on in AGENTS, rule.key
            assert rule.level in {"stop", "override", "caution", "note"}
            assert rule.source
            assert rule.text.endswith(".")


def test_rule_keys_are_unique_and_found():
    keys = [r.key for g in groups() for r in g.rules]
    assert len(keys) == len(set(keys))
    assert all(find_rule(k) is not None for k in keys)


def test_every_exposure_arises_somewhere(make, room):
    warm = Room(temperature_c=32.0, relative_humidity_percent=50.0)
    seen = set()
    for template in list_templates():
        for sheet in (make(start=Start(state="air-dry")), make(length_m=2.0, width_m=1.0)):
            seen |= {x.agent for x in exposures(apply_template(template.key, sheet, warm), {})}
    bare = Stage(
        name="bare", duration_s=60.0, stack=(ObjectInStack(object=True),), weight_kg=900.0, weight_area_m2=0.01
    )
    plan = apply_template("rack", make(), room)
    long = bare.model_copy(
        update={"duration_s": 50 * 3600.0, "above": plan.stages[0].above.model_copy(update={"kind": "cover"})}
    )
    seen |= {x.agent for x in exposures(plan.model_copy(update={"stages": (bare, long)}), {})}
    assert seen == set(AGENTS)


def test_other_words_stand_for_keys_of_their_own_group():
    for group in groups():
        assert {key for _, key in group.also} <= set(group.keys)


# --- iron-gall ink


def test_damp_chamber_for_iron_gall_ink_is_refused_with_its_source(letter, room):
    plan = apply_template("damp-chamber", letter, room)
    assert "iron-gall-damp" in rules_of(plan, "stop")
    with pytest.raises(InputError, match="iron-gall-damp") as caught:
        refuse(plan, file="letter.toml")
    assert "irongallink.org" in caught.value.sentence()
    assert "override" in caught.value.sentence()


def test_a_stable_spot_test_does_not_free_iron_gall_ink(letter, room):
    tested = letter.model_copy(update={"tests": (SpotTest(medium="iron-gall ink", agent="water", result="stable"),)})
    assert "iron-gall-damp" in rules_of(apply_template("damp-chamber", tested, room), "stop")


def test_override_turns_the_stop_into_a_caution_with_reason_and_name(letter, room):
    plan = with_overrides(apply_template("damp-chamber", letter, room), "iron-gall-damp")
    (caution,) = [c for c in check_plan(plan) if c.rule == "iron-gall-damp"]
    assert caution.level == "caution"
    assert caution.overridden_because == "whole treatment follows (A. Person, 2026-03-02)"
    barred = [c.rule for c in stops(check_plan(plan))]
    assert barred == []  # the chamber brings no liquid
    assert refuse(plan)


def test_an_override_of_another_rule_frees_nothing(letter, room):
    plan = with_overrides(apply_template("damp-chamber", letter, room), "iron-gal-damp")
    with pytest.raises(InputError, match="iron-gall-damp"):
        refuse(plan)
    assert unused_overrides(plan, check_plan(plan)) == ("iron-gal-damp",)


def test_wet_slab_brings_liquid_to_iron_gall_ink(letter, room):
    assert "iron-gall-wet" in rules_of(apply_template("damp-slab", letter, room), "stop")


# --- relief


def test_plate_mark_is_stopped_under_a_hard_face_and_not_under_felt(etching, room):
    for key in ("slab-both", "blotters", "air-stream"):
        assert "relief-hard" in rules_of(apply_template(key, etching, room), "stop")
    for key in ("felts", "slab-felt", "hard-soft", "rack"):
        assert "relief-hard" not in rules_of(apply_template(key, etching, room))


def test_hard_side_counts_only_on_the_face_with_the_plate_mark(etching, room):
    assert "relief-hard" in rules_of(apply_template("hard-soft", etching, room, flipped=True), "stop")


# --- colours and their tests


def test_cyanotype_is_stopped_on_an_alkaline_slab(make, room):
    blue = make(media=(Medium(what="cyanotype", where="recto"),))
    assert "prussian-blue-alkali" in rules_of(apply_template("slab-open", blue, room), "stop")
    assert "prussian-blue-alkali" not in rules_of(apply_template("felts", blue, room))


def test_a_card_that_notes_a_neutral_surface_frees_the_cyanotype(make, room):
    blue = make(media=(Medium(what="cyanotype", where="recto"),))
    plan = apply_template("slab-open", blue, room, kit={"slab": "N"})
    card = Card(name="N", kind="slab", values={}, notes=("Neutral surface, pH 7.1 measured on this lot.",))
    assert "prussian-blue-alkali" not in rules_of(plan, cards={"N": card})
    hidden = Card(name="N", kind="slab", values={})
    assert "prussian-blue-alkali" in rules_of(plan, cards={"N": hidden})


def test_tested_stable_stamp_is_lowered_to_a_caution(stamped, room):
    plan = apply_template("blotters", stamped, room)
    assert rules_of(plan, "stop") == set()
    assert {"dye-water", "dye-absorbent"} <= rules_of(plan, "caution")


@pytest.mark.parametrize(
    ("result", "rule", "level"),
    [("bleeds", "bleeds-water: red stamp", "stop"), ("unclear", "unclear-water", "caution")],
)
def test_the_test_result_gates_water(stamped, room, result, rule, level):
    test = stamped.tests[0].model_copy(update={"result": result})
    plan = apply_template("blotters", stamped.model_copy(update={"tests": (test,)}), room)
    assert rule in rules_of(plan, level)
    assert "dye-water" in rules_of(plan, "stop")


def test_a_bleeding_colour_that_the_media_do_not_name_still_stops(make, room):
    sheet = make(tests=[{"medium": "blue line", "agent": "water", "result": "bleeds"}])
    assert "bleeds-water: blue line" in rules_of(apply_template("rack", sheet, room), "stop")


def test_a_test_may_use_another_word_for_the_medium(make, room):
    sheet = make(
        media=[{"what": "stamp", "where": "recto"}],
        tests=[{"medium": "Stamp  ink", "agent": "water", "result": "stable"}],
    )
    assert "dye-water" in rules_of(apply_template("blotters", sheet, room), "caution")


def test_empty_media_are_not_taken_for_safe(make, room):
    assert "no-media" in rules_of(apply_template("rack", make(), room))


def test_one_bleeding_test_outweighs_a_stable_one(stamped, room):
    tests = (stamped.tests[0], stamped.tests[0].model_copy(update={"result": "bleeds"}))
    plan = apply_template("blotters", stamped.model_copy(update={"tests": tests}), room)
    assert "bleeds-water: red stamp" in rules_of(plan, "stop")


def test_untested_medium_asks_for_a_test(etching, room):
    assert "test-first-water" in rules_of(apply_template("felts", etching, room), "caution")


def test_an_unclear_test_beside_a_stable_one_frees_nothing(stamped, room):
    tests = (stamped.tests[0], stamped.tests[0].model_copy(update={"result": "unclear"}))
    plan = apply_template("blotters", stamped.model_copy(update={"tests": tests}), room)
    assert "dye-water" in rules_of(plan, "stop")


def test_a_test_of_one_colour_says_nothing_of_another(stamped, room):
    both = (*stamped.media, Medium(what="coloured ink", where="recto", name="violet"))
    plan = apply_template("blotters", stamped.model_copy(update={"media": both}), room)
    assert "dye-water" in rules_of(plan, "stop")


def test_dye_keeps_absorbents_off_its_face_only(make, room):
    dye = make(media=(Medium(what="dye", where="recto"),))
    assert "dye-absorbent" in rules_of(apply_template("slab-open", dye, room, flipped=True), "stop")
    assert "dye-absorbent" not in rules_of(apply_template("slab-open", dye, room))


# --- other objects


def test_nothing_touches_a_pastel(make, room):
    pastel = make(media=(Medium(what="pastel", where="recto"),))
    assert "friable-touch" in rules_of(apply_template("felts", pastel, room), "stop")
    assert "friable-touch" not in rules_of(apply_template("suction", pastel, room))
    assert "friable-touch" not in rules_of(apply_template("rack", pastel, room))


def test_lined_map_is_warned_of_curl(make, room):
    layer = {"grammage_g_m2": 40.0, "thickness_mm": 0.1}
    lined = make(
        layers=[{"role": "lining", **layer}, {"role": "sheet", **layer}],
        features=[Feature(what="varnish", where="recto")],
    )
    rules = rules_of(apply_template("stretch", lined, room))
    assert {"lined-water", "varnish-water"} <= rules


def test_coated_paper_may_not_lie_bare_on_anything(make, room):
    coated = make(**{"class": "coated"})
    plan = apply_template("slab-open", coated, room)
    bare = plan.stages[0].model_copy(update={"stack": (Piece(card="blotter"), ObjectInStack(object=True))})
    assert "coated-bare" in rules_of(plan.model_copy(update={"stages": (bare,)}), "stop")
    assert "coated-bare" not in rules_of(plan)


def test_photograph_and_inkjet_are_kept_from_water(make, room):
    for what, rule in (("photograph", "photograph-water"), ("dye inkjet", "inkjet-water")):
        sheet = make(media=(Medium(what=what, where="recto"),))
        assert rule in rules_of(apply_template("rack", sheet, room), "stop")


def test_what_follows_from_the_object_need_not_be_said(make):
    sheet = make(fibre="groundwood", sizing="gelatin", **{"class": "tracing"})
    assert {x.what for x in carried(sheet)} == {"tracing paper", "gelatin size", "groundwood"}


def test_every_known_thing_meets_at_least_one_rule_when_wet_under_a_slab(make, room):
    for what in known_whats():
        sheet = make(features=(Feature(what=what, where="both"),))
        plain = rules_of(apply_template("slab-both", make(), room))
        assert rules_of(apply_template("slab-both", sheet, room)) > plain, what


# --- general safety


def test_general_cautions_come_where_the_work_calls_them(make, room):
    damp = rules_of(apply_template("damp-chamber", make(start=Start(state="air-dry")), room))
    assert {"lid-drips", "restrain-after-damp", "responsible"} <= damp
    assert {"alkaline-slab", "slab-dust"} <= rules_of(apply_template("slab-open", make(), room))
    assert {"mains", "suction-marks"} <= rules_of(apply_template("suction", make(), room))
    assert "lifting" in rules_of(apply_template("blotters", make(length_m=1.2, width_m=0.9), room))
    assert "local-water" in rules_of(apply_template("mends", make(start=Start(state="air-dry")), room))


def test_mould_warning_by_the_hours_in_the_chamber(make, room):
    plan = apply_template("damp-chamber", make(start=Start(state="air-dry")), room)
    for hours, rule, level in ((30, "mould-24h", "caution"), (50, "mould-48h", "stop")):
        long = plan.stages[0].model_copy(update={"duration_s": hours * 3600.0})
        assert rule in rules_of(plan.model_copy(update={"stages": (long, *plan.stages[1:])}), level)
    assert not {"mould-24h", "mould-48h"} & rules_of(plan)


def test_missing_non_woven_is_said(make, room):
    plan = apply_template("slab-open", make(), room)
    bare = plan.stages[0].model_copy(update={"stack": (Piece(card="slab"), ObjectInStack(object=True))})
    assert "no-interleaf" in rules_of(plan.model_copy(update={"stages": (bare,)}))
    assert "no-interleaf" not in rules_of(plan)


def test_an_air_gap_keeps_liquid_and_touch_away(make, room):
    plan = apply_template("damp-slab", make(start=Start(state="air-dry")), room)
    gap = plan.stages[0].model_copy(
        update={"stack": (Piece(card="slab"), Piece(card="air gap (starting card)"), ObjectInStack(object=True))}
    )
    found = exposures(plan.model_copy(update={"stages": (gap,)}), {})
    agents = {x.agent for x in found}
    assert "damp" in agents
    assert not {"wet", "touch", "alkali"} & agents


def test_film_keeps_liquid_away(make, room):
    plan = apply_template("damp-slab", make(start=Start(state="air-dry")), room)
    shut = plan.stages[0].model_copy(
        update={"stack": (Piece(card="slab"), Piece(card="acrylic (starting card)"), ObjectInStack(object=True))}
    )
    assert "wet" not in {x.agent for x in exposures(plan.model_copy(update={"stages": (shut,)}), {})}


@pytest.mark.parametrize(("state", "wetness"), [("drained", "wet"), ("damp", "damp"), ("air-dry", "dry")])
def test_start_says_how_wet(make, state, wetness):
    assert start_wetness(make(start=Start(state=state))) == wetness


def test_gravest_come_first_and_none_twice(etching, room):
    cautions = check_plan(apply_template("slab-both", etching, room))
    ranks = [("stop", "override", "caution", "note").index(c.level) for c in cautions]
    assert ranks == sorted(ranks)
    assert len(cautions) == len(set(cautions))
    assert general_rules()[0].key == "responsible"


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (("b",), "in stage 2 ('b')"),
        (("a", "b"), "in stages 1 and 2"),
        (("a", "b", "c", "d"), "in stages 1 to 4"),
        (("a", "c", "d"), "in stages 1, 3 and 4"),
        ((), ""),
    ],
)
def test_stages_are_named_by_their_numbers(make, room, names, words):
    one = apply_template("rack", make(), room).stages[0]
    plan = apply_template("rack", make(), room)
    plan = plan.model_copy(update={"stages": tuple(one.model_copy(update={"name": n}) for n in "abcd")})
    assert _stages([Exposure("wet", n) for n in names], plan) == words
