"""Every property has words, and no key is left in a sentence a person reads."""

from __future__ import annotations

from bibula.cards.model import PROPERTIES
from bibula.cards.words import LABELS, in_words


def test_every_property_has_words_of_its_own() -> None:
    assert list(LABELS)[: len(PROPERTIES)] == list(PROPERTIES)
    assert len(set(LABELS.values())) == len(LABELS)


def test_keys_in_a_sentence_become_words() -> None:
    said = in_words("gab_k and capacity_kg_m3 cannot be told apart; mygab_k stays")
    assert said == "sorption constant K and capacity cannot be told apart; mygab_k stays"
