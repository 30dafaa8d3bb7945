"""Where a key stands in a TOML text, so that a message can name its line and column."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from typing import Any

from bibula.quantities.errors import InputError, Place

_BLANK = re.compile(r"[ \t\r\n]*(?:#[^\n]*[ \t\r\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}#\r\n]+")
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"""(?:"{0,2})', re.DOTALL),
    re.compile(r"'''.*?'''(?:'{0,2})", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)
_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


def parse_toml(text: str, file: str | None = None) -> dict[str, Any]:
    """The tables of a TOML text.

    Args:
        text: the whole text.
        file: its name, for the message.

    Raises:
        InputError: the text is no TOML, with file, line and column.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        found = _AT.search(message)
        line, column = (int(found[1]), int(found[2])) if found and found[1] else _line_and_column(text, len(text))
        what = "this is not valid TOML: " + (message[: found.start()] if found else message)
        raise InputError(what, "mend the line", Place(file, line, column)) from None


def place_of(text: str, dotted_path: str | Sequence[str]) -> tuple[int, int]:
    """Line and column (from 1) at which a key of a TOML text begins.

    Args:
        text: a text that `parse_toml` accepts.
        dotted_path: the key with its tables, "thickness_m.value"; elements of an array by
            number from 0, "layers.2.name". A sequence of parts where a part has a dot in it.

    Returns:
        The place of the key; where it is not in the text, that of the nearest table above it
        that is (a missing field is mended there), else line 1, column 1.
    """
    path = tuple(dotted_path.split(".")) if isinstance(dotted_path, str) else tuple(dotted_path)
    places = _Scanner(text).scan()
    while path and path not in places:
        path = path[:-1]
    return _line_and_column(text, places[path] if path else 0)


def _line_and_column(text: str, offset: int) -> tuple[int, int]:
    return text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset)


class _Scanner:
    """One pass over a valid TOML text, noting the offset at which every key begins."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: dict[tuple[str, ...], int] = {}
        self.elements: dict[tuple[str, ...], int] = {}

    def scan(self) -> dict[tuple[str, ...], int]:
        """Offsets by path."""
        prefix: tuple[str, ...] = ()
        while True:
            self._skip(_BLANK)
            if self.at >= len(self.text):
                return self.places
            before = self.at
            if self.text[self.at] == "[":
                prefix = self._header()
            else:
                self._pair(prefix)
            if self.at == before:  # not valid TOML after all: what was found so far must do
                return self.places

    def _skip(self, pattern: re.Pattern[str]) -> None:
        found = pattern.match(self.text, self.at)
        if found:
            self.at = found.end()

    def _note(self, path: tuple[str, ...], offset: int) -> None:
        self.places.setdefault(path, offset)

    def _header(self) -> tuple[str, ...]:
        start = self.at
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        parts = self._key()
        self.at += 2 if many else 1
        path: tuple[str, ...] = ()
        for i, part in enumerate(parts):
            path += (part,)
            last = i == len(parts) - 1
            if last and many:
                self._note(path, start)
                self.elements[path] = self.elements.get(path, 0) + 1
            if path in self.elements:
                path += (str(self.elements[path] - 1),)
            self._note(path, start)
        return path

    def _key(self) -> tuple[str, ...]:
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            start = self.at
            quote = self.text[self.at : self.at + 1]
            if quote in {'"', "'"}:
                self._skip(_STRINGS[2] if quote == '"' else _STRINGS[3])
                parts.append(_unquoted(self.text[start : self.at]))
            else:
                self._skip(_BARE_KEY)
                parts.append(self.text[start : self.at])
            self._skip(_SPACE)
            if self.text[self.at : self.at + 1] != ".":
                return tuple(parts)
            self.at += 1

    def _pair(self, prefix: tuple[str, ...]) -> None:
        start = self.at
        parts = self._key()
        for i in range(len(parts)):
            self._note((*prefix, *parts[: i + 1]), start)
        if self.text[self.at : self.at + 1] == "=":
            self.at += 1
        self._skip(_SPACE)
        self._value((*prefix, *parts))

    def _value(self, path: tuple[str, ...]) -> None:
        first = self.text[self.at : self.at + 1]
        if first in {"[", "{"}:
            self._container(path, first)
            return
        for pattern in _STRINGS:
            found = pattern.match(self.text, self.at)
            if found:
                self.at = found.end()
                return
        self._skip(_BARE_VALUE)

    def _container(self, path: tuple[str, ...], opening: str) -> None:
        closing = "]" if opening == "[" else "}"
        self.at += 1
        index = 0
        while True:
            self._skip(_BLANK)
            here = self.text[self.at : self.at + 1]
            if here in {closing, ""}:
                self.at += 1
                return
            if here == ",":
                self.at += 1
                continue
            before = self.at
            if opening == "[":
                self._note((*path, str(index)), self.at)
                self._value((*path, str(index)))
                index += 1
            else:
                self._pair(path)
            if self.at == before:
                return


def _unquoted(quoted: str) -> str:
    return str(next(iter(tomllib.loads(f"{quoted} = 0"))))
