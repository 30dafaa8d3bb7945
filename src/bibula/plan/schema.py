"""The published JSON Schema of a plan file. `python -m bibula.plan.schema` writes it anew."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from bibula.plan.model import Plan

ADDRESS = "plan.schema.json"


def plan_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a plan file, with the short forms a file may use."""
    schema = Plan.model_json_schema()
    parts = schema["$defs"]
    whole = parts["PlanObject"]
    whole["properties"]["size"] = {
        "type": "string",
        "description": "length x width with a unit, instead of length_m and width_m",
        "examples": ["420 x 297 mm", "16 1/2 x 11 3/4 in"],
    }
    whole["required"] = [k for k in whole["required"] if k not in ("length_m", "width_m")]
    whole["oneOf"] = [
        {"required": ["size"]},
        {"required": ["length_m", "width_m"], "not": {"required": ["size"]}},
    ]
    for name, key in (("Start", "state"), ("Below", "kind"), ("Above", "kind")):
        parts[name] = {"anyOf": [{"type": "string", "enum": parts[name]["properties"][key]["enum"]}, parts[name]]}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": ADDRESS,
        **schema,
        "title": "Bibula plan",
    }


def schema_text() -> str:
    """The schema as the file holds it."""
    return json.dumps(plan_schema(), indent=2, ensure_ascii=False) + "\n"


def main(arguments: list[str]) -> int:
    """Write the schema to the file named, or to schemas/plan.schema.json of this repository."""
    target = Path(arguments[0]) if arguments else Path(__file__).parents[3] / "schemas" / ADDRESS
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(schema_text(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
