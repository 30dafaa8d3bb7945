"""Makes src/bibula/report/references.json, what sheets print of a source, from docs/references.bib.

    .venv/bin/python tools/references.py

Reads the part of BibTeX that our file keeps to: one field a line, values in braces.
"""

from __future__ import annotations

import json
import re
import unicodedata
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
BIBLIOGRAPHY = TOP / "docs" / "references.bib"
TARGET = TOP / "src" / "bibula" / "report" / "references.json"
ACCENTS = {'"': "\u0308", "'": "\u0301", "`": "\u0300", "^": "\u0302", "~": "\u0303", "c": "\u0327"}
PLACES = ("journal", "booktitle", "publisher", "institution", "howpublished")


def entries(text: str) -> dict[str, dict[str, str]]:
    """Fields of each entry by its key."""
    found: dict[str, dict[str, str]] = {}
    for key, body in re.findall(r"^@\w+\{([^,\s]+),\n(.*?)^\}", text, re.MULTILINE | re.DOTALL):
        fields = re.findall(r"^\s*(\w+)\s*=\s*\{(.*?)\},?\s*$", body, re.MULTILINE)
        found[key] = {name.lower(): value for name, value in fields}
    return found


def plain(value: str) -> str:
    """A field without BibTeX's braces, dashes and accents."""
    value = re.sub(
        r"\{?\\([\"'`^~c])\{?(\w)\}?\}?", lambda m: unicodedata.normalize("NFC", m[2] + ACCENTS[m[1]]), value
    )
    return re.sub(r"\\([&%$#_])", r"\1", value).replace("--", "–").replace("{", "").replace("}", "")


def printed(entry: dict[str, str]) -> tuple[str, str]:
    """(`Authors (year). Title.`, `Journal volume(number), pages. Note.`); the year comes last where nobody is named."""
    listed, year = authors(entry.get("author", "")), entry.get("year", "")
    volume = entry.get("volume", "") + (f"({entry['number']})" if "number" in entry and "volume" in entry else "")
    place = next((plain(entry[name]) for name in PLACES if name in entry), "")
    place = " ".join(x for x in (place, volume) if x)
    place = ", ".join(x for x in (place, plain(entry.get("pages", "")), year if not listed else "") if x)
    head = f"{listed} ({year})" if listed and year else listed
    note = plain(entry.get("note", "")).replace("from memory", "quoted from memory")
    return _sentences(head, plain(entry.get("title", ""))), _sentences(place, note[:1].upper() + note[1:])


def _sentences(*parts: str) -> str:
    return " ".join(part if part.endswith((".", "?")) else f"{part}." for part in parts if part)


def authors(field: str) -> str:
    """Names with semicolons between; a body in its own braces is one name, `others` stays."""
    if field.startswith("{"):
        return plain(field)
    names = [plain(n.strip()) for n in field.split(" and ") if n.strip()]
    others = names[-1:] == ["others"]
    return "; ".join(names[:-1] if others else names) + (" and others" if others else "")


def made() -> str:
    """The text of the JSON file."""
    found = entries(BIBLIOGRAPHY.read_text(encoding="utf-8"))
    return json.dumps({k: printed(e) for k, e in sorted(found.items())}, ensure_ascii=False, indent=1) + "\n"


if __name__ == "__main__":
    TARGET.write_text(made(), encoding="utf-8")
