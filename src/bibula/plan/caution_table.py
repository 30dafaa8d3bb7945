"""The caution table (cautions.toml): media, supports and features, and what must not happen to them."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, WithJsonSchema

from bibula.plan.fields import Text, refusal
from bibula.quantities.caution import Level

FaceRule = Literal["any", "carrying"]


@dataclass(frozen=True)
class Rule:
    """One rule of the table.

    Attributes:
        key: unique; an override names it.
        on: the exposure that calls it (see bibula.plan.exposure).
        face: `carrying` = only where the face that carries the thing is exposed so.
        level: how strong it is before tests and overrides.
        text: what the user is told.
        source: who says so, in full.
        relaxed_by: agent of a spot test; stable results lower `stop` and `override` to `caution`. "" = never.
    """

    key: str
    on: str
    face: FaceRule
    level: Level
    text: str
    source: str
    relaxed_by: str = ""


@dataclass(frozen=True)
class Group:
    """Things that share their rules. `sensitive`: no work for non-specialists."""

    keys: tuple[str, ...]
    also: tuple[tuple[str, str], ...]  # (other word, key)
    kind: Literal["medium", "feature", "general"]
    rules: tuple[Rule, ...]
    sensitive: bool = False


@cache
def groups() -> tuple[Group, ...]:
    """All groups of the caution table, in its order."""
    data = tomllib.loads(resources.files("bibula.plan").joinpath("cautions.toml").read_text(encoding="utf-8"))
    sources: dict[str, str] = data["sources"]
    return tuple(
        Group(
            keys=tuple(g["keys"]),
            also=tuple(g.get("also", {}).items()),
            kind=g["kind"],
            sensitive=g.get("sensitive", False),
            rules=tuple(_rule(r, sources) for r in g["rule"]),
        )
        for g in data["group"]
    )


def _rule(row: dict[str, Any], sources: dict[str, str]) -> Rule:
    return Rule(
        key=row["key"],
        on=row["on"],
        face=row.get("face", "any"),
        level=row["level"],
        text=row["text"],
        source="; ".join(sources[s] for s in row["source"]),
        relaxed_by=row.get("relaxed_by", ""),
    )


def source_text(key: str) -> str:
    """The full source behind one of the table's source keys."""
    data = tomllib.loads(resources.files("bibula.plan").joinpath("cautions.toml").read_text(encoding="utf-8"))
    return str(data["sources"][key])


@cache
def known_whats() -> tuple[str, ...]:
    """Every key that media and features may carry."""
    return tuple(k for g in groups() if g.kind != "general" for k in g.keys)


@cache
def _aliases() -> dict[str, str]:
    words = {k.lower(): k for k in known_whats()}
    for group in groups():
        for word, key in group.also:
            words.setdefault(word.lower(), key)
    return words


def plain_name(word: str) -> str:
    """A word in small letters with single blanks, and by the table's key where the table knows it."""
    plain = " ".join(word.lower().split())
    return _aliases().get(plain, plain).lower()


def canonical_what(word: str) -> str:
    """The table's key for a word a user wrote; refuses a word nobody knows, for it would warn of nothing."""
    plain = " ".join(word.lower().split())
    words = _aliases()
    if plain in words:
        return words[plain]
    close = difflib.get_close_matches(plain, list(words), n=1, cutoff=0.5)
    anything = "write 'other' with a name for anything that is not in the table"
    hint = f"did you mean '{words[close[0]]}'? Else {anything}" if close else f"{anything}; it knows {_list()}"
    raise refusal(f"'{word}' is not in the caution table, so nothing would warn of it", hint)


def _list() -> str:
    return ", ".join(known_whats())


def group_of(what: str) -> Group:
    """The group that holds a key."""
    return next(g for g in groups() if what in g.keys)


def general_rules() -> tuple[Rule, ...]:
    """The rules that hold for every object."""
    return tuple(r for g in groups() if g.kind == "general" for r in g.rules)


def find_rule(key: str) -> Rule | None:
    """A rule by its key."""
    return next((r for g in groups() for r in g.rules if r.key == key), None)


What = Annotated[
    Text, AfterValidator(canonical_what), WithJsonSchema({"type": "string", "examples": ["printing ink", "plate mark"]})
]
