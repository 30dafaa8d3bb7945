"""From a file of what was seen and weighed to observations of the model."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from bibula.cards.model import Card
from bibula.cards.priors import complete
from bibula.forecast.laying import LaidPlan, lay
from bibula.forecast.observations import SEEN, Observation, layer_key
from bibula.formulas.sorption import Gab, gab_water
from bibula.plan.model import Plan
from bibula.plan.observed import BenchObservation, BenchRun
from bibula.quantities.errors import InputError, Place

HANDLING_KG_M2 = 0.005
"""Standard uncertainty of one weighing where none is given: what clings or drips, per area. Assumed."""
THERMOMETER_K = 0.5
"""Standard uncertainty of the difference of two readings of one infrared thermometer. Assumed."""
AIR_DRY_SHARE = 0.2
"""Relative standard uncertainty of the air-dry water of a card. Assumed, as for the starting water."""
BRANCH_SHARE = 0.06
"""Relative standard uncertainty of the air-dry water for not knowing by which branch it was reached. Assumed."""
GRAMMAGE_SHARE = 0.03
"""Relative standard uncertainty of a dry mass that rests on the grammage alone. Assumed."""
DISAGREEMENT = 0.05
"""Air-dry mass and grammage that differ by more than this share are remarked upon."""

Locate = Callable[[int, str], Place]


def dry_mass_kg(plan: Plan, laid: LaidPlan) -> tuple[float, float, str]:
    """Dry mass of the whole object with its standard uncertainty, kg, and a remark ("" where there is none).

    From the air-dry mass at its humidity where the plan has it, else from the grammage.
    """
    thing = plan.object
    by_grammage = laid.dry_kg_m2 * thing.area_m2
    if thing.air_dry_mass_g is None or thing.air_dry_rh_percent is None:
        remark = "The dry mass comes from the grammage, taken as known to 3 %; give air_dry_mass_g for a better one."
        return by_grammage, GRAMMAGE_SHARE * by_grammage, remark
    masses = [layer.grammage_kg_m2 for layer in thing.layers_or_sheet]
    water = sum(
        m * _air_dry(laid.cards[layer.card], thing.air_dry_rh_percent / 100.0)
        for m, layer in zip(masses, thing.layers_or_sheet, strict=True)
    ) / sum(masses)
    dry = thing.air_dry_mass_g / 1000.0 / (1.0 + water)
    remark = ""
    if abs(dry / by_grammage - 1.0) > DISAGREEMENT:
        remark = (
            f"The dry mass by the air-dry mass is {1000 * dry:.2f} g and by the grammage {1000 * by_grammage:.2f} g: "
            "check both, and the size."
        )
    return dry, dry * AIR_DRY_SHARE * water / (1.0 + water), remark


def _air_dry(card: Card, rh: float) -> float:
    return float(gab_water(rh, Gab(card["gab_monolayer_kg_kg"], card["gab_c"], card["gab_k"])))


def bench_observations(
    plan: Plan, cards: Mapping[str, Card], run: BenchRun, locate: Locate | None = None
) -> tuple[tuple[Observation, ...], tuple[str, ...]]:
    """The observations of a run as the model takes them, and remarks for the user.

    An absorbent's gain is taken as spread over the object's area: what lies outside it takes nothing.

    Args:
        plan: the plan that was run.
        cards: cards by name.
        run: the file's content.
        locate: place in the file of an observation's key (number from 0, key), for messages.

    Raises:
        InputError: a layer nobody knows, one that does not lie in the stack at that time, a time
            outside the plan, or a weight below the object's dry mass.
    """
    laid = lay(plan, {name: complete(card) for name, card in cards.items()})
    dry, u_dry, remark = dry_mass_kg(plan, laid)
    weighed = any(o.what == "object weight" for o in run.observations)
    found = []
    for number, seen in enumerate(run.observations):

        def place(key: str, number: int = number) -> Place:
            return locate(number, key) if locate else Place(field=f"observation[{number + 1}].{key}")

        if seen.at > plan.duration_s:
            what = f"{seen.at / 3600:.2f} h is after the end of the plan at {plan.duration_s / 3600:.2f} h"
            raise InputError(what, "check the time, or give the plan a longer last stage", place("at"))
        found.append(_observation(seen, laid, dry, u_dry, place))
    return tuple(found), ((remark,) if remark and weighed else ())


def _observation(
    seen: BenchObservation, laid: LaidPlan, dry: float, u_dry: float, place: Callable[[str], Place]
) -> Observation:
    area = laid.plan.object.area_m2
    u_mass = HANDLING_KG_M2 * area if seen.u_grams is None else seen.u_grams / 1000.0
    grams = (seen.grams or 0.0) / 1000.0
    if seen.what == "object weight":
        if grams < 0.98 * dry:
            what = f"the object weighs {1000 * grams:g} g here and {1000 * dry:.2f} g dry"
            raise InputError(what, "check the weight, and grammage, size or air-dry mass in the plan", place("grams"))
        thing = laid.plan.object
        if thing.air_dry_mass_g is None or thing.air_dry_rh_percent is None:
            return Observation(seen.at, "object weight", (grams - dry) / area, math.hypot(u_mass, u_dry) / area)
        air_dry = thing.air_dry_mass_g / 1000.0
        u = math.hypot(u_mass, BRANCH_SHARE * max(air_dry - dry, 0.0)) / area
        rh = thing.air_dry_rh_percent / 100.0
        return Observation(seen.at, "object weight", (grams - air_dry) / area, u, air_dry_rh=rh)
    if seen.what == "absorbent weight":
        key = _lying(seen, laid, place)
        gain = grams - (seen.grams_before or 0.0) / 1000.0
        return Observation(seen.at, "absorbent weight", gain / area, math.sqrt(2.0) * u_mass / area, key)
    if seen.what == "witness sheet":
        own = (seen.dry_grams or 1.0) / 1000.0
        u = u_mass if seen.u_grams is not None else 0.01 * own
        return Observation(seen.at, "witness weight", grams / own - 1.0, u / own)
    if seen.what == "surface temperature":
        cooling = (seen.celsius or 0.0) - (seen.reference_celsius or 0.0)
        return Observation(seen.at, "surface temperature", cooling, seen.u_k or THERMOMETER_K)
    value, u, _ = SEEN[str(seen.stage)]
    return Observation(seen.at, "seen", value, u, word=str(seen.stage))


def _lying(seen: BenchObservation, laid: LaidPlan, place: Callable[[str], Place]) -> str:
    """Key of the absorbent that was weighed; it must have lain in the stack up to that time."""
    try:
        key = layer_key(laid, str(seen.layer))
    except InputError as bad:
        raise InputError(bad.what, bad.mend, place("layer")) from None
    clock, spans = 0.0, []
    for stage in laid.stages:
        if any(piece.key == key for piece in stage.pieces):
            spans.append((clock, clock + stage.duration_s))
        clock += stage.duration_s
    if not any(begin <= seen.at <= end for begin, end in spans):
        words = " and ".join(f"{a / 3600:.2f} to {b / 3600:.2f} h" for a, b in spans)
        what = f"'{seen.layer}' does not lie in the stack at {seen.at / 3600:.2f} h, but from {words}"
        raise InputError(what, "check the time or the layer", place("at"))
    return key
