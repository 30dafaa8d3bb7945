"""The lines a forecast prints of its cards: one a card, each origin true."""

from __future__ import annotations

from dataclasses import replace

from bench_plans import SLAB, cards

from bibula.cards.model import Card
from bibula.forecast.inputs import card_line


def _with(origin: str, source: str, *keys: str) -> Card:
    card = cards()[SLAB]
    changed = {key: replace(card.values[key], origin=origin, source=source) for key in keys}
    return replace(card, values={**card.values, **changed})


def test_a_card_is_one_line_as_in_print() -> None:
    line = card_line(cards()[SLAB])
    assert line.name == SLAB
    assert line.value.startswith("holds 480 ± 72 kg/m³, A_w 1.0 ± 0.8 kg/(m² √s), liquid contact at 500 Pa (1.0 ± 1.1)")
    assert "kPa" in line.value
    assert "e-0" not in line.value


def test_a_card_with_one_origin_says_it_once() -> None:
    assert card_line(cards()[SLAB]).origin == "all assumed"


def test_mixed_origins_say_which_value_is_measured() -> None:
    card = _with("measured", "uptake, four pieces", "capacity_kg_m3", "absorption_kg_m2s05")
    assert card_line(card).origin == "holds, A_w: measured, uptake, four pieces; rest assumed"


def test_an_origin_of_a_value_that_is_not_shown_is_not_claimed() -> None:
    assert card_line(_with("measured", "balance", "density_kg_m3")).origin == "all assumed"
