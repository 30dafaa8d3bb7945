"""Which of the trade's stacks make sense for an object, with the stated reasons for and against.

This is the order that rules alone give. Physics ranks the candidates later.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from bibula.cards.model import Card
from bibula.plan.exposure import Exposure, contacts, exposures, start_wetness
from bibula.plan.model import Override, Plan, PlanObject, Room, Side, Target
from bibula.plan.rules import carried, check_plan, stops
from bibula.plan.templates import Purpose, Template, apply_template, list_templates, purpose_of
from bibula.quantities.caution import Caution

LARGE_M2 = 0.5
THIN_G_M2 = 40.0
MANY_STAGES = 4


@dataclass(frozen=True)
class Reason:
    """One reason for (points > 0) or against a stack, in words, with its source."""

    text: str
    because: str
    points: float
    source: str


@dataclass(frozen=True)
class Candidate:
    """One template made into a plan for the object.

    Attributes:
        template: the template.
        plan: the plan it makes.
        rule_score: sum of the reasons' points; a first order, no measure of quality.
        reasons_for, reasons_against: the stated reasons.
        refused: the gravest rule that forbids it, None where none does.
    """

    template: Template
    plan: Plan
    rule_score: float
    reasons_for: tuple[Reason, ...]
    reasons_against: tuple[Reason, ...]
    refused: Caution | None


@dataclass(frozen=True)
class _ReasonRow:
    what: tuple[str, ...]
    trait: str
    points: float
    text: str
    source: str


@cache
def _rows() -> tuple[_ReasonRow, ...]:
    text = resources.files("bibula.plan").joinpath("reasons.toml").read_text(encoding="utf-8")
    return tuple(
        _ReasonRow(tuple(r["what"]), r["trait"], float(r["points"]), r["text"], r["source"])
        for r in tomllib.loads(text)["reason"]
    )


def _face_traits(found: tuple[Exposure, ...], face: Side) -> Iterator[str]:
    agents = {x.agent for x in found if x.face == face}
    if "touch" not in agents:
        yield "open face"
    else:
        yield "touched face"
    if "hard" in agents:
        yield "hard on the face"
    if "absorbent" in agents:
        yield "absorbent on the face"


def traits(template: Template, plan: Plan, cards: Mapping[str, Card], face: Side = "recto") -> frozenset[str]:
    """What a plan does, in the words of reasons.toml, seen from the face that carries the work."""
    found = exposures(plan, cards)
    agents = {x.agent for x in found}
    names = {template.key, "restrains" if template.restrains else "no restraint", *_face_traits(found, face)}
    names |= agents & {"mains", "suction", "alkali"}
    if len(plan.stages) >= MANY_STAGES:
        names.add("many changes")
    if any(stage.load_pa(plan.object.area_m2) > 0 for stage in plan.stages):
        names.add("weighted")
    alike = []
    for stage in plan.stages:
        below, above = contacts(stage, cards)
        kinds = [tuple(kind for _, kind in c.pieces) for c in (below, above)]
        over = kinds[1] if above.face == face else kinds[0]
        if "felt" in over:
            names.add("felt on the face")
        airy = {below.end, above.end} <= {"rack", "room"}
        alike.append(kinds[0] == kinds[1] or airy)
    names.add("both sides alike" if all(alike) else "one-sided")
    return frozenset(names)


def _words(thing: PlanObject) -> dict[str, str]:
    """What reasons may hang on for this object: key -> what to call it."""
    words = {"any": "", **{x.what: x.name for x in carried(thing)}}
    if thing.area_m2 > LARGE_M2:
        words["large"] = f"{thing.area_m2:.2g} m2"
    if thing.grammage_g_m2 < THIN_G_M2:
        words["thin"] = f"{thing.grammage_g_m2:g} g/m2"
    tested = {t.medium.lower() for t in thing.tests if t.agent == "alkali"}
    bare = [m.name or m.what for m in thing.media if not {m.what.lower(), m.name.lower()} & tested]
    if bare:
        words["untested"] = ", ".join(bare)
    return words


def _reasons(thing: PlanObject, has: frozenset[str]) -> tuple[Reason, ...]:
    words = _words(thing)
    made = []
    for row in _rows():
        hit = next((w for w in row.what if w in words), None)
        if hit is not None and row.trait in has:
            made.append(Reason(row.text, words[hit], row.points, row.source))
    return tuple(made)


def _offered(template: Template, thing: PlanObject, wanted: Purpose, kit: Mapping[str, str] | None) -> bool:
    if purpose_of(template) != wanted:
        return False
    if template.key == "leaf-cast" and thing.class_ != "leaf-cast":
        return False
    return kit is None or all(x in kit for x in (*template.roles, *template.needs))


def work_face(thing: PlanObject) -> Side:
    """The face that carries the work: the verso only where everything stands on it."""
    sides = {m.where for m in thing.media} | {f.where for f in thing.features}
    return "verso" if sides == {"verso"} else "recto"


def candidates(
    thing: PlanObject,
    room: Room,
    kit: Mapping[str, str] | None = None,
    cards: Mapping[str, Card] | None = None,
    *,
    target: Target | None = None,
    purpose: Purpose | None = None,
    overrides: tuple[Override, ...] = (),
) -> list[Candidate]:
    """Every template that fits purpose and kit, those not refused first, then by rule score.

    Args:
        thing: the object.
        room: the room.
        kit: role -> card name, and equipment by its name ("rack", "blower", ...); a template whose
            roles or equipment are missing is left out. None offers everything with the starting cards.
        cards: cards by name.
        target: the goal.
        purpose: "dry", "humidify", "line" or "mend"; where None, "humidify" for a dry object, else "dry".
        overrides: stops set aside on purpose.
    """
    known = cards or {}
    face = work_face(thing)
    wanted: Purpose = purpose or ("humidify" if start_wetness(thing) == "dry" else "dry")
    made: list[Candidate] = []
    for template in list_templates():
        if not _offered(template, thing, wanted, kit):
            continue
        turned = face == "verso" and not template.lines
        plan = apply_template(template.key, thing, room, target, kit, flipped=turned)
        plan = plan.model_copy(update={"overrides": overrides})
        barred = stops(check_plan(plan, known))
        reasons = _reasons(thing, traits(template, plan, known, face))
        made.append(
            Candidate(
                template,
                plan,
                sum(r.points for r in reasons),
                tuple(r for r in reasons if r.points > 0),
                tuple(r for r in reasons if r.points < 0),
                barred[0] if barred else None,
            )
        )
    return sorted(made, key=lambda c: (c.refused is not None, -c.rule_score))
