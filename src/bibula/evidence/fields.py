"""One table of a TOML text, read field by field; every complaint names file, line, column and field."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from bibula.cards.files import nearest
from bibula.quantities.errors import InputError, Place
from bibula.quantities.toml_places import place_of


@dataclass(frozen=True)
class Fields:
    """A table: its data, the whole text, its file and its path in the text."""

    data: Mapping[str, Any]
    whole: str
    file: str | None
    path: tuple[str, ...]

    def place(self, key: str) -> Place:
        """Where a key stands, or its table if it is missing."""
        return Place(self.file, *place_of(self.whole, (*self.path, key)), key)

    def error(self, key: str, what: str, mend: str) -> InputError:
        """The error of one field."""
        return InputError(what, mend, self.place(key))

    def only(self, known: Iterable[str], what: str = "this table") -> None:
        """Refuse keys that are not known, with the nearest that is."""
        names = tuple(known)
        for key in self.data:
            if key not in names:
                raise self.error(key, f"{what} has no '{key}'", nearest(key, names, "use one of " + ", ".join(names)))

    def table(self, key: str) -> Fields:
        """A table inside."""
        inside = self.data.get(key)
        if not isinstance(inside, Mapping):
            raise self.error(key, f"the table [{key}] is missing", f"begin it with the line [{key}]")
        return Fields(inside, self.whole, self.file, (*self.path, key))

    def tables(self, key: str) -> list[Fields]:
        """A list of tables inside; empty if there is none."""
        rows = self.data.get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
            raise self.error(key, f"'{key}' must be a list of tables", f"begin each with [[{key}]], or write {{...}}")
        return [Fields(row, self.whole, self.file, (*self.path, key, str(i))) for i, row in enumerate(rows)]

    def number(self, key: str, scale: float = 1.0, default: float | None = None) -> float:
        """A number times `scale` (the default is already scaled)."""
        if key not in self.data:
            if default is None:
                raise self.error(key, f"{key} is missing", f"add a line {key} = ...")
            return default
        value = self.data[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.error(key, f"{key} must be a number, and is {value!r}", "write digits with a decimal point")
        if value < 0.0:
            raise self.error(key, f"{key} is negative", "give it as zero or more")
        return float(value) * scale

    def text(self, key: str, required: bool = False) -> str:
        """A text; empty if it is missing."""
        value = self.data.get(key, "")
        if not isinstance(value, str):
            raise self.error(key, f"{key} must be text, and is {value!r}", "put it between double quotes")
        if required and not value.strip():
            raise self.error(key, f"{key} is missing", f'add a line {key} = "..."')
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(x, str) for x in value):
            raise self.error(key, f"{key} must be a list of sentences", f'write {key} = ["...", "..."]')
        return tuple(value)

    def date(self, key: str) -> str:
        """An ISO date as text; empty if it is missing."""
        written = self.data.get(key, "")
        if type(written) is dt.date:
            return written.isoformat()
        text = self.text(key)
        try:
            if text:
                dt.date.fromisoformat(text)
        except ValueError:
            raise self.error(key, f"'{text}' is not a date", "write it as 2025-03-09") from None
        return text

    def choice(self, key: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        """One of a few words."""
        if key not in self.data and default is not None:
            return default
        word = self.text(key, required=True)
        if word not in allowed:
            mend = nearest(word, allowed, "use one of " + ", ".join(allowed))
            raise self.error(key, f"{key} is '{word}'", mend)
        return word

    def flag(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self.data.get(key, default)
        if not isinstance(value, bool):
            raise self.error(key, f"{key} must be true or false, and is {value!r}", "write it without quotes")
        return value
