"""Keys of sources become references a reader can look up; the list is made from docs/references.bib."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class Reference:
    """One source: `[Key] Authors (year). Title.` and where it appeared ("" where it is no key of the list)."""

    work: str
    place: str = ""

    def __str__(self) -> str:
        return f"{self.work} {self.place}".strip()


def reference(key: str) -> Reference:
    """The source of that key; what is no key of the list is given back as it is."""
    known = references()
    return Reference(f"[{key}] {known[key][0]}", known[key][1]) if key in known else Reference(key)


@cache
def references() -> dict[str, tuple[str, str]]:
    """Every source by its key: authors, year and title; place and note."""
    found = json.loads((files("bibula.report") / "references.json").read_text(encoding="utf-8"))
    return {key: (work, place) for key, (work, place) in found.items()}
