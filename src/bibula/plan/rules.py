"""What a plan must not do to its object: the caution table held against the plan's exposures.

A spot test recorded as stable lowers the rules that name it; a colour that bleeds stops what would
wet it; an override, with reason, name and date, turns a stop into a caution that carries the reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from bibula.cards.model import Card
from bibula.plan.caution_table import Rule, general_rules, group_of, plain_name, source_text
from bibula.plan.exposure import Exposure, exposures
from bibula.plan.model import Plan, PlanObject, SpotTest
from bibula.plan.objects import Where
from bibula.plan.presets import class_of
from bibula.quantities.caution import Caution, Level
from bibula.quantities.errors import InputError, Place

RANK: dict[Level, int] = {"stop": 0, "override": 1, "caution": 2, "note": 3}
_AGENT_ON = {"water": ("wet", "damp"), "alkali": ("alkali",), "heat": ("heat",)}


@dataclass(frozen=True)
class Carried:
    """One thing the object carries or is: a key of the caution table, where, and what the plan calls it."""

    what: str
    where: Where
    name: str


def carried(thing: PlanObject) -> tuple[Carried, ...]:
    """Media and features as given, and what follows from the object's class, size, fibre and layers."""
    found = [Carried(m.what, m.where, m.name or m.what) for m in thing.media]
    found += [Carried(f.what, f.where, f.what) for f in thing.features]
    fibre, sizing = thing.fibre.lower(), thing.sizing.lower()
    layers = thing.layers
    implied: list[tuple[bool, str, Where]] = [
        (thing.class_ == "coated", "coated paper", "both"),
        (class_of(thing) == "tracing", "tracing paper", "both"),
        (class_of(thing) == "board", "thick board", "both"),
        ("gelatin" in sizing, "gelatin size", "both"),
        ("parchment" in fibre and "parchmentised" not in fibre, "parchment", "both"),
        (any(x in fibre for x in ("groundwood", "mechanical", "newsprint")), "groundwood", "both"),
        (any(x.role == "lining" for x in layers), "lined work", "verso"),
        (bool(layers) and layers[-1].role == "coating", "coated paper", "recto"),
        (bool(layers) and layers[0].role == "coating", "coated paper", "verso"),
    ]
    known = {(x.what, x.where) for x in found}
    found += [Carried(what, where, what) for true, what, where in implied if true and (what, where) not in known]
    return tuple(found)


def _bears(where: Where, exposure: Exposure) -> bool:
    return exposure.face is None or where in {"both", exposure.face}


def _tests_of(thing: PlanObject, item: Carried, agent: str) -> list[SpotTest]:
    names = {plain_name(item.what), plain_name(item.name)}
    return [t for t in thing.tests if t.agent == agent and plain_name(t.medium) in names]


def _why(item: str, hits: list[Exposure], plan: Plan) -> str:
    """What in the plan calls a rule, in words."""
    first = hits[0]
    parts = [item] if item else []
    if stages := _stages(hits, plan):
        parts.append(stages)
    if first.face is not None:
        parts.append(f"on the {first.face}")
    if first.detail:
        parts.append(first.detail)
    return ", ".join(parts) or "every plan"


def _stages(hits: list[Exposure], plan: Plan) -> str:
    """`in stage 2 ('fresh slab')`, `in stages 1 and 2`, `in stages 1 to 4`; "" where no stage is meant."""
    named = {x.stage for x in hits if x.stage}
    found = [n for n, stage in enumerate(plan.stages, 1) if stage.name in named]
    if not found:
        return ""
    if len(found) == 1:
        return f"in stage {found[0]} ('{plan.stages[found[0] - 1].name}')"
    if len(found) > 2 and found == list(range(found[0], found[-1] + 1)):
        return f"in stages {found[0]} to {found[-1]}"
    return f"in stages {', '.join(map(str, found[:-1]))} and {found[-1]}"


def _applied(rule: Rule, item: Carried | None, plan: Plan, found: tuple[Exposure, ...]) -> Caution | None:
    hits = [x for x in found if x.agent == rule.on]
    if item is not None and rule.face == "carrying":
        hits = [x for x in hits if _bears(item.where, x)]
    if not hits:
        return None
    why = _why(item.name if item else "", hits, plan)
    level = rule.level
    if item is not None and rule.relaxed_by and level in {"stop", "override"}:
        tests = _tests_of(plan.object, item, rule.relaxed_by)
        if tests and all(t.result == "stable" for t in tests):
            level, why = "caution", f"{why}; tested stable in {rule.relaxed_by}"
    return Caution(level, rule.text, why, rule.source, rule=rule.key)


