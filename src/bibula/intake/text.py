"""Bytes become text lines: encoding found in a fixed order, nothing guessed in silence."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from bibula.quantities.errors import InputError, Place

MAX_BYTES = 200_000_000
_BOMS = (
    (b"\xef\xbb\xbf", "utf-8"),
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)
_CONTROL = re.compile("[\x00-\x08\x0b\x0e-\x19\x1b-\x1f\x7f\ufffe\uffff]")


@dataclass(frozen=True)
class Source:
    """A file as it came in: its name and its bytes (for uploads, where there is no path)."""

    name: str
    data: bytes

    @property
    def sha256(self) -> str:
        """Hexadecimal SHA-256 of the bytes."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class TextFile:
    """Decoded text. `lines[i]` is line i + 1; `notes` are remarks a reader must see.

    `cut_end` is true where the last line has no line end, so that its last cell may be cut short.
    """

    name: str
    encoding: str
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    cut_end: bool


def load_source(path: str | Path | Source) -> Source:
    """Read the bytes of a file (or pass a Source through).

    Raises:
        InputError: not there, not a file, not readable, empty, or above 200 MB.
    """
    if isinstance(path, Source):
        source = path
    else:
        where = Path(path)
        place = Place(file=where.name or str(path))
        try:
            if where.stat().st_size > MAX_BYTES:
                raise InputError("the file is larger than 200 MB", "split it into shorter files", place)
            source = Source(where.name, where.read_bytes())
        except FileNotFoundError as error:
            raise InputError("there is no such file", "check the name and the folder", place) from error
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise InputError(f"the file cannot be opened ({reason})", "choose a readable file", place) from error
    if not source.data.strip(b"\x00\x20\t\r\n"):
        raise InputError("the file is empty", "export the readings again", Place(file=source.name))
    return source


def decode(source: Source, encoding: str | None = None) -> TextFile:
    """Decode the bytes: the encoding asked for, else byte order mark, UTF-8, UTF-16 by its NULs, cp1252.

    Raises:
        InputError: the bytes are not text in that encoding, or hold control characters.
    """
    text, found, notes = _decoded(source, encoding)
    text = text.removeprefix("\ufeff")
    text = text.rstrip("\x1a\x00")
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x0c", "\n")
    bad = _CONTROL.search(text)
    if bad:
        line = text.count("\n", 0, bad.start()) + 1
        raise InputError(
            "there are control characters here, so this is not a text file",
            "export the readings as CSV text or as an .xlsx workbook",
            Place(file=source.name, line=line),
        )
    cut_end = not text.endswith("\n")
    lines = tuple((text if cut_end else text[:-1]).split("\n"))
    return TextFile(source.name, found, lines, notes, cut_end)


def _decoded(source: Source, encoding: str | None) -> tuple[str, str, tuple[str, ...]]:
    data = source.data
    if encoding is not None:
        return _strict(source, encoding), encoding, ()
    for mark, name in _BOMS:
        if data.startswith(mark):
            return _strict(source, name), name, ()
    if b"\x00" not in data:
        try:
            return data.decode("utf-8"), "utf-8", ()
        except UnicodeDecodeError:
            note = f"{source.name} is not UTF-8; it was read as Windows-1252: check the letters with accents"
            return _strict(source, "cp1252"), "cp1252", (note,)
    even, odd = data[0::2].count(0), data[1::2].count(0)
    half = len(data) / 2
    if odd > 0.4 * half and even < 0.05 * half:
        return _strict(source, "utf-16-le"), "utf-16-le", ()
    if even > 0.4 * half and odd < 0.05 * half:
        return _strict(source, "utf-16-be"), "utf-16-be", ()
    raise InputError(
        "this is not a text file (it holds zero bytes)",
        "export the readings as CSV text or as an .xlsx workbook",
        Place(file=source.name),
    )


def _strict(source: Source, encoding: str) -> str:
    try:
        return source.data.decode(encoding)
    except LookupError as error:
        raise InputError(
            f"the encoding '{encoding}' is not known", "use utf-8, utf-16 or cp1252", Place(field="encoding")
        ) from error
    except (UnicodeError, ValueError) as error:
        at = getattr(error, "start", 0)
        raise InputError(
            f"the bytes from number {at + 1} on are not {encoding} text",
            "the file may be cut short or damaged: export it again, or name its encoding",
            Place(file=source.name, line=source.data.count(b"\n", 0, at) + 1),
        ) from error
