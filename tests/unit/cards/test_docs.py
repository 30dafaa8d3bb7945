"""docs/cards.md shows the properties as they are."""

import re
from pathlib import Path

from bibula.cards.files import card_from_text
from bibula.cards.library import starting_cards, starting_table
from bibula.cards.units import property_table

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "cards.md").read_text(encoding="utf-8")


def between(mark):
    found = re.search(rf"<!-- {mark}: begin -->\n\n(.*?)\n<!-- {mark}: end -->", PAGE, re.DOTALL)
    assert found
    return found[1]


def test_the_property_table_is_current():
    """Where it is not: put the text of bibula.cards.units.property_table() between the two marks."""
    assert between("properties") == property_table()


def test_the_table_of_starting_cards_is_current():
    """Where it is not: put the text of bibula.cards.library.starting_table() between the two marks."""
    assert between("starting cards") == starting_table()
    assert all(f"| {name} |" in PAGE for name in starting_cards())


def test_the_example_is_a_card():
    example = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert example
    assert card_from_text(example[1])["thickness_m"] == 0.0112


def test_publications_named_on_cards_are_in_the_bibliography():
    bibliography = (ROOT / "docs" / "references.bib").read_text(encoding="utf-8")
    notes = " ".join(value.note for card in starting_cards().values() for value in card.values.values())
    keys = set(re.findall(r"\b[A-Z][A-Za-z]+(?:19|20)\d\d\b", notes))
    assert keys == {"Gerlero2022", "SeyedYagoobi1992", "Sugarman1992"}
    assert all(f"{{{key}," in bibliography for key in keys)
