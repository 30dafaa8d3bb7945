"""`bibula cards`: list the cards, or show one."""

from __future__ import annotations

import argparse
from collections.abc import Mapping

from bibula.cards.files import card_to_text
from bibula.cards.library import find, load_cards, starting_cards
from bibula.cards.model import Card
from bibula.cards.words import in_words
from bibula.report.cardsheet import CardReport, CardRow, card_summary


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("name", nargs="?", metavar="NAME", help="show this card; without it, all are listed")
    parser.add_argument(
        "--from", dest="places", action="append", default=[], metavar="PATH", help="a card file or a folder of cards"
    )
    parser.add_argument("--toml", action="store_true", help="print the card as a file, to begin one's own from")


def run(args: argparse.Namespace) -> int:
    """List or show.

    Returns:
        0.

    Raises:
        InputError: a card that cannot be read, or that is not there.
    """
    cards: dict[str, Card] = {**starting_cards(), **load_cards(args.places)}
    if args.name is None:
        print(_listing(cards), end="")
        return 0
    card = find(cards, args.name)
    print(card_to_text(card) if args.toml else card_summary(report_of(card)), end="")
    return 0


def report_of(card: Card) -> CardReport:
    """A card as the card sheet takes it."""
    rows = tuple(CardRow(in_words(k), v.value, v.u, v.unit, v.origin, v.source) for k, v in card.values.items())
    pairs = tuple((in_words(a), in_words(b), r) for (a, b), r in card.correlations.items())
    return CardReport(card.name, rows, pairs, kind=card.kind, lot=card.lot, date=card.date, notes=card.notes)


def _listing(cards: Mapping[str, Card]) -> str:
    width = max(len(name) for name in cards)
    lines = []
    for name, card in cards.items():
        measured = sum(v.origin == "measured" for v in card.values.values())
        known = f"{measured} of {len(card.values)} values measured" if measured else "all values assumed or published"
        lines.append(f"{name:<{width}}  {card.kind:<9}  {known}")
    return "\n".join(lines) + "\n"