def _from_tests(plan: Plan, things: tuple[Carried, ...], found: tuple[Exposure, ...]) -> Iterator[Caution]:
    """What the recorded spot tests say, what they leave open, and what was never tested."""
    thing, practice = plan.object, source_text("practice")
    media = [Carried(m.what, m.where, m.name or m.what) for m in thing.media]
    for agent, agents in _AGENT_ON.items():
        hits = [x for x in found if x.agent in agents]
        if not hits:
            continue
        for medium in media:
            yield from _one_medium(medium, agent, _tests_of(thing, medium, agent), _why(medium.name, hits, plan))
        known = {plain_name(word) for x in (*media, *things) for word in (x.what, x.name)}
        for test in thing.tests:
            if test.agent == agent and plain_name(test.medium) not in known:
                yield from _one_medium(
                    Carried(test.medium, "both", test.medium), agent, [test], _why(test.medium, hits, plan)
                )
    if not media and any(x.agent in {"wet", "damp", "alkali"} for x in found):
        text = "No medium is recorded. Record what stands on the sheet, and test media and sizing on the object first."
        yield Caution("caution", text, "the object's media are empty", practice, rule="no-media")


def _one_medium(medium: Carried, agent: str, tests: list[SpotTest], why: str) -> Iterator[Caution]:
    practice = source_text("practice")
    if any(t.result == "bleeds" for t in tests):
        text = f"This colour bled in the test with {agent}: it must not meet {agent} in this plan."
        source = "the spot test recorded in the plan"
        yield Caution("stop", text, why, source, rule=f"bleeds-{agent}: {medium.name}")
    elif any(t.result == "unclear" for t in tests):
        text = f"The test with {agent} was unclear: repeat it, with filter paper pressed on and for longer."
        yield Caution("caution", text, why, practice, rule=f"unclear-{agent}")
    elif not tests:
        text = f"Test this medium with {agent} on the object itself first, and record the result."
        yield Caution("caution", text, why, practice, rule=f"test-first-{agent}")


def _sensitive(things: tuple[Carried, ...], found: tuple[Exposure, ...]) -> Iterator[Caution]:
    """The published list of things that are no work for non-specialists, where any water is meant."""
    if not any(x.agent in {"wet", "damp"} for x in found):
        return
    for item in {x.what: x for x in things if group_of(x.what).sensitive}.values():
        text = "A published list holds this to be no work for non-specialists in humidifying; wetting is no less."
        yield Caution("caution", text, item.name, source_text("consog"), rule="specialist")


def _overridden(caution: Caution, plan: Plan) -> Caution:
    if caution.level not in {"stop", "override"}:
        return caution
    for o in plan.overrides:
        if o.rule == caution.rule:
            return replace(caution, level="caution", overridden_because=f"{o.reason} ({o.by}, {o.date})")
    return caution


def check_plan(plan: Plan, cards: Mapping[str, Card] | None = None) -> tuple[Caution, ...]:
    """Every caution of a plan, the gravest first. Nothing is refused here; see `refuse`.

    Args:
        plan: the plan.
        cards: cards by name; a piece without a card is judged by its name.
    """
    found = exposures(plan, cards or {})
    things = carried(plan.object)
    made: list[Caution] = []
    for item in things:
        made += [c for rule in group_of(item.what).rules if (c := _applied(rule, item, plan, found))]
    made += _from_tests(plan, things, found)
    made += _sensitive(things, found)
    made += [c for rule in general_rules() if (c := _applied(rule, None, plan, found))]
    unique = list(dict.fromkeys(_overridden(c, plan) for c in made))
    return tuple(sorted(unique, key=lambda c: RANK[c.level]))


def stops(cautions: tuple[Caution, ...]) -> tuple[Caution, ...]:
    """The cautions that forbid the plan as it stands: stops and wanted overrides not set aside."""
    return tuple(c for c in cautions if c.level in {"stop", "override"})


def unused_overrides(plan: Plan, cautions: tuple[Caution, ...]) -> tuple[str, ...]:
    """Rules an override names although nothing in the plan calls them (a misspelt key, or an old reason)."""
    used = {c.rule for c in cautions if c.overridden_because}
    return tuple(o.rule for o in plan.overrides if o.rule not in used)


def refuse(plan: Plan, cards: Mapping[str, Card] | None = None, file: str | None = None) -> tuple[Caution, ...]:
    """The cautions of a plan that may be carried out.

    Raises:
        InputError: for the gravest stop without a recorded override; names its rule and its source.
    """
    cautions = check_plan(plan, cards)
    barred = stops(cautions)
    if barred:
        first = barred[0]
        more = f" (and {len(barred) - 1} more)" if len(barred) > 1 else ""
        test = ", or test it and record the result" if first.level == "override" else ""
        raise InputError(
            f"rule '{first.rule}' forbids this plan{more}: {first.text.rstrip('.')} [{first.why}; {first.source}]",
            f'change the stack{test}, or record an [[override]] with rule = "{first.rule}", reason, by and date',
            Place(file),
        )
    return cautions
