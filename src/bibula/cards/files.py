"""The card file: one readable TOML text per card, written whole or not at all."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
import os
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from bibula.cards.model import PROPERTIES, Card, Kind
from bibula.cards.units import accepted_units, to_si
from bibula.quantities.errors import InputError, Place
from bibula.quantities.toml_places import parse_toml, place_of
from bibula.quantities.values import Origin, Value

FORMAT = "bibula card 1"
KINDS: tuple[str, ...] = get_args(Kind)
ORIGINS: tuple[str, ...] = get_args(Origin)
_HEAD = ("format", "name", "kind", "lot", "date", "notes", "correlations")
_FIELDS = ("value", "unit", "u", "origin", "source", "date", "note")
_PAIR = ("a", "b", "r")


def read_card(path: str | Path) -> Card:
    """The card in a file.

    Raises:
        InputError: the file cannot be read, is no TOML, or holds something that makes no sense;
            with file, line, column and field.
    """
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8 text", "save it as UTF-8", Place(str(path))) from None
    except OSError as error:
        what = f"the card cannot be read ({error.strerror or error})"
        raise InputError(what, "check the path", Place(str(path))) from None
    return card_from_text(text, str(path))


def card_from_text(text: str, file: str | None = None) -> Card:
    """The card in a TOML text; `file` is named in messages.

    Units other than SI are turned into SI as `units.OTHER_UNITS` says.

    Raises:
        InputError: as `read_card`.
    """
    return _Reader(text, file).card(parse_toml(text, file))


def card_to_text(card: Card) -> str:
    """A card as TOML text: one table per property, in the order of PROPERTIES, meaning above it.

    `card_from_text` gives the same card back, bit for bit.

    Raises:
        InputError: the card holds something the reader would refuse (a published value without its source).
    """
    text = _render(card)
    if card_from_text(text, None) != card:
        raise InputError(f"card '{card.name}' does not survive being written", "give its fields plain text and numbers")
    return text


def write_card(card: Card, path: str | Path) -> None:
    """Write a card to a file, whole or not at all (a temporary file beside it takes its place at the end).

    Raises:
        InputError: the card cannot be written (as `card_to_text`), or the file cannot.
    """
    text = card_to_text(card)
    target = Path(path)
    temporary = target.with_name(f".{target.name}.{os.getpid()}.tmp")
    try:
        with temporary.open("x", encoding="utf-8", newline="\n") as handle:
            handle.write(text)
            handle.flush()
            os.fsync(handle.fileno())
        if target.exists():
            shutil.copymode(target, temporary)
        temporary.replace(target)
    except OSError as error:
        what = f"the card cannot be written ({error.strerror or error})"
        raise InputError(what, "check the folder and your rights in it", Place(str(path))) from None
    finally:
        temporary.unlink(missing_ok=True)


def nearest(word: str, names: Iterable[str], otherwise: str) -> str:
    """A hint for a misspelt word: the nearest of the names, or the sentence part `otherwise`."""
    by_fold = {name.casefold(): name for name in names}
    close = difflib.get_close_matches(word.casefold(), by_fold, n=1, cutoff=0.6)
    return f"did you mean '{by_fold[close[0]]}'? Else {otherwise}" if close else otherwise


def _quote(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _render(card: Card) -> str:
    lines = [
        "# A card: what is known of one material or one lot. See docs/cards.md.",
        f"format = {_quote(FORMAT)}",
        f"name = {_quote(card.name)}",
        f"kind = {_quote(card.kind)}",
        f"lot = {_quote(card.lot)}",
        f"date = {_quote(card.date)}",
        *_block("notes", [_quote(note) for note in card.notes]),
    ]
    pairs = sorted(card.correlations.items())
    lines += _block("correlations", [f"{{a = {_quote(a)}, b = {_quote(b)}, r = {float(r)!r}}}" for (a, b), r in pairs])
    for key in PROPERTIES:
        if key in card.values:
            lines += _table(key, card.values[key])
    return "\n".join(lines) + "\n"


def _block(key: str, items: list[str]) -> list[str]:
    return [f"{key} = [", *(f"    {item}," for item in items), "]"] if items else [f"{key} = []"]


def _table(key: str, value: Value) -> list[str]:
    return [
        "",
        f"# {PROPERTIES[key].meaning}",
        f"[{key}]",
        f"value = {float(value.value)!r}",
        f"unit = {_quote(value.unit)}",
        f"u = {float(value.u)!r}",
        f"origin = {_quote(value.origin)}",
        f"source = {_quote(value.source)}",
        f"date = {_quote(value.date)}",
        f"note = {_quote(value.note)}",
    ]


@dataclass(frozen=True)
class _Reader:
    """Turns parsed tables into a card; knows the text, so that every complaint has its place."""

    text: str
    file: str | None

    def error(self, path: tuple[str, ...], what: str, mend: str) -> InputError:
        return InputError(what, mend, Place(self.file, *place_of(self.text, path), ".".join(path) or None))

    def card(self, data: Mapping[str, Any]) -> Card:
        for key in data:
            if key not in _HEAD and key not in PROPERTIES:
                hint = nearest(key, (*PROPERTIES, *_HEAD), "use one of the keys in docs/cards.md")
                raise self.error((key,), f"a card has no '{key}'", hint)
        if data.get("format", FORMAT) != FORMAT:
            raise self.error(
                ("format",), f"format {data['format']!r} is not known here", f"this version reads '{FORMAT}'"
            )
        name = self.string(data, (), "name", required=True)
        if not name.strip():
            raise self.error(("name",), "the card's name is empty", "give it the name you use for the material")
        kind = self.choice(data, (), "kind", KINDS)
        values = {key: self.value(name, kind, key, data[key]) for key in PROPERTIES if key in data}
        return Card(
            name=name,
            kind=kind,  # type: ignore[arg-type]  # one of KINDS, checked by choice()
            values=values,
            lot=self.string(data, (), "lot"),
            date=self.date(data, ()),
            correlations=self.correlations(data.get("correlations", []), values),
            notes=self.notes(data.get("notes", [])),
        )

    def string(self, table: Mapping[str, Any], path: tuple[str, ...], key: str, *, required: bool = False) -> str:
        if required and key not in table:
            raise self.error((*path, key), f"{key} is missing", f'add a line {key} = "..."')
        text = table.get(key, "")
        if not isinstance(text, str):
            raise self.error((*path, key), f"{key} must be text, and is {text!r}", "put it between double quotes")
        return text

    def choice(self, table: Mapping[str, Any], path: tuple[str, ...], key: str, allowed: tuple[str, ...]) -> str:
        word = self.string(table, path, key, required=True)
        if word not in allowed:
            raise self.error((*path, key), f"{key} is '{word}'", "use one of " + ", ".join(allowed))
        return word

    def date(self, table: Mapping[str, Any], path: tuple[str, ...]) -> str:
        written = table.get("date", "")
        if type(written) is dt.date:  # an unquoted TOML date serves as well
            return written.isoformat()
        text = self.string(table, path, "date")
        try:
            if text and dt.date.fromisoformat(text).isoformat() != text:
                raise ValueError
        except ValueError:
            raise self.error((*path, "date"), f"'{text}' is not a date", "write it as 2025-03-09") from None
        return text

    def number(self, table: Mapping[str, Any], path: tuple[str, ...], key: str) -> float:
        if key not in table:
            what = f"{key} is missing" if key != "u" else "the standard uncertainty u is missing"
            raise self.error((*path, key), what, f"add a line {key} = ... to this table")
        number = table[key]
        if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
            raise self.error(
                (*path, key), f"{key} must be a number, and is {number!r}", "write digits with a decimal point"
            )
        return float(number)

    def value(self, name: str, kind: str, key: str, table: Any) -> Value:
        if not isinstance(table, dict):
            raise self.error((key,), f"{key} must be a table, and is {table!r}", f"begin it with the line [{key}]")
        for field in table:
            if field not in _FIELDS:
                hint = nearest(field, _FIELDS, "use " + ", ".join(_FIELDS))
                raise self.error((key, field), f"a property has no field '{field}'", hint)
        number = self.number(table, (key,), "value")
        unit = self.string(table, (key,), "unit", required=True)
        if unit not in accepted_units(key):
            raise self.error((key, "unit"), f"unit '{unit}' is not known for {key}", _use(accepted_units(key)))
        u = self.number(table, (key,), "u")
        origin = self.choice(table, (key,), "origin", ORIGINS)
        source = self.string(table, (key,), "source")
        if origin != "assumed" and not source.strip():
            mend = (
                "name the readings"
                if origin == "measured"
                else "name the publication by its key in docs/references.bib"
            )
            raise self.error((key, "source"), f"a {origin} value needs its source", mend + ", or call it assumed")
        value = Value(
            value=to_si(key, number, unit),
            unit=PROPERTIES[key].unit,
            u=to_si(key, u, unit),
            origin=origin,  # type: ignore[arg-type]  # one of ORIGINS, checked by choice()
            source=source,
            date=self.date(table, (key,)),
            note=self.string(table, (key,), "note"),
        )
        try:
            Card(name, kind, {key: value})  # type: ignore[arg-type]  # the card's own checks, here where the line is known
        except InputError as error:
            raise self.error((key, "u" if not u >= 0.0 else "value"), error.what, error.mend) from None
        return value

    def notes(self, items: Any) -> tuple[str, ...]:
        if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
            raise self.error(("notes",), "notes must be a list of sentences", 'write notes = ["...", "..."]')
        return tuple(items)

    def correlations(self, items: Any, values: Mapping[str, Value]) -> dict[tuple[str, str], float]:
        if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
            mend = 'write correlations = [{a = "...", b = "...", r = 0.5}]'
            raise self.error(("correlations",), "correlations must be a list of pairs", mend)
        found: dict[tuple[str, str], float] = {}
        for i, item in enumerate(items):
            path = ("correlations", str(i))
            for field in item:
                if field not in _PAIR:
                    raise self.error((*path, field), f"a correlation has no field '{field}'", "use a, b and r")
            a, b = (self.string(item, path, side, required=True) for side in "ab")
            for side, key in (("a", a), ("b", b)):
                if key not in values:
                    raise self.error((*path, side), f"the card gives no '{key}'", "name two properties of this card")
            if a == b or (a, b) in found or (b, a) in found:
                raise self.error(path, f"the pair {a}, {b} makes no sense or stands twice", "give each pair once")
            r = self.number(item, path, "r")
            if not -1.0 <= r <= 1.0:
                raise self.error((*path, "r"), f"r = {r:g} is no correlation", "give a number from -1 to 1")
            found[a, b] = r
        return found


def _use(units: tuple[str, ...]) -> str:
    return "use " + (units[0] if len(units) == 1 else ", ".join(units[:-1]) + " or " + units[-1])
