"""The cards at hand: the starting cards that come with Bibula, and the user's own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from pathlib import Path

from bibula.cards.files import card_from_text, nearest, read_card
from bibula.cards.model import Card
from bibula.quantities.errors import InputError, Place


def starting_cards() -> dict[str, Card]:
    """The cards a studio can begin with, by name: every value assumed, every band wide.

    They are class averages from common practice, none of a particular product; a few weighings
    of one's own material make a better card.
    """
    return dict(_starting())


@cache
def _starting() -> dict[str, Card]:
    folder = resources.files("bibula.cards") / "starting"
    files = sorted((item for item in folder.iterdir() if item.name.endswith(".toml")), key=lambda item: item.name)
    cards = (card_from_text(item.read_text(encoding="utf-8"), item.name) for item in files)
    return {card.name: card for card in cards}


def load_cards(paths: Iterable[str | Path]) -> dict[str, Card]:
    """The cards in files and folders, by name.

    Args:
        paths: card files, or folders whose `*.toml` files are all cards (not their subfolders).
            A file reached twice counts once.

    Raises:
        InputError: a file cannot be read as a card, a folder holds none, or two files hold cards
            of one name (both are named).
    """
    cards: dict[str, Card] = {}
    origins: dict[str, Path] = {}
    seen: set[Path] = set()
    for file in _files(paths):
        if file.resolve() in seen:
            continue
        seen.add(file.resolve())
        card = read_card(file)
        if card.name in origins:
            what = f"'{card.name}' is also the name of the card in {origins[card.name]}"
            raise InputError(what, "give one of the two another name", Place(str(file), field="name"))
        origins[card.name] = file
        cards[card.name] = card
    return cards


def _files(paths: Iterable[str | Path]) -> Iterable[Path]:
    for path in map(Path, paths):
        if not path.is_dir():
            yield path
            continue
        inside = sorted(item for item in path.glob("*.toml") if item.is_file() and not item.name.startswith("."))
        if not inside:
            raise InputError("the folder holds no card", "put card files (*.toml) into it", Place(str(path)))
        yield from inside


def find(cards: Mapping[str, Card], name: str) -> Card:
    """The card of a name.

    Raises:
        InputError: there is none, with the nearest name there is.
    """
    if name in cards:
        return cards[name]
    raise InputError(
        f"there is no card '{name}'", nearest(name, cards, "use one of " + (", ".join(cards) or "none yet"))
    )


def starting_table() -> str:
    """The starting cards as a Markdown table; mass and water are derived, per square metre of one piece."""
    lines = ["| card | kind | thickness | dry mass | water when full | A_w |", "| --- | --- | --- | --- | --- | --- |"]
    for card in starting_cards().values():
        thickness = card["thickness_m"]
        # The air gap's density is a stand-in (see its note), so no mass is shown for what weighs next to nothing.
        mass = card["density_kg_m3"] * thickness
        cells = (
            card.name,
            card.kind,
            f"{1000 * thickness:g} mm",
            f"{mass:.3g} kg/m²" if mass > 0.01 else "–",
            f"{card['capacity_kg_m3'] * thickness:.2g} kg/m²",
            f"{card['absorption_kg_m2s05']:g}",
        )
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"
