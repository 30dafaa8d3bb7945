"""Loading cards from files and folders, and finding them by name."""

import pytest

from bibula.cards.files import write_card
from bibula.cards.library import find, load_cards, starting_cards
from bibula.cards.model import Card
from bibula.quantities.errors import InputError


def test_files_and_folders_load_by_name(tmp_path):
    for name in ("b", "a"):
        write_card(Card(f"card {name}", "slab", {}), tmp_path / f"{name}.toml")
    (tmp_path / "readme.txt").write_text("no card")
    assert list(load_cards([tmp_path, tmp_path / "a.toml"])) == ["card a", "card b"]


def test_two_cards_of_one_name_are_refused_naming_both(tmp_path):
    for name in ("one", "two"):
        write_card(Card("Gault slab", "slab", {}), tmp_path / f"{name}.toml")
    with pytest.raises(InputError) as caught:
        load_cards([tmp_path])
    assert str(tmp_path / "one.toml") in str(caught.value)
    assert str(tmp_path / "two.toml") in str(caught.value)


def test_an_empty_folder_is_one_sentence(tmp_path):
    with pytest.raises(InputError, match="holds no card"):
        load_cards([tmp_path])


def test_a_misspelt_name_gets_the_nearest():
    with pytest.raises(InputError, match=r"did you mean 'blotter \(starting card\)'"):
        find(starting_cards(), "Bloter (starting card)")
    with pytest.raises(InputError, match="use one of none yet"):
        find({}, "x")


def test_a_right_name_finds_its_card():
    assert find(starting_cards(), "felt (starting card)").kind == "felt"


def test_the_callers_dict_is_its_own():
    starting_cards().clear()
    assert starting_cards()
