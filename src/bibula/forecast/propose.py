"""Propose a stack: run the sensible candidates, rank them by stated rules and by the physics.

The rule score comes from plan.candidates. The physics adds or takes points by the rules below, each
named with its number. What cannot be known is said: which surface texture a sheet keeps was not
predictable from furnish, size or pressing in the published comparison (Sugarman1992).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from bibula.cards.model import Card
from bibula.cards.priors import complete
from bibula.forecast.ensemble import Ensemble, estimate, run_ensemble
from bibula.forecast.forecast import mould_hours, starting_water
from bibula.forecast.laying import lay
from bibula.forecast.milestones import MOULD_CAUTION_H, MOULD_STOP_H, left_by
from bibula.plan.candidates import Candidate, candidates, work_face
from bibula.plan.model import Override, PlanObject, Room, Target
from bibula.plan.templates import Purpose
from bibula.quantities.caution import Caution
from bibula.quantities.errors import BalanceError, ValidityError
from bibula.quantities.values import Estimate

UNKNOWABLE = (
    (
        "Which surface texture the sheet keeps cannot be forecast: in the published comparison of five methods "
        "neither furnish, size nor pressing predicted it (Sugarman and Vitale 1992). Look at the object."
    ),
    "How far it cockles or curls is not computed; only which side dries first is.",
    "The order is a starting point. The responsible conservator decides.",
)

QUICK_POINTS, LATE_POINTS = 1.0, -3.0
DAMP_POINTS, MOULD_POINTS = -2.0, -5.0
EVEN_POINTS, CURL_POINTS = 0.5, -1.0
FACE_POINTS = -1.0
EVEN_SHARE = 0.35
SHEEN_POINTS, SHEEN_S = -1.0, 600.0


@dataclass(frozen=True)
class PhysicsReason:
    """One thing the model says for (points > 0) or against a stack."""

    text: str
    points: float


@dataclass(frozen=True)
class Ranked:
    """One candidate with what the model says of it.

    Attributes:
        candidate: the plan and its rule reasons.
        score: rule score and physics points together; an order, no measure of quality.
        physics: the model's reasons.
        target_h: time to the target, h; None where it is not reached in the plan.
        recto_share: share of the water that leaves by the recto.
        failed: why the model has no answer, "" where it has.
    """

    candidate: Candidate
    score: float
    physics: tuple[PhysicsReason, ...]
    target_h: Estimate | None
    recto_share: Estimate | None
    failed: str = ""


@dataclass(frozen=True)
class Proposal:
    """Candidates in order, the refused ones apart with the rule that refuses them."""

    object_name: str
    ranked: tuple[Ranked, ...]
    refused: tuple[tuple[str, Caution], ...]
    unknowable: tuple[str, ...] = UNKNOWABLE


def propose(
    thing: PlanObject,
    room: Room,
    cards: Mapping[str, Card],
    *,
    kit: Mapping[str, str] | None = None,
    target: Target | None = None,
    purpose: Purpose | None = None,
    overrides: tuple[Override, ...] = (),
    members: int = 20,
    progress: Callable[[int, int], None] | None = None,
) -> Proposal:
    """Rank the stacks that make sense for an object.

    Args:
        thing: the object.
        room: the room.
        kit: role -> card name, and equipment by its name; None offers everything with the starting cards.
        target: the goal.
        purpose: "dry", "humidify", "line" or "mend"; None judges by how wet the object is.
        overrides: stops set aside on purpose.
        cards: cards by name.
        members: size of each candidate's ensemble.
        progress: called with (candidates done, all).
    """
    full = {name: complete(card) for name, card in cards.items()}
    found = candidates(thing, room, kit, full, target=target, purpose=purpose, overrides=overrides)
    open_ones = [c for c in found if c.refused is None]
    runs: list[tuple[Candidate, Ensemble | str]] = []
    for i, candidate in enumerate(open_ones):
        runs.append((candidate, _run(candidate, full, members)))
        if progress:
            progress(i + 1, len(open_ones))
    times = [t for c, run in runs if isinstance(run, Ensemble) for t in [_target(run).median] if math.isfinite(t)]
    fastest = min(times) if times else math.inf
    ranked = sorted((_rank(c, run, fastest, thing) for c, run in runs), key=lambda r: (bool(r.failed), -r.score))
    refused = tuple((c.template.name, c.refused) for c in found if c.refused is not None)
    return Proposal(thing.name, tuple(ranked), refused)


def _run(candidate: Candidate, cards: Mapping[str, Card], members: int) -> Ensemble | str:
    try:
        laid = lay(candidate.plan, cards)
        return run_ensemble(laid, starting_water(laid), members, 1)
    except (ValidityError, BalanceError) as error:
        return error.sentence()


def _target(run: Ensemble) -> Estimate:
    return estimate(list(run.milestone_times()["target"]), "s")


def _rank(candidate: Candidate, run: Ensemble | str, fastest: float, thing: PlanObject) -> Ranked:
    if isinstance(run, str):
        return Ranked(candidate, candidate.rule_score, (), None, None, run)
    time = _target(run)
    recto = run.estimate(lambda t: _recto_share(*left_by(t, run.laid.dry_kg_m2)))
    reasons = (*_pace(time, fastest), *_sides(recto, thing), *_damp(run), *_sheen(run, thing))
    known = math.isfinite(time.median)
    hours = Estimate(time.median / 3600, time.low / 3600, time.high / 3600, "h") if known else None
    return Ranked(candidate, candidate.rule_score + sum(r.points for r in reasons), reasons, hours, recto)


def _recto_share(recto: float, verso: float) -> float:
    return recto / (recto + verso) if recto + verso > 0.0 else 0.5


def _pace(time: Estimate, fastest: float) -> Iterator[PhysicsReason]:
    if not math.isfinite(time.median):
        yield PhysicsReason("does not reach the target within its stages", LATE_POINTS)
        return
    points = QUICK_POINTS - 0.5 * math.log2(max(time.median, 60.0) / max(fastest, 60.0))
    spoken = f"reaches the target in about {time.median / 3600:.1f} h"
    yield PhysicsReason(spoken, max(points, -2.0))


def _sides(recto: Estimate, thing: PlanObject) -> Iterator[PhysicsReason]:
    share = recto.median
    spoken = f"{100 * share:.0f} % of the water leaves by the recto, {100 * (1 - share):.0f} % by the verso"
    if EVEN_SHARE <= share <= 1.0 - EVEN_SHARE:
        yield PhysicsReason(f"{spoken}: both sides dry alike, little curl to expect", EVEN_POINTS)
    else:
        first = "recto" if share > 0.5 else "verso"
        layered = len(thing.layers_or_sheet) > 1
        points = CURL_POINTS * (1.5 if layered else 1.0)
        note = "; a lined object curls the more for it" if layered else ""
        yield PhysicsReason(f"{spoken}: the {first} dries first, expect curl towards it{note}", points)
    face = work_face(thing)
    towards = share if face == "recto" else 1.0 - share
    if thing.media and towards > 1.0 - EVEN_SHARE:
        yield PhysicsReason(f"most water leaves by the {face}, and takes stain and soluble dye to it", FACE_POINTS)


def _damp(run: Ensemble) -> Iterator[PhysicsReason]:
    name, hours = max(mould_hours(run), key=lambda row: row[1].median)
    if hours.median >= MOULD_STOP_H:
        yield PhysicsReason(f"{name} stays damp enough for mould about {hours.median:.0f} h", MOULD_POINTS)
    elif hours.median >= MOULD_CAUTION_H:
        yield PhysicsReason(f"{name} stays damp enough for mould about {hours.median:.0f} h", DAMP_POINTS)


def _sheen(run: Ensemble, thing: PlanObject) -> Iterator[PhysicsReason]:
    sheen = estimate(list(run.milestone_times()["sheen_gone"]), "s")
    if thing.media and sheen.median > SHEEN_S:
        yield PhysicsReason(f"free water stands on the upper face for about {sheen.median / 60:.0f} min", SHEEN_POINTS)
