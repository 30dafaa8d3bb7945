"""From a plan to laid pieces: order, sides, what a piece carries, the log, unknown cards."""

from __future__ import annotations

import numpy as np
import pytest
from bench_plans import ACRYLIC, AIR, BLOTTER, INTERLEAF, NET, OBJECT, ROOM, SLAB, cards, laid, plan, rack, stage, thing

from bibula.plan.objects import ObjectLayer
from bibula.quantities.errors import InputError

LAYERS = (
    ObjectLayer(role="lining", card="Japanese paper (starting card)", grammage_g_m2=20.0, thickness_mm=0.06),
    ObjectLayer(role="sheet", card="rag paper (starting card)", grammage_g_m2=100.0, thickness_mm=0.2),
)


def test_layers_keep_the_order_from_the_table_up() -> None:
    (one,) = laid(plan(stage({"card": SLAB}, NET, OBJECT, {"card": BLOTTER, "pieces": 3}))).stages
    assert [p.kind for p in one.pieces] == ["slab", "interleaf", "paper", "blotter"]
    assert one.object_range == (2, 3)


def test_several_pieces_are_one_thick_layer() -> None:
    (one,) = laid(plan(stage({"card": BLOTTER, "pieces": 3}, OBJECT))).stages
    assert one.pieces[0].thickness_m == pytest.approx(3 * cards()[BLOTTER]["thickness_m"])
    assert one.pieces[0].name == "3 x blotter"


@pytest.mark.parametrize(("face_up", "roles"), [("recto", ["lining", "sheet"]), ("verso", ["sheet", "lining"])])
def test_a_layered_object_lies_as_its_face_says(face_up: str, roles: list[str]) -> None:
    mapped = thing(layers=LAYERS, grammage_g_m2=120.0, thickness_mm=0.26)
    (one,) = laid(plan(stage({"object": True, "face_up": face_up}), object_=mapped)).stages
    assert [p.name for p in one.pieces] == roles
    assert [p.object_layer for p in one.pieces] == ([0, 1] if face_up == "recto" else [1, 0])
    assert all(p.a_up == (face_up == "recto") for p in one.pieces)


@pytest.mark.parametrize(("face", "below", "a_up"), [("A", True, True), ("B", True, False), ("A", False, False)])
def test_the_named_face_of_a_piece_looks_at_the_object(face: str, below: bool, a_up: bool) -> None:
    slab = {"card": SLAB, "face": face}
    (one,) = laid(plan(stage(*([slab, OBJECT] if below else [OBJECT, slab])))).stages
    assert next(p for p in one.pieces if p.kind == "slab").a_up is a_up


def test_a_reused_piece_keeps_its_key_and_a_fresh_one_gets_its_own() -> None:
    reused = {**NET, "reuse": True}
    first, second = laid(plan(stage({"card": SLAB}, NET, OBJECT), stage({"card": SLAB}, reused, OBJECT))).stages
    assert first.pieces[1].key == second.pieces[1].key == "n1"
    assert first.pieces[0].key != second.pieces[0].key


def test_start_water_is_per_area_and_rh_a_share() -> None:
    damp, wet = {"card": BLOTTER, "start_rh_percent": 80.0}, {"card": BLOTTER, "start_water_g": 24.0}
    (one,) = laid(plan(stage(damp, OBJECT, wet))).stages
    assert one.pieces[0].start_rh == 0.8
    assert one.pieces[2].start_water_kg_m2 == pytest.approx(0.2)


def test_the_dry_mass_is_less_than_the_air_dry_grammage() -> None:
    dry = laid(rack()).dry_kg_m2
    assert 0.15 / 1.08 < dry < 0.15 / 1.04


@pytest.mark.parametrize(
    ("stack", "where"), [(({"card": "moss"}, OBJECT), "stage[1].stack[1].card"), ((OBJECT,), "object")]
)
def test_an_unknown_card_is_one_sentence_with_its_place(stack: tuple[dict[str, object], ...], where: str) -> None:
    with pytest.raises(InputError, match=r"there is no such card; name one of .*slab") as caught:
        laid(plan(stage(*stack), object_=thing(card="moss") if where == "object" else None))
    assert where in str(caught.value.place)


def test_each_stage_takes_its_window_of_the_log() -> None:
    log = np.array([[0.0, 18.0, 0.4], [1800.0, 20.0, 0.5], [5400.0, 22.0, 0.6]])
    first, second = laid(plan(stage(OBJECT), stage(OBJECT, duration="1 h")), logger=log).stages
    assert first.weather == pytest.approx(np.array([[0.0, 18.0, 0.4], [1800.0, 20.0, 0.5]]))
    assert second.weather == pytest.approx(np.array([[0.0, 20.0, 0.5], [3600.0, 22.0, 0.6]]))


def test_a_stage_with_its_own_room_does_not_take_the_log() -> None:
    log = np.array([[0.0, 18.0, 0.4], [9999.0, 22.0, 0.6]])
    own = ROOM.model_copy(update={"relative_humidity_percent": 65.0})
    (one,) = laid(plan(stage(OBJECT, room=own)), logger=log).stages
    assert one.weather is None
    assert one.relative_humidity == pytest.approx(0.65)


def test_gaps_and_tight_layers_are_laid_like_all_others() -> None:
    (one,) = laid(
        plan(stage({"card": ACRYLIC}, OBJECT, {"card": AIR, "thickness_mm": 10.0}, {"card": INTERLEAF}))
    ).stages
    assert one.pieces[2].thickness_m == pytest.approx(0.01)
