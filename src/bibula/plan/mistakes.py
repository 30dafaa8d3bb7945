"""A mistake in a plan file, told as one sentence with its line, column and field."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from bibula.plan.schema import plan_schema
from bibula.quantities.errors import InputError, Place
from bibula.quantities.toml_places import place_of

Path = tuple[str | int, ...]
Schema = Callable[[], dict[str, Any]]
_UNITS = {"kg": "kg", "g": "g", "m2": "m2", "m": "m", "mm": "mm", "c": "C", "pa": "Pa", "kpa": "kPa", "percent": "%"}

_LIST = ("a list", "put it in square brackets, or use [[...]]")
_TABLE = ("a table", "write its name in brackets on a line of its own, and its keys below")
_WANTED = {
    "float_type": ("a number", ""),
    "int_type": ("a whole number", ""),
    "int_from_float": ("a whole number", ""),
    "finite_number": ("a finite number", ""),
    "string_type": ("text", "put it in quotes"),
    "bool_type": ("true or false", "write true or false without quotes"),
    "tuple_type": _LIST,
    "list_type": _LIST,
    "model_type": _TABLE,
    "model_attributes_type": _TABLE,
    "dict_type": _TABLE,
}


def _field(path: Path) -> str:
    """A path as text, list elements counted from 1: stage[2].stack[1].card."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else ("." if text else "") + part
    return text


def _in_file(loc: tuple[int | str, ...], data: Any) -> Path:
    """The error's path as the file has it: without the names of alternatives that pydantic puts in."""
    path: list[int | str] = []
    here = data
    for number, part in enumerate(loc):
        inside = part in here if isinstance(here, dict) else isinstance(here, list) and part in range(len(here))
        if inside:
            path.append(part)
            here = here[part]
        elif number == len(loc) - 1:
            path.append(part)
    return tuple(path)


def _known_keys(path: Path, of: Schema) -> list[str]:
    """The keys the schema allows in the table at a path."""
    schema = of()

    def open_up(node: dict[str, Any]) -> list[dict[str, Any]]:
        if "$ref" in node:
            return open_up(schema["$defs"][node["$ref"].rsplit("/", 1)[1]])
        several = node.get("anyOf", []) if "properties" in node else node.get("anyOf", node.get("oneOf", []))
        return [node, *(y for x in several for y in open_up(x))]

    nodes: list[dict[str, Any]] = [schema]
    for part in path:
        step: list[dict[str, Any]] = []
        for node in nodes:
            child = node.get("items") if isinstance(part, int) else node.get("properties", {}).get(part)
            if child is not None:
                step.extend(open_up(child))
        nodes = step
    return list(dict.fromkeys(key for node in nodes for key in node.get("properties", {})))


def _nearest(word: str, known: list[str]) -> str:
    """A sentence part that names the nearest known word, or all of them."""
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    if close:
        return f"did you mean '{close[0]}'?"
    return "known here: " + ", ".join(known)


def _number_mend(path: Path) -> str:
    key = str(path[-1]) if path else ""
    unit = next((name for end, name in _UNITS.items() if key.endswith("_" + end)), "")
    return f"write a plain number; the unit, {unit}, is already in the key" if unit else "write a plain number"


def _sentence(error: ErrorDetails, path: Path, schema: Schema = plan_schema) -> tuple[str, str]:
    kind, given, last = error["type"], error.get("input"), str(path[-1]) if path else ""
    context = error.get("ctx", {})
    if kind == "plan":
        return str(context["what"]), str(context["mend"])
    if kind == "extra_forbidden":
        return f"the key '{last}' is not known here", _nearest(last, _known_keys(path[:-1], schema))
    if kind == "literal_error":
        known = re.findall(r"'([^']*)'", str(context.get("expected", "")))
        return f"'{given}' is not a choice for {last}", f"choose one of {', '.join(known) or context.get('expected')}"
    if kind in _WANTED:
        noun, mend = _WANTED[kind]
        return f"{last} should be {noun}, not {_shown(given)}", mend or _number_mend(path)
    if kind == "missing":
        return f"'{last}' is missing", "add it"
    return error["msg"][:1].lower() + error["msg"][1:], ""


def _meant(path: Path, schema: Schema) -> list[Path]:
    """The key a misspelt key was probably meant to be; the same table then misses it only in name."""
    close = difflib.get_close_matches(str(path[-1]), _known_keys(path[:-1], schema), n=1, cutoff=0.5)
    return [(*path[:-1], word) for word in close]


def _shown(value: Any) -> str:
    return f"'{value}'" if isinstance(value, str) else str(value)


def _full_path(error: ErrorDetails, data: Any) -> Path:
    path = _in_file(error["loc"], data)
    key = error.get("ctx", {}).get("key", "") if error["type"] == "plan" else ""
    extra = tuple(int(x) if x.isdigit() else x for x in key.split(".")) if key else ()
    return (*path, *extra)


def plan_mistake(bad: ValidationError, text: str, data: Any, file: str, schema: Schema = plan_schema) -> InputError:
    """The first mistake of a file (by line) as an InputError; it says how many more there are.

    Args:
        bad: what pydantic found.
        text: the file's text.
        data: its tables.
        file: its name.
        schema: makes the JSON Schema of the file, for the names of known keys.
    """
    found: list[tuple[tuple[int, int], Path, ErrorDetails]] = []
    for error in bad.errors(include_url=False):
        path = _full_path(error, data)
        found.append((place_of(text, [str(x) for x in path]), path, error))
    meant = {x for _, path, error in found if error["type"] == "extra_forbidden" for x in _meant(path, schema)}
    found = [x for x in found if x[2]["type"] != "missing" or x[1] not in meant]
    found.sort(key=lambda x: x[0])
    (line, column), path, error = found[0]
    what, mend = _sentence(error, path, schema)
    if len(found) > 1:
        others = len(found) - 1
        what = f"{what} (and {others} more mistake{'s' if others > 1 else ''} in this file)"
    return InputError(what, mend, Place(file, line, column, _field(path) or None))


M = TypeVar("M", bound=BaseModel)


def from_options(model: type[M], data: dict[str, Any]) -> M:
    """A part of a plan from the options of a command.

    Raises:
        InputError: the first mistake among them, as one sentence.
    """
    try:
        return model.model_validate(data)
    except ValidationError as bad:
        error = bad.errors(include_url=False)[0]
        key = error.get("ctx", {}).get("key", "") if error["type"] == "plan" else ""
        path: Path = (*error["loc"], *((key,) if key else ()))
        what, mend = _sentence(error, path)
        raise InputError(what, mend, Place(field=_field(path) or None)) from None
