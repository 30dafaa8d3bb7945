"""Plan files: one readable TOML file a plan, read and written."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import ValidationError
from tomlkit.items import Array, InlineTable, Item, Table

from bibula.plan.fields import format_size
from bibula.plan.mistakes import plan_mistake
from bibula.plan.model import Plan
from bibula.quantities.errors import InputError, Place
from bibula.quantities.toml_places import parse_toml

SCHEMA_LINE = "#:schema {}"
_TABLES = ("object", "room", "target")
_COMMENTS = {
    "object": "The object. Layers of the object go from verso to recto.",
    "room": "The room, and how well it is known.",
    "target": "When it is done, and how long it then stays under its weights.",
    "stage": "The stages in order. Each stack goes from the table up.",
    "override": "Stops set aside on purpose, with the reason and who answers for it.",
}


def parse_plan(text: str, file: str = "plan") -> Plan:
    """A plan from the text of a plan file.

    Args:
        text: TOML.
        file: the name used in error sentences.

    Raises:
        InputError: one sentence with line, column and field of the first mistake.
    """
    data = parse_toml(text, file)
    try:
        return Plan.model_validate(data, context={"file": True})
    except ValidationError as bad:
        raise plan_mistake(bad, text, data, file) from None


def read_plan(path: str | os.PathLike[str]) -> Plan:
    """Read a plan file (UTF-8 TOML).

    Raises:
        InputError: if the file cannot be opened, is not TOML, or is not a plan.
    """
    file = Path(path)
    try:
        raw = file.read_bytes()
    except OSError as bad:
        raise InputError(
            f"this file cannot be read ({bad.strerror})", "check its name and folder", Place(str(file))
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        line = raw.count(b"\n", 0, bad.start) + 1
        raise InputError("this file is not UTF-8 text", "save it as UTF-8", Place(str(file), line)) from None
    return parse_plan(text, str(file))


def card_paths(plan: Plan, path: str | os.PathLike[str]) -> tuple[Path, ...]:
    """The plan's extra card files and folders, taken from the folder the plan file lies in."""
    return tuple(Path(path).parent / name for name in plan.cards)


def logger_path(plan: Plan, path: str | os.PathLike[str]) -> Path | None:
    """The room logger's file, taken from the folder the plan file lies in; None where there is none."""
    return Path(path).parent / plan.room.logger if plan.room.logger else None


def plan_text(plan: Plan, schema: str = "../schemas/plan.schema.json") -> str:
    """A plan as readable TOML, which `parse_plan` reads back as an equal plan.

    Args:
        plan: the plan.
        schema: address of the JSON Schema, for editors; "" leaves the line out.
    """
    data = plan.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    lines = tomlkit.document()
    if schema:
        lines.add(tomlkit.comment(f":schema {schema}"))
        lines.add(tomlkit.nl())
    for key in ("title", "invented", "notes", "units", "cards"):
        if key in data:
            lines.add(key, _leaf(data[key]))
    for key in _TABLES:
        if data.get(key):
            lines.add(tomlkit.nl())
            lines.add(key, _table(_object_keys(data[key]) if key == "object" else data[key], _COMMENTS[key]))
    for key in ("stage", "override"):
        if data.get(key):
            lines.add(tomlkit.nl())
            rows = tomlkit.aot()
            for number, row in enumerate(data[key]):
                rows.append(_table(row, "" if number else _COMMENTS[key]))
            lines.add(key, rows)
    text = tomlkit.dumps(lines)
    return text.replace("# :schema", "#:schema", 1) if schema else text


def write_plan(plan: Plan, path: str | os.PathLike[str], schema: str = "../schemas/plan.schema.json") -> None:
    """Write a plan file; an old file of that name is replaced in one step.

    Raises:
        InputError: if the file cannot be written.
    """
    file = Path(path)
    fresh = file.with_name(file.name + ".new")
    try:
        fresh.write_bytes(plan_text(plan, schema).encode("utf-8"))
        fresh.replace(file)
    except OSError as bad:
        raise InputError(
            f"this file cannot be written ({bad.strerror})", "check its folder", Place(str(file))
        ) from None


def _object_keys(data: dict[str, Any]) -> dict[str, Any]:
    """The object's keys in the order a reader wants, with its size as one text."""
    rest = {k: v for k, v in data.items() if k not in ("name", "length_m", "width_m")}
    return {"name": data["name"], "size": format_size(data["length_m"], data["width_m"]), **rest}


def _short(value: Any) -> Any:
    """A start or a boundary that is nothing but its word is written as that word."""
    if isinstance(value, dict) and len(value) == 1:
        return next(iter(value.values()))
    return value


def _table(data: dict[str, Any], comment: str = "") -> Table:
    table = tomlkit.table()
    if comment:
        table.add(tomlkit.comment(comment))
    for key, value in data.items():
        table.add(key, _leaf(_short(value) if key in ("start", "below", "above") else value))
    return table


def _leaf(value: Any) -> Item:
    if isinstance(value, dict):
        return _inline(value)
    if isinstance(value, list):
        return _array(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return tomlkit.item(int(value))
    if isinstance(value, str) and _can_be_long(value):
        return tomlkit.string(value, multiline=True)
    made: Item = tomlkit.item(value)
    return made


def _can_be_long(text: str) -> bool:
    """Several lines of plain text, which need no escapes between triple quotes."""
    plain = all(c == "\n" or c.isprintable() for c in text) and '"' not in text and "\\" not in text
    return "\n" in text and plain


def _array(values: list[Any]) -> Array:
    array = tomlkit.array()
    for value in values:
        array.append(_leaf(value))
    return array.multiline(any(isinstance(v, dict) for v in values))


def _inline(data: dict[str, Any]) -> InlineTable:
    table = tomlkit.inline_table()
    for key, value in data.items():
        table.append(key, _leaf(value))
    return table
