"""Templates: the trade's usual stacks, made into a whole plan for one object, room and kit."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from bibula.plan.model import Plan, PlanObject, Room, Side, Target
from bibula.plan.stages import GRAVITY_M_S2
from bibula.quantities.errors import InputError

DEFAULT_KIT: Mapping[str, str] = {
    "slab": "slab (starting card)",
    "blotter": "blotter (starting card)",
    "felt": "felt (starting card)",
    "interleaf": "interleaf (starting card)",
    "screen": "interleaf (starting card)",
    "board": "board (starting card)",
    "film": "acrylic (starting card)",
    "smooth paper": "rag paper (starting card)",
    "grip paper": "Japanese paper (starting card)",
    "lining": "Japanese paper (starting card)",
}
EQUIPMENT: tuple[str, ...] = ("rack", "blower", "drying board", "suction table", "damp chamber")


@dataclass(frozen=True)
class Template:
    """One of the trade's usual stacks.

    Attributes:
        key: as the command line names it.
        name, how, chosen_for, mind: words for the user; all common practice, no source.
        roles: what the kit must have, each as a card name.
        needs: other equipment (one of EQUIPMENT).
        restrains: it holds the sheet flat while it dries.
        humidifies: it wets a dry object first.
        lines: it brings a lining or a mend with paste.
        dry_start: it begins with a dry object.
        face_up: the face that looks up in its first stage.
        stages: the stages as the data file has them.
    """

    key: str
    name: str
    how: str
    chosen_for: str
    mind: str
    roles: tuple[str, ...]
    needs: tuple[str, ...]
    restrains: bool
    humidifies: bool
    lines: bool
    dry_start: bool
    face_up: Side
    stages: tuple[Mapping[str, Any], ...]


Purpose = Literal["dry", "humidify", "line", "mend"]


def purpose_of(template: Template) -> Purpose:
    """What a template is for."""
    if template.key == "mends":
        return "mend"
    if template.lines:
        return "line"
    return "humidify" if template.humidifies else "dry"


@cache
def list_templates() -> tuple[Template, ...]:
    """All templates, in the order of the data file."""
    text = resources.files("bibula.plan").joinpath("stacks.toml").read_text(encoding="utf-8")
    return tuple(_template(row) for row in tomllib.loads(text)["template"])


def _template(row: dict[str, Any]) -> Template:
    roles = dict.fromkeys(x["role"] for stage in row["stage"] for x in stage["stack"] if "role" in x)
    return Template(
        key=row["key"],
        name=row["name"],
        how=row["how"],
        chosen_for=row["chosen_for"],
        mind=row["mind"],
        roles=tuple(roles),
        needs=tuple(row.get("needs", ())),
        restrains=row["restrains"],
        humidifies=row.get("humidifies", False),
        lines=row.get("lines", False),
        dry_start=row.get("dry_start", False),
        face_up=row.get("face_up", "recto"),
        stages=tuple(row["stage"]),
    )


def find_template(key: str) -> Template:
    """The template of a key.

    Raises:
        InputError: if there is none; names the nearest.
    """
    keys = [t.key for t in list_templates()]
    if key not in keys:
        close = difflib.get_close_matches(key, keys, n=1)
        hint = f"did you mean '{close[0]}'? There are: " if close else "choose one of "
        raise InputError(f"there is no template '{key}'", hint + ", ".join(keys))
    return next(t for t in list_templates() if t.key == key)


def _other(side: Side) -> Side:
    return "verso" if side == "recto" else "recto"


def _layer(
    row: Mapping[str, Any], kit: Mapping[str, str], seen: set[str], face_up: Side, area_m2: float
) -> dict[str, Any]:
    if "object" in row:
        return {"object": True, "face_up": _other(face_up) if row.get("turned") else face_up}
    role = row["role"]
    made: dict[str, Any] = {"card": kit[role], "name": role}
    if "pieces" in row:
        made["pieces"] = row["pieces"]
    if "id" in row:
        made["id"] = row["id"]
        made["reuse"] = row["id"] in seen
    if "water_g_m2" in row and not made.get("reuse"):
        made["start_water_g"] = round(row["water_g_m2"] * area_m2, 1)
    if row.get("soaked"):
        made["start_rh_percent"] = 100.0
    return made


def _stage(
    row: Mapping[str, Any], kit: Mapping[str, str], seen: set[str], face_up: Side, area_m2: float
) -> dict[str, Any]:
    made: dict[str, Any] = {
        "name": row["name"],
        "duration": row["duration"],
        "stack": [_layer(x, kit, seen, face_up, area_m2) for x in row["stack"]],
        "below": row.get("below", "table"),
        "above": row.get("above", "room"),
    }
    seen.update(x["id"] for x in row["stack"] if "id" in x)
    if "pressure_pa" in row:
        made["weight_kg"] = max(round(row["pressure_pa"] * area_m2 / GRAVITY_M_S2, 1), 0.1)
    if "spot_pa" in row:
        made["pressure_pa"] = row["spot_pa"]
    return made


def apply_template(
    key: str,
    thing: PlanObject,
    room: Room,
    target: Target | None = None,
    kit: Mapping[str, str] | None = None,
    *,
    flipped: bool = False,
    title: str = "",
    invented: bool = False,
) -> Plan:
    """A whole plan from a template.

    Args:
        key: the template.
        thing: the object, with how wet it starts.
        room: the room.
        target: when it is done; the usual balance with the room where None.
        kit: role -> card name; roles not named take the starting cards.
        flipped: turn the object over, so that the water leaves by the other face.
        title: of the plan; made from object and template where "".
        invented: mark the plan as an invented example.

    Raises:
        InputError: unknown template, or a kit role nobody knows.
    """
    template = find_template(key)
    for role in kit or {}:
        if role not in DEFAULT_KIT and role not in EQUIPMENT:
            raise InputError(f"the kit has an unknown role '{role}'", f"use {', '.join((*DEFAULT_KIT, *EQUIPMENT))}")
    whole_kit = {**DEFAULT_KIT, **{k: v for k, v in (kit or {}).items() if v}}
    face_up = _other(template.face_up) if flipped else template.face_up
    seen: set[str] = set()
    return Plan.model_validate(
        {
            "title": title or f"{thing.name}: {template.name}",
            "invented": invented,
            "notes": f"{template.how}\nMind: {template.mind}\nTimes and loads: common practice, to be corrected.",
            "object": thing,
            "room": room,
            "target": target or Target(),
            "stage": [_stage(row, whole_kit, seen, face_up, thing.area_m2) for row in template.stages],
        }
    )
