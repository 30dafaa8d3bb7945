"""The one tree of errors a user can meet.

Each carries one plain sentence: what is wrong, where, and how to mend it. The command line
prints the sentence and leaves with exit code 2; nothing below it prints or exits.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """Where in a user's input something stands. Lines and columns count from 1."""

    file: str | None = None
    line: int | None = None
    column: int | None = None
    field: str | None = None

    def __str__(self) -> str:
        parts = []
        if self.file:
            parts.append(self.file)
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.column is not None:
            parts.append(f"column {self.column}")
        if self.field:
            parts.append(f"field '{self.field}'")
        return ", ".join(parts)


class BibulaError(Exception):
    """Base of every error meant for a user's eyes.

    Args:
        what: what is wrong, without a full stop.
        mend: what to do next, as a sentence part ("write it as 12.4 g").
        place: where it stands, if it stands anywhere.
    """

    exit_code = 2

    def __init__(self, what: str, mend: str = "", place: Place | None = None) -> None:
        self.what = what
        self.mend = mend
        self.place = place or Place()
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """The whole message: place, what, mend."""
        where = str(self.place)
        head = f"{where}: {self.what}" if where else self.what
        return f"{head}; {self.mend}." if self.mend else f"{head}."


class InputError(BibulaError):
    """Something the user gave cannot be read or does not make sense."""


class ValidityError(BibulaError):
    """The question lies outside what the model may answer (frost, RH below 5 %, ...)."""


class BalanceError(BibulaError):
    """A computed run did not close its water or energy balance, so there is no answer."""

    exit_code = 3
