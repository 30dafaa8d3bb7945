"""What hands do at the start of each stage."""

from __future__ import annotations

from bench_plans import BLOTTER, FELT, NET, OBJECT, SLAB, laid, plan, stage

from bibula.forecast.moves import moves

FIRST = stage({"card": SLAB, "id": "s1"}, NET, OBJECT, {"card": FELT, "id": "f1"}, weight_kg=1.2, above="board")


def _then(*stack: dict[str, object], **more: object) -> tuple[str, ...]:
    return moves(laid(plan(FIRST, stage(*stack, name="then", **more))))[1]


def test_the_first_stage_says_what_lies_under_and_over() -> None:
    assert moves(laid(plan(FIRST))) == (("Under it: table; on top: board; weight 1.2 kg.",),)


def test_a_piece_that_replaces_one_of_its_name_is_fresh() -> None:
    reused = {"card": SLAB, "id": "s1", "reuse": True}
    net = {**NET, "reuse": True}
    said = _then(reused, net, OBJECT, {"card": FELT, "id": "f2"}, weight_kg=1.2, above="board")
    assert said == ("Take out felt; put in fresh felt.",)


def test_a_new_kind_of_piece_is_not_called_fresh() -> None:
    reused = {"card": SLAB, "id": "s1", "reuse": True}
    said = _then(reused, {**NET, "reuse": True}, OBJECT, {"card": BLOTTER}, weight_kg=1.2, above="board")
    assert said == ("Take out felt; put in blotter.",)


def test_a_change_of_weight_and_cover_is_said_and_nothing_else() -> None:
    same = ({"card": SLAB, "id": "s1", "reuse": True}, {**NET, "reuse": True}, OBJECT)
    said = _then(*same, {"card": FELT, "id": "f1", "reuse": True})
    assert said == ("Under it: table; nothing on top, open to the room; no weight.",)


def test_a_stack_left_alone_says_so() -> None:
    same = ({"card": SLAB, "id": "s1", "reuse": True}, {**NET, "reuse": True}, OBJECT)
    said = _then(*same, {"card": FELT, "id": "f1", "reuse": True}, weight_kg=1.2, above="board")
    assert said == ("Leave everything as it lies.",)


def test_a_slab_shown_its_other_face_is_turned() -> None:
    turned = {"card": SLAB, "id": "s1", "reuse": True, "face": "B"}
    felt = {"card": FELT, "id": "f1", "reuse": True}
    said = _then(turned, {**NET, "reuse": True}, OBJECT, felt, weight_kg=1.2, above="board")
    assert said == ("Turn over slab.",)


def test_an_object_laid_on_its_other_face_is_one_thing() -> None:
    same = ({"card": SLAB, "id": "s1", "reuse": True}, {**NET, "reuse": True}, {"object": True, "face_up": "verso"})
    said = _then(*same, {"card": FELT, "id": "f1", "reuse": True}, weight_kg=1.2, above="board")
    assert said == ("Turn over the object.",)


def test_two_of_one_name_are_told_by_their_sides() -> None:
    both = plan(*(stage({"card": BLOTTER}, OBJECT, {"card": BLOTTER}, name=name) for name in "ab"))
    assert moves(laid(both))[1] == ("Take out blotter (below and above); put in fresh blotter (below and above).",)
